//! `resume`: a program that goes on where another stopped.
//!
//! What is left of the program stands in the new one byte by byte; before it comes what brings the
//! machine to the state in which it was there. One move is written anew: the one that is gone on
//! with, for a program says a mode once and then leaves it out.

mod before;
mod look;

use std::io::{self, Read, Write};

use serde::{Deserialize, Serialize};
use stave_parse::gcode::ReadOptions;
use stave_rig::{
    AXES, FIRST_WORDS, Header, MadeFor, ROTARY, SetUp, X, Y, Z, axis_letter, axis_limits,
};
use stave_setup::{Along, Drive, FocusUp, Machine};
use stave_toolpath::number::{fixed, push_counts, significant};
use stave_toolpath::{StepKind, clock, printable_within};

use crate::changed::Changed;
use crate::error::{Error, SourceFault};
use crate::flat_place::{Index, machine_for_program};
use crate::run::{Held, RESUMED_WORDS, open};
use crate::source::{Options, Source};
use crate::wrap::refused;
use before::{Before, before};
use look::{Found, Wanted, line_of_piece, look};

/// The share of a turn over which the rotary comes to its place from one side: twice the most play
/// that a swatch tells.
const RUN_UP_TURNS: f64 = 2.0 / 360.0;
/// Never less than so many times the play that the machine file tells.
const RUN_UP_PLAYS: f64 = 2.0;
/// The same for a roller, whose units are mm of surface.
const RUN_UP_ROLLER_MM: f64 = 2.0;
/// The figures of an F word.
const FEED_FIGURES: u32 = 6;
const S_DECIMALS: u32 = 3;
const DWELL_DECIMALS: u32 = 6;
/// How the line of the head begins that says what to set at the machine.
const SET: &[u8] = b"(set:";
/// The longest comment that says where a program goes on.
const COMMENT: usize = 200;

/// Where a program goes on.
#[derive(Clone, Debug, PartialEq)]
pub enum ResumeAt {
    /// The move of this line, from its start; lines count from 1.
    Line(u64),
    /// The first comment that names this piece.
    Piece(String),
    /// So many seconds after the start, as [`estimate`](crate::estimate) has the time, pauses not
    /// counted: the move under way is cut there.
    TimeS(f64),
}

/// Why a program cannot go on there.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ResumeFault {
    /// No program of ours.
    #[error("line 1 is not that of a wrapped program; wrap it first, and resume what was wrapped")]
    NotOurs,
    /// A line that is not there.
    #[error("--line {line}: the program has lines 1 to {lines}")]
    NoLine {
        /// What was asked.
        line: u64,
        /// How many there are.
        lines: u64,
    },
    /// A line at which nothing moves.
    #[error(
        "--line {line}: nothing moves or burns there{}",
        next.map_or(String::new(), |next| format!("; the next line that does is {next}"))
    )]
    Still {
        /// What was asked.
        line: u64,
        /// The next line that moves something.
        next: Option<u64>,
    },
    /// Nothing burns from there on.
    #[error("nothing burns from line {line} on: the work is done by then")]
    Done {
        /// Where it would go on.
        line: u64,
    },
    /// A piece that is not there.
    #[error(
        "--piece {name}: no comment names it{}",
        if known.is_empty() {
            "; a program made from a drawing has pieces, and this one names none".to_owned()
        } else {
            format!("; there are: {}", known.join(", "))
        }
    )]
    NoPiece {
        /// What was asked.
        name: String,
        /// The pieces there are.
        known: Vec<String>,
    },
    /// A time at which the program is over, or has not begun.
    #[error("--at {}: the program takes {}", fixed(*asked_s, 3), clock(*duration_s))]
    Time {
        /// What was asked, seconds.
        asked_s: f64,
        /// How long it takes, seconds.
        duration_s: f64,
    },
    /// A mode that no program of ours has.
    #[error(
        "line {line} stands under {word}, which Stave never writes: someone has changed the \
         program, and it cannot be gone on with"
    )]
    Mode {
        /// Where it would go on.
        line: u64,
        /// The word.
        word: &'static str,
    },
}

