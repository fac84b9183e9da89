//! Art on the wall, from outside: areas by length times spacing, lines by where they run, energy by
//! what the moves say.

// A panic in a test's helper is a failed test.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

mod areas;
mod around;
mod bench;
mod dose;
mod lines;
mod zones;
