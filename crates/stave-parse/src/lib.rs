//! Bytes to moves.
//!
//! [`gcode`] reads flat programs: RS274/NGC as NIST wrote it down (NISTIR 6556), and what exporters
//! commonly make of it. The result is a stream of [`stave_toolpath::Event`]s in order of execution;
//! nothing is kept of what was read.
//!
//! `svg` reads drawings, and bare path data (feature `svg`, a default one): to
//! [`stave_toolpath::art::Art`], and a notice for whatever is not burned as it is drawn.
//!
//! `image` reads pictures (feature `image`, a default one): to greys, the way they are to be looked
//! at.
//!
//! This crate knows no blank and no machine.
//!
//! ```
//! use stave_parse::gcode::{ReadOptions, Sink, read};
//! use stave_toolpath::Event;
//!
//! struct Burns(u32);
//! impl Sink for Burns {
//!     type Error = std::convert::Infallible;
//!     fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Self::Error> {
//!         self.0 += u32::from(matches!(event, Event::Straight { .. }));
//!         Ok(())
//!     }
//! }
//!
//! let mut burns = Burns(0);
//! let summary = read(&b"M4 S300\nG1 X10 F600\nY5\nM2\n"[..], &ReadOptions::default(), &mut burns);
//! assert_eq!((burns.0, summary.expect("a whole program").lines), (2, 4));
//! ```

#![deny(clippy::panic)]

pub mod gcode;
#[cfg(feature = "image")]
pub mod image;
#[cfg(feature = "svg")]
pub mod svg;
