//! The way back: from a machine's words to the wall.

use std::f64::consts::TAU;

use stave_setup::{Along, Blank, Drive, Machine, RotaryWord, Toward};
use stave_toolpath::Position;
use stave_wall::{Crest, Wall, WallShape};

use crate::header::WrappedFor;

/// A place under the beam, on the wall or past its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallPoint {
    /// Distance along the axis, mm.
    pub at_mm: f64,
    /// Length along the meridian, mm, 0 at the first station; past the ends of the wall too.
    pub s_mm: f64,
    /// Turn about the axis, rad, never folded into one turn.
    pub turn_rad: f64,
    /// The wall's radius there, mm; past the ends it runs on as a cylinder.
    pub radius_mm: f64,
    /// True where the place lies between the first and the last station, to the rounding of the
    /// words.
    pub on_wall: bool,
}

/// Finds the place of the wall that lies under the beam when the machine stands at given words.
///
/// The inverse of how a program is wrapped: the X word (or Y, where the work lies along Y) is the
/// way along the crest, `±(X(z) − X(z_zero))` with `X(z) = z cos τ − r sin τ`; the rotary word is
/// the turn, `±(θ − θ_zero)` in the machine's units. Where the tilted wall is so steep that it has
/// several places at one X, it is the uppermost, which the beam meets first.
///
/// ```
/// use stave::{Retrace, WrappedFor, setup};
/// use stave_toolpath::Position;
///
/// let blank = setup::read_blank(
///     "[[station]]\nat = 5.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n", "can.toml")?;
/// let machine = setup::read_machine(
///     "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n", "bench.toml")?;
/// let retrace = Retrace::new(&blank, &machine, &WrappedFor::assumed(&blank, &machine));
/// let point = retrace.wall_point(&Position { x: 20.0, a: 90.0, ..Position::default() }, &mut 0);
/// assert_eq!((point.at_mm, point.s_mm, point.radius_mm), (25.0, 20.0, 30.0));
/// assert!((point.turn_rad.to_degrees() - 90.0).abs() < 1e-12 && point.on_wall);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Retrace<'a> {
    wall: &'a Wall,
    crest: Crest,
    along_zero_mm: f64,
    along_sign: f64,
    turn_zero_rad: f64,
    rad_per_unit: f64,
    rotary: RotaryWord,
    along: Along,
    /// `X` and `s` at the ends of stretches along which X grows or falls; `X` grows throughout
    /// where `rising`.
    x_knots: Vec<f64>,
    s_knots: Vec<f64>,
    rising: bool,
    /// dX/ds past the ends.
    end_rate: f64,
    slack_mm: f64,
}

/// How long a stretch of a smooth wall is at most, mm, and how many there are to a span.
const STRETCH_MM: f64 = 1.0;
const MOST_STRETCHES: usize = 64;

impl<'a> Retrace<'a> {
    /// For a program that was wrapped for `blank` and `machine` as `wrapped` says.
    #[must_use]
    pub fn new(blank: &'a Blank, machine: &Machine, wrapped: &WrappedFor) -> Self {
        let wall = &blank.wall;
        let crest = Crest::new(wrapped.tilt_rad);
        let section = |at_mm: f64| wall.section(wall.s_of_at(at_mm), &mut 0);
        let toward = if wrapped.toward == Toward::XMinus { -1.0 } else { 1.0 };
        let reverse = if machine.rotary.reverse { -1.0 } else { 1.0 };
        let units_per_turn = match machine.rotary.drive {
            Drive::Chuck => machine.rotary.units_per_turn,
            Drive::Roller => {
                TAU * wrapped
                    .contact_at_mm
                    .map_or_else(|| wall.largest_radius_mm(), |at_mm| section(at_mm).radius_mm)
            }
        };
        let s_knots = stretches(wall);
        let x_at = |s_mm: f64| crest.along_mm(&wall.section(s_mm, &mut 0));
        let x_knots: Vec<f64> = s_knots.iter().map(|s_mm| x_at(*s_mm)).collect();
        let count = 10_f64.powi(-i32::try_from(machine.controller.decimals).unwrap_or(0));
        Self {
            wall,
            crest,
            along_zero_mm: crest.along_mm(&section(wrapped.zero.0)),
            along_sign: toward,
            turn_zero_rad: wrapped.zero.1,
            rad_per_unit: toward * reverse * TAU / units_per_turn,
            rotary: machine.rotary.word,
            along: machine.rotary.along,
            rising: x_knots.is_sorted_by(|a, b| a < b),
            x_knots,
            s_knots,
            end_rate: wrapped.tilt_rad.cos(),
            slack_mm: 2.0 * count + 1e-6,
        }
    }

