//! Standard output that was closed before the command began.

use std::io;

/// An error where whoever began this command had closed standard output: what is written to it
/// would go nowhere, and nobody would know.
#[cfg(target_os = "linux")]
pub(crate) fn stdout_is_open() -> io::Result<()> {
    if linux::CLOSED.load(std::sync::atomic::Ordering::Relaxed) {
        return Err(rustix::io::Errno::BADF.into());
    }
    Ok(())
}

/// Here nothing tells a closed output from one that leads nowhere.
#[cfg(not(target_os = "linux"))]
pub(crate) fn stdout_is_open() -> io::Result<()> {
    Ok(())
}

#[cfg(target_os = "linux")]
mod linux {
    use std::sync::atomic::{AtomicBool, Ordering};

    pub(super) static CLOSED: AtomicBool = AtomicBool::new(false);

    /// Runs before the standard library does: that one puts `/dev/null`, open for reading and
    /// writing, in the place of a closed stream, and so do some who mean it.
    #[ctor::ctor]
    fn look() {
        let flags = rustix::io::fcntl_getfd(rustix::stdio::stdout());
        CLOSED.store(flags == Err(rustix::io::Errno::BADF), Ordering::Relaxed);
    }
}
