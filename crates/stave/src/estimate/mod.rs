//! `estimate`: how long a program takes, flat or wrapped, as a controller with look-ahead would run
//! it.
//!
//! The model of motion is [`stave_plan`]'s: its documentation has the derivations, and what
//! was measured against outside tables. Here a program's words become moves of that model:
//!
//! - The axes are X, Y, Z and the machine's rotary, each in its own units. Y has the rotary's
//!   limits where its word is Y and the program was wrapped, or a blank is given; else those of
//!   `[y]`.
//! - F under G94 is the speed over all words, or, where the controller counts linear axes alone,
//!   over X, Y and Z; G93 gives each move its time. Travels go at the axes' limits.
//! - An arc is run as chords of the corner tolerance, which by the corner rule is the centripetal
//!   speed; where the tolerance is 0, and under G61, the machine stops wherever moves meet at an
//!   angle, arcs being run on.
//! - The machine stops for every M word, for `$` lines, for G4 and, under G61.1, after every move.
//!   M0, M1 and M60 are counted: how long a person takes cannot be told.

use std::io::Read;

use serde::{Deserialize, Serialize};
use stave_parse::gcode;
use stave_plan::{Nobody, Timer, Totals};
use stave_rig::{AXES, MadeFor, Rig, axis_letter};
use stave_setup::{Blank, Machine, Setup};

use crate::error::Error;
use crate::flat_place::{Index, machine_for_program};
use crate::run::{Finished, Known, REST, Sections, Times, of_starved, open};
use crate::source::{Options, Source};
use crate::wrap::told;

mod json;
mod laid;
mod quote;

pub use json::estimates_to_json;
pub use laid::{ScanTimes, scan_times};
pub use quote::{Finish, Quote, QuoteSteps, Terms};

/// What is known of where a source runs.
#[derive(Clone, Copy, Debug)]
pub enum TimedOn<'a> {
    /// The machine alone: what a program does on no known wall.
    Machine(&'a Machine),
    /// The blank too: lengths of a program that turns it are those on its wall.
    Blank(&'a Blank, &'a Machine),
    /// Everything; a drawing needs that.
    Setup(&'a Setup),
}

impl<'a> From<&'a Machine> for TimedOn<'a> {
    fn from(machine: &'a Machine) -> Self {
        Self::Machine(machine)
    }
}

impl<'a> From<&'a Setup> for TimedOn<'a> {
    fn from(setup: &'a Setup) -> Self {
        Self::Setup(setup)
    }
}

impl<'a> TimedOn<'a> {
    fn parts(self) -> (&'a Machine, Option<&'a Blank>) {
        match self {
            Self::Machine(machine) => (machine, None),
            Self::Blank(blank, machine) => (machine, Some(blank)),
            Self::Setup(setup) => {
                let (blank, machine) = setup.whole();
                (machine, Some(blank))
            }
        }
    }
}

/// How long a program takes, and what it does in that time.
///
/// `duration_s` is all moves and all dwells. A dwell that burns a dot counts in `burn_s` and in
/// `dwell_s`; without dots `duration_s = burn_s + travel_s + dwell_s`. Lengths are null where they
/// cannot be known: those of a rotary program without its blank.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct Estimate {
    /// The input's name.
    pub name: String,
    /// Everything but pauses, seconds, by the machine's own rule for curves.
    pub duration_s: f64,
    /// The same where curves written as chords are held to the speed of the curve (`curves =
    /// "arcs"`), seconds.
    pub duration_arcs_s: f64,
    /// The same where the corners alone count (`curves = "corners"`), seconds.
    pub duration_corners_s: f64,
    /// Moves and dwells with the beam on, seconds.
    pub burn_s: f64,
    /// Moves that do not mark, at the axes' limits and at a feed, seconds.
    pub travel_s: f64,
    /// G4, seconds.
    pub dwell_s: f64,
    /// Length burned, mm; on the wall where the blank is known.
    pub burn_mm: Option<f64>,
    /// Length of the moves that do not mark, mm; on the wall where the blank is known.
    pub travel_mm: Option<f64>,
    /// Moves that move anything; the chords of an arc are one.
    pub moves: u64,
    /// Lines read; of a drawing those of the program that it makes.
    pub lines: u64,
    /// Seconds at the feeds as written, burning or not: no travels, no dwells, no acceleration.
    pub at_feeds_s: f64,
    /// Seconds at the speeds asked before any axis held a move back, likewise; null for a finished
    /// program, whose feeds are those it was slowed to.
    pub nominal_s: Option<f64>,
    /// M0, M1 and M60: waits for a person, whose time is not in `duration_s`.
    pub pauses: u64,
    /// Moves at a feed, burning or not, seconds.
    pub feed_s: f64,
    /// How long each axis binds, those that never do left out.
    pub axes: Vec<AxisTime>,
    /// Greatest speed of a burn on the surface, mm/s.
    pub surface_speed_max_mm_per_s: Option<f64>,
    /// Mean speed of the burns on the surface, mm/s.
    pub surface_speed_mean_mm_per_s: Option<f64>,
    /// Share of the time of moves at a feed that is spent below the feed asked, 0 to 1.
    pub below_asked_share: f64,
    /// The sections between comments, in order, those in which nothing moves left out.
    pub operations: Vec<SectionReport>,
    /// Of a flat program of scan lines with its blank: how long it takes once it is laid, by either
    /// way. Whoever asks for it puts it there, by [`scan_times`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scan: Option<ScanTimes>,
    /// What a person should know, a sentence each.
    pub warnings: Vec<String>,
}

