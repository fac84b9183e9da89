//! G-code to events: a reader of RS274/NGC.
//!
//! The language is that of T. R. Kramer, F. M. Proctor, E. Messina, *The NIST RS274NGC Interpreter -
//! Version 3*, NISTIR 6556 (2000); section numbers in this module are the report's. [`read`] takes
//! bytes and hands [`Event`](stave_toolpath::Event)s to a [`Sink`], one after the other, in the
//! order in which a machine would carry them out. Memory does not grow with the length of the
//! input.
//!
//! A line passes through these steps: the reader cuts it out of its buffer; the quick scan takes it
//! if it holds nothing but plain G0-G3, X, Y, Z, I, J, F and S words; otherwise it is closed up
//! (white space outside comments taken out), parsed into a block, checked as a whole, and executed
//! in the order of the report's table 8.
//!
//! ```
//! use stave_parse::gcode::{ReadOptions, Sink, read};
//! use stave_toolpath::Event;
//!
//! struct Length(f64);
//! impl Sink for Length {
//!     type Error = std::convert::Infallible;
//!     fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Self::Error> {
//!         if let Event::Straight { from, to, .. } = event {
//!             self.0 += from.linear_distance_mm(to);
//!         }
//!         Ok(())
//!     }
//! }
//!
//! let mut length = Length(0.0);
//! let program = &b"G21 G1 X30 Y40 F600\nM2\n"[..];
//! read(program, &ReadOptions::default(), &mut length).expect("a whole program");
//! assert_eq!(length.0, 50.0);
//! ```

#![deny(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    clippy::panic
)]

mod arcs;
mod block;
mod check;
mod closed;
mod code;
mod comment;
mod decimal;
mod dialect;
mod error;
mod execute;
mod expression;
mod fault;
mod feed;
mod interpreter;
mod line_number;
mod modes;
mod offsets;
mod parameters;
mod pass;
mod plain;
mod problem;
mod reader;
mod stops;
mod words;

pub use error::{Excerpt, ReadError};
pub use interpreter::Interpreter;
pub use modes::{Coolant, Distance, Modes, Motion, Units};
pub use reader::{ProgramEnd, ReadOptions, ReadSummary, Sink, Warning, WarningCode, read};

#[cfg(test)]
mod canonical;
#[cfg(test)]
mod reference_cases;
#[cfg(test)]
mod tests;