/// Where a program goes on, and what is left of it.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct ResumeReport {
    /// The line of the first move.
    pub line: u64,
    /// The section it belongs to, as the comment before it says.
    pub section: Option<String>,
    /// The words to which the machine goes in the dark: letter and value.
    pub words: Vec<(char, f64)>,
    /// The share of that line's move that is done already, 0 to 1.
    pub done_share: f64,
    /// How long what was left out took, seconds.
    pub done_s: f64,
    /// How long what is left takes, seconds, as the whole program would have.
    pub left_s: f64,
    /// What a person should know, a sentence each.
    pub warnings: Vec<String>,
}

impl ResumeReport {
    /// Where it goes on and how long that takes, one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let words: Vec<String> = self
            .words
            .iter()
            .map(|(letter, value)| format!("{letter}{}", fixed(*value, 4)))
            .collect();
        let section =
            self.section.as_ref().map_or(String::new(), |section| format!(" ({section})"));
        format!(
            "goes on at line {}{section}, from {}: {} are done, {} are left",
            self.line,
            words.join(" "),
            clock(self.done_s),
            clock(self.left_s)
        )
    }
}

/// Writes what is left of a program of ours from a place on: first what brings the machine there
/// in the dark, with the rotary coming from the side from which it last came, in the modes, at the
/// power and under the air that were in effect; then the rest as it stands.
///
/// The program is held in memory.
///
/// # Errors
/// [`SourceFault::Resume`] where there is no such place, or the program is none of ours; a program
/// that is not whole or made for another machine; [`Error::NotFit`] where the machine's file has
/// changed since and `wrong-rig` is not accepted; errors of reading and writing.
///
/// ```
/// use stave::{Options, ResumeAt, Setup, Source, resume, setup, wrap};
/// # let blank = "[[station]]\nat = 0.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n";
/// # let machine = "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n[rotary]\nword = \"A\"\n\
/// #     units_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n";
/// # let setup = Setup::new(setup::read_blank(blank, "can.toml")?, setup::read_machine(machine, "bench.toml")?, setup::read_job("", "job.toml")?)?;
/// let flat = Source::program(&b"M4 S300\nG0 X20 Y0\nG1 X60 F600\nX70\nM5\nM2\n"[..]);
/// let mut whole = Vec::new();
/// wrap(flat, &mut whole, &setup, &Options::default())?;
/// let mut rest = Vec::new();
/// let (at, options) = (ResumeAt::TimeS(1.0), Options::default());
/// let report = resume(Source::program(&whole[..]), &mut rest, &setup.machine, &at, &options)?;
/// assert!(report.done_share > 0.2 && report.left_s > 3.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn resume<W: Write>(
    source: Source<'_>,
    output: W,
    machine: &Machine,
    at: &ResumeAt,
    options: &Options,
) -> Result<ResumeReport, Error> {
    match source {
        Source::Program { input, name } => {
            resume_program(input, output, machine, (at, options), &name)
        }
        #[cfg(feature = "svg")]
        drawn => Err(Error::of_source(drawn.name(), SourceFault::NotAProgram)),
    }
}

