//! Pictures: the page to draw on, the lays beside each other, the proof of the finished piece.
//!
//! This crate turns what is known of a blank and a program into SVG, PNG and HTML. It opens no
//! files, reads no art, and decides nothing about a job.
//!
//! ```
//! # let blank = stave_setup::read_blank(
//! #     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 60\n",
//! #     "cone.toml")?;
//! # let machine = stave_setup::read_machine(
//! #     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
//! #      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
//! #      "bench.toml")?;
//! // The flat pattern of a cone, to cut out and hold against it.
//! let pattern = stave_picture::paper(&blank, "2026-11-30").ok_or("straight walls have one")?;
//! assert!(pattern.starts_with("<svg"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(clippy::panic)]

mod draw;
mod lays;
mod level;
mod paper;
pub mod proof;
mod steep;
mod svg;
mod template;
mod ware;

pub use draw::SheetSize;
pub use lays::{
    Bounds as LayBounds, LayArea, LayPaint, LayPainted, LayPanel, LaysRow,
    MOST_ROWS as MOST_LAYS_ROWS, lays,
};
pub use level::{LevelWords, level};
pub use paper::{PaperError, paper, paper_sheets};
pub use stave_toolpath::art::GUIDES_ID;
pub use template::{Frame as TemplateFrame, Sharp, TemplateSetting, template};
