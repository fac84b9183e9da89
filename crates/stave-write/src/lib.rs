//! Machine moves to bytes: G-code, and the time a program takes.

pub mod gcode;

pub mod plan;
