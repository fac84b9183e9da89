//! The words of the trade as types.
//!
//! A *flat program* is what an exporter writes for a sheet on a bed: here it is a stream of
//! [`Event`]s, each move a pair of [`Position`]s. A *machine program* is what turns a blank under
//! the beam: a stream of [`Step`]s, whose words are already rounded to what will be written.
//! [`art`] is what a drawing holds, a [`Picture`] what is burned how strongly over the flat plane.
//!
//! No input, no output, no files: every crate above speaks in these types.
//!
//! ```
//! use stave_toolpath::{Event, Position};
//!
//! // A flat program that burns a line of 50 mm, as events.
//! let (from, to) = (Position::default(), Position { x: 30.0, y: 40.0, ..Position::default() });
//! let events = [Event::Power { s: 300.0 }, Event::Straight { from: &from, to: &to, feed: None }];
//! let length_mm: f64 = events
//!     .iter()
//!     .map(|event| match event {
//!         Event::Straight { from, to, .. } => from.linear_distance_mm(to),
//!         _ => 0.0,
//!     })
//!     .sum();
//! assert_eq!(length_mm, 50.0);
//! ```

#![deny(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::panic
)]

mod arc;
pub mod art;
mod clock;
mod comment;
mod contour;
mod energy;
mod event;
pub mod field;
pub mod likeness;
mod luminance;
pub mod number;
mod picture;
mod position;
mod step;
pub mod xml;

pub use arc::{Arc, Plane};
pub use clock::{clock, hours_minutes_seconds, time_of_day};
pub use comment::{LONGEST_LINE, printable, printable_within};
pub use energy::j_per_cm2;
pub use event::{BeamWord, EndWord, Event, Feed, FeedMode, PassKind, PathControl, PauseWord};
pub use luminance::{EightBits, linear_of_srgb, luminance, over_white, srgb_of_linear};
pub use picture::{Picture, PictureRow, PictureRun, Shades};
pub use position::Position;
pub use step::{Corner, LinePart, Place, Stand, Step, StepKind, StepSink};