    /// The place of the wall under the beam. `hint` is kept by the caller between calls, 0 at
    /// first.
    #[inline]
    #[must_use]
    pub fn wall_point(&self, position: &Position, hint: &mut usize) -> WallPoint {
        let s_mm = self.s_of_x(self.x_of(position), hint);
        let section = self.wall.section(s_mm, &mut 0);
        WallPoint {
            at_mm: section.at_mm,
            s_mm,
            turn_rad: self.turn_of(position),
            radius_mm: section.radius_mm,
            on_wall: s_mm >= -self.slack_mm && s_mm <= self.wall.length_mm() + self.slack_mm,
        }
    }

    /// The length on the wall of a straight move of the machine, mm: `∫ √(ds² + r² dθ²)` along its
    /// way.
    #[must_use]
    pub fn wall_mm(&self, from: &Position, to: &Position, hint: &mut usize) -> f64 {
        let (x0, x1) = (self.x_of(from), self.x_of(to));
        let turn_rad = self.turn_of(to) - self.turn_of(from);
        let s0 = self.s_of_x(x0, hint);
        let first = *hint;
        let s1 = self.s_of_x(x1, hint);
        let inner = |x: &f64| (*x - x0) * (*x - x1) < 0.0;
        if first == *hint && self.rising && !self.x_knots[first..].iter().take(2).any(inner) {
            return self.short_mm(s0, s1, turn_rad);
        }
        // The move in parts, each of one stretch; where X does not grow throughout, in a fixed
        // number.
        let share = |x: f64| (x - x0) / (x1 - x0);
        let mut cuts: Vec<(f64, f64)> = if self.rising {
            let knots = self.x_knots.iter().zip(&self.s_knots).filter(|(x, _)| inner(x));
            knots.map(|(x, s)| (share(*x), *s)).collect()
        } else {
            let parts = (1..64_u32).map(|k| f64::from(k) / 64.0);
            parts.map(|t| (t, self.s_of_x(x0 + (x1 - x0) * t, &mut 0))).collect()
        };
        if x1 < x0 && self.rising {
            cuts.reverse();
        }
        let (mut length_mm, mut before) = (0.0, (0.0, s0));
        for cut in cuts.into_iter().chain([(1.0, s1)]) {
            length_mm += self.short_mm(before.1, cut.1, turn_rad * (cut.0 - before.0));
            before = cut;
        }
        length_mm
    }

    /// A move within one stretch: Gauss's rule of three points in `s` (two would do: the radius is
    /// near straight in it).
    #[inline]
    fn short_mm(&self, s0: f64, s1: f64, turn_rad: f64) -> f64 {
        let ds = s1 - s0;
        if turn_rad == 0.0 {
            return ds.abs();
        }
        let (middle, half) = (0.5 * (s0 + s1), 0.5 * ds);
        let part = |s_mm: f64| {
            let around = self.wall.section(s_mm, &mut 0).radius_mm * turn_rad;
            (ds * ds + around * around).sqrt()
        };
        if ds.abs() < 1e-9 {
            return part(middle);
        }
        let node = 0.6_f64.sqrt() * half;
        (5.0 * (part(middle - node) + part(middle + node)) + 8.0 * part(middle)) / 18.0
    }

