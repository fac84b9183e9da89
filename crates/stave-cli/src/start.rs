//! What the process was given when it began.

/// Whether the process began with an open standard output; true where that cannot be told.
///
/// Before `main` the standard library opens the null device, for reading and writing, in place of
/// every standard stream that is closed: `stave … >&-` would seem to succeed, its results gone. A
/// shell opens it for writing alone, so that the two are told apart.
#[cfg(target_os = "linux")]
pub(crate) fn had_standard_output() -> bool {
    let null = std::fs::read_link("/proc/self/fd/1")
        .is_ok_and(|target| target == std::path::Path::new("/dev/null"));
    if !null {
        return true;
    }
    let Ok(info) = std::fs::read_to_string("/proc/self/fdinfo/1") else { return true };
    let flags = info.lines().find_map(|line| line.strip_prefix("flags:"));
    let mode = flags.and_then(|flags| u32::from_str_radix(flags.trim(), 8).ok());
    const MODE: u32 = 0o3;
    const READ_AND_WRITE: u32 = 0o2;
    mode.is_none_or(|mode| mode & MODE != READ_AND_WRITE)
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn had_standard_output() -> bool {
    true
}
