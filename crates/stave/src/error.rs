//! What can end a step of the pipeline: data, whose words are made where they are shown.

use std::io;

use stave_check::{Code, Finding, LevelError, NoRoom};
use stave_parse::gcode::{Excerpt, ReadError};
#[cfg(feature = "svg")]
use stave_parse::svg::{PathError, SvgError};
#[cfg(feature = "pictures")]
use stave_picture::PaperError;
#[cfg(feature = "pictures")]
use stave_picture::proof::PngError;
use stave_plan::PlanError;
use stave_rig::Misfit;
use stave_setup::{Faults, Work};
use stave_toolpath::number::fixed;
use stave_wall::LayError;
use stave_write::gcode::WriteError;

use crate::measure::MeasureError;
use crate::resume::ResumeFault;

/// How many misfits one message lists.
const MOST_MISFITS: usize = 20;

/// Why a step could not be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// Settings that cannot be meant, each with its place.
    #[error(transparent)]
    Setup(#[from] Faults),
    /// The lay does not suit the wall.
    #[error(transparent)]
    Lay(#[from] LayError),
    /// A value given to a step that cannot be meant.
    #[error("--{option}: {allowed}")]
    Value {
        /// Which, by the name of its option.
        option: &'static str,
        /// What was found and what is allowed.
        allowed: String,
    },
    /// A setting that does not go with what it is asked of.
    #[error("{0}")]
    Setting(String),
    /// What comes in cannot be taken as a whole.
    #[error("{name}{}: {fault}", fault.line().map_or(String::new(), |line| format!(":{line}")))]
    Source {
        /// The source's name.
        name: String,
        /// What is wrong with it.
        fault: SourceFault,
    },
    /// A line of a program: it is wrong, or does not fit.
    #[error(transparent)]
    Program(#[from] Box<ProgramError>),
    /// The blank or machine cannot have this anywhere in the art.
    #[error("{}", self.messages().join("\n"))]
    Misfits(Vec<PlacedMisfit>),
    /// A run that is not fit: what the judge found.
    #[error("{}", self.messages().join("\n"))]
    NotFit(Vec<Finding>),
    /// A stretch of wall that cannot be set up for.
    #[error(transparent)]
    Level(#[from] LevelError),
    /// A swatch has no place on the wall.
    #[error("no room for the swatch: {0}")]
    NoRoom(NoRoom),
    /// A speed that the machine does not reach.
    #[error(
        "--speeds: {} mm/s is asked, but the {axis} axis of \"{machine}\" does at most {}: the \
         patch would not be what its label says",
        fixed(*speed_mm_per_s, 3), fixed(*most_mm_per_s, 3)
    )]
    TooFast {
        /// What was asked.
        speed_mm_per_s: f64,
        /// The axis that binds.
        axis: char,
        /// The machine's name.
        machine: String,
        /// What it can do.
        most_mm_per_s: f64,
    },
    /// Nothing can be made of what was measured.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// Patterns that no paper holds.
    #[cfg(feature = "pictures")]
    #[error(transparent)]
    Paper(#[from] PaperError),
    /// A run that cannot be timed.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// A step that no word can hold.
    #[error(transparent)]
    Word(WriteError),
    /// A picture that could not be made.
    #[cfg(feature = "pictures")]
    #[error(transparent)]
    Picture(#[from] PngError),
    /// The input could not be read.
    #[error("the input could not be read")]
    Input(#[source] io::Error),
    /// The output could not be written.
    #[error("the output could not be written")]
    Output(#[source] io::Error),
    /// The stages of a run could not be begun.
    #[error("no thread could be begun for a stage of the run")]
    Thread(#[source] io::Error),
    /// Whoever took the steps wanted no more.
    #[error("the steps were refused")]
    Refused(#[source] Box<dyn std::error::Error + Send + Sync>),
}

/// What is wrong with a source as a whole.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SourceFault {
    /// A program where a drawing is needed.
    #[error("this is a program, but what is taken here is a drawing")]
    NotADrawing,
    /// A drawing where a program is needed.
    #[error("this is a drawing, but what is taken here is a program")]
    NotAProgram,
    /// A program for a flat place that the blank at hand does not have.
    #[error(
        "the program burns the flat place \"{facet}\", and the blank \"{blank}\" has none of that \
         name: give the blank that it was wrapped for"
    )]
    NoFacet {
        /// The place.
        facet: String,
        /// The blank.
        blank: String,
    },
    /// A program in several set-ups where one is needed.
    #[error(
        "the program burns in several set-ups, and goes round under none of them: write each by \
         wrap --part 1, 2 and so on, and walk that"
    )]
    SetUps,
    /// A drawing without a wall to lay it on.
    #[error("this is a drawing: give the blank it is for with -b, and the job with -j")]
    NoSetup,
    /// A picture without a wall to lay it on.
    #[error("this is a picture: give the blank it is for with -b, and the job with -j")]
    PictureNoSetup,
    /// A picture where a drawing is to be drawn anew.
    #[error("--to svg takes a drawing, not a picture; write a program")]
    PictureAnew,
    /// A flat place where a drawing is to be drawn anew, for a controller that turns the work.
    #[error(
        "--to svg draws for a controller that turns the work, and the flat place \"{place}\" \
         stands still under the beam; write a program, or draw on the page of `stave template`"
    )]
    FlatPlaceAnew {
        /// Its name.
        place: String,
    },
    /// A picture that cannot be read.
    #[cfg(feature = "image")]
    #[error("{0}")]
    Image(stave_parse::image::ImageError),
    /// A picture whose size is not known, or said twice: a sentence.
    #[error("{0}")]
    PictureSize(String),
    /// A picture, and no decoder for it.
    #[error("this build reads no pictures (feature `image`)")]
    NoPictures,
    /// A picture for which neither job nor machine says how it is burned.
    #[error(
        "nothing says how a picture is burned: the job has no [[operation]] with `work = \
         \"picture\"` and no `pick`, and the machine \"{machine}\" has no [picture]; give either, \
         so that there are a speed, a power and a line spacing"
    )]
    PictureUnsettled {
        /// The machine's name.
        machine: String,
    },
    /// A drawing that makes no program.
    #[error("nothing to time")]
    NothingToTime,
    /// A drawing that cannot be read.
    #[cfg(feature = "svg")]
    #[error("{0}")]
    Svg(SvgError),
    /// Path data that cannot be read.
    #[cfg(feature = "svg")]
    #[error("{0}")]
    Path(PathError),
    /// A drawing of more pieces than can be laid.
    #[error(
        "the drawing parts into {found} pieces where at most {most} are laid: put groups together, \
         or give them one data-piece"
    )]
    Pieces {
        /// How many it has.
        found: usize,
        /// How many are laid.
        most: usize,
    },
    /// Art for which neither job nor machine says how it is burned.
    #[error(
        "the drawing has {} ({element}), but the job names no [[operation]] and the machine \
         \"{machine}\" has no {}: give either, so that there are a speed and a power",
        if *work == Work::Area { "fills" } else { "lines" },
        if *work == Work::Area { "[area]" } else { "[line]" }
    )]
    Unsettled {
        /// What is to be done with it.
        work: Work,
        /// The first such element.
        element: String,
        /// The machine's name.
        machine: String,
    },
    /// A first line of ours that cannot be meant: a sentence that names the word.
    #[error("{0}")]
    LineOne(String),
    /// A program of ours that says that it is not whole.
    #[error("the program was broken off while it was written; make it anew")]
    BrokenOff,
    /// A program of ours without its end.
    #[error("the end of the program is missing: it has no M2 or M30; make it anew")]
    NoEnd,
    /// A program of ours whose end comes before what it is to end with.
    #[error(
        "the program ends before the comment that it was written to end with: an M2 or M30 stands \
         in its middle, or its last lines were left out; make it anew"
    )]
    EndEarly,
    /// A program of ours in several set-ups, not all of which are there as they were written.
    #[error(
        "line 1 promises {promised} set-ups, and {begun} begin as they were written, each by its \
         comment and in order: one was changed or left out, and what it burns would be taken for \
         that of the one before; make it anew"
    )]
    SetUpMissing {
        /// How many line 1 names.
        promised: u32,
        /// How many comments begin one.
        begun: u32,
    },
    /// A program that cannot be gone on with there.
    #[error("{0}")]
    Resume(ResumeFault),
    /// A program that was cut in the middle of a burn.
    #[error(
        "the input ends in the middle of a line, with the beam on: it was cut off; export it again"
    )]
    Cut {
        /// Its last line.
        line: u64,
    },
}

