//! `read`: what a program does, one JSON object a line.

use std::io::Write;

use serde::Serialize;
use stave_parse::gcode::{self, Sink};
use stave_rig::Beam;
use stave_toolpath::{Event, Feed, FeedMode, Position};

#[cfg(feature = "svg")]
use crate::error::SourceFault;
use crate::error::{Error, Refusal};
use crate::run::cut_short;
use crate::source::{Options, Source};
use crate::wrap::told;

/// How many bytes are gathered before they are handed on.
const BUFFER: usize = 256 * 1024;

/// Reads a program and writes what it does, in order of execution, one JSON object a line; returns
/// what a person should know.
///
/// `travel` and `feed` have `to`, the end in machine coordinates (mm and degrees), and `time_s`,
/// the time at the feed rate alone (null for travel); `arc` has those and `centre`, `sweep_deg`
/// (counter-clockwise positive) and `length_mm`. What was read before an error is written.
///
/// # Errors
/// Where the program is wrong (a burn without a feed rate too), with line, column and a caret; a
/// drawing; errors of reading and writing.
///
/// ```
/// use stave::{Options, Source, read};
/// let mut lines = Vec::new();
/// read(Source::program(&b"G1 X10 F600\nM2\n"[..]), &mut lines, &Options::default())?;
/// let text = String::from_utf8(lines).unwrap();
/// assert!(text.lines().any(|line| line.contains(r#""op":"feed""#) && line.contains(r#""time_s":1.0"#)));
/// # Ok::<(), stave::Error>(())
/// ```
pub fn read<W: Write>(
    source: Source<'_>,
    output: W,
    options: &Options,
) -> Result<Vec<String>, Error> {
    let (input, name) = match source {
        Source::Program { input, name } => (input, name),
        #[cfg(feature = "svg")]
        drawn => return Err(Error::of_source(drawn.name(), SourceFault::NotAProgram)),
    };
    let beam = Beam::new(options.read.strict);
    let mut lines = Lines { output, buffer: Vec::with_capacity(BUFFER + 4096), beam };
    let read = gcode::read(input, &options.read, &mut lines);
    lines.hand_on().map_err(Error::Output)?;
    lines.output.flush().map_err(Error::Output)?;
    match read {
        Ok(summary) => match cut_short(&summary, &lines.beam) {
            Some(cut) => Err(Error::of_source(&name, cut)),
            None => Ok(told(&summary)),
        },
        Err(error) => Err(Error::of_reading(error, &name)),
    }
}

struct Lines<W: Write> {
    output: W,
    buffer: Vec<u8>,
    beam: Beam,
}

/// A position as JSON has it: every axis by its letter.
#[derive(Serialize)]
struct To {
    x: f64,
    y: f64,
    z: f64,
    a: f64,
    b: f64,
    c: f64,
}

impl From<&Position> for To {
    fn from(p: &Position) -> Self {
        // Adding nothing turns a minus zero into zero.
        Self { x: p.x + 0.0, y: p.y + 0.0, z: p.z + 0.0, a: p.a + 0.0, b: p.b + 0.0, c: p.c + 0.0 }
    }
}

/// A line of the output, but for its number.
#[derive(Serialize)]
#[serde(tag = "op", rename_all = "snake_case")]
enum Op<'a> {
    Travel { to: To, time_s: Option<f64> },
    Feed { to: To, time_s: Option<f64> },
    Arc { to: To, time_s: Option<f64>, centre: [f64; 3], sweep_deg: f64, length_mm: f64 },
    Dwell { seconds: f64 },
    Beam { on: bool, word: &'a str },
    Power { s: f64 },
    FeedRate { f: f64, mode: &'a str },
    Message { text: String },
    Pause { word: &'a str },
    End { word: Option<&'a str> },
    Pass { text: String },
}

#[derive(Serialize)]
struct Line<'a> {
    line: u64,
    #[serde(flatten)]
    op: Op<'a>,
}

fn nominal_s(feed: Option<Feed>, length_mm: f64, from: &Position, to: &Position) -> Option<f64> {
    feed.map(|feed| feed.nominal_s(length_mm, from.rotary_distance_deg(to)))
        .filter(|s| s.is_finite())
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

impl<W: Write> Lines<W> {
    fn hand_on(&mut self) -> std::io::Result<()> {
        let result = self.output.write_all(&self.buffer);
        self.buffer.clear();
        result
    }
}

impl<W: Write> Sink for Lines<W> {
    type Error = Refusal;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { feed, .. } | Event::Arc { feed, .. } => {
                self.beam.burns_at(feed)?;
            }
            Event::Beam { word } => self.beam.word = word,
            Event::Power { s } => self.beam.power_s = Some(s),
            _ => {}
        }
        let op = match *event {
            Event::Travel { to, .. } => Op::Travel { to: to.into(), time_s: None },
            Event::Straight { from, to, feed } => Op::Feed {
                to: to.into(),
                time_s: nominal_s(feed, from.linear_distance_mm(to), from, to),
            },
            Event::Arc { from, to, arc, feed } => {
                let length_mm = arc.length_mm(from, to);
                Op::Arc {
                    to: to.into(),
                    time_s: nominal_s(feed, length_mm, from, to),
                    centre: arc.centre,
                    sweep_deg: arc.sweep_rad.to_degrees(),
                    length_mm,
                }
            }
            Event::Dwell { seconds } => Op::Dwell { seconds },
            Event::Beam { word } => {
                Op::Beam { on: word.is_some(), word: word.map_or("M5", |word| word.as_str()) }
            }
            Event::Power { s } => Op::Power { s },
            Event::FeedRate { f, mode } => Op::FeedRate {
                f,
                mode: match mode {
                    FeedMode::PerMinute => "per-minute",
                    FeedMode::InverseTime => "inverse-time",
                },
            },
            Event::Message { text: message } => Op::Message { text: text(message) },
            Event::Pause { word } => Op::Pause { word: word.as_str() },
            Event::End { word } => Op::End { word: word.map(stave_toolpath::EndWord::as_str) },
            Event::Comment { text: comment } => Op::Pass { text: format!("({})", text(comment)) },
            // What does not read as words is shown as it stands.
            Event::Pass { text: b"", raw, .. } => Op::Pass { text: text(raw) },
            Event::Pass { text: passed, .. } => Op::Pass { text: text(passed) },
            _ => return Ok(()),
        };
        serde_json::to_writer(&mut self.buffer, &Line { line, op })
            .map_err(|error| Refusal::Io(error.into()))?;
        self.buffer.push(b'\n');
        if self.buffer.len() >= BUFFER {
            self.hand_on().map_err(Refusal::Io)?;
        }
        Ok(())
    }

    fn idle(&mut self) -> Result<(), Refusal> {
        self.hand_on().and_then(|()| self.output.flush()).map_err(Refusal::Io)
    }
}
