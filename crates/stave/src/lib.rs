//! Stave: flat art and flat programs, laid on turned ware.
//!
//! This crate is the pipeline: one function per step of the job. The rooms below it do the work and
//! know nothing of each other; here they are handed on from one to the next.
//!
//! ```
//! use stave::{Setup, WrapOptions, setup, wrap_gcode};
//!
//! let blank = setup::read_blank(
//!     "name = \"can\"\nwall = \"straight\"\n[[station]]\nat = 0.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n",
//!     "can.toml",
//! )?;
//! let machine = setup::read_machine(
//!     "name = \"bench\"\n[controller]\nfull_power = 1000\n[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\n\
//!      acceleration = 3000.0\n[rotary]\nword = \"A\"\nunits_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n",
//!     "bench.toml",
//! )?;
//! let setup = Setup::new(blank, machine, setup::read_job("", "job.toml")?)?;
//! let flat: &[u8] = b"G21 G90\nM4 S300\nG0 X10 Y0\nG1 X20 F600\nM5\nM2\n";
//! let mut wrapped = Vec::new();
//! let report = wrap_gcode(flat, &mut wrapped, &setup, &WrapOptions::default())?;
//! assert_eq!(report.moves_in, 2);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod check;
mod error;
mod estimate;
mod layout;
mod lays;
mod level;
mod measure;
mod proof;
mod read;
mod report;
mod run;
mod swatch;
mod template;
mod walk;
mod wrap;
mod wrap_art;
mod wrap_svg;

pub use check::{CheckReport, NozzleReport, check_art, check_program};
pub use error::{Error, sentence};
pub use estimate::{
    AxisTime, Estimate, EstimateOptions, Finish, Quote, QuoteSteps, Section, Terms,
    estimate_program, estimates_to_json,
};
pub use layout::{ArtOptions, ArtSource};
pub use lays::{LayRow, Lays, LaysInput, LaysReport, PieceLays, compare_lays};
pub use level::{LensReport, LevelReport, SharpReport, level_report, level_svg};
pub use measure::{
    Gauges, Known, MeasureOptions, MeasureReport, MeasuredBy, Measurement, OutlineOptions,
    StationReport, measure_outline, measure_readings,
};
pub use proof::{JustWrapped, ProofOptions, ProvenProgram, prove_program};
pub use read::read_program;
pub use report::{OperationReport, PieceAsLaid, PieceReport, Slowed, WrapReport};
pub use run::{Pass, is_wrapped};
pub use stave_check::{Code, Finding, NoCode, Severity, Wants};
pub use stave_parse::gcode::ReadOptions;
pub use stave_parse::svg::Fonts;
pub use stave_rig::{MadeFor, Rig, TIME_UNKNOWN, time_field};
pub use stave_setup as setup;
pub use stave_setup::Setup;
pub use stave_toolpath::{clock, hours_minutes_seconds, number, time_of_day};
pub use stave_wall::{LayKind, Side, WallShape};
pub use swatch::{PatchReport, SwatchColumns, SwatchOptions, SwatchReport, arrow, swatch};
pub use template::{paper_svg, template_for_machine, template_svg};
pub use walk::{
    LoopReport, WalkAround, WalkOptions, WalkReport, walk_art, walk_gcode, walk_wrapped,
};
pub use wrap::{FOCUS_UNKNOWN, WrapOptions, focus_field, set_up_line, wrap_gcode};
pub use wrap_art::wrap_art;
pub use wrap_svg::wrap_svg;
