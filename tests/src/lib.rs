//! How long tests run, decided in one place for every room, and what several of them try.
//!
//! The core runs every property with a few cases each. With the environment variable `STAVE_LONG`
//! set (to anything but nothing or `0`) each runs with [`LONG`] times as many, and the walks over
//! all fixtures leave none out.

pub mod ware;

use std::sync::mpsc;
use std::time::Duration;

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

/// After this, what still runs is taken for endless. No measure of how fast anything is: no test
/// asserts a time.
pub const ENDLESS: Duration = Duration::from_secs(15 * 60);

/// What `work` gives, done on a thread of its own so that work without end is a failed test and not
/// a hung one.
///
/// # Panics
/// Where `work` panics, or does not end.
pub fn ends<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> T {
    let (give, take) = mpsc::channel();
    let thread = std::thread::spawn(move || give.send(work()).is_ok());
    match take.recv_timeout(ENDLESS) {
        Ok(given) => given,
        Err(mpsc::RecvTimeoutError::Timeout) => panic!("does not end"),
        Err(mpsc::RecvTimeoutError::Disconnected) => match thread.join() {
            Err(panic) => std::panic::resume_unwind(panic),
            Ok(_) => unreachable!("a thread that ends without a panic gives what it was for"),
        },
    }
}
