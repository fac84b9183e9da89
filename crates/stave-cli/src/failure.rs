//! How a command ends that could not do its work.

use std::io::Write;
use std::process::ExitCode;

/// Bad usage, bad input, or a file that cannot be read or written. (1, the job does not fit, comes
/// from the pipeline.)
pub(crate) const BAD: u8 = 2;

/// A message and the exit status that goes with it; an empty message says nothing.
#[derive(Debug)]
pub(crate) struct Failure {
    status: u8,
    message: String,
}

impl Failure {
    pub(crate) fn new(status: u8, message: impl Into<String>) -> Self {
        Self { status, message: message.into() }
    }

    pub(crate) fn bad(message: impl Into<String>) -> Self {
        Self::new(BAD, message)
    }

    /// The end of a command whose reader has gone: quiet, and no fault.
    pub(crate) fn closed_pipe() -> Self {
        Self::new(0, "")
    }

    pub(crate) fn report(&self) -> ExitCode {
        if !self.message.is_empty() {
            say(&self.message);
        }
        ExitCode::from(self.status)
    }
}

/// A message for people, on standard error; it does not matter whether anyone listens.
pub(crate) fn say(message: &str) {
    let _ = writeln!(std::io::stderr().lock(), "stave: {message}");
}

impl From<stave::Error> for Failure {
    fn from(error: stave::Error) -> Self {
        if error.is_closed_pipe() {
            return Self::closed_pipe();
        }
        Self::new(error.exit_status(), error.to_string())
    }
}
