//! What can end a step of the pipeline.

use stave_check::Finding;
use stave_parse::gcode::ReadError;
use stave_rig::Misfit;
use stave_setup::Faults;
use stave_wall::LayError;
use stave_write::gcode::WriteError;

/// Why a step could not be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A setting that cannot be meant.
    #[error("{0}")]
    Setup(#[from] Faults),
    /// The lay does not suit the wall.
    #[error("{0}")]
    Lay(#[from] LayError),
    /// A setting that this step does not know yet, or that does not go with this input.
    #[error("{0}")]
    Setting(String),
    /// A blank and machine that do not fit, or (true) a place that cannot be meant.
    #[error("{0}")]
    Unfit(String, bool),
    /// A run that is not fit: what the judge found.
    #[error("{}", sentences(.0))]
    NotFit(Vec<Finding>),
    /// A drawing that cannot be read.
    #[error("{0}")]
    Art(String),
    /// The program: where it is wrong, or where it does not fit. The text shows the line and a
    /// caret.
    #[error("{text}")]
    Program {
        /// The whole message.
        text: String,
        /// A few words, for a comment in a program that breaks off.
        short: String,
        /// True where the program is at fault, false where it does not fit the blank or machine.
        bad_input: bool,
    },
    /// The input could not be read.
    #[error("the input could not be read: {0}")]
    Input(std::io::Error),
    /// The output could not be written.
    #[error("the output could not be written: {0}")]
    Output(std::io::Error),
}

impl Error {
    /// The exit status of a command that ends on this: 1 the job does not fit, 2 the input or a
    /// setting is wrong.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        match self {
            Self::Program { bad_input: false, .. } | Self::Unfit(_, false) | Self::NotFit(_) => 1,
            _ => 2,
        }
    }

    /// True where whoever read the output has gone.
    #[must_use]
    pub fn is_closed_pipe(&self) -> bool {
        matches!(self, Self::Output(error) if error.kind() == std::io::ErrorKind::BrokenPipe)
    }

    /// A few words for a comment in a program that breaks off here.
    #[must_use]
    pub fn short(&self) -> String {
        match self {
            Self::Program { short, .. } => short.clone(),
            other => other.to_string().lines().next().unwrap_or_default().to_owned(),
        }
    }
}

/// What a consumer of events can refuse.
#[derive(Debug)]
pub(crate) enum Refusal {
    Misfit(Misfit),
    Rotary,
    WrappedAlready,
    /// The program turns an axis that the machine does not have.
    WrongRig {
        letter: char,
        machine: String,
        word: char,
    },
    /// The judge refuses a step; it has the findings.
    Unfit,
    /// A line to be passed on that does not read as words.
    Unpassable,
    Write(WriteError),
    Io(std::io::Error),
}

impl From<WriteError> for Refusal {
    fn from(error: WriteError) -> Self {
        Self::Write(error)
    }
}

impl From<Misfit> for Refusal {
    fn from(misfit: Misfit) -> Self {
        Self::Misfit(misfit)
    }
}

impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Misfit(misfit) => misfit.fmt(f),
            Self::Rotary => f.write_str(
                "a rotary word: a flat program moves X, Y and Z; a program that turns the work \
                 already cannot be wrapped",
            ),
            Self::WrappedAlready => f.write_str(
                "this program was wrapped already; wrap the flat \
                                                 one",
            ),
            Self::WrongRig { letter, machine, word } => write!(
                f,
                "the program moves {letter}, and the rotary of \"{machine}\" has the word {word}: it \
                 was made for another machine; take the machine file it was made for, or wrap it \
                 anew"
            ),
            Self::Unfit => f.write_str("what comes next is not fit for the blank or the machine"),
            Self::Unpassable => f.write_str(
                "from here on the line does not read as words, a letter and a number each, so it \
                 cannot be passed on; take it out",
            ),
            Self::Write(error) => error.fmt(f),
            Self::Io(error) => error.fmt(f),
        }
    }
}

impl Refusal {
    fn is_bad_input(&self) -> bool {
        match self {
            Self::Misfit(misfit) => misfit.is_bad_input(),
            Self::Write(_) | Self::Unfit => false,
            _ => true,
        }
    }
}

impl Error {
    /// From the reader's error, with the input's name put before the place.
    pub(crate) fn of_reading(error: ReadError<Refusal>, name: &str) -> Self {
        let bad_input = match &error {
            ReadError::Sink { error, .. } => error.is_bad_input(),
            _ => true,
        };
        let (text, short) = (error.shown(name), error.to_string());
        match error {
            ReadError::Io(error) => Self::Input(error),
            ReadError::Sink {
                error: Refusal::Write(WriteError::Io(error)) | Refusal::Io(error),
                ..
            } => Self::Output(error),
            _ => Self::Program { text, short, bad_input },
        }
    }
}

/// Findings as sentences, a line each: severity, code, what and where.
pub(crate) fn sentences(findings: &[Finding]) -> String {
    findings.iter().map(sentence).collect::<Vec<_>>().join("\n")
}

/// A finding as one sentence.
#[must_use]
pub fn sentence(finding: &Finding) -> String {
    let place = [
        finding.piece.as_ref().map(|piece| format!("piece \"{piece}\"")),
        finding.element.as_ref().map(|element| format!("element {element}")),
        finding.line.map(|line| format!("line {line}")),
        finding.at.map(|at| format!("at {} mm", stave_toolpath::number::fixed(at, 2))),
        finding.turn.map(|turn| format!("turn {}°", stave_toolpath::number::fixed(turn, 1))),
    ];
    let place: Vec<String> = place.into_iter().flatten().collect();
    let place = if place.is_empty() { String::new() } else { format!(" ({})", place.join(", ")) };
    format!("{} {}: {}{place}", finding.severity, finding.code, finding.message)
}
