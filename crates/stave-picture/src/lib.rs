//! Pictures: the page to draw on, the proof of the finished piece.
//!
//! This crate turns what is known of a blank and a program into SVG, PNG and HTML. It opens no files, reads no art, and decides nothing about a job.

pub mod proof;
mod svg;
mod template;

pub use stave_toolpath::art::GUIDES_ID;
pub use template::{TemplateSetting, template};
