//! The writer: moves in, bytes out, the beam dark in between.

use std::io::{self, Write};

use stave_rig::{CAUTIONS, Header, ROTARY, Z};
use stave_toolpath::{
    BeamWord, FeedMode, LONGEST_LINE, Step, StepKind, StepSink, number, printable_within,
};

use super::words::{Dialect, Standing, To};

/// How many bytes are gathered before they are handed on in one write.
const BUFFER: usize = 256 * 1024;
/// More than any line of ours: six words of at most 24 bytes.
const LINE: usize = 256;
const S_DECIMALS: u32 = 3;
const DWELL_DECIMALS: u32 = 6;
const FEED_FIGURES: u32 = 6;

/// Why a program could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The output refused the bytes.
    #[error("the output could not be written")]
    Io(#[from] io::Error),
    /// A feed rate that no word can hold.
    #[error("a move would need a feed rate of {0}, which no F word can hold")]
    Feed(f64),
    /// A place that no word can hold.
    #[error("a word would be {0}, which cannot be written")]
    Word(f64),
    /// A power that no word can hold.
    #[error("a power of {0} cannot be written as an S word")]
    Power(f64),
}

/// What is not known any more after a line that only the controller knows.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Forgotten {
    /// The modes.
    Modes,
    /// The modes, and where the machine stands.
    Place,
}

/// Whether a step moves Z and nothing else.
fn lifts(step: &Step, along: usize) -> bool {
    let (from, to) = (&step.from.words, &step.to.words);
    step.drives_z && from[Z] != to[Z] && from[along] == to[along] && from[ROTARY] == to[ROTARY]
}

/// One line in the making. Every word comes with a blank after it; the last one's becomes the line
/// end.
struct Line<'b> {
    text: &'b mut [u8; LINE],
    length: usize,
}

impl<'b> Line<'b> {
    /// A line at `filled`; the caller has made room for it.
    #[inline]
    fn at(buffer: &'b mut [u8; BUFFER + LINE], filled: usize) -> Self {
        let start = filled.min(BUFFER);
        let text = buffer[start..]
            .first_chunk_mut::<LINE>()
            .unwrap_or_else(|| unreachable!("BUFFER + LINE holds a line at BUFFER"));
        Self { text, length: 0 }
    }

    #[inline]
    fn word(&mut self, word: [u8; 3]) {
        self.text[self.length..self.length + 3].copy_from_slice(&word);
        self.length += 3;
    }

    #[inline]
    fn number(&mut self, letter: u8, counts: i64, decimals: u32) {
        // Six words of 24 bytes at most: the mask never bites, and spares the check.
        let at = self.length & (LINE / 2 + 63);
        self.text[at] = letter;
        if let Some(text) = self.text[at + 1..].first_chunk_mut() {
            let end = at + 1 + number::write_counts(text, counts, decimals);
            self.text[end] = b' ';
            self.length = end + 1;
        }
    }

    #[inline]
    fn end(self) -> usize {
        if let Some(last) = self.text.get_mut(self.length.wrapping_sub(1)) {
            *last = b'\n';
        }
        self.length
    }
}

/// A buffer made on the heap, never on the stack.
fn blank_buffer() -> Box<[u8; BUFFER + LINE]> {
    vec![0; BUFFER + LINE]
        .into_boxed_slice()
        .try_into()
        .unwrap_or_else(|_| unreachable!("the slice was made this long"))
}

fn power_counts(s: f64) -> Result<i64, WriteError> {
    number::round_to_counts(s, S_DECIMALS).filter(|counts| *counts >= 0).ok_or(WriteError::Power(s))
}

/// Writes a wrapped program.
///
/// The order of calls is: [`Writer::head`], then steps and lines in the order they happen, then
/// [`Writer::end`] or, where the run fails midway, [`Writer::break_off`].
#[derive(Debug)]
pub struct Writer<W: Write> {
    out: W,
    /// Room for a buffer and the line that overflows it.
    buffer: Box<[u8; BUFFER + LINE]>,
    /// How much of the buffer is filled.
    filled: usize,
    dialect: Dialect,
    standing: Standing,
    /// The beam word in effect.
    beam: Option<BeamWord>,
    /// The S word in effect; `None` where none was written since the beam word.
    s: Option<f64>,
    motion: Option<MotionWord>,
    feed: f64,
    written: u64,
    /// Whether [`Writer::halt`] was the last word.
    halted: bool,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum MotionWord {
    G0,
    G1,
}

impl<W: Write> StepSink for Writer<W> {
    type Error = WriteError;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), WriteError> {
        if step.kind.moves() { self.go(step) } else { self.still(step) }
    }
}

