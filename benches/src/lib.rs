//! What the workspace's benches measure with, and against.
//!
//! [`program`] makes flat programs in memory; [`hand`] is a wrap written by hand for one wall and
//! one lay, the yardstick; [`picture`] makes pictures and engravings, and the loop over pixels
//! beside them; [`wrap`] is the project's own, from the fixtures' files; [`clock`] tells the time
//! on the processor, [`memory`] what was held.

pub mod clock;
pub mod hand;
pub mod memory;
pub mod picture;
pub mod program;
pub mod wrap;
