//! The input files: blank, machine, job, order.
//!
//! [`read_blank`], [`read_machine`], [`read_job`] and [`read_order`] take the text of a file and
//! give back values in mm and radians, or [`Faults`]: everything that is wrong with the file, each
//! with line, column, what was found and what is allowed. [`JobFile::set_option`] takes job
//! settings from a command line, and [`JOB_OPTIONS`] lists them. [`Setup::new`] fills in the
//! defaults and checks what only shows when the files meet. [`SettingsFile::keys`] lists every key
//! of the files; [`schema`] and [`fresh_file`] are made from that list. [`read_rows`] reads the
//! table of an order.
//!
//! This crate opens no files and prints nothing: it turns text into settings.
//!
//! ```
//! use stave_setup::read_job;
//!
//! let faults = read_job("tilt = 3\ncolour = \"red\"\n", "job.toml").err().ok_or("it has a fault")?;
//! let fault = faults.iter().next().ok_or("one")?;
//! assert_eq!((fault.file(), fault.line(), fault.column()), (Some("job.toml"), Some(2), Some(1)));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::panic
)]

mod blank;
mod bounds;
mod coating_text;
mod colour;
mod digest;
mod facet;
mod fault;
mod file_name;
mod given;
mod handle;
mod job;
mod job_file;
mod job_option;
mod keys;
mod line_words;
mod list;
mod machine;
mod machine_file;
mod meeting;
mod nearest;
mod optics;
mod order;
mod order_file;
mod plausible;
mod points;
mod quantity;
mod reader;
mod readings;
mod rows;
mod section;
mod setup;
mod shading;
mod source_list;
mod spacing;
mod syntax;
mod text;
mod toml_string;
mod unit;
mod values;
mod word;

pub use blank::{Blank, FAR_FROM_ROUND, Look, Zone, read_blank};
pub use colour::Colour;
pub use digest::{Difference, Digests, InputDigest, Values};
pub use facet::{Facet, OnFacet};
pub use fault::{Fault, Faults, FileExcerpt, Origin};
pub use file_name::{file_name, folded};
pub use given::Given;
pub use handle::Handle;
pub use job::{ArtPlace, Job, JobAnchor, JobFile, Operation, OperationRule, Pick, PieceRule, Zero};
pub use job_file::read_job;
pub use job_option::{JOB_OPTIONS, JobOption};
pub use keys::{Asked, Key, SettingsFile, fresh_file, keys_named, schema};
pub use machine::{
    Air, AreaDefaults, AxisLimits, Beam, Carriage, Coating, Controller, FocusAxis, Lag, Lens,
    LineDefaults, Machine, Nozzle, Obstacle, ObstacleShape, PictureDefaults, Rotary,
};
pub use machine_file::read_machine;
pub use nearest::nearest;
pub use optics::SPOT_GROWTH;
pub use order::{Make, Order, OrderPiece, PriceTerms, RowsFrom};
pub use order_file::read_order;
pub use plausible::bare_length;
pub use points::{Met, MetPoint, read_points};
pub use reader::MOST_FILE_BYTES;
pub use readings::{Gauge, Reading, option_length_mm, read_readings};
pub use rows::{Row, Rows, RowsError, Separator, read_rows};
pub use setup::Setup;
pub use shading::Shading;
pub use toml_string::toml_string;
pub use unit::{LengthUnit, MM_PER_INCH};
pub use values::{NAME_ALLOWED, is_name};
pub use word::{
    AirLevel, Along, Curves, Dose, Drive, FeedCounts, Finish, FocusMode, FocusUp, PlaceOf,
    PowerRule, RotaryWord, Scan, Stands, Tone, Toward, ZoneRule,
};
// What an operation burns; the drawing knows the same word.
pub use stave_toolpath::art::Work;
