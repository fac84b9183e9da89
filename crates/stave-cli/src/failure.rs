//! How a command ends that could not do its work.

use std::io::Write;
use std::process::ExitCode;

use stave::setup::{Fault, Faults};

use crate::progress::aside;
use crate::shown::plain;
use crate::streams::stdout_is_open;

/// Bad usage, bad input, or a file that cannot be read or written. (1, the job does not fit, comes
/// from the pipeline.)
pub(crate) const BAD: u8 = 2;

/// What is to be told, a message for each thing that is wrong, and the exit status that goes with
/// it; without a message nothing is said.
#[derive(Debug)]
pub(crate) struct Failure {
    status: u8,
    messages: Vec<String>,
}

impl Failure {
    pub(crate) fn bad(message: impl Into<String>) -> Self {
        Self::all_bad([message.into()])
    }

    /// Several things are wrong at once.
    pub(crate) fn all_bad(messages: impl IntoIterator<Item = String>) -> Self {
        Self { status: BAD, messages: messages.into_iter().collect() }
    }

    /// The faults of several files.
    pub(crate) fn of_faults(files: impl IntoIterator<Item = Option<Faults>>) -> Self {
        Self::all_bad(files.into_iter().flatten().flatten().map(|fault| fault.to_string()))
    }

    /// The end of a command whose reader has gone: quiet, and no fault.
    pub(crate) fn closed_pipe() -> Self {
        Self { status: 0, messages: Vec::new() }
    }

    /// Its messages, a line each: what is told of one thing among several.
    pub(crate) fn text(&self) -> String {
        self.messages.join("\n")
    }

    pub(crate) fn report(&self) -> ExitCode {
        self.messages.iter().for_each(|message| say(message));
        ExitCode::from(self.status)
    }
}

impl From<Faults> for Failure {
    fn from(faults: Faults) -> Self {
        Self::all_bad(faults.iter().map(ToString::to_string))
    }
}

impl From<Fault> for Failure {
    fn from(fault: Fault) -> Self {
        Self::bad(fault.to_string())
    }
}

/// Help and version on standard output, what is wrong with the usage on standard error.
pub(crate) fn usage(usage: &clap::Error) -> ExitCode {
    if usage.use_stderr() {
        let _ = write!(std::io::stderr().lock(), "{}", plain(&usage.render().to_string()));
        return ExitCode::from(BAD);
    }
    let written =
        stdout_is_open().and_then(|()| write!(std::io::stdout().lock(), "{}", usage.render()));
    match written {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Failure::bad(format!("cannot write standard output: {error}")).report()
        }
        _ => ExitCode::SUCCESS,
    }
}

/// A report for people, on standard error; it does not matter whether anyone listens.
pub(crate) fn tell(report: &str) {
    let _ = aside(|| std::io::stderr().lock().write_all(plain(report).as_bytes()));
}

/// A message for people, on standard error; it does not matter whether anyone listens.
pub(crate) fn say(message: &str) {
    let _ = aside(|| writeln!(std::io::stderr().lock(), "stave: {}", plain(message)));
}

impl From<stave::Error> for Failure {
    fn from(error: stave::Error) -> Self {
        if error.is_closed_pipe() {
            return Self::closed_pipe();
        }
        Self { status: error.exit_status(), messages: error.messages() }
    }
}
