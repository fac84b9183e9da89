//! The words of the trade as types.
//!
//! A *flat program* is what an exporter writes for a sheet on a bed: here it is a stream of
//! [`Event`]s, each move a pair of [`Position`]s. A *machine program* is what turns a blank under
//! the beam: a stream of [`Step`]s, whose words are already rounded to what will be written.
//! [`art`] is what a drawing holds.
//!
//! No input, no output, no files: every crate above speaks in these types.

mod arc;
pub mod art;
mod clock;
mod comment;
mod event;
pub mod number;
mod position;
mod step;
pub mod xml;

pub use arc::{Arc, Plane};
pub use clock::{clock, hours_minutes_seconds, time_of_day};
pub use comment::{LONGEST_LINE, printable, printable_within};
pub use event::{BeamWord, EndWord, Event, Feed, FeedMode, PassKind, PathControl, PauseWord};
pub use position::Position;
pub use step::{Corner, Place, Stand, Step, StepKind, StepSink};
