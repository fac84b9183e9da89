//! Orders: programs that say what they were made of, so that what is there need not be made again.
//!
//! A piece of an order is wrapped as any drawing is. Its line 1 says besides what version made it,
//! and with which fonts; before its end stands a digest of all that comes before. Whoever finds
//! such a program can tell from its bytes alone whether it is whole and what would be made now.

mod price;

pub use price::{OrderQuote, PricedPiece, QuoteLine, TooMuch, price};

use serde::Serialize;
use std::collections::BTreeMap;

use stave_check::Finding;
use stave_rig::{
    DURATION_UNKNOWN, Header, MadeFor, Stamp, TIME_UNKNOWN, duration_field, time_field,
};
use stave_setup::{InputDigest, Setup};

use crate::error::Error;
use crate::report::WrapReport;
use crate::set_up::{focus_words, put};
use crate::source::{Options, Source};
use crate::wrap::wrap;

/// How the comment begins that tells the digest of all before it.
const END_WORDS: &str = "stave end ";
/// What stands for that digest until it is known; it takes its place, as many bytes.
pub(crate) const END_UNKNOWN: &str = "stave end --------";

/// The row of an order, and what became of it.
#[derive(Clone, Debug, Serialize)]
pub struct OrderRow {
    /// The row, counted from 1 without the header.
    pub row: usize,
    /// The line that it begins on.
    pub line: u64,
    /// Its fields.
    pub fields: BTreeMap<String, String>,
    /// What its file is called, without folder and ending.
    pub name: String,
    /// The blank's name; empty where nothing makes it.
    pub blank: String,
    /// How many pieces it is.
    pub count: u32,
    /// Its file, seen from the order's; null where there is none.
    pub file: Option<String>,
    /// What became of it.
    pub state: RowState,
    /// Whether it fits; null where that was not looked at.
    pub fit: Option<bool>,
    /// How long one piece takes, seconds to a tenth; null where that is not known.
    pub duration_s: Option<f64>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// Why it failed, or would be made.
    pub message: Option<String>,
}

/// What became of a row.
#[derive(Clone, Copy, Debug, Eq, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RowState {
    /// Its file was made.
    Made,
    /// Its file was there, and is what would be made.
    Kept,
    /// It cannot be made; it has no file.
    Failed,
    /// It was not asked for.
    Left,
    /// It would be made.
    WouldMake,
}

impl RowState {
    /// Its word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Kept => "kept",
            Self::Failed => "failed",
            Self::Left => "left",
            Self::WouldMake => "would-make",
        }
    }
}

/// Rows and their price as JSON: `pieces` and `quote`.
///
/// # Errors
/// None that is known: numbers and texts can always be written.
pub fn order_to_json(
    pieces: &[OrderRow],
    quote: Option<&OrderQuote>,
) -> Result<String, serde_json::Error> {
    #[derive(Serialize)]
    struct Order<'a> {
        pieces: &'a [OrderRow],
        quote: Option<&'a OrderQuote>,
    }
    serde_json::to_string_pretty(&Order { pieces, quote })
}

/// The digest of bytes that a program is made of, as line 1 tells it.
#[must_use]
pub fn digest_of<'a>(parts: impl IntoIterator<Item = &'a [u8]>) -> String {
    let mut digest = InputDigest::default();
    parts.into_iter().for_each(|part| digest.take(part));
    digest.text()
}

/// A program made for an order.
#[derive(Clone, Debug)]
pub struct MadePiece {
    /// Its bytes.
    pub program: Vec<u8>,
    /// The figures of the wrap.
    pub report: WrapReport,
    /// How long it takes, seconds to a tenth.
    pub duration_s: f64,
}

/// Makes the program of a piece; the options bear the stamp.
///
/// # Errors
/// As [`wrap`].
pub fn make_piece(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
) -> Result<MadePiece, Error> {
    let mut program = Vec::new();
    let report = wrap(source, &mut program, setup, options)?;
    let duration_s = report.estimate.as_ref().map_or(0.0, |estimate| tenths(estimate.duration_s));
    let corrections = [
        (" time=", TIME_UNKNOWN, time_field(duration_s)),
        (" duration=", DURATION_UNKNOWN, duration_field(duration_s)),
    ];
    for (before, unknown, known) in corrections {
        if let Some(known) = known {
            put(&mut program, &format!("{before}{unknown}"), &format!("{before}{known}"));
        }
    }
    if let Some(place) = report.focused() {
        let words = focus_words(setup, Some(place));
        put(&mut program, &focus_words(setup, None), &words);
    }
    seal(&mut program);
    Ok(MadePiece { program, report, duration_s })
}

