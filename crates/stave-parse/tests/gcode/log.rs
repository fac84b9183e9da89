//! Events as short texts.

use stave_parse::gcode::{ReadError, ReadOptions, ReadSummary, Sink, read};
use stave_toolpath::{Event, Feed, PassKind, Position};

/// Gathers events as texts, and counts idle calls.
#[derive(Debug, Default)]
pub(crate) struct Log {
    pub(crate) lines: Vec<String>,
    pub(crate) idle: usize,
}

pub(crate) type Never = std::convert::Infallible;

fn at(p: &Position) -> String {
    let mut text = format!("{} {}", p.x, p.y);
    for (letter, value) in [('z', p.z), ('a', p.a), ('b', p.b), ('c', p.c)] {
        if value != 0.0 {
            text += &format!(" {letter}{value}");
        }
    }
    text
}

fn by(feed: Option<Feed>) -> String {
    match feed {
        None => " no feed".into(),
        Some(Feed::PerMinute(f)) => format!(" F{f}"),
        Some(Feed::InverseTime(f)) => format!(" 1/F{f}"),
    }
}

pub(crate) fn show(event: &Event<'_>) -> String {
    let lossy = |text| String::from_utf8_lossy(text).into_owned();
    match *event {
        Event::Travel { to, .. } => format!("travel {}", at(to)),
        Event::Straight { to, feed, .. } => format!("straight {}{}", at(to), by(feed)),
        Event::Arc { to, arc, feed, .. } => {
            let [x, y, z] = arc.centre;
            format!(
                "arc {} about {x} {y} {z} by {:.3}{}",
                at(to),
                arc.sweep_rad.to_degrees(),
                by(feed)
            )
        }
        Event::Dwell { seconds } => format!("dwell {seconds}"),
        Event::Beam { word } => format!("beam {}", word.map_or("off", |w| w.as_str())),
        Event::Power { s } => format!("power {s}"),
        Event::FeedRate { f, mode } => format!("feed {f} {mode:?}"),
        Event::Message { text } => format!("message {}", lossy(text)),
        Event::Pause { word } => format!("pause {}", word.as_str()),
        Event::Path { control } => format!("path {}", control.as_str()),
        Event::Pass { text: b"", raw, .. } => format!("pass nothing of {}", lossy(raw)),
        Event::Pass { kind: PassKind::Known, text, .. } => format!("pass {}", lossy(text)),
        Event::Pass { text, kind, .. } => format!("pass {kind:?} {}", lossy(text)),
        Event::Comment { text } => format!("comment {}", lossy(text)),
        Event::End { word } => word.map_or("end".into(), |word| format!("end {}", word.as_str())),
        Event::FirstWord { letter } => format!("first {}", char::from(letter)),
        _ => "unknown".into(),
    }
}

impl Sink for Log {
    type Error = Never;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Never> {
        // A test of their own has these.
        if !matches!(event, Event::FirstWord { .. }) {
            self.lines.push(format!("{line}: {}", show(event)));
        }
        Ok(())
    }

    fn idle(&mut self) -> Result<(), Never> {
        self.idle += 1;
        Ok(())
    }
}

pub(crate) const LENIENT: ReadOptions = ReadOptions { strict: false, block_delete: false };
pub(crate) const STRICT: ReadOptions = ReadOptions { strict: true, block_delete: false };

/// Events and outcome of a program.
pub(crate) fn log(
    text: &[u8],
    options: &ReadOptions,
) -> (Vec<String>, Result<ReadSummary, ReadError<Never>>) {
    let mut log = Log::default();
    let outcome = read(text, options, &mut log);
    (log.lines, outcome)
}

/// The events of a program that lenient reading takes, joined by lines.
pub(crate) fn events(text: &str) -> String {
    let (lines, outcome) = log(text.as_bytes(), &LENIENT);
    match outcome {
        Ok(_) => lines.join("\n"),
        Err(error) => panic!("{}", error.shown("test")),
    }
}

/// The error of a program as people see it.
pub(crate) fn error(text: &str, options: &ReadOptions) -> String {
    match log(text.as_bytes(), options).1 {
        Ok(_) => panic!("{text:?} was taken"),
        Err(error) => error.shown("art.nc"),
    }
}
