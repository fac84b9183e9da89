//! Time on the processor, so that a busy machine does not spoil the figures.

use std::time::{Duration, Instant};

/// Ticks a second in `/proc/self/stat` (`sysconf(_SC_CLK_TCK)`, 100 on Linux).
const TICKS: f64 = 100.0;

/// Seconds that `work` took and what it gave: on the processor where the kernel tells (Linux), by
/// the clock elsewhere.
pub fn timed<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let (begun, cpu) = (Instant::now(), on_cpu());
    let result = work();
    let seconds = match (cpu, on_cpu()) {
        (Some(before), Some(after)) if after > before => after - before,
        _ => begun.elapsed(),
    };
    (seconds.as_secs_f64(), result)
}

/// Processor time of all threads of this process so far, those that have ended too: fields 14 and
/// 15 of `/proc/self/stat`.
fn on_cpu() -> Option<Duration> {
    fields_of_stat(11).map(Duration::from_secs_f64).filter(|time| !time.is_zero())
}

/// Two fields of `/proc/self/stat` that count ticks, summed, s; counted from the one after the
/// name.
fn fields_of_stat(skip: usize) -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    let mut fields = text.rsplit_once(')')?.1.split_whitespace().skip(skip);
    let mut ticks = || fields.next().and_then(|field| field.parse::<f64>().ok());
    Some((ticks()? + ticks()?) / TICKS)
}

/// Seconds on the processor of all child processes that have ended: fields 16 and 17 of
/// `/proc/self/stat`.
#[must_use]
pub fn of_children() -> Option<f64> {
    fields_of_stat(13)
}