/// Seconds to a tenth, half up.
fn tenths(seconds: f64) -> f64 {
    (seconds * 10.0).round() / 10.0
}

/// Where the comment of the end stands, and what follows it.
fn end_of(program: &[u8]) -> Option<(usize, &[u8])> {
    let begin = format!("({END_WORDS}");
    let at = program.windows(begin.len()).rposition(|part| part == begin.as_bytes())?;
    Some((at, program.get(at..)?))
}

/// Says at the end of a program what all before it is.
fn seal(program: &mut [u8]) {
    let Some((at, _)) = end_of(program) else { return };
    let digest = digest_of(program.get(..at));
    let from = at + 1 + END_WORDS.len();
    if let Some(place) = program.get_mut(from..from + digest.len()) {
        place.copy_from_slice(digest.as_bytes());
    }
}

/// How long the program that lies there takes, seconds, if it is whole and what would be made now.
///
/// # Errors
/// Why it would be made anew: a few words.
pub fn kept_piece(program: &[u8], setup: &Setup, stamp: &Stamp) -> Result<f64, String> {
    let text = program.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let text = std::str::from_utf8(text).unwrap_or_default().trim_end();
    let inside = text.strip_prefix('(').and_then(|text| text.strip_suffix(')'));
    let Some(found) = inside.and_then(Header::parse) else {
        return Err("what lies there is no program of an order".to_owned());
    };
    let mut made_for = MadeFor::of_setup(setup);
    made_for.stamped(stamp);
    let expected = made_for.header_with_time().first_line();
    let inside = expected.strip_prefix('(').and_then(|text| text.strip_suffix(')'));
    let expected = inside.and_then(Header::parse).unwrap_or_default();
    for (key, value) in &expected.fields {
        if ["time", "duration"].contains(&key.as_str()) {
            continue;
        }
        if found.get(key) != Some(value) {
            return Err(differs(key, found.get(key), value));
        }
    }
    if !is_whole(program) {
        return Err("it was cut off or changed since".to_owned());
    }
    let duration = found.get("duration").and_then(|text| text.parse::<f64>().ok());
    duration.filter(|s| s.is_finite()).ok_or_else(|| "it does not say how long it takes".to_owned())
}

/// Which word of line 1 is not what it would be.
fn differs(key: &str, found: Option<&str>, expected: &str) -> String {
    if key == "files" {
        let parts = |text: &str| text.split(',').map(str::to_owned).collect::<Vec<_>>();
        let (found, expected) = (parts(found.unwrap_or_default()), parts(expected));
        let names = ["the blank", "the machine", "the job", "the drawing or its fields"];
        let changed: Vec<&str> = names
            .into_iter()
            .enumerate()
            .filter(|(index, _)| found.get(*index) != expected.get(*index))
            .map(|(_, name)| name)
            .collect();
        let plural = if changed.len() == 1 { "is" } else { "are" };
        return format!("{} {plural} not what it was made of", changed.join(", "));
    }
    match key {
        "version" => format!(
            "it was made by version {}, and this is {expected}",
            found.unwrap_or("none that it says")
        ),
        "with" => "a font, or what is accepted, is not what it was made with".to_owned(),
        _ => format!("its {key} is not what it would be"),
    }
}

/// Whether bytes are a whole program of an order, whatever it was made of.
#[must_use]
pub fn is_whole_piece(program: &[u8]) -> bool {
    program.starts_with(b"(stave wrapped 1 ") && is_whole(program)
}

/// Whether what the end says of all before it is so, and nothing is missing after it.
fn is_whole(program: &[u8]) -> bool {
    let Some((at, rest)) = end_of(program) else { return false };
    let end = format!("({END_WORDS}{})\nM5\n", digest_of(program.get(..at)));
    let tail = rest.strip_prefix(end.as_bytes());
    tail.is_some_and(|tail| [&b"M2\n"[..], b"M30\n"].contains(&tail))
}
