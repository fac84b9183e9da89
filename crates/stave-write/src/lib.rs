//! Machine moves to bytes: G-code, and the time a program takes; drawings to bytes: SVG.

pub mod gcode;

pub mod svg;
