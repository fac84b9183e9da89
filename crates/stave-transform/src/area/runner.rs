//! The axis that runs under scan lines, the one along or the rotary: what it can do, and where it
//! stands at a place of the wall.

use stave_rig::{ROTARY, Rig};
use stave_wall::Section;

use super::scan::Way;
use crate::emit::Spot;

/// A little way of another axis.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    /// In the units of its word.
    pub(crate) units: f64,
    /// Its own units per second squared.
    pub(crate) acceleration: f64,
}

impl Step {
    /// How long it takes at rest at both ends, s.
    pub(crate) fn takes_s(&self) -> f64 {
        2.0 * (self.units / self.acceleration).sqrt()
    }
}

/// An axis with its limits, in the units of its word: mm, or the rotary's own.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Runner {
    pub(crate) way: Way,
    /// Units per second.
    pub(crate) limit: f64,
    /// Units per second squared.
    acceleration: f64,
    /// Rotary units to the radian; 0 where the axis is not the rotary.
    units_per_rad: f64,
    /// What the axis across the lines does, its own units per second squared.
    across_acceleration: f64,
}

impl Runner {
    pub(crate) fn of(rig: &Rig<'_>, way: Way) -> Self {
        let limits = match way {
            Way::Along => rig.limits(rig.along),
            Way::Around { .. } => rig.limits(ROTARY),
        };
        let units_per_rad = match way {
            Way::Along => 0.0,
            Way::Around { .. } => (rig.count / rig.rad_per_count).abs(),
        };
        let across = match way {
            Way::Along => rig.limits(ROTARY),
            Way::Around { .. } => rig.limits(rig.along),
        };
        Self {
            way,
            limit: limits.speed,
            acceleration: limits.acceleration,
            units_per_rad,
            across_acceleration: across.acceleration,
        }
    }

    /// Units that the axis goes for a mm along a line of the wall.
    pub(crate) fn rate(&self, rig: &Rig<'_>, at: &Section) -> f64 {
        match self.way {
            Way::Along => rig.crest.along_rate(at).abs(),
            Way::Around { .. } => self.units_per_rad / at.radius_mm,
        }
    }

    /// How fast it goes under a burn of so many mm/s of wall, no faster than it can.
    pub(crate) fn speed(&self, rig: &Rig<'_>, at: &Section, wall_mm_per_s: f64) -> f64 {
        (wall_mm_per_s * self.rate(rig, at)).min(self.limit).max(1e-3)
    }

    /// Where it stands at a place, up to its zero and sign.
    pub(crate) fn stands(&self, rig: &Rig<'_>, at: &Spot) -> f64 {
        match self.way {
            Way::Along => rig.along_mm(&at.laid.section),
            Way::Around { .. } => at.laid.turn_rad * self.units_per_rad,
        }
    }

    /// How far it turns for so many radians.
    pub(crate) fn turned(&self, turn_rad: f64) -> f64 {
        turn_rad * self.units_per_rad
    }

    /// How far the work turns for so many units.
    pub(crate) fn turn_rad(&self, units: f64) -> f64 {
        units / self.units_per_rad
    }

    /// How far it goes while it reaches a speed from a standstill: `v²/2a`.
    pub(crate) fn run_up(&self, speed: f64) -> f64 {
        speed * speed / (2.0 * self.acceleration)
    }

    /// The step from line to line.
    pub(crate) fn step(&self, rig: &Rig<'_>, step: f64) -> Step {
        let units = match self.way {
            Way::Along => (step / rig.rad_per_count).abs() * rig.count,
            Way::Around { .. } => step,
        };
        Step { units, acceleration: self.across_acceleration }
    }

    /// The least speed from which a step can be made on the way out without a corner that slows
    /// what comes before it.
    ///
    /// The way turns by an angle `β = step/out`, with `out = v²/2a`. The corner rule lets `v² =
    /// 8 a' δ/β²` pass, `a'` the step's acceleration and `δ` the corner's tolerance, and a circle
    /// through its points `v² = a' out/2β`.
    pub(crate) fn least_speed(&self, step: &Step, corner_tolerance: f64) -> f64 {
        if step.units == 0.0 {
            return 0.0;
        }
        let Step { units, acceleration } = *step;
        let by_corner = self.acceleration * units / (2.0 * acceleration * corner_tolerance).sqrt();
        let by_circle = self.acceleration * (8.0 * units / acceleration).sqrt();
        by_corner.max(by_circle)
    }

    /// The greatest speed over a dark way along a line between burns that go at these speeds: up
    /// from the one and down to the other, as far as the way and the axis allow.
    pub(crate) fn crossing_speed(&self, way: f64, (out, into): (f64, f64)) -> f64 {
        let slower = out.min(into);
        if (out * out - into * into).abs() > 2.0 * self.acceleration * way {
            return slower;
        }
        let peak = (0.5 * (out * out + into * into) + self.acceleration * way).sqrt();
        peak.min(self.limit).max(slower)
    }

    /// How long a dark way along a line takes between burns that go at these speeds, s.
    pub(crate) fn cross_s(&self, way: f64, (out, into): (f64, f64)) -> f64 {
        let peak = self.crossing_speed(way, (out, into));
        let (up, down) = (peak - out, peak - into);
        if up < 0.0 || down < 0.0 {
            return way / peak;
        }
        let ramps = (2.0 * peak * peak - out * out - into * into) / (2.0 * self.acceleration);
        (up + down) / self.acceleration + (way - ramps).max(0.0) / peak
    }

    /// How long it takes to turn round at a speed: down to a standstill and up again, s.
    pub(crate) fn turn_s(&self, speed: f64) -> f64 {
        2.0 * speed / self.acceleration
    }

    /// How far it crosses in the time in which it turns round: what lies farther apart on a line is
    /// sooner burned apart.
    pub(crate) fn worth_crossing(&self, speed: f64) -> f64 {
        let (v, most, a) = (speed, self.limit, self.acceleration);
        // Up and down again it passes `3 v²/a` in `2 v/a`, if it may go twice as fast.
        if 2.0 * v <= most { 3.0 * v * v / a } else { (4.0 * v * most - v * v - most * most) / a }
    }

    /// The time over a distance at rest at both ends, without a limit on the feed, s.
    pub(crate) fn jump_s(&self, distance: f64) -> f64 {
        let ramps = self.limit * self.limit / self.acceleration;
        if distance < ramps {
            2.0 * (distance / self.acceleration).sqrt()
        } else {
            distance / self.limit + self.limit / self.acceleration
        }
    }
}
