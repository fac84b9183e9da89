//! The planner against what does not come from it: a plainer planner, tables, another crate, closed
//! forms.

#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

mod edges;
mod passes;
mod paths;
mod points;
mod reference;
mod ruckig;
mod table;
mod timer;
