//! Bytes to lines: the buffer, line ends, and where a program ends.

use std::io::{self, Read};

use stave_toolpath::Event;

use super::error::{Excerpt, ReadError};
use super::execute::Flow;
use super::fault::{Fault, Place, Stop};
use super::interpreter::Interpreter;
use super::problem::Problem;

/// How to read a program.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct ReadOptions {
    /// Hold the program to the letter of RS274/NGC. Otherwise what exporters commonly write is
    /// taken too.
    pub strict: bool,
    /// The block delete switch: skip lines that begin with a slash (2.2.2).
    pub block_delete: bool,
}

/// Takes the events of a program.
pub trait Sink {
    /// Why an event is refused. It ends the reading.
    type Error;

    /// Takes an event of the given line (from 1).
    ///
    /// # Errors
    /// Whatever the sink cannot do with the event.
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Self::Error>;

    /// Called before every line, with its bytes, line end and all.
    #[inline]
    fn begins_line(&mut self, _: u64, _: usize) {}

    /// Whether [`Self::begins_line`] is to be called: it costs a look for the line's end.
    const COUNTS_BYTES: bool = false;

    /// Called before a read that may wait because the one before came short: what is held back can
    /// be let go now.
    ///
    /// # Errors
    /// Whatever keeps the sink from letting go.
    fn idle(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }
}

impl<S: Sink + ?Sized> Sink for &mut S {
    type Error = S::Error;

    const COUNTS_BYTES: bool = S::COUNTS_BYTES;

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Self::Error> {
        (**self).event(line, event)
    }

    #[inline]
    fn begins_line(&mut self, line: u64, bytes: usize) {
        (**self).begins_line(line, bytes);
    }

    #[inline]
    fn idle(&mut self) -> Result<(), Self::Error> {
        (**self).idle()
    }
}

/// What ended a program.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ProgramEnd {
    /// M2 or M30.
    Word,
    /// A closing percent line.
    Percent,
    /// The end of the input; only in lenient reading.
    Input,
}

/// What a warning is about.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[non_exhaustive]
pub enum WarningCode {
    /// F shares a line with G20 or G21, and is taken in the new units.
    FeedInNewUnits,
    /// G20 or G21 came while a feed rate was in effect.
    FeedKept,
    /// M6 came while the beam was on, and nothing on its line switches it on again.
    BeamOffAtToolChange,
}

impl WarningCode {
    /// The warning as a sentence: what was found and how it was taken.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::FeedInNewUnits => {
                "F shares a line with a change of units; it is taken in the new units"
            }
            Self::FeedKept => {
                "the units change while a feed rate is in effect; it keeps its speed, not its \
                 number"
            }
            Self::BeamOffAtToolChange => {
                "M6 switches the beam off (RS274/NGC 3.6.3); nothing burns until the next M3 or M4"
            }
        }
    }
}

/// Something the reader took, but a person should know of. Each kind is told once, where it first
/// came up.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[non_exhaustive]
pub struct Warning {
    /// The line, from 1.
    pub line: u64,
    /// What it is about.
    pub code: WarningCode,
    /// What was found and how it was taken: the code's text.
    pub text: &'static str,
}

/// What was read.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct ReadSummary {
    /// Lines read, the last one included if it has no line end.
    pub lines: u64,
    /// Bytes of those lines.
    pub bytes: u64,
    /// What ended the program.
    pub end: ProgramEnd,
    /// Whether the last line read had a line end. A program that the end of the input ends
    /// ([`ProgramEnd::Input`]) without one may have been cut in the middle of a line: `X1` of
    /// `X12.5` reads well. True of an empty input.
    pub last_line_ended: bool,
    /// What a person should know of.
    pub warnings: Vec<Warning>,
}

/// The size of the read buffer, bytes.
const BUFFER: usize = 256 * 1024;
/// The least room a read is given.
const LEAST_ROOM: usize = 64 * 1024;