impl SourceFault {
    /// The line that it is about, where it is about one.
    #[must_use]
    pub fn line(&self) -> Option<u64> {
        match self {
            Self::Cut { line } => Some(*line),
            _ => None,
        }
    }
}

/// A place of a program, and what is wrong there.
#[derive(Debug)]
pub struct ProgramError {
    /// The program's name.
    pub name: String,
    /// The line, from 1.
    pub line: u64,
    /// The column in characters, from 1.
    pub column: u64,
    /// The line around it.
    pub excerpt: Excerpt,
    /// What is wrong.
    pub fault: ProgramFault,
}

impl std::fmt::Display for ProgramError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { name, line, column, excerpt, fault } = self;
        f.write_str(&excerpt.shown(name, *line, *column, fault))
    }
}

impl std::error::Error for ProgramError {}

/// What is wrong with a line of a program.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ProgramFault {
    /// It cannot be read: what is wrong and what would be right.
    #[error("{0}")]
    Syntax(String),
    /// A move that does not fit the blank or the machine.
    #[error("{0}")]
    Misfit(Misfit),
    /// A flat program turns the work.
    #[error(
        "a rotary word: a flat program moves X, Y and Z; a program that turns the work already \
         cannot be wrapped"
    )]
    Turns,
    /// It was wrapped already.
    #[error("this program was wrapped already; wrap the flat one")]
    Wrapped,
    /// The program turns an axis that the machine does not have.
    #[error(
        "the program moves {letter}, and the rotary of \"{machine}\" has the word {word}: it was \
         made for another machine; take the machine file it was made for, or wrap it anew"
    )]
    WrongRig {
        /// The program's letter.
        letter: char,
        /// The machine's name.
        machine: String,
        /// The rotary's word.
        word: char,
    },
    /// A line to be passed on that does not read as words.
    #[error(
        "from here on the line does not read as words, a letter and a number each, so it cannot be \
         passed on; take it out"
    )]
    Unpassable,
    /// A step that no word can hold.
    #[error("{0}")]
    Word(WriteError),
}

