//! The words of the trade as types.
//!
//! A *flat program* is what an exporter writes for a sheet on a bed: here it is a stream of
//! [`Event`]s, each move a pair of [`Position`]s. A *machine program* is what turns a blank under
//! the beam: a stream of [`MachineMove`]s, whose words are already rounded to what will be written.
//! [`art`] is what a drawing holds.
//!
//! No input, no output, no files: every crate above speaks in these types.

mod arc;
pub mod art;
mod event;
mod machine;
pub mod number;
mod position;
pub mod xml;

pub use arc::{Arc, Plane};
pub use event::{BeamWord, EndWord, Event, Feed, FeedMode, PassKind, PathControl, PauseWord};
pub use machine::{Axis, MachineMove, MoveKind};
pub use position::Position;
