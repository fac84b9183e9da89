//! Stave: flat art and flat programs, laid on turned ware.
//!
//! This crate is the pipeline: one function per step of the job. The rooms below it do the work and
//! know nothing of each other; here they are handed on from one to the next.
//!
//! ```
//! use stave::{Options, Setup, Source, setup, wrap};
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
//! let flat = Source::program(&b"G21 G90\nM4 S300\nG0 X10 Y0\nG1 X20 F600\nM5\nM2\n"[..]);
//! let mut wrapped = Vec::new();
//! let report = wrap(flat, &mut wrapped, &setup, &Options::default())?;
//! assert_eq!(report.moves_in, 2);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    clippy::panic
)]

mod asked_spacing;
mod changed;
mod check;
#[cfg(feature = "svg")]
mod element_hit;
mod error;
mod estimate;
#[cfg(feature = "svg")]
mod fields;
mod flat_place;
#[cfg(feature = "svg")]
mod judged_operation;
mod keys;
#[cfg(feature = "svg")]
mod layout;
mod lays;
mod level;
mod measure;
#[cfg(feature = "svg")]
mod narrow;
#[cfg(feature = "svg")]
mod nothing;
mod order;
mod part;
mod place;
#[cfg(feature = "pictures")]
mod proof;
mod read;
mod report;
mod resume;
mod run;
#[cfg(feature = "svg")]
mod scan_way;
mod seen;
mod set_up;
#[cfg(feature = "pictures")]
mod shapes;
mod source;
mod steps;
mod swatch;
#[cfg(feature = "pictures")]
mod template;
mod walk;
mod wrap;
#[cfg(feature = "svg")]
mod wrap_art;
#[cfg(feature = "svg")]
mod wrap_svg;

pub use check::{CheckReport, HeadPartKind, NozzleReport, check};
pub use error::{
    Error, PlacedMisfit, ProgramError, ProgramFault, SourceFault, sentence, sentence_accepting,
};
pub use estimate::{
    AxisTime, Estimate, Finish, Quote, QuoteSteps, ScanTimes, SectionReport, Terms, TimedOn,
    estimate, estimates_to_json, scan_times,
};
#[cfg(feature = "svg")]
pub use fields::FieldValues;
pub use keys::{keys_to_json, schema_to_json};
#[cfg(feature = "svg")]
pub use layout::PictureSize;
pub use lays::{LayRow, Lays, LaysReport, PieceLays, lays};
#[cfg(feature = "pictures")]
pub use level::level_svg;
pub use level::{LensReport, LevelParts, LevelReport, PartReport, SharpReport, level, level_parts};
pub use measure::{
    Gauges, MeasureError, MeasureFrom, MeasureOptions, MeasureReport, MeasuredBy, Measurement, Odd,
    StationReport, measure, turn_text,
};
#[cfg(feature = "svg")]
pub use measure::{Known, OutlineFault, OutlineOptions};
pub use order::{
    MadePiece, OrderQuote, OrderRow, PricedPiece, QuoteLine, RowState, TooMuch, digest_of,
    is_whole_piece, kept_piece, make_piece, order_to_json, price,
};
pub use part::{set_up_part, wrap_in_parts};
pub use place::{PlaceReport, place};
#[cfg(feature = "pictures")]
pub use proof::{FileNames, Proof, ProofOptions, proof};
pub use read::read;
pub use report::{OperationReport, PieceAsLaid, PieceReport, Slowed, WrapReport};
pub use resume::{ResumeAt, ResumeFault, ResumeReport, resume};
pub use run::{Pass, ScanLines};
pub use set_up::{focus_words, set_up_line, set_up_sentence};
pub use source::{Options, Source};
pub use stave_check::{Code, Finding, NoCode, Severity, Wants};
pub use stave_check::{LevelError, NoRoom};
pub use stave_parse::gcode::{Excerpt, ReadOptions};
#[cfg(feature = "svg")]
pub use stave_parse::svg::{FontSet, Fonts, Linked, PathError, READER_THREAD, SvgError, Template};
#[cfg(feature = "pictures")]
pub use stave_picture::proof::{Card, PngError, Turned, order_html, order_page_png, order_pages};
#[cfg(feature = "pictures")]
pub use stave_picture::{PaperError, SheetSize};
pub use stave_plan::PlanError;
pub use stave_rig::{FocusAt, Header, Misfit};
pub use stave_rig::{MadeFor, ROTARY, Rig, Stamp, TIME_UNKNOWN, time_field};
pub use stave_setup as setup;
pub use stave_setup::Setup;
pub use stave_toolpath::{
    BeamWord, Corner, PauseWord, Place, Stand, Step, StepKind, clock, field, hours_minutes_seconds,
    number, time_of_day,
};
pub use stave_wall as wall;
pub use stave_wall::{LayKind, Side, WallShape};
pub use stave_write::gcode::WriteError;
pub use steps::steps;
pub use swatch::{
    MarkGroup, MarkReport, MarksReport, PatchReport, SwatchColumns, SwatchKind, SwatchOptions,
    SwatchReport, SwatchTest, note, note_doubt, swatch, swatch_test,
};
#[cfg(feature = "pictures")]
pub use template::{FramedTemplate, paper, paper_sheets, template, template_framed};
pub use walk::{LoopReport, WalkAround, WalkOptions, WalkReport, walk};
pub use wrap::wrap;
#[cfg(feature = "svg")]
pub use wrap_svg::redraw;
