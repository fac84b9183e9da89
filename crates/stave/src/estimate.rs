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
use stave_parse::gcode::{self, ReadOptions};
use stave_setup::{Blank, Machine};
use stave_toolpath::{BeamWord, MoveKind, Position};

use crate::error::Error;
use crate::wrap::told;

mod axes;
mod book;
mod json;
mod meter;
mod quote;

pub use json::estimates_to_json;
use meter::Meter;
pub use quote::{Finish, Quote, QuoteSteps, Terms};

/// How a program is read and named.
#[derive(Clone, Debug, Default)]
pub struct EstimateOptions {
    /// How the program is read.
    pub read: ReadOptions,
    /// The input's name in messages; "standard input" where empty.
    pub name: String,
}

/// How long a program takes, and what it does in that time.
///
/// `duration_s = burn_s + travel_s + dwell_s`. Lengths are null where they cannot be known: those
/// of a rotary program without its blank.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct Estimate {
    /// The input's name.
    pub name: String,
    /// Everything but pauses, seconds.
    pub duration_s: f64,
    /// Moves with the beam on, seconds.
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
    /// Lines read.
    pub lines: u64,
    /// Seconds at the feeds alone, burning or not: no travels, no dwells, no acceleration.
    pub nominal_s: f64,
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
    pub operations: Vec<Section>,
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
pub struct Section {
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

/// One move with its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedMove {
    /// The line it stands on.
    pub line: u64,
    /// What it is for.
    pub kind: MoveKind,
    /// Where it starts; of an arc every chord is a move of its own.
    pub from: Position,
    /// Where it ends.
    pub to: Position,
    /// When it starts, seconds from the beginning, dwells counted, pauses not.
    pub start_s: f64,
    /// How long it takes, seconds.
    pub duration_s: f64,
    /// How long it would take at the feed asked alone, seconds; 0 for a travel.
    pub nominal_s: f64,
    /// Length, mm, as in [`Estimate::burn_mm`].
    pub wall_mm: Option<f64>,
    /// The letter of the axis whose speed limit holds it below the speed asked; `None` where it is
    /// not held.
    pub held_by: Option<char>,
    /// The word that has the beam on; `None` is off.
    pub beam: Option<BeamWord>,
    /// The S word in effect; `None` while none was given.
    pub power: Option<f64>,
    /// The section it belongs to, counted from 0; those in which nothing moves count too, unlike in
    /// [`Estimate::operations`].
    pub section: u32,
}

/// Times a program, flat or wrapped, for a machine. With `blank` the lengths of a rotary program
/// are those on its wall.
///
/// It streams: memory does not grow with the program, but for up to a thousand sections.
///
/// # Errors
/// [`Error::Program`] where the program is wrong, moves a rotary the machine does not have, or
/// feeds without F; errors of reading.
///
/// ```
/// use stave::{EstimateOptions, estimate_program, setup};
/// let machine = setup::read_machine(
///     "[x]\nspeed = 500.0\nacceleration = 1000.0\n[y]\nspeed = 500.0\nacceleration = 1000.0\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n", "bench.toml")?;
/// // 50 mm at 50 mm/s; half of each ramp of 0.05 s comes on top.
/// let flat = &b"M4 S100\nG1 X50 F3000\nM2\n"[..];
/// let estimate = estimate_program(flat, &machine, None, &EstimateOptions::default())?;
/// assert!((estimate.duration_s - 1.05).abs() < 1e-9);
/// assert_eq!(estimate.burn_mm, Some(50.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn estimate_program<R: Read>(
    input: R,
    machine: &Machine,
    blank: Option<&Blank>,
    options: &EstimateOptions,
) -> Result<Estimate, Error> {
    run(input, Meter::new(machine, blank, options.read.strict, Nobody)?, options)
}

/// As [`estimate_program`], and hands each move with its time to `follow`, in order.
///
/// A move is handed on once nothing later can change its time: some moves after it was read.
///
/// # Errors
/// As [`estimate_program`]; moves up to the error may have been handed on.
pub fn time_moves<R: Read, F: FnMut(&TimedMove)>(
    input: R,
    machine: &Machine,
    blank: Option<&Blank>,
    options: &EstimateOptions,
    follow: F,
) -> Result<Estimate, Error> {
    run(input, Meter::new(machine, blank, options.read.strict, follow)?, options)
}

fn run<R: Read, F: Follow>(
    input: R,
    mut meter: Meter<'_, F>,
    options: &EstimateOptions,
) -> Result<Estimate, Error> {
    let name = if options.name.is_empty() { "standard input" } else { &options.name };
    let summary = gcode::read(input, &options.read, &mut meter)
        .map_err(|error| Error::of_reading(error, name))?;
    let mut estimate = meter.estimate(name);
    estimate.lines = summary.lines;
    estimate.warnings.splice(0..0, told(&summary));
    Ok(estimate)
}

/// Takes moves with their times.
trait Follow {
    /// False where nobody listens, so that nothing need be kept for them.
    const LISTENS: bool = true;

    fn timed(&mut self, timed: &TimedMove);
}

struct Nobody;

impl Follow for Nobody {
    const LISTENS: bool = false;

    fn timed(&mut self, _: &TimedMove) {}
}

impl<F: FnMut(&TimedMove)> Follow for F {
    fn timed(&mut self, timed: &TimedMove) {
        self(timed);
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
            burn_s: add(|one| one.burn_s),
            travel_s: add(|one| one.travel_s),
            dwell_s: add(|one| one.dwell_s),
            burn_mm,
            travel_mm: lengths(|one| one.travel_mm),
            moves: all.iter().map(|one| one.moves).sum(),
            lines: all.iter().map(|one| one.lines).sum(),
            nominal_s: add(|one| one.nominal_s),
            pauses: all.iter().map(|one| one.pauses).sum(),
            feed_s,
            axes,
            surface_speed_max_mm_per_s: fastest.filter(|_| burn_mm.is_some()),
            surface_speed_mean_mm_per_s: burn_mm
                .filter(|mm| *mm > 0.0)
                .map(|mm| share(mm, add(|one| one.burn_s))),
            below_asked_share: share(add(|one| one.below_asked_share * one.feed_s), feed_s),
            operations: all.iter().flat_map(|one| one.operations.clone()).collect(),
            warnings: Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests;