fn resume_program<W: Write>(
    input: impl Read,
    mut output: W,
    machine: &Machine,
    (at, options): (&ResumeAt, &Options),
    name: &str,
) -> Result<ResumeReport, Error> {
    let fault = |fault| Error::of_source(name, SourceFault::Resume(fault));
    // Its first line is looked at before the rest is taken into memory.
    let (made_for, mut rest) = open(input, name)?;
    let made_for = made_for.ok_or_else(|| fault(ResumeFault::NotOurs))?;
    let mut held = Held::default();
    io::copy(&mut rest, &mut held).map_err(Error::Input)?;
    let program = held.0;
    let index = Index::of(machine, &made_for);
    let (across, _) = machine_for_program((machine, None), Some(&made_for), name)?;
    let as_given = machine;
    let machine = &*across;
    let wanted = match at {
        ResumeAt::Line(line) => Wanted::Line(*line),
        ResumeAt::Piece(piece) => Wanted::From(line_of_piece(&program, piece).map_err(fault)?),
        ResumeAt::TimeS(time_s) => Wanted::TimeS(*time_s),
    };
    let seen = look(&program, machine, (as_given, &made_for), wanted, name)?;
    let found = seen.found(wanted).map_err(fault)?;
    let first = match wanted {
        Wanted::From(line) => line,
        _ => found.step.line,
    };
    let before = before(&program, machine, (first, found.step.line)).map_err(fault)?;
    let highest_z = seen.highest_z;
    let set_up = set_up_before(&program, &made_for, found.step.line);
    let start = Start { machine, index, set_up, found: &found, before: &before, highest_z };
    let mut text = start.text(&program, first);
    text.extend_from_slice(lines_of(&program, found.step.line, u64::MAX));
    let Changed { findings, told } = Changed::of(&made_for, None, as_given, None);
    let unfit = refused(findings.clone(), &options.allow);
    if !unfit.is_empty() {
        return Err(Error::NotFit(unfit));
    }
    output.write_all(&text).and_then(|()| output.flush()).map_err(Error::Output)?;
    let mut warnings = made_for.differences(None, as_given);
    if highest_z.is_none() {
        warnings.push(
            "the way there goes straight from where the machine stands, at the height of the head, \
             and nobody has judged it against what sticks out of the ware: `stave check` the rest \
             with its blank first"
                .to_owned(),
        );
    }
    warnings.extend(told);
    warnings.extend(findings.into_iter().map(|accepted| accepted.message));
    warnings.extend(start.set_up.as_ref().map(|comment| {
        let stands = comment.trim_matches(['(', ')']);
        format!("the work and the head must stand as for what is left: {stands}")
    }));
    warnings.extend(before.passed_by.iter().map(|passed| {
        format!("the lines passed through before are not said again, such as `{passed}`")
    }));
    Ok(ResumeReport {
        line: found.step.line,
        section: before.section.clone(),
        words: start.words(),
        done_share: found.share,
        done_s: found.done_s,
        left_s: (seen.duration_s - found.done_s).max(0.0),
        warnings,
    })
}

/// The last comment before a line that begins a set-up, as it stands; `None` in a program of one.
fn set_up_before(program: &[u8], made_for: &MadeFor, line: u64) -> Option<String> {
    made_for.set_ups?;
    let before = lines_of(program, 0, line.saturating_sub(1));
    let comments = before.split(|byte| *byte == b'\n').rev();
    let begins = comments.filter(|line| {
        let line = line.trim_ascii();
        let inside = line.strip_prefix(b"(").and_then(|line| line.strip_suffix(b")"));
        inside.is_some_and(|inside| SetUp::of_comment(inside).is_some())
    });
    begins.map(|line| String::from_utf8_lossy(line).trim().to_owned()).next()
}

/// The lines after the first `skip` of a text, up to line `last`.
fn lines_of(text: &[u8], skip: u64, last: u64) -> &[u8] {
    let mut line = 0;
    let (mut from, mut to) = (if skip == 0 { 0 } else { text.len() }, text.len());
    for (at, byte) in text.iter().enumerate() {
        if *byte == b'\n' {
            line += 1;
            if line == skip {
                from = at + 1;
            }
            if line == last {
                to = at + 1;
                break;
            }
        }
    }
    text.get(from..to).unwrap_or_default()
}

/// What opens a program: line 1, the cautions, what to set; all up to the first word.
fn head_of(program: &[u8]) -> &[u8] {
    let mut end = 0;
    for line in program.split_inclusive(|byte| *byte == b'\n') {
        let text = line.strip_prefix(b"\xef\xbb\xbf").unwrap_or(line).trim_ascii();
        let opens = text.is_empty() || text == b"%" || matches!(text.first(), Some(b'(' | b';'));
        if !opens {
            break;
        }
        end += line.len();
    }
    program.get(..end).unwrap_or_default()
}

