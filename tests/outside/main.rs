//! The library crates against outside references: tables computed elsewhere or printed, and crates
//! of other people. `fixtures/reference/README.md` names the source of each table.
//!
//! What only the command can be asked is checked in `crates/stave-cli/tests`.
#![expect(unreachable_pub, reason = "one binary of many modules: pub means for the others")]

mod label;
mod outlines;
mod projections;
mod reference;
