//! Reports as people read them, one file a report.

mod check;
mod estimate;
mod keys;
mod lays;
mod level;
mod measure;
mod order;
mod plain;
mod quote;
mod swatch;
mod table;
mod walk;

pub(crate) use check::check;
pub(crate) use estimate::estimates;
pub(crate) use keys::keys;
pub(crate) use lays::lays;
pub(crate) use level::{level, level_parts};
pub(crate) use measure::measure;
pub(crate) use order::{order, order_csv};
pub(crate) use plain::{name, plain};
pub(crate) use quote::quote;
pub(crate) use swatch::{marks, swatch};
pub(crate) use walk::walk;