    /// X along the crest, mm, for the words of a position.
    #[inline]
    pub(crate) fn x_of(&self, position: &Position) -> f64 {
        let word = match self.along {
            Along::X => position.x,
            Along::Y => position.y,
        };
        self.along_zero_mm + self.along_sign * word
    }

    #[inline]
    pub(crate) fn turn_of(&self, position: &Position) -> f64 {
        let word = match self.rotary {
            RotaryWord::A => position.a,
            RotaryWord::B => position.b,
            RotaryWord::C => position.c,
            RotaryWord::Y => position.y,
        };
        self.turn_zero_rad + word * self.rad_per_unit
    }

    #[inline]
    fn s_of_x(&self, x: f64, hint: &mut usize) -> f64 {
        if !self.rising {
            return self.uppermost(x);
        }
        let last = self.x_knots.len() - 1;
        let held = |k: usize| self.x_knots[k] <= x && x <= self.x_knots[k + 1];
        let stretch = if *hint < last && held(*hint) {
            *hint
        } else {
            self.x_knots.partition_point(|knot| *knot <= x).saturating_sub(1).min(last - 1)
        };
        *hint = stretch;
        if x < self.x_knots[0] {
            return (x - self.x_knots[0]) / self.end_rate;
        } else if x > self.x_knots[last] {
            return self.wall.length_mm() + (x - self.x_knots[last]) / self.end_rate;
        }
        self.s_in(stretch, x)
    }

    /// The `s` within a stretch: straight over, or on a smooth wall by Newton's rule kept within
    /// the stretch.
    #[inline]
    fn s_in(&self, stretch: usize, x: f64) -> f64 {
        let (x0, x1) = (self.x_knots[stretch], self.x_knots[stretch + 1]);
        let (s0, s1) = (self.s_knots[stretch], self.s_knots[stretch + 1]);
        let mut s_mm = if x1 == x0 { s0 } else { s0 + (x - x0) / (x1 - x0) * (s1 - s0) };
        if self.wall.shape() == WallShape::Straight {
            return s_mm;
        }
        for _ in 0..8 {
            let section = self.wall.section(s_mm, &mut 0);
            let step = (self.crest.along_mm(&section) - x) / self.crest.along_rate(&section);
            if !step.is_finite() || step.abs() < 1e-10 {
                break;
            }
            s_mm = (s_mm - step).clamp(s0, s1);
        }
        s_mm
    }

    /// Of all places at X the one that lies highest.
    fn uppermost(&self, x: f64) -> f64 {
        let last = self.x_knots.len() - 1;
        let before = (x - self.x_knots[0]) / self.end_rate;
        let after = (x - self.x_knots[last]) / self.end_rate;
        let stretches = (0..last).filter(|k| {
            let (a, b) = (self.x_knots[*k], self.x_knots[*k + 1]);
            a.min(b) <= x && x <= a.max(b)
        });
        let height = |s_mm: &f64| self.crest.height_mm(&self.wall.section(*s_mm, &mut 0));
        stretches
            .map(|k| self.s_in(k, x))
            .chain((before <= 0.0).then_some(before))
            .chain((after >= 0.0).then_some(self.wall.length_mm() + after))
            .max_by(|a, b| height(a).total_cmp(&height(b)))
            .unwrap_or(0.0)
    }
}

/// `s` at the ends of the stretches of a wall: its stations, and between them so close on a smooth
/// wall that it is near straight.
fn stretches(wall: &Wall) -> Vec<f64> {
    let stations = wall.span_ends_mm();
    if wall.shape() == WallShape::Straight {
        return stations.to_vec();
    }
    let mut knots = vec![stations[0]];
    for ends in stations.windows(2) {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let parts = (((ends[1] - ends[0]) / STRETCH_MM).ceil() as usize).clamp(4, MOST_STRETCHES);
        #[allow(clippy::cast_precision_loss)]
        knots
            .extend((1..=parts).map(|k| ends[0] + (ends[1] - ends[0]) * (k as f64 / parts as f64)));
    }
    knots
}

#[cfg(test)]
mod tests;