impl ProgramFault {
    fn is_bad_input(&self) -> bool {
        match self {
            Self::Misfit(misfit) => misfit.is_bad_input(),
            Self::Word(_) => false,
            _ => true,
        }
    }
}

/// What keeps a part of the art from being laid.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedMisfit {
    /// The element of the drawing.
    pub element: Option<String>,
    /// The piece.
    pub piece: Option<String>,
    /// What it is, where on the work, and what to do.
    pub misfit: Misfit,
}

impl PlacedMisfit {
    /// Of a whole run.
    pub(crate) fn of_run(misfit: Misfit) -> Error {
        Error::Misfits(vec![Self { element: None, piece: None, misfit }])
    }
}

impl std::fmt::Display for PlacedMisfit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (&self.element, &self.piece) {
            (Some(element), Some(piece)) => write!(f, "{element}, piece \"{piece}\": ")?,
            (Some(element), None) => write!(f, "{element}: ")?,
            (None, Some(piece)) => write!(f, "piece \"{piece}\": ")?,
            (None, None) => {}
        }
        self.misfit.fmt(f)
    }
}

impl Error {
    /// The exit status of a command that ends on this: 1 the job does not fit, 2 the input or a
    /// setting is wrong.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        let fits_not = match self {
            Self::Program(error) => !error.fault.is_bad_input(),
            Self::Misfits(misfits) => !misfits.iter().any(|one| one.misfit.is_bad_input()),
            Self::Level(error) => !matches!(error, LevelError::OffWall { .. }),
            Self::NotFit(_) | Self::NoRoom(_) | Self::TooFast { .. } => true,
            _ => false,
        };
        if fits_not { 1 } else { 2 }
    }

    /// True where whoever read the output has gone.
    #[must_use]
    pub fn is_closed_pipe(&self) -> bool {
        matches!(self, Self::Output(error) if error.kind() == io::ErrorKind::BrokenPipe)
    }

    /// What is to be told, a message for each thing that is wrong: with its cause, and for a line
    /// of a file with that line below.
    #[must_use]
    pub fn messages(&self) -> Vec<String> {
        match self {
            Self::Setup(faults) => faults.iter().map(ToString::to_string).collect(),
            Self::NotFit(findings) => findings.iter().map(sentence).collect(),
            Self::Misfits(misfits) => {
                let mut messages: Vec<String> =
                    misfits.iter().take(MOST_MISFITS).map(ToString::to_string).collect();
                let more = misfits.len().saturating_sub(MOST_MISFITS);
                messages.extend((more > 0).then(|| format!("and {more} more")));
                messages
            }
            Self::Input(error) | Self::Output(error) | Self::Thread(error) => {
                vec![format!("{self}: {error}")]
            }
            Self::Refused(error) => vec![format!("{self}: {error}")],
            other => vec![other.to_string()],
        }
    }

    /// A few words for a comment in a program that breaks off here.
    #[must_use]
    pub fn short(&self) -> String {
        match self {
            Self::Program(error) => {
                format!("line {}, column {}: {}", error.line, error.column, error.fault)
            }
            other => other
                .messages()
                .first()
                .map_or("", |first| first.lines().next().unwrap_or_default())
                .to_owned(),
        }
    }

    pub(crate) fn of_source(name: &str, fault: SourceFault) -> Self {
        Self::Source { name: name.to_owned(), fault }
    }

    /// From the reader's error, with the program's name.
    pub(crate) fn of_reading(error: ReadError<Refusal>, name: &str) -> Self {
        let program = |line, column, excerpt, fault| {
            Self::Program(Box::new(ProgramError {
                name: name.to_owned(),
                line,
                column,
                excerpt,
                fault,
            }))
        };
        match error {
            ReadError::Io(error) => Self::Input(error),
            ReadError::Syntax { line, column, message, excerpt } => {
                program(line, column, excerpt, ProgramFault::Syntax(message))
            }
            ReadError::Sink { line, column, excerpt, error } => match error {
                Refusal::Program(fault) => program(line, column, excerpt, fault),
                Refusal::Write(WriteError::Io(error)) | Refusal::Io(error) => Self::Output(error),
                Refusal::Write(error) => program(line, column, excerpt, ProgramFault::Word(error)),
                Refusal::Unfit => Self::NotFit(Vec::new()),
                Refusal::Steps(error) => Self::Refused(error),
            },
            // The reader's errors may grow.
            other => Self::Setting(other.shown(name)),
        }
    }
}

