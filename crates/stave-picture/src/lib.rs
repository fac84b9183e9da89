//! Pictures: the page to draw on, the lays beside each other, the proof of the finished piece.
//!
//! This crate turns what is known of a blank and a program into SVG, PNG and HTML. It opens no
//! files, reads no art, and decides nothing about a job.

mod lays;
mod level;
mod paper;
pub mod proof;
mod svg;
mod template;

pub use lays::{Bounds as LayBounds, LayPanel, LaysRow, lays};
pub use level::level;
pub use paper::paper;
pub use stave_toolpath::art::GUIDES_ID;
pub use template::{TemplateSetting, template};