/// How long an axis binds: by its acceleration while the speed changes, and by its speed where that
/// is what holds the move back.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub struct AxisTime {
    /// The letter of its word.
    pub axis: char,
    /// How long it binds, seconds.
    pub bound_s: f64,
}

/// A section of a program: from a comment to the next.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct SectionReport {
    /// What the comment says; empty before the first one.
    pub name: String,
    /// The line on which its first move or dwell stands.
    pub line: u64,
    /// Everything but pauses, seconds.
    pub duration_s: f64,
    /// Moves with the beam on, seconds.
    pub burn_s: f64,
    /// Moves that do not mark, seconds.
    pub travel_s: f64,
    /// G4, seconds.
    pub dwell_s: f64,
    /// Length burned, mm; null where it cannot be known.
    pub burn_mm: Option<f64>,
    /// Moves that move anything.
    pub moves: u64,
}

/// Times a program, flat or wrapped, or the program that a drawing makes, fit or not.
///
/// A program streams: memory does not grow with it, but for up to a thousand sections.
///
/// # Errors
/// [`Error::Program`] where a program is wrong, moves a rotary the machine does not have, or feeds
/// without F; a drawing that cannot be read, or no setup for it; errors of reading.
///
/// ```
/// use stave::{Options, Source, TimedOn, estimate, setup};
/// let machine = setup::read_machine(
///     "[x]\nspeed = 500.0\nacceleration = 1000.0\n[y]\nspeed = 500.0\nacceleration = 1000.0\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n",
///      "bench.toml")?;
/// // 50 mm at 50 mm/s; half of each ramp of 0.05 s comes on top.
/// let flat = Source::program(&b"M4 S100\nG1 X50 F3000\nM2\n"[..]);
/// let estimate = estimate(flat, TimedOn::Machine(&machine), &Options::default())?;
/// assert!((estimate.duration_s - 1.05).abs() < 1e-9);
/// assert_eq!(estimate.burn_mm, Some(50.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn estimate<'a>(
    source: Source<'_>,
    on: impl Into<TimedOn<'a>>,
    options: &Options,
) -> Result<Estimate, Error> {
    let on = on.into();
    match source {
        Source::Program { input, name } => estimate_program(input, on, options, &name),
        #[cfg(feature = "svg")]
        drawn => estimate_drawn(&drawn, on, options),
    }
}

#[cfg(feature = "svg")]
fn estimate_drawn(
    source: &Source<'_>,
    on: TimedOn<'_>,
    options: &Options,
) -> Result<Estimate, Error> {
    use crate::error::{SourceFault, sentence};

    let name = source.name();
    let TimedOn::Setup(setup) = on else {
        let picture = matches!(source, Source::Picture { .. });
        let fault = if picture { SourceFault::PictureNoSetup } else { SourceFault::NoSetup };
        return Err(Error::of_source(name, fault));
    };
    let all = Options { allow: stave_check::Code::ALL.to_vec(), ..options.clone() };
    let mut lines = LineCount::default();
    let report = crate::wrap_art::wrap_drawn(source, &mut lines, setup, &all, false)?;
    let nothing = || Error::of_source(name, SourceFault::NothingToTime);
    let mut estimate = report.estimate.ok_or_else(nothing)?;
    estimate.lines = lines.0;
    estimate.warnings.extend(report.findings.iter().map(sentence));
    Ok(estimate)
}

