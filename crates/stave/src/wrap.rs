//! `wrap`: a flat program in, a program for the rotary out.

use std::io::{Read, Write};

use stave_parse::gcode::{self, ReadOptions, Sink};
use stave_setup::{JobAnchor, Setup};
use stave_toolpath::{BeamWord, EndWord, Event, Feed, MachineMove, Position, number};
use stave_transform::{Burn, Curve, FlatPoint, Halt, MoveSink, Wrapper};
use stave_wall::Anchor;
use stave_write::gcode::{Dialect, WriteError, Writer};

use crate::error::{Error, Refusal};
use crate::header::header_with_time;
use crate::lays::patch_as_laid;
use crate::report::WrapReport;

/// How a flat program is read and named.
#[derive(Clone, Debug, Default)]
pub struct WrapOptions {
    /// How the program is read.
    pub read: ReadOptions,
    /// The input's name in messages; "standard input" where empty.
    pub name: String,
}

/// Reads a flat program from `input`, lays it on the setup's blank, and writes the program for its
/// machine to `output`.
///
/// It streams: memory does not grow with the program. Whatever ends it midway, the output then ends
/// with the beam off and a comment that says why, and has no end word.
///
/// # Errors
/// [`Error::Program`] where the program is wrong or does not fit, with line, column and a caret;
/// [`Error::Setting`] for settings that need art rather than a program; errors of reading and
/// writing.
pub fn wrap_gcode<R: Read, W: Write>(
    input: R,
    output: W,
    setup: &Setup,
    options: &WrapOptions,
) -> Result<WrapReport, Error> {
    let anchor = match setup.job.anchor {
        None | Some(JobAnchor::Drawing) => Anchor::Drawing,
        Some(JobAnchor::Point { u_mm, v_mm }) => Anchor::Point { u_mm, v_mm },
        Some(JobAnchor::Piece) => {
            return Err(Error::Setting(
                "anchor \"piece\" needs art: a program that streams has no pieces; use \
                 \"drawing\" or a point"
                    .into(),
            ));
        }
    };
    let wrapper = Wrapper::new(setup, anchor)?;
    let mut writer = Writer::new(output, Dialect::of(&setup.machine));
    writer.head(&header_with_time(setup)).map_err(write_error)?;
    let mut job = Wrap {
        along_y: wrapper.along_y(),
        wrapper,
        writer,
        beam: None,
        power: None,
        strict: options.read.strict,
        on_off_warned: false,
        rewind: false,
        warnings: Vec::new(),
    };
    let name = if options.name.is_empty() { "standard input" } else { &options.name };
    match gcode::read(input, &options.read, &mut job) {
        Ok(summary) => {
            job.writer.end(job.rewind).map_err(write_error)?;
            let mut warnings = told(&summary);
            warnings.append(&mut job.warnings);
            if job.wrapper.stats().burns_in == 0 {
                warnings.push("nothing burns: no G1, G2 or G3 has the beam on with power".into());
            }
            let count = 10_f64.powi(-i32::try_from(setup.machine.controller.decimals).unwrap_or(0));
            let stats = job.wrapper.stats();
            let mut as_laid = Vec::new();
            if stats.burned() {
                let (at, turn) =
                    ((stats.at_min_mm, stats.at_max_mm), (stats.turn_min_rad, stats.turn_max_rad));
                let (piece, told) = patch_as_laid(setup, job.wrapper.lay(), at, turn);
                as_laid.extend(piece);
                warnings.extend(told);
            }
            Ok(WrapReport { as_laid, ..WrapReport::of(stats, count, warnings) })
        }
        Err(error) => {
            let error = Error::of_reading(error, name);
            if !error.is_closed_pipe() {
                job.writer.break_off(&error.short()).map_err(write_error)?;
            }
            Err(error)
        }
    }
}

/// The reader's warnings as sentences with their lines.
pub(crate) fn told(summary: &gcode::ReadSummary) -> Vec<String> {
    summary
        .warnings
        .iter()
        .map(|warning| format!("line {}: {}", warning.line, warning.text))
        .collect()
}

pub(crate) fn write_error(error: WriteError) -> Error {
    match error {
        WriteError::Io(error) => Error::Output(error),
        other => Error::Setting(other.to_string()),
    }
}

/// The consumer of events: what is in effect, and the two ends of the pipe.
struct Wrap<'a, W: Write> {
    wrapper: Wrapper<'a>,
    writer: Writer<W>,
    along_y: bool,
    beam: Option<BeamWord>,
    /// The S word in effect; `None` while none was given.
    power: Option<f64>,
    strict: bool,
    on_off_warned: bool,
    rewind: bool,
    warnings: Vec<String>,
}

/// Hands machine moves to the writer.
struct Out<'w, W: Write>(&'w mut Writer<W>);