/// Reads a program and hands its events to `sink` in order of execution.
///
/// `Event::End` comes at M2 or M30 (after the beam is switched off, if it was on), at a closing
/// percent line, and in lenient reading at the end of the input; nothing is read beyond. Memory
/// stays below about 6 MiB whatever the input.
///
/// # Errors
/// [`ReadError::Syntax`] where the program is at fault, with line, column and excerpt;
/// [`ReadError::Sink`] where the sink refuses; [`ReadError::Io`] where the input fails. Events
/// before an error have been delivered.
///
/// See the module for an example.
pub fn read<R: Read, S: Sink>(
    input: R,
    options: &ReadOptions,
    sink: &mut S,
) -> Result<ReadSummary, ReadError<S::Error>> {
    Interpreter::new(options).read(input, sink)
}

/// How far the reader is.
struct Progress {
    lines: u64,
    bytes: u64,
    ended: Option<ProgramEnd>,
    /// M2 or M30 was read, and strict reading looks for the closing percent line.
    draining: bool,
}

impl Interpreter {
    /// Reads a program from the state the interpreter is in; as [`read`].
    ///
    /// # Errors
    /// As [`read`].
    #[expect(
        clippy::indexing_slicing,
        reason = "the filled part is within the buffer, and whole lines within the filled part"
    )]
    pub fn read<R: Read, S: Sink>(
        &mut self,
        mut input: R,
        sink: &mut S,
    ) -> Result<ReadSummary, ReadError<S::Error>> {
        self.begin();
        let mut progress = Progress { lines: 0, bytes: 0, ended: None, draining: false };
        let mut buffer = vec![0_u8; BUFFER];
        let mut filled = 0;
        let mut short = false;
        loop {
            if short {
                self.idle(&progress, &buffer[..filled], sink)?;
            }
            let got = match input.read(&mut buffer[filled..]) {
                Ok(got) => got.min(buffer.len() - filled),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(ReadError::Io(error)),
            };
            if got == 0 {
                break;
            }
            let fresh = filled;
            filled += got;
            short = filled < buffer.len();
            let Some(last) = memchr::memrchr(b'\n', &buffer[fresh..filled]) else {
                self.carried_length(&progress, &buffer[..filled])?;
                if buffer.len() - filled < LEAST_ROOM {
                    buffer.resize(buffer.len() * 2, 0);
                }
                continue;
            };
            let whole = fresh + last + 1;
            self.lines(&buffer[..whole], &mut progress, sink)?;
            if progress.ended.is_some() {
                break;
            }
            buffer.copy_within(whole..filled, 0);
            filled -= whole;
        }
        let mut last_line_ended = true;
        if progress.ended.is_none() && filled > 0 {
            last_line_ended = false;
            // The last line has no line end; give it one.
            buffer.truncate(filled);
            buffer.push(b'\n');
            self.lines(&buffer, &mut progress, sink)?;
            progress.bytes -= 1;
        }
        self.finish(&mut progress, sink)?;
        Ok(ReadSummary {
            lines: progress.lines,
            bytes: progress.bytes,
            end: progress.ended.unwrap_or(ProgramEnd::Input),
            last_line_ended,
            warnings: self.take_warnings(),
        })
    }

    fn idle<S: Sink>(
        &self,
        progress: &Progress,
        carried: &[u8],
        sink: &mut S,
    ) -> Result<(), ReadError<S::Error>> {
        let refused = |error| ReadError::Sink {
            line: progress.lines + 1,
            column: 1,
            excerpt: Excerpt::of(carried, 0),
            error,
        };
        sink.idle().map_err(refused)
    }

    /// Refuses a line that has no end yet and is too long already.
    fn carried_length<E>(&self, progress: &Progress, carried: &[u8]) -> Result<(), ReadError<E>> {
        // One more byte may be the carriage return of the line end.
        if carried.len() <= self.longest() + 1 {
            return Ok(());
        }
        let fault = Fault::at(
            u32::try_from(self.longest()).unwrap_or(u32::MAX),
            Problem::LongLine(self.longest()),
        );
        Err(placed(progress.lines + 1, carried, Stop::Fault(fault)))
    }

    /// Carries out whole lines, every one with its line feed.
    fn lines<S: Sink>(
        &mut self,
        text: &[u8],
        progress: &mut Progress,
        sink: &mut S,
    ) -> Result<(), ReadError<S::Error>> {
        let mut rest = text;
        let mut line = progress.lines;
        if line == 0 && !self.strict() {
            // Editors of some systems put a byte order mark before the first line.
            rest = rest.strip_prefix(b"\xef\xbb\xbf").unwrap_or(rest);
        }
        let mut outcome = Ok(());
        while !rest.is_empty() {
            line += 1;
            if progress.draining {
                let (raw, used) = line_of(rest);
                rest = rest.get(used..).unwrap_or_default();
                if raw.trim_ascii() == b"%" {
                    progress.ended = Some(ProgramEnd::Word);
                    break;
                }
                continue;
            }
            if S::COUNTS_BYTES {
                sink.begins_line(line, line_of(rest).1);
            }
            let used = match self.plain_line(line, rest, sink) {
                Some(Ok(used)) => used,
                Some(Err(stop)) => {
                    outcome = Err(placed(line, line_of(rest).0, stop));
                    break;
                }
                None => {
                    let (raw, used) = line_of(rest);
                    match self.general_line(line, raw, progress, sink) {
                        Ok(()) => used,
                        Err(stop) => {
                            outcome = Err(placed(line, raw, stop));
                            break;
                        }
                    }
                }
            };
            rest = rest.get(used..).unwrap_or_default();
            if progress.ended.is_some() {
                break;
            }
        }
        progress.lines = line;
        progress.bytes += (text.len() - rest.len()) as u64;
        outcome
    }

    fn general_line<S: Sink>(
        &mut self,
        line: u64,
        raw: &[u8],
        progress: &mut Progress,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        match self.line(line, raw, sink)? {
            Flow::More => {}
            // A file that opens with a percent line must have a second one (3.1): strict reading
            // makes sure.
            Flow::Ended if self.strict() && self.percent_open() => progress.draining = true,
            Flow::Ended => progress.ended = Some(ProgramEnd::Word),
            Flow::Closed => {
                let end = Event::End { word: None };
                super::execute::emit(sink, line, Place::Byte(0), &end)?;
                progress.ended = Some(ProgramEnd::Percent);
            }
        }
        Ok(())
    }

    /// The end of the input, where nothing on a line has ended the program.
    fn finish<S: Sink>(
        &mut self,
        progress: &mut Progress,
        sink: &mut S,
    ) -> Result<(), ReadError<S::Error>> {
        if progress.ended.is_some() {
            return Ok(());
        }
        let line = progress.lines.max(1);
        // A drained program has had its M2, but its percent line is still open.
        if let Some(problem) = self.unfinished() {
            return Err(placed(line, b"", Stop::Fault(Fault::at(0, problem))));
        }
        progress.ended = Some(ProgramEnd::Input);
        super::execute::emit(sink, line, Place::Byte(0), &Event::End { word: None })
            .map_err(|stop| placed(line, b"", stop))
    }
}

/// The first line of `text` without its line end, and its length with it.
fn line_of(text: &[u8]) -> (&[u8], usize) {
    let (line, used) = match memchr::memchr(b'\n', text) {
        Some(end) => (text.get(..end).unwrap_or(text), end + 1),
        None => (text, text.len()),
    };
    (line.strip_suffix(b"\r").unwrap_or(line), used)
}

/// Gives a stop its line, column and excerpt.
#[cold]
fn placed<E>(line: u64, raw: &[u8], stop: Stop<E>) -> ReadError<E> {
    let show = |place: Place| {
        let at = place.offset(raw);
        let before = raw.get(..at).unwrap_or(raw);
        let column = String::from_utf8_lossy(before).chars().count() as u64 + 1;
        (column, Excerpt::of(raw, at))
    };
    match stop {
        Stop::Fault(fault) => {
            let (column, excerpt) = show(fault.place);
            ReadError::Syntax { line, column, message: fault.problem.to_string(), excerpt }
        }
        Stop::Sink(place, error) => {
            let (column, excerpt) = show(place);
            ReadError::Sink { line, column, excerpt, error }
        }
    }
}
