//! How long tests run, decided in one place for every room.
//!
//! The core runs every property with a few cases each. With the environment variable `STAVE_LONG`
//! set (to anything but nothing or `0`) each runs with [`LONG`] times as many, and the walks over
//! all fixtures leave none out.

use proptest::test_runner::Config;

/// How many times the core's cases a long run has.
pub const LONG: u32 = 8;

/// Whether a long run was asked for.
#[must_use]
pub fn long() -> bool {
    std::env::var_os("STAVE_LONG").is_some_and(|value| !value.is_empty() && value != "0")
}

/// A property's cases: `core` of them, or [`LONG`] times as many in a long run.
#[must_use]
pub fn cases(core: u32) -> Config {
    Config::with_cases(times(core))
}

/// How often a loop goes round: `core` times, or [`LONG`] times as often in a long run.
#[must_use]
pub fn times(core: u32) -> u32 {
    if long() { core * LONG } else { core }
}
