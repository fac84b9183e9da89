//! What a process was given when it began.
//!
//! Before `main`, the standard library opens the null device for every standard stream that is
//! closed: `stave … >&-` would seem to succeed, its results gone. Only code that runs before that
//! can tell, so this room looks then, and does nothing else.

/// Whether the process began with an open standard output; true where that cannot be told.
#[must_use]
pub fn had_standard_output() -> bool {
    seen::had_standard_output()
}

#[cfg(unix)]
mod seen {
    use std::sync::atomic::{AtomicBool, Ordering};

    static OPEN: AtomicBool = AtomicBool::new(true);

    ctor::declarative::ctor! {
        #[ctor(unsafe)]
        fn look() {
            // One call to the system and one store: nothing of the standard library is set up yet.
            let open = rustix::io::fcntl_getfd(rustix::stdio::stdout()).is_ok();
            OPEN.store(open, Ordering::Relaxed);
        }
    }

    pub(super) fn had_standard_output() -> bool {
        OPEN.load(Ordering::Relaxed)
    }
}

#[cfg(not(unix))]
mod seen {
    pub(super) fn had_standard_output() -> bool {
        true
    }
}
