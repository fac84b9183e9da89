//! The planner against what does not come from it: a plainer planner, tables, another crate, closed
//! forms.

#![allow(clippy::unwrap_used)]

mod edges;
mod passes;
mod paths;
mod points;
mod reference;
mod ruckig;
mod table;
