//! Bytes to moves.
//!
//! [`gcode`] reads flat programs: RS274/NGC as NIST wrote it down (NISTIR 6556), and what exporters commonly make of it.
//! The result is a stream of [`stave_toolpath::Event`]s in order of execution; nothing is kept of what was read.
//!
//! This crate knows no blank and no machine.

pub mod gcode;
