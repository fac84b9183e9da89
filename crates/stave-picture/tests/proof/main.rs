//! The proof's sheet, from plain data: what is drawn where.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]
#![expect(unreachable_pub, reason = "one binary of many modules: pub means for the others")]

mod sheet;
mod ware;