impl From<WriteError> for Error {
    fn from(error: WriteError) -> Self {
        match error {
            WriteError::Io(error) => Self::Output(error),
            other => Self::Word(other),
        }
    }
}

/// What a consumer of events or steps can refuse.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Refusal {
    #[error("{0}")]
    Program(ProgramFault),
    /// The judge refuses a step; it has the findings.
    #[error("what comes next is not fit for the blank or the machine")]
    Unfit,
    #[error("{0}")]
    Write(#[from] WriteError),
    #[error("{0}")]
    Io(io::Error),
    /// Whoever takes the steps wants no more.
    #[error("{0}")]
    Steps(Box<dyn std::error::Error + Send + Sync>),
}

impl From<std::convert::Infallible> for Refusal {
    fn from(never: std::convert::Infallible) -> Self {
        match never {}
    }
}

impl From<ProgramFault> for Refusal {
    fn from(fault: ProgramFault) -> Self {
        Self::Program(fault)
    }
}

impl From<Misfit> for Refusal {
    fn from(misfit: Misfit) -> Self {
        Self::Program(ProgramFault::Misfit(misfit))
    }
}

impl From<Refusal> for Error {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::Program(ProgramFault::Misfit(misfit)) => PlacedMisfit::of_run(misfit),
            Refusal::Program(fault) => Self::Setting(fault.to_string()),
            Refusal::Unfit => Self::NotFit(Vec::new()),
            Refusal::Write(error) => error.into(),
            Refusal::Io(error) => Self::Output(error),
            Refusal::Steps(error) => Self::Refused(error),
        }
    }
}

/// A finding as one sentence, where nothing is accepted.
#[must_use]
pub fn sentence(finding: &Finding) -> String {
    sentence_accepting(finding, &[])
}

/// A finding as one sentence, where these are accepted.
#[must_use]
pub fn sentence_accepting(finding: &Finding, accepted: &[Code]) -> String {
    let place = [
        finding.piece.as_ref().map(|piece| format!("piece \"{piece}\"")),
        finding.element.as_ref().map(|element| format!("element {element}")),
        finding.line.map(|line| format!("line {line}")),
        finding.at.map(|at| format!("at {} mm", fixed(at, 2))),
        finding.turn.map(|turn| format!("turn {}°", fixed(turn, 1))),
    ];
    let place: Vec<String> = place.into_iter().flatten().collect();
    let place = if place.is_empty() { String::new() } else { format!(" ({})", place.join(", ")) };
    format!("{} {}: {}{place}", finding.weight(accepted), finding.code, finding.message)
}
