//! Pictures as text: the page to draw on.
//!
//! This crate turns what is known of a blank into SVG. It opens no files, reads no art, and decides nothing about a job.

mod svg;
mod template;

pub use stave_toolpath::art::GUIDES_ID;
pub use template::{TemplateSetting, template};
