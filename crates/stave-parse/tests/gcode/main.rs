//! The G-code reader through its public door.

#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

mod agreement;
mod chunks;
mod errors;
mod expressions;
mod feeds;
mod homes;
mod lenient;
mod log;
mod noise;
mod round_trip;
