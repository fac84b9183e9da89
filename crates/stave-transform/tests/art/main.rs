//! Art on the wall, from outside: areas by length times spacing, lines by where they run, energy by
//! what the moves say.

// A panic in a test's helper is a failed test.
#![allow(clippy::unwrap_used)]

mod areas;
mod bench;
mod dose;
mod lines;
mod zones;
