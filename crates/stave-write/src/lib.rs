//! Machine moves to bytes: G-code; drawings to bytes: SVG.
//!
//! [`gcode`] writes the steps of a run in a controller's words, [`svg`] drawings that were laid and
//! are drawn anew. Nothing is decided here: words are already rounded, lines in their order.
//!
//! ```
//! use stave_rig::MadeFor;
//! use stave_write::gcode::{Dialect, Writer};
//!
//! # let blank = stave_setup::read_blank(
//! #     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 60\n",
//! #     "cone.toml")?;
//! # let machine = stave_setup::read_machine(
//! #     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
//! #      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
//! #      "bench.toml")?;
//! # let job = stave_setup::read_job("", "job.toml")?;
//! # let setup = stave_setup::Setup::new(blank, machine, job)?;
//! let mut writer = Writer::new(Vec::new(), Dialect::of(&setup.machine));
//! writer.head(&MadeFor::of_setup(&setup).header(), None)?;
//! writer.comment(b"nothing to do")?;
//! writer.end(false)?;
//! let text = String::from_utf8(writer.into_inner()?)?;
//! assert!(text.starts_with("(stave wrapped 1 ") && text.ends_with("M2\n"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::panic
)]

pub mod gcode;

pub mod svg;