/// The head of a program, its line 1 saying where the focus is set as the comment for the person
/// does: the head of the machine stands as all of the program set it, and what is left alone would
/// be focused elsewhere.
fn focused(head: Vec<u8>) -> Vec<u8> {
    let text = String::from_utf8_lossy(&head);
    let set = text.lines().find_map(|line| line.strip_prefix("(set: "));
    let place = set.and_then(|set| set.split_once("focus at ")?.1.split_once(" mm"));
    // The turn where it matters; behind a comma others follow.
    let turn = place.and_then(|(_, rest)| rest.strip_prefix(" turn ")?.split_once(" deg"));
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|value| value.is_finite());
    let turn_deg = turn.and_then(|(turn, _)| number(turn));
    let place = place.and_then(|(place, _)| number(place));
    let first = text.lines().find(|line| line.contains(FIRST_WORDS));
    let (Some(at_mm), Some(first)) = (place, first) else {
        return head;
    };
    let inside = first.trim_start_matches('\u{feff}').trim();
    let inside = inside.strip_prefix('(').and_then(|line| line.strip_suffix(')'));
    let Some(mut header) = inside.and_then(Header::parse) else { return head };
    let says = |key: &str| header.get(key).is_some();
    if says("focus_height") || says("focus_at") || header.get("focus") == Some("follow") {
        return head;
    }
    header.add("focus_at", fixed(at_mm, 1));
    if let Some(turn_deg) = turn_deg {
        header.add("focus_turn", fixed(turn_deg, 1));
    }
    text.replacen(first.trim(), &header.first_line(), 1).into_bytes()
}

/// What comes before the rest.
struct Start<'a> {
    machine: &'a Machine,
    /// Where the rotary stands, for a program that burns a flat place.
    index: Option<Index>,
    /// The comment that began the set-up at hand, where there are several.
    set_up: Option<String>,
    found: &'a Found,
    before: &'a Before,
    /// Where the head is highest in all of the program; `None` where it says nothing of Z.
    highest_z: Option<f64>,
}