impl<W: Write> MoveSink for Out<'_, W> {
    type Error = WriteError;

    #[inline]
    fn machine_move(&mut self, machine_move: &MachineMove) -> Result<(), WriteError> {
        self.0.machine_move(machine_move)
    }
}

impl From<Halt<WriteError>> for Refusal {
    fn from(halt: Halt<WriteError>) -> Self {
        match halt {
            Halt::Misfit(misfit) => Self::Misfit(misfit),
            Halt::Sink(error) => Self::Write(error),
        }
    }
}

impl<W: Write> Wrap<'_, W> {
    /// Whether a move at feed burns, by the words in effect.
    #[inline]
    fn burns(&self) -> bool {
        self.beam.is_some()
            && match self.power {
                Some(s) => s > 0.0,
                None => !self.strict,
            }
    }

    #[inline]
    fn feed(&mut self, curve: &Curve<'_>, feed: Option<Feed>) -> Result<(), Refusal> {
        if !self.burns() {
            return Ok(self.wrapper.dark(curve, feed, &mut Out(&mut self.writer))?);
        }
        if self.power.is_none() {
            self.warn_on_off();
        }
        let Some(feed) = feed else {
            return Err(Refusal::Misfit(stave_transform::Misfit::NoFeed));
        };
        let burn = Burn { feed, power: self.power };
        Ok(self.wrapper.burn(curve, burn, &mut Out(&mut self.writer))?)
    }

    #[cold]
    fn warn_on_off(&mut self) {
        if !self.on_off_warned {
            self.on_off_warned = true;
            self.warnings.push(
                "the program switches the beam on without an S word: taken for a laser that is \
                 only on or off"
                    .into(),
            );
        }
    }

    /// A dwell; under M3 with power it burns a dot where the program stands.
    fn dwell(&mut self, seconds: f64) -> Result<(), Refusal> {
        if self.beam == Some(BeamWord::M3) && self.burns() {
            if self.wrapper.is_fresh() {
                self.wrapper.travel(FlatPoint::default(), &mut Out(&mut self.writer))?;
            }
            if self.wrapper.dot().map_err(Refusal::Misfit)? {
                self.writer.light(self.power)?;
            } else {
                self.writer.darken()?;
            }
        }
        self.writer.line(format!("G4 P{}", number::fixed(seconds, 6)).as_bytes())?;
        Ok(())
    }
}

fn turns(from: &Position, to: &Position) -> bool {
    from.a != to.a || from.b != to.b || from.c != to.c
}

impl<W: Write> Sink for Wrap<'_, W> {
    type Error = Refusal;

    #[inline]
    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { from, to, feed } => {
                if turns(from, to) {
                    return Err(Refusal::Rotary);
                }
                let (from, to) =
                    (FlatPoint::of(from, self.along_y), FlatPoint::of(to, self.along_y));
                self.feed(&Curve::Line { from, to }, feed)
            }
            Event::Power { s } => {
                self.power = Some(s);
                Ok(())
            }
            Event::FeedRate { .. } => Ok(()),
            Event::Travel { from, to } => {
                if turns(from, to) {
                    return Err(Refusal::Rotary);
                }
                let to = FlatPoint::of(to, self.along_y);
                Ok(self.wrapper.travel(to, &mut Out(&mut self.writer))?)
            }
            Event::Arc { from, to, arc, feed } => {
                if turns(from, to) {
                    return Err(Refusal::Rotary);
                }
                self.feed(&Curve::Arc { from, to, arc, along_y: self.along_y }, feed)
            }
            Event::Dwell { seconds } => self.dwell(seconds),
            Event::Beam { word } => {
                self.beam = word;
                Ok(self.writer.beam(word, self.power.is_some())?)
            }
            Event::Pause { word } => {
                self.writer.darken()?;
                Ok(self.writer.line(word.as_str().as_bytes())?)
            }
            Event::Message { text } => Ok(self.writer.comment(&[b"MSG,", text].concat())?),
            Event::Comment { text } => {
                if text.trim_ascii_start().starts_with(stave_write::gcode::FIRST_WORDS.as_bytes()) {
                    return Err(Refusal::WrappedAlready);
                }
                Ok(self.writer.comment(text.trim_ascii())?)
            }
            Event::Pass { text: b"", .. } => Err(Refusal::Unpassable),
            Event::Pass { text, .. } => Ok(self.writer.line(text)?),
            Event::End { word } => {
                self.rewind = word == Some(EndWord::M30);
                Ok(())
            }
            // A Z of the program's own goes through, even where it only says where Z stands.
            Event::FirstWord { letter: b'Z' } => {
                self.wrapper.drive_z();
                Ok(())
            }
            Event::FirstWord { .. } => Err(Refusal::Rotary),
            _ => Ok(()),
        }
    }

    fn idle(&mut self) -> Result<(), Refusal> {
        Ok(self.writer.flush()?)
    }
}
