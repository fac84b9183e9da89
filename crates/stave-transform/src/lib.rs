//! Flat moves to machine moves.
//!
//! [`Wrapper`] takes the moves of a flat program one by one, lays each on the wall, cuts burns so
//! that what the machine burns stays within the tolerance of the exact image, times every move by
//! its speed on the wall and hands [`stave_toolpath::Step`]s to a sink. It keeps no more
//! than the place it has come to, so a program may be endless.
//!
//! [`plan_art`] takes a whole drawing: what of it is seen becomes scan lines and lines, in an order
//! that keeps travel short, and [`ArtPlan::burn`] makes the moves.
//!
//! ```
//! use stave_toolpath::{Feed, Step, StepSink};
//! use stave_transform::{Burn, Curve, FlatPoint, Wrapper};
//! use stave_wall::Anchor;
//!
//! struct Length(f64);
//! impl StepSink for Length {
//!     type Error = std::convert::Infallible;
//!     fn step(&mut self, step: &Step) -> Result<(), Self::Error> {
//!         self.0 += if step.kind.marks() { step.length_mm } else { 0.0 };
//!         Ok(())
//!     }
//! }
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
//! // 30 mm along the meridian of a cone are 30 mm on its wall.
//! let (from, to) = (FlatPoint { u: 10.0, v: 0.0, z: 0.0 }, FlatPoint { u: 40.0, v: 0.0, z: 0.0 });
//! let burn = Burn { feed: Feed::PerMinute(600.0), power: Some(300.0) };
//! let mut burned = Length(0.0);
//! let mut wrapper = Wrapper::new(&setup, Anchor::Drawing)?;
//! wrapper.travel(from, &mut burned).map_err(|halt| format!("{halt:?}"))?;
//! wrapper.burn(&Curve::Line { from, to }, burn, &mut burned).map_err(|halt| format!("{halt:?}"))?;
//! assert!((burned.0 - 30.0).abs() < 1e-3);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(clippy::panic)]

mod area;
mod around;
mod art;
mod asked;
mod burns;
mod come_back;
mod curve;
mod cut;
mod dose;
mod drive;
mod emit;
mod halt;
mod lettering;
mod line;
mod narrow;
mod order;
mod patch;
mod quicker;
mod range;
mod redraw;
mod scene;
mod shade;
mod stats;
mod take_up;
mod track;
mod wrapper;

pub use around::{Around, is_corner};
pub use art::{ArtPlan, ArtSink, Burned, HatchFigures, Hit, OperationFigures, plan_art};
pub use burns::{BurnOperation, BurnPart, Burns, LineRule, ScanWay};
pub use curve::{Curve, FlatPoint};
pub use halt::Halt;
pub use lettering::{text_strokes, text_width_mm};
pub use narrow::Narrow;
pub use patch::{Patch, PatchLines, patch_lines, run_up_mm};
pub use quicker::Quicker;
pub use redraw::{Back, Extent, Redraw, ZoneHit};
pub use shade::{Shade, Surface, Tones};
pub use stats::Stats;
pub use stave_rig::Misfit;
pub use wrapper::{Burn, Wrapper, lay_of};
