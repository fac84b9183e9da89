//! How a command ends that could not do its work.

use std::io::Write;
use std::process::ExitCode;

use crate::shown::plain;

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

/// Help and version on standard output, what is wrong with the usage on standard error.
pub(crate) fn usage(usage: &clap::Error) -> ExitCode {
    if usage.use_stderr() {
        let _ = write!(std::io::stderr().lock(), "{}", plain(&usage.render().to_string()));
        return ExitCode::from(BAD);
    }
    match write!(std::io::stdout().lock(), "{}", usage.render()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Failure::bad(format!("cannot write standard output: {error}")).report()
        }
        _ => ExitCode::SUCCESS,
    }
}

/// A report for people, on standard error; it does not matter whether anyone listens.
pub(crate) fn tell(report: &str) {
    let _ = std::io::stderr().lock().write_all(plain(report).as_bytes());
}

/// A message for people, on standard error; it does not matter whether anyone listens.
pub(crate) fn say(message: &str) {
    let _ = writeln!(std::io::stderr().lock(), "stave: {}", plain(message));
}

impl From<stave::Error> for Failure {
    fn from(error: stave::Error) -> Self {
        if error.is_closed_pipe() {
            return Self::closed_pipe();
        }
        Self::new(error.exit_status(), error.to_string())
    }
}