impl Start<'_> {
    /// The head, the modes, the way there, and the one move that is written anew.
    fn text(&self, program: &[u8], first: u64) -> Vec<u8> {
        let (before, step) = (self.before, &self.found.step);
        let mut lines: Vec<String> = Vec::new();
        let done = match self.found.share {
            share if share > 0.0 => format!(", {} % of it done", fixed(100.0 * share, 2)),
            _ => String::new(),
        };
        let resumed = format!("{RESUMED_WORDS}{}{done}", step.line);
        lines.push(format!("({})", printable_within(&resumed, COMMENT)));
        let mut modes = String::from("G21 G90 G94");
        if before.inverse_time {
            "G21 G90 G93".clone_into(&mut modes);
        } else if let Some(f) = before.feed {
            modes.push_str(&format!(" F{}", fixed(f, FEED_FIGURES)));
        }
        lines.push(modes);
        lines.extend(before.path.map(str::to_owned));
        lines.push("M5".to_owned());
        lines.extend(self.index.iter().flat_map(Index::lines));
        lines.extend(self.set_up.clone());
        lines.extend(before.air.clone());
        lines.extend(self.way());
        // A set-up is begun once: what begins it stands already, whole.
        let is_set_up = |section: &str| {
            let set_up = self.set_up.as_deref().unwrap_or_default();
            // A section's name may be cut, which dots tell.
            set_up.trim_start_matches('(').starts_with(section.trim_end_matches('.'))
        };
        let section = before.section.as_deref().filter(|_| before.section_is_before);
        if let Some(section) = section.filter(|section| !is_set_up(section)) {
            lines.push(format!("({})", printable_within(section, COMMENT)));
        }
        // Of several set-ups the head names the first.
        let head = head_of(program).split_inclusive(|byte| *byte == b'\n');
        let stands = |line: &&[u8]| self.set_up.is_none() || !line.starts_with(SET);
        let mut text = focused(head.filter(stands).collect::<Vec<_>>().concat());
        let push = |text: &mut Vec<u8>, lines: &[String]| {
            for line in lines {
                text.extend_from_slice(line.as_bytes());
                text.push(b'\n');
            }
        };
        push(&mut text, &lines);
        if let Some(word) = before.beam {
            // Without an S the word alone lights the beam: it comes where the move does.
            let s = if before.s_known { " S0" } else { "" };
            push(&mut text, &[format!("{}{s}", word.as_str())]);
        }
        let mut said = first.saturating_sub(1);
        if let Some(line) = before.moved_by {
            text.extend_from_slice(lines_of(program, said, line));
            // The line may take the machine away from where it has just come.
            let index: Vec<String> = self.index.iter().flat_map(Index::lines).collect();
            push(&mut text, &[index, self.way()].concat());
            said = line;
        }
        text.extend_from_slice(lines_of(program, said, step.line - 1));
        push(&mut text, &self.anew());
        text
    }

    /// The letter of the axis along the work, and where it stands among the words.
    fn along(&self) -> (char, usize) {
        match self.machine.rotary.along {
            Along::X => ('X', X),
            Along::Y => ('Y', Y),
        }
    }

    fn number(&self, value: f64) -> String {
        fixed(value, self.machine.controller.decimals)
    }

    /// Where the machine goes in the dark: where the move is gone on with, or the end of a travel.
    fn place(&self) -> [f64; AXES] {
        let Found { step, share, .. } = self.found;
        match step.kind {
            StepKind::Travel => step.to.words,
            _ => crate::run::words_between(&step.from, &step.to, *share),
        }
    }

    /// Where a run-up begins to a burn that is come to at speed, and how long it takes, seconds:
    /// from rest it would begin deeper, and fall elsewhere where light comes late. `None` where
    /// none is due, or the beam is lit by its word alone.
    fn run_up(&self) -> Option<([f64; AXES], f64)> {
        let Found { step, at_speed, .. } = self.found;
        let s_known = self.before.beam.is_none() || self.before.s_known;
        if !at_speed || !s_known || step.time_s.is_nan() || step.time_s <= 0.0 {
            return None;
        }
        let (place, limits) = (self.place(), axis_limits(self.machine, true));
        let speeds = step.delta().map(|way| way / step.time_s);
        let each = speeds.iter().zip(&limits);
        let reaching_s = each.map(|(v, axis)| v.abs() / axis.acceleration).fold(0.0, f64::max);
        // At half the speed in the mean, `v²/2a` from rest; no farther than an axis goes.
        let mut back_s = 0.5 * reaching_s;
        for ((here, v), axis) in place.iter().zip(&speeds).zip(&limits) {
            let end = if *v > 0.0 { axis.min } else { axis.max };
            if let Some(end) = end.filter(|_| *v != 0.0) {
                back_s = back_s.min(((here - end) / v).max(0.0));
            }
        }
        let mut from = place;
        for (word, v) in from.iter_mut().zip(&speeds) {
            *word -= v * back_s;
        }
        // Never lower than the way that is known.
        from[Z] = higher(self.machine, from[Z], place[Z]);
        (back_s > 0.0 && from != place).then_some((from, back_s))
    }

    fn words(&self) -> Vec<(char, f64)> {
        let place = self.place();
        let (letter, along) = self.along();
        let turning = axis_letter(self.machine, ROTARY);
        [(letter, along), (turning, ROTARY)]
            .into_iter()
            .map(|(letter, axis)| (letter, word_of(&place, axis)))
            .collect()
    }

    /// From which side the rotary last came: +1 where its word grew.
    fn side(&self) -> f64 {
        let turned = self.found.step.delta()[ROTARY];
        let own = self.found.step.kind == StepKind::Travel || self.found.share > 0.0;
        if own && turned != 0.0 { turned.signum() } else { self.before.turned_by }
    }

    /// The dark way there: the head up, both axes, the rotary from its side, the head down.
    fn way(&self) -> Vec<String> {
        let place = self.run_up().map_or_else(|| self.place(), |(from, _)| from);
        let (letter, along) = self.along();
        let turning = axis_letter(self.machine, ROTARY);
        let mut way = Vec::new();
        let z = self.highest_z.map(|highest| (highest, place[Z]));
        way.extend(z.map(|(highest, _)| format!("G0 Z{}", self.number(highest))));
        let turn = place[ROTARY];
        let limits = axis_limits(self.machine, true)[ROTARY];
        let run_up = match self.machine.rotary.drive {
            Drive::Chuck => RUN_UP_TURNS * self.machine.rotary.units_per_turn,
            Drive::Roller => RUN_UP_ROLLER_MM,
        };
        let run_up = run_up.max(RUN_UP_PLAYS * self.machine.rotary.backlash);
        let from = (turn - self.side() * run_up)
            .clamp(limits.min.unwrap_or(f64::NEG_INFINITY), limits.max.unwrap_or(f64::INFINITY));
        way.push(format!(
            "G0 {letter}{} {turning}{}",
            self.number(word_of(&place, along)),
            self.number(from)
        ));
        way.push(format!("G0 {turning}{}", self.number(turn)));
        way.extend(
            z.filter(|(highest, here)| highest != here)
                .map(|(_, here)| format!("G0 Z{}", self.number(here))),
        );
        way
    }

    /// What is left of the move of the line, with all that it stands under.
    fn anew(&self) -> Vec<String> {
        let Found { step, share, .. } = self.found;
        let before = self.before;
        let s = |s: f64| format!("S{}", fixed(s, S_DECIMALS));
        if step.kind == StepKind::Dot {
            let mut lines = Vec::new();
            if before.at_feed {
                // The mode without a way: the word goes to where the machine stands.
                let (letter, along) = self.along();
                let here = self.number(word_of(&self.place(), along));
                // In inverse time the F is this move's own.
                let f = fixed(before.feed.unwrap_or(60.0), FEED_FIGURES);
                lines.push(format!("G1 {letter}{here} F{f}"));
            }
            lines.extend(step.power_s.map(s));
            lines.push(format!("G4 P{}", fixed(step.time_s * (1.0 - share), DWELL_DECIMALS)));
            return lines;
        }
        if step.kind == StepKind::Travel {
            return Vec::new();
        }
        let in_inverse_time = |taking_s: f64| {
            let (counts, decimals) = significant(60.0 / taking_s, FEED_FIGURES)?;
            let mut text = b"F".to_vec();
            push_counts(&mut text, counts, decimals);
            Some(String::from_utf8_lossy(&text).into_owned()).filter(|_| before.inverse_time)
        };
        let mut lines = Vec::new();
        if let Some((_, takes_s)) = self.run_up() {
            let mut words = vec!["G1".to_owned(), self.ends(&self.place()), "S0".to_owned()];
            words.extend(in_inverse_time(takes_s));
            lines.push(words.join(" "));
        }
        let mut words = vec!["G1".to_owned(), self.ends(&step.to.words)];
        if before.beam.is_some() {
            words.extend(before.power_s.map(s));
        }
        words.extend(in_inverse_time(step.time_s * (1.0 - share)));
        lines.push(words.join(" "));
        lines
    }

    /// The words of a move's end.
    fn ends(&self, words: &[f64; AXES]) -> String {
        let (letter, along) = self.along();
        let mut text = format!(
            "{letter}{} {}{}",
            self.number(word_of(words, along)),
            axis_letter(self.machine, ROTARY),
            self.number(word_of(words, ROTARY))
        );
        if self.highest_z.is_some() && self.found.step.delta()[Z] != 0.0 {
            text.push_str(&format!(" Z{}", self.number(word_of(words, Z))));
        }
        text
    }
}

/// The word of an axis.
fn word_of(words: &[f64; AXES], axis: usize) -> f64 {
    words.get(axis).copied().unwrap_or_default()
}

/// The higher of two Z words of a machine.
fn higher(machine: &Machine, a: f64, b: f64) -> f64 {
    match &machine.z {
        Some(z) if z.up == FocusUp::Toward => a.min(b),
        _ => a.max(b),
    }
}

/// How programs of ours are read back.
const AS_WRITTEN: ReadOptions = ReadOptions { strict: false, block_delete: false };
