//! Machine moves as a G-code program for the rotary.
//!
//! Words that did not change are left out, every number goes through [`stave_toolpath::number`],
//! and the beam is dark wherever the program does not burn: whatever the flat program did, no
//! travel leaves here with power on.

mod words;
mod writer;

pub use words::Dialect;
pub use writer::{Forgotten, WriteError, Writer};
