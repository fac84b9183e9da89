//! How much the process ever held.

/// The most that the process ever held, kB; read from `/proc/self/status`, nothing elsewhere.
#[must_use]
pub fn peak_kb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}
