//! Bytes to moves.
//!
//! [`gcode`] reads flat programs: RS274/NGC as NIST wrote it down (NISTIR 6556), and what exporters
//! commonly make of it. The result is a stream of [`stave_toolpath::Event`]s in order of execution;
//! nothing is kept of what was read.
//!
//! `svg` reads drawings, and bare path data (feature `svg`, a default one): to [`stave_toolpath::art::Art`], and a notice for
//! whatever is not burned as it is drawn.
//!
//! This crate knows no blank and no machine.

pub mod gcode;
#[cfg(feature = "svg")]
pub mod svg;