impl<W: Write> Writer<W> {
    /// A writer onto `out`, which is given large pieces: it needs no buffer of its own.
    pub fn new(out: W, dialect: Dialect) -> Self {
        Self {
            out,
            buffer: blank_buffer(),
            filled: 0,
            dialect,
            standing: Standing::default(),
            beam: None,
            s: None,
            motion: None,
            feed: f64::NAN,
            written: 0,
            halted: false,
        }
    }

    /// Line 1, the cautions, what a person is to set, the modes, and the beam off.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn head(&mut self, header: &Header, set_up: Option<&str>) -> Result<(), WriteError> {
        self.line(header.first_line().as_bytes())?;
        for caution in CAUTIONS {
            self.line(format!("({caution})").as_bytes())?;
        }
        if let Some(set_up) = set_up {
            self.comment(set_up.as_bytes())?;
        }
        self.line(match self.dialect.mode {
            FeedMode::PerMinute => b"G21 G90 G94",
            FeedMode::InverseTime => b"G21 G90 G93",
        })?;
        self.line(b"M5")
    }

    /// A line as it is; line ends inside become blanks, so that nothing passed through can grow a
    /// line of its own.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn line(&mut self, text: &[u8]) -> Result<(), WriteError> {
        for part in text.chunks(BUFFER) {
            self.make_room(part.len())?;
            for &byte in part {
                self.push(if byte == b'\n' || byte == b'\r' { b' ' } else { byte });
            }
        }
        self.make_room(1)?;
        self.push(b'\n');
        Ok(())
    }

    /// A comment in brackets: printable ASCII without anything that ends it or that a controller
    /// may act on, within the longest line.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn comment(&mut self, text: &[u8]) -> Result<(), WriteError> {
        let text = printable_within(&String::from_utf8_lossy(text), LONGEST_LINE - 2);
        self.line(format!("({text})").as_bytes())
    }

    /// A line that moves nothing, in place of a step that has come before it; the beam is dark.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn word(&mut self, text: &str) -> Result<(), WriteError> {
        self.line(text.as_bytes())
    }

    /// Motion word and feed are stated anew with the next move: what came in between may have
    /// changed them. So is every axis, where it may have moved the machine.
    pub fn forget(&mut self, what: Forgotten) {
        self.motion = None;
        self.feed = f64::NAN;
        if what == Forgotten::Place {
            self.standing = Standing::default();
        }
    }

    fn still(&mut self, step: &Step) -> Result<(), WriteError> {
        match step.kind {
            StepKind::Beam => self.beam(step.beam, step.power_s),
            StepKind::Dwell => {
                self.power(Some(0.0).filter(|_| self.s.is_some()))?;
                self.dwell(step.time_s)
            }
            StepKind::Dot => {
                self.power(step.power_s)?;
                self.dwell(step.time_s)
            }
            StepKind::Pause(word) => {
                self.power(Some(0.0).filter(|_| self.s.is_some()))?;
                self.line(word.as_str().as_bytes())
            }
            _ => self.power(Some(0.0).filter(|_| self.s.is_some())),
        }
    }

    fn dwell(&mut self, seconds: f64) -> Result<(), WriteError> {
        self.line(format!("G4 P{}", number::fixed(seconds, DWELL_DECIMALS)).as_bytes())
    }

    fn beam(&mut self, word: Option<BeamWord>, s: Option<f64>) -> Result<(), WriteError> {
        (self.beam, self.s) = (word, s.filter(|_| word.is_some()));
        let Some(word) = word else { return self.line(b"M5") };
        self.make_room(LINE)?;
        let mut line = Line::at(&mut self.buffer, self.filled);
        line.word(match word {
            BeamWord::M3 => *b"M3 ",
            BeamWord::M4 => *b"M4 ",
        });
        if let Some(s) = s {
            line.number(b'S', power_counts(s)?, S_DECIMALS);
        }
        self.filled += line.end();
        Ok(())
    }

    /// An S word on a line of its own, where it is not in effect already.
    fn power(&mut self, s: Option<f64>) -> Result<(), WriteError> {
        let Some(s) = s.filter(|s| self.beam.is_some() && self.s != Some(*s)) else {
            return Ok(());
        };
        self.make_room(LINE)?;
        let mut line = Line::at(&mut self.buffer, self.filled);
        line.number(b'S', power_counts(s)?, S_DECIMALS);
        self.filled += line.end();
        self.s = Some(s);
        Ok(())
    }

    /// One move. A move whose words all stand already is left out.
    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    fn go(&mut self, step: &Step) -> Result<(), WriteError> {
        let dialect = self.dialect;
        let count = |value: f64| {
            number::round_to_counts(value, dialect.decimals).ok_or(WriteError::Word(value))
        };
        let to = To {
            along: count(step.to.words[dialect.along_axis])?,
            rotary: count(step.to.words[ROTARY])?,
            z: if step.drives_z { Some(count(step.to.words[Z])?) } else { None },
        };
        let changes = self.standing.changes(to);
        if !(changes.along || changes.rotary || changes.z) {
            return Ok(());
        }
        // The first lift goes straight up, wherever the machine stands.
        let lifts = self.standing.is_unsaid() && lifts(step, dialect.along_axis);
        self.make_room(LINE)?;
        let travels = step.kind == StepKind::Travel;
        let word = if travels { MotionWord::G0 } else { MotionWord::G1 };
        let s = self.power_word(step)?;
        let feed = if travels { None } else { self.feed_word(to, step.time_s)? };
        let mut line = Line::at(&mut self.buffer, self.filled);
        if self.motion != Some(word) {
            line.word(if travels { *b"G0 " } else { *b"G1 " });
            self.motion = Some(word);
        }
        if changes.along && !lifts {
            line.number(dialect.along, to.along, dialect.decimals);
        }
        if changes.rotary && !lifts {
            line.number(dialect.rotary, to.rotary, dialect.decimals);
        }
        if changes.z {
            line.number(b'Z', to.z.unwrap_or(0), dialect.decimals);
        }
        if let Some(s) = s {
            line.number(b'S', s, S_DECIMALS);
        }
        if let Some((counts, decimals)) = feed {
            line.number(b'F', counts, decimals);
        }
        self.filled += line.end();
        self.standing.go(to, lifts);
        Ok(())
    }

    /// The S word a move needs, counts; `None` where it stands already.
    #[inline]
    fn power_word(&mut self, step: &Step) -> Result<Option<i64>, WriteError> {
        let power = if step.kind == StepKind::Burn {
            step.power_s
        } else if self.beam.is_some() && self.s.is_some() {
            Some(0.0)
        } else {
            None
        };
        match power {
            Some(power) if self.s != Some(power) => {
                self.s = Some(power);
                power_counts(power).map(Some)
            }
            _ => Ok(None),
        }
    }

    /// The F word a move needs, as counts and decimals; `None` where it stands already.
    #[inline]
    fn feed_word(&mut self, to: To, time_s: f64) -> Result<Option<(i64, u32)>, WriteError> {
        let (d_along, d_rotary, d_z) = self.standing.way(to);
        let feed = self.dialect.feed.word(d_along, d_rotary, d_z, time_s);
        // Six figures cannot show a smaller change; skipping it saves the formatting. What may be
        // left out beyond that, whoever makes the steps has left out: their time is that of the F
        // that stands.
        if self.dialect.mode == FeedMode::PerMinute && (feed - self.feed).abs() <= self.feed * 1e-9
        {
            return Ok(None);
        }
        match number::significant(feed, FEED_FIGURES) {
            Some((counts, decimals)) if counts > 0 => {
                self.feed = feed;
                Ok(Some((counts, decimals)))
            }
            _ => Err(WriteError::Feed(feed)),
        }
    }

    /// Beam off and the end: M2, or M30 where the flat program ended so.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn end(&mut self, rewind: bool) -> Result<(), WriteError> {
        self.line(b"M5")?;
        self.line(if rewind { b"M30" } else { b"M2" })?;
        self.flush()
    }

    /// Beam off, at once, for nothing more is to burn; [`Writer::break_off`] says why.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn halt(&mut self) -> Result<(), WriteError> {
        self.halted = true;
        self.line(b"M5")?;
        self.flush()
    }

    /// Beam off and a comment that says why, without an end word: the program must not look whole.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn break_off(&mut self, why: &str) -> Result<(), WriteError> {
        if !self.halted {
            self.line(b"M5")?;
        }
        self.comment(format!("broken off: {why}").as_bytes())?;
        self.flush()
    }

    /// Hands on all that is gathered.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn flush(&mut self) -> Result<(), WriteError> {
        self.hand_on()?;
        self.out.flush()?;
        Ok(())
    }

    /// Bytes written so far.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.written + self.filled as u64
    }

    /// The output, with all that is gathered handed on.
    ///
    /// # Errors
    /// Where the output refuses the bytes.
    pub fn into_inner(mut self) -> Result<W, WriteError> {
        self.flush()?;
        Ok(self.out)
    }

    #[inline]
    fn push(&mut self, byte: u8) {
        self.buffer[self.filled] = byte;
        self.filled += 1;
    }

    /// Sees to it that so many bytes, or a line, fit.
    #[inline]
    fn make_room(&mut self, bytes: usize) -> Result<(), WriteError> {
        if self.filled + bytes.max(LINE) > self.buffer.len() {
            self.hand_on()?;
        }
        Ok(())
    }

    #[cold]
    fn hand_on(&mut self) -> Result<(), WriteError> {
        let result = self.out.write_all(&self.buffer[..self.filled]);
        self.written += self.filled as u64;
        self.filled = 0;
        Ok(result?)
    }
}
