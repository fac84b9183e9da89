//! The proof's sheet, from plain data: what is drawn where.
#![allow(clippy::unwrap_used)] // a panic in a test is a failed test
#![allow(unreachable_pub)] // one binary of many modules: pub means "for the other modules"

mod sheet;
mod ware;