/// Counts the lines of a program that nobody keeps.
#[cfg(feature = "svg")]
#[derive(Debug, Default)]
struct LineCount(u64);

#[cfg(feature = "svg")]
impl std::io::Write for LineCount {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0 += bytes.iter().map(|byte| u64::from(*byte == b'\n')).sum::<u64>();
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn estimate_program(
    input: impl Read,
    on: TimedOn<'_>,
    options: &Options,
    name: &str,
) -> Result<Estimate, Error> {
    let (whole_machine, whole_blank) = on.parts();
    let (made_for, input) = open(input, name)?;
    let of_program = (whole_machine, whole_blank);
    let (machine, blank) = machine_for_program(of_program, made_for.as_ref(), name)?;
    let (machine, blank) = (&*machine, blank.as_deref());
    let index = made_for.as_ref().and_then(|made_for| Index::of(whole_machine, made_for));
    let assumed = blank.map(|blank| MadeFor::assumed(blank, machine));
    let by_y = machine.rotary.word == stave_setup::RotaryWord::Y;
    let rig = |made_for: &MadeFor| blank.map(|blank| Rig::new(blank, machine, made_for));
    let known = match (&made_for, &assumed) {
        // What lies in a plane is as long as its words say.
        (Some(_), None) if index.is_some() => Known::Flat,
        (Some(made_for), _) => rig(made_for).map_or(Known::WrappedSomewhere, Known::Wrapped),
        // With a blank, Y is the rotary's word from the first line on.
        (None, Some(assumed)) if by_y => {
            rig(assumed).map_or(Known::WrappedSomewhere, Known::Wrapped)
        }
        (None, Some(assumed)) => rig(assumed).map_or(Known::Flat, Known::MayTurn),
        (None, None) => Known::Flat,
    };
    let turns = matches!(known, Known::Wrapped(_) | Known::WrappedSomewhere);
    let wall_known = blank.is_some();
    let timer = Timer::new(machine, turns || !by_y, Nobody)?;
    let mut run = Finished::new(machine, known, false, options.read.strict, timer);
    if let Some(made_for) = &made_for {
        run = run.made_for(whole_machine, made_for);
    }
    let summary = gcode::read(input, &options.read, &mut run)
        .map_err(|error| Error::of_reading(error, name))?;
    run.refuse_unfinished(made_for.is_some(), &summary, name)?;
    let lengths_known = wall_known || !run.turns;
    let (times, _) = Times::of(run.sink)?;
    let mut estimate = Estimate::of(name, &times, &run.sections, machine, lengths_known);
    estimate.lines = summary.lines;
    estimate.nominal_s = (!run.turns && made_for.is_none()).then_some(estimate.at_feeds_s);
    estimate.warnings = told(&summary);
    if let Some(made_for) = &made_for {
        estimate.warnings.extend(made_for.disagreements(blank, machine, None));
    }
    if run.z_unknown {
        estimate.warnings.push(format!(
            "Z moves, and \"{}\" has no [z]: no limits of Z are counted",
            machine.name
        ));
    }
    estimate.warnings.extend(full_look_ahead(times.times_full));
    estimate.warnings.extend(times.starved.as_ref().map(of_starved));
    Ok(estimate)
}

/// What is to be said where the look-ahead was full.
pub(crate) fn full_look_ahead(times: u64) -> Option<String> {
    (times > 0).then(|| {
        format!(
            "the look-ahead was full {times} times, and a stop was planned each time: the estimate \
             is a little long"
        )
    })
}

impl Estimate {
    /// What a timer came to, with the names of its sections.
    pub(crate) fn of(
        name: &str,
        times: &Times,
        sections: &Sections,
        machine: &Machine,
        lengths_known: bool,
    ) -> Self {
        let length = |mm: f64| Some(mm).filter(|_| lengths_known);
        let mut totals = Totals::<AXES>::default();
        for section in &times.sections {
            totals.add(&section.totals);
        }
        let dark = |totals: &Totals<AXES>| totals.travel.duration_s + totals.dark.duration_s;
        let dwell_s: f64 = times.sections.iter().map(|section| section.dwell_s).sum();
        let dot_s: f64 = times.sections.iter().map(|section| section.dot_s).sum();
        let burned = totals.burn.wall_mm > 0.0;
        let bound = totals.bound_s.iter().enumerate().filter(|(_, bound_s)| **bound_s > 0.0);
        let moving = times.sections.iter().filter(|one| one.moves > 0 || one.dwell_s > 0.0);
        Self {
            name: name.to_owned(),
            duration_s: totals.duration_s() + dwell_s,
            duration_arcs_s: times.by_curves.arcs_s,
            duration_corners_s: times.by_curves.corners_s,
            burn_s: totals.burn.duration_s + dot_s,
            travel_s: dark(&totals),
            dwell_s,
            burn_mm: length(totals.burn.wall_mm),
            travel_mm: length(totals.travel.wall_mm + totals.dark.wall_mm),
            moves: times.sections.iter().map(|section| section.moves).sum(),
            lines: 0,
            at_feeds_s: times.at_feeds_s,
            nominal_s: None,
            pauses: times.pauses,
            feed_s: totals.burn.duration_s + totals.dark.duration_s,
            axes: bound
                .map(|(axis, bound_s)| AxisTime {
                    axis: axis_letter(machine, axis),
                    bound_s: *bound_s,
                })
                .collect(),
            surface_speed_max_mm_per_s: length(totals.greatest_wall_mm_per_s()).filter(|_| burned),
            surface_speed_mean_mm_per_s: length(totals.burn.mean_wall_mm_per_s())
                .filter(|_| burned),
            below_asked_share: totals.below_asked(),
            operations: moving
                .map(|one| SectionReport {
                    name: if one.and_others { REST } else { sections.name(one.section) }.to_owned(),
                    line: one.line,
                    duration_s: one.totals.duration_s() + one.dwell_s,
                    burn_s: one.totals.burn.duration_s + one.dot_s,
                    travel_s: dark(&one.totals),
                    dwell_s: one.dwell_s,
                    burn_mm: length(one.totals.burn.wall_mm),
                    moves: one.moves,
                })
                .collect(),
            scan: None,
            warnings: Vec::new(),
        }
    }
}

impl Estimate {
    /// The axis that binds longest, and for which share of the time of all moves, 0 to 1; `None`
    /// where none ever does.
    #[must_use]
    pub fn slowest_axis(&self) -> Option<(char, f64)> {
        let slowest = self.axes.iter().max_by(|a, b| a.bound_s.total_cmp(&b.bound_s))?;
        Some((slowest.axis, (slowest.bound_s / (self.burn_s + self.travel_s)).min(1.0)))
    }

