//! Is a job fit for its blank and machine? What must be known before a blank is spent.
//!
//! * [`level`] finds the tilt that makes a stretch of wall most nearly level, where to focus, and
//!   what each lens makes of it.
//! * [`lay_figures`] tells what a lay does to a piece, [`advise`] which suits it, [`overlaps`]
//!   which pieces come to lie over each other.
//! * [`Judge`] looks on at the steps of a run and says what is wrong with it: off the wall, in a
//!   zone, struck, out of focus, burned twice; [`ScanFinder`] finds scan lines and how far apart
//!   they are, [`step_spacing`] how they fall on a motor's steps.
//! * A [`Finding`] is what any of it comes to: how much it weighs, where, and what to do.
//! * [`measured`] makes stations of readings: how sure each is, and which looks wrong.
//! * [`similarity`] tells how what was met lies against what was meant.
//! * [`straightest`] finds where on a wall a patch of test burns lies best.
//!
//! This crate reads no programs and no drawings, writes none, and changes no move: it judges.
//!
//! ```
//! use stave_check::level;
//!
//! # let blank = stave_setup::read_blank(
//! #     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 60\n",
//! #     "cone.toml")?;
//! # let machine = stave_setup::read_machine(
//! #     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
//! #      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
//! #      "bench.toml")?;
//! // A cone that narrows by 10 mm of radius over 100 mm lies level when its foot is lowered.
//! let level = level((&blank.wall, &blank.running), &machine, 0.0, 100.0)?;
//! let due = (10.0_f64 / 100.0).atan();
//! assert!((level.best.sharpness.tilt_rad - due).abs() < 1e-6);
//! assert!(level.best.sharpness.defocus_mm < 1e-6);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(clippy::panic)]

mod accepted;
mod finding;
mod focus;
mod judge;
mod lays;
mod level;
mod measured;
mod optics;
mod procrustes;
mod sharp;
mod spacing;
mod straightest;
mod stretches;

pub use finding::{Code, Finding, NoCode, Severity};
pub use focus::{Sharpness, focus_at_mid_strip};
pub use judge::{FocusPlace, Judge, Made, NozzleGap, RunFacts, Verdict, spacing_against_spot};
pub use lays::{
    ANGLE_WARNING_RAD, Advice, LaidPiece, LayCost, LayFigures, Overlap, SIZE_WARNING, Sampled,
    Wants, advise, goes_all_round, lay_cost, lay_figures, least_cost, overlaps,
};
pub use level::{
    LensFit, Level, LevelError, Stretch, TILT_STEP_RAD, Tilted, level, level_parts, longest_sharp,
};
pub use measured::{
    CentreKnown, FEWEST_TO_JUDGE, Gauges, Measured, MeasuredStation, OffTrend, Slip, UnderTape,
    measured,
};
pub use optics::{Optics, optics};
pub use procrustes::{Similarity, similarity};
pub use spacing::{Scan, ScanFinder, StepSpacing, step_spacing};
pub use straightest::{NoRoom, Room, Spot, straightest};
pub use stretches::JoinedStretches;
