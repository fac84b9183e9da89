//! Programs: any bytes are read, wrapped or refused; what comes out is whole, finite and safe, and
//! every command says the same of it.

use stave::{
    Code, Error, Options, ReadOptions, Setup, Source, StepKind, WrapReport, check, estimate, read,
    steps, wrap,
};

use super::bench::parted;

/// More than this would only be slow: what is learnt of long programs is learnt of short ones.
const LONGEST: usize = 4096;

/// Any bytes are read, with all their events, or refused; no less is taken when not strict.
pub(crate) fn reader(data: &[u8]) {
    let read_as = |strict| {
        let mut out = Vec::new();
        let read_options = ReadOptions { strict, ..ReadOptions::default() };
        let options = Options { read: read_options, ..Options::default() };
        let result = read(Source::program(data), &mut out, &options);
        lines_are_json(&out);
        (result.is_ok(), out)
    };
    let (strict, to_the_letter) = read_as(true);
    let (lenient, whole) = read_as(false);
    // A beam word lights, until an S comes, a laser that is only on or off for the lenient reader,
    // which then asks for an F; to the letter the S is 0.
    let to_the_letter = String::from_utf8_lossy(&to_the_letter);
    let first = |op: &str| to_the_letter.find(&format!("\"op\":\"{op}\""));
    let has_s = first("power").is_some_and(|s| first("feed").is_none_or(|feed| s < feed));
    assert!(lenient || !strict || !has_s, "the lenient reader refuses a program to the letter");
    // However the bytes come, one by one too, the same is read.
    let mut out = Vec::new();
    let slow = read(Source::program(OneByOne(data)), &mut out, &Options::default());
    assert_eq!((slow.is_ok(), out), (lenient, whole), "bytes one by one read as something else");
}

/// A wrapped program is whole, dark at its end, finite, never above full power, and reads back to
/// the letter.
pub(crate) fn wrapped(data: &[u8]) {
    let Some((setup, flat)) = parted(data) else { return };
    let Some((program, report)) = laid(flat, &setup) else { return };
    let text = std::str::from_utf8(&program).expect("what is written is text");
    assert!(text.is_ascii(), "what is written is ASCII");
    assert!(text.lines().all(|line| line.len() <= 256), "a line passes 256 bytes");
    let last: Vec<&str> = text.lines().rev().take(2).collect();
    assert!(matches!(last[..], ["M2" | "M30", "M5"]), "it ends with {last:?}");
    for (n, line) in text.lines().enumerate() {
        held(n + 1, line, setup.machine.controller.full_power_s);
    }
    let strict = Options {
        read: ReadOptions { strict: true, ..ReadOptions::default() },
        ..Options::default()
    };
    let again = read(Source::program(&program[..]), std::io::sink(), &strict);
    again.unwrap_or_else(|e| panic!("its own output is not to the letter: {e}"));
    assert!(
        report.chord_error_max_mm <= setup.job.tolerance_mm * (1.0 + 1e-6),
        "chord error {}",
        report.chord_error_max_mm
    );
}

/// What `wrap` writes `check` takes and `estimate` times as `wrap` did; `steps` gives as many
/// moves.
pub(crate) fn agree(data: &[u8]) {
    let Some((setup, flat)) = parted(data) else { return };
    let Some((program, report)) = laid(flat, &setup) else { return };
    let options = Options::allowing(ALLOWED.iter().copied());
    let checked = check(Source::program(&program[..]), &setup, &options)
        .unwrap_or_else(|e| panic!("check refuses what wrap wrote: {e}"));
    assert!(checked.fit, "wrap wrote what check calls unfit: {:?}", checked.findings);
    let timed = estimate(Source::program(&program[..]), &setup, &options)
        .unwrap_or_else(|e| panic!("estimate refuses what wrap wrote: {e}"));
    let own = report.estimate.expect("a program has its time");
    near("duration_s", own.duration_s, timed.duration_s);
    near("burn_s", own.burn_s, timed.burn_s);
    let (mut moves, mut lit) = (0_u64, false);
    steps::<std::convert::Infallible>(Source::program(flat), &setup, &options, |step| {
        moves += u64::from(matches!(step.kind, StepKind::Burn | StepKind::Dark | StepKind::Travel));
        lit |= step.kind == StepKind::Burn;
        assert!(step.to.words.iter().all(|word| word.is_finite()), "a word is not finite");
        Ok(())
    })
    .unwrap_or_else(|e| panic!("steps refuses what wrap wrote: {e}"));
    assert_eq!(moves, report.moves_out, "as many moves as were written");
    assert!(lit || report.burn_mm == 0.0, "what burned must be among the steps");
}

/// Findings that hang on the fixture's wall and not on the program.
const ALLOWED: [Code; 5] =
    [Code::Overlap, Code::Clearance, Code::TravelLimit, Code::DefocusFar, Code::Zone];

/// The program as wrapped, with all that can be allowed allowed; `None` where it is refused.
fn laid(flat: &[u8], setup: &Setup) -> Option<(Vec<u8>, WrapReport)> {
    if flat.len() > LONGEST {
        return None;
    }
    let mut out = Vec::new();
    let options = Options::allowing(ALLOWED.iter().copied());
    match wrap(Source::program(flat), &mut out, setup, &options) {
        Ok(report) => Some((out, report)),
        Err(error) => {
            broken_off(&out, &error);
            None
        }
    }
}

/// What went out before an error never looks whole, and the beam is off at its end.
fn broken_off(out: &[u8], error: &Error) {
    let text = String::from_utf8_lossy(out);
    if text.is_empty() {
        return;
    }
    let whole = text.lines().any(|line| matches!(line.trim(), "M2" | "M30"));
    assert!(!whole, "it looks whole after {error}");
    let dark = text.lines().rev().find(|line| !line.starts_with('('));
    assert_eq!(dark, Some("M5"), "the beam is on after {error}");
}

/// One line of what is written: S within full power, numbers that are numbers, comments closed.
fn held(n: usize, line: &str, full_power_s: f64) {
    if line.starts_with('(') {
        assert!(line.ends_with(')') && line.matches(['(', ')']).count() == 2, "{n}: {line}");
        assert!(!line.contains(['!', '?', '~', '%', ';']), "{n}: {line}");
        return;
    }
    for word in line.split_ascii_whitespace() {
        let (letter, number) = word.split_at(1);
        let value: f64 = number.parse().unwrap_or_else(|_| panic!("{n}: {line}"));
        assert!(value.is_finite(), "{n}: {line}");
        assert!(letter != "S" || (0.0..=full_power_s).contains(&value), "{n}: {line}");
    }
}

fn lines_are_json(out: &[u8]) {
    for line in out.split(|b| *b == b'\n').filter(|line| !line.is_empty()) {
        let value: Result<serde_json::Value, _> = serde_json::from_slice(line);
        assert!(value.is_ok(), "not JSON: {}", String::from_utf8_lossy(line));
    }
}

/// An F word has six figures, so that a move may take half a unit of the last longer or shorter.
fn near(what: &str, a: f64, b: f64) {
    assert!((a - b).abs() <= 6e-6 * (1.0 + a.abs()), "{what}: {a} by wrap, {b} by estimate");
}

/// A reader that gives a byte at a time.
struct OneByOne<'a>(&'a [u8]);

impl std::io::Read for OneByOne<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let one = buffer.len().min(1);
        std::io::Read::read(&mut self.0, buffer.get_mut(..one).unwrap_or_default())
    }
}
