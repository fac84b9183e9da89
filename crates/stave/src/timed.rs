//! Timing a program while it is written, beside the writing.

use std::io::{self, Read, Write};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::{self, JoinHandle};

use stave_setup::{Blank, Machine};

use crate::error::Error;
use crate::estimate::{Estimate, EstimateOptions, estimate_program};

/// How many writes may wait to be timed: enough to keep both sides busy, and little memory.
const WAITING: usize = 8;

/// What line 1 of a wrapped program says of its time until it is known. Hours, minutes and seconds
/// take its place, as many bytes.
pub const TIME_UNKNOWN: &str = "----:--:--";

/// A time in the form of [`TIME_UNKNOWN`], rounded up to a whole second; `None` for ten thousand
/// hours or more.
///
/// ```
/// assert_eq!(stave::time_field(641.2).as_deref(), Some("0000:10:42"));
/// ```
#[must_use]
pub fn time_field(seconds: f64) -> Option<String> {
    let whole = seconds.ceil();
    if !(0.0..36e6).contains(&whole) {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let whole = whole as u64;
    Some(format!("{:04}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60))
}

/// Passes a program on to `out` and times it on the way, on a thread of its own; memory does not
/// grow with the program.
///
/// ```
/// use std::io::Write;
/// let machine = stave::setup::read_machine(
///     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n", "bench.toml")?;
/// let mut timed = stave::Timed::new(Vec::new(), &machine, None);
/// timed.write_all(b"G21 G90 G94\nG0 X50\nM2\n")?;
/// let (program, estimate) = timed.finish();
/// assert_eq!(program, b"G21 G90 G94\nG0 X50\nM2\n");
/// // Rest to rest under 5000 mm/s², too short to reach 500 mm/s: 2·√(50/5000) s.
/// assert!((estimate.unwrap().duration_s - 0.2).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Timed<W> {
    out: W,
    to_time: Option<SyncSender<Vec<u8>>>,
    worker: Option<JoinHandle<Result<Estimate, Error>>>,
}

impl<W: Write> Timed<W> {
    /// A writer to `out` that times what passes by `machine`, lengths by `blank`.
    #[must_use]
    pub fn new(out: W, machine: &Machine, blank: Option<&Blank>) -> Self {
        let (to_time, arriving) = sync_channel(WAITING);
        let (machine, blank) = (machine.clone(), blank.cloned());
        let work = move || {
            let passed = Passed { arriving, bytes: Vec::new(), taken: 0 };
            estimate_program(passed, &machine, blank.as_ref(), &EstimateOptions::default())
        };
        // Without a thread there is no estimate, and the program is written all the same.
        let worker = thread::Builder::new().name("estimate".into()).spawn(work).ok();
        Self { out, to_time: worker.is_some().then_some(to_time), worker }
    }

    /// What was written to, and the estimate; `None` where what passed is no program that can be
    /// timed.
    #[must_use]
    pub fn finish(mut self) -> (W, Option<Estimate>) {
        self.to_time = None;
        let estimate =
            self.worker.take().and_then(|worker| worker.join().ok()).and_then(Result::ok);
        (self.out, estimate)
    }
}

impl<W: Write> Write for Timed<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes)?;
        if let (Some(to_time), Some(passed)) = (&self.to_time, bytes.get(..written))
            && !passed.is_empty()
            && to_time.send(passed.to_vec()).is_err()
        {
            // It has found an end, or what it cannot time.
            self.to_time = None;
        }
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// What was passed on, as a reader that ends with the writing.
struct Passed {
    arriving: Receiver<Vec<u8>>,
    bytes: Vec<u8>,
    taken: usize,
}

impl Read for Passed {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.taken == self.bytes.len() {
            match self.arriving.recv() {
                Ok(bytes) => (self.bytes, self.taken) = (bytes, 0),
                Err(_) => return Ok(0),
            }
        }
        let left = &self.bytes[self.taken..];
        let count = left.len().min(buffer.len());
        buffer[..count].copy_from_slice(&left[..count]);
        self.taken += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_as_wide_as_what_it_replaces() {
        for seconds in [0.0, 0.1, 59.9, 3599.0, 3600.5, 35_999_999.0] {
            assert_eq!(time_field(seconds).unwrap().len(), TIME_UNKNOWN.len(), "{seconds}");
        }
        assert_eq!(time_field(3600.5).unwrap(), "0001:00:01");
        assert_eq!([time_field(36e6), time_field(f64::NAN), time_field(-1.0)], [None, None, None]);
    }
}