    /// One thing after the other: times, lengths and counts add up, shares and means are weighted
    /// by time. Sections are those of all in order.
    #[must_use]
    pub fn sum(all: &[Self]) -> Self {
        let add = |value: fn(&Self) -> f64| all.iter().map(value).sum::<f64>();
        let lengths = |value: fn(&Self) -> Option<f64>| all.iter().map(value).sum::<Option<f64>>();
        let mut axes: Vec<AxisTime> = Vec::new();
        for time in all.iter().flat_map(|one| &one.axes) {
            match axes.iter_mut().find(|known| known.axis == time.axis) {
                Some(known) => known.bound_s += time.bound_s,
                None => axes.push(*time),
            }
        }
        let feed_s = add(|one| one.feed_s);
        let share = |part: f64, of: f64| if of > 0.0 { part / of } else { 0.0 };
        let burn_mm = lengths(|one| one.burn_mm);
        let fastest = all.iter().filter_map(|one| one.surface_speed_max_mm_per_s).reduce(f64::max);
        Self {
            name: "sum".to_owned(),
            duration_s: add(|one| one.duration_s),
            duration_arcs_s: add(|one| one.duration_arcs_s),
            duration_corners_s: add(|one| one.duration_corners_s),
            burn_s: add(|one| one.burn_s),
            travel_s: add(|one| one.travel_s),
            dwell_s: add(|one| one.dwell_s),
            burn_mm,
            travel_mm: lengths(|one| one.travel_mm),
            moves: all.iter().map(|one| one.moves).sum(),
            lines: all.iter().map(|one| one.lines).sum(),
            at_feeds_s: add(|one| one.at_feeds_s),
            nominal_s: lengths(|one| one.nominal_s),
            pauses: all.iter().map(|one| one.pauses).sum(),
            feed_s,
            axes,
            surface_speed_max_mm_per_s: fastest.filter(|_| burn_mm.is_some()),
            surface_speed_mean_mm_per_s: burn_mm
                .filter(|mm| *mm > 0.0)
                .map(|mm| share(mm, add(|one| one.burn_s))),
            below_asked_share: share(add(|one| one.below_asked_share * one.feed_s), feed_s),
            operations: all.iter().flat_map(|one| one.operations.clone()).collect(),
            scan: None,
            warnings: Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests;
