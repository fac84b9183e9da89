//! Driven focus: where Z must be for the crest to stay sharp, and how high a travel must go.

use stave_setup::{FocusMode, FocusUp, Setup};
use stave_wall::{Crest, Section, Wall};

/// How far Z may stray from the crest within one move, mm: far below any lens's depth of focus.
pub const FOLLOW_TOLERANCE_MM: f64 = 0.02;
/// How finely the work's height is looked at along a travel, mm.
const LOOK_MM: f64 = 0.5;

/// How Z is driven.
#[derive(Clone, Debug)]
pub struct Focus {
    follow: bool,
    /// +1 where a larger Z takes the head away from the work.
    sign: f64,
    zero_height_mm: f64,
    nozzle_radius_mm: f64,
    rises: Vec<Rise>,
}

#[derive(Clone, Debug)]
struct Rise {
    from_s_mm: f64,
    to_s_mm: f64,
    rise_mm: f64,
}

impl Focus {
    /// For a setup whose zero lies at this height of the crest, mm.
    #[must_use]
    pub fn new(setup: &Setup, zero_height_mm: f64) -> Self {
        let wall = &setup.blank.wall;
        let away = setup.machine.z.as_ref().is_none_or(|z| z.up == FocusUp::Away);
        Self {
            follow: setup.job.focus == FocusMode::Follow,
            sign: if away { 1.0 } else { -1.0 },
            zero_height_mm,
            nozzle_radius_mm: setup.job.nozzle.as_ref().map_or(0.0, |nozzle| nozzle.radius_mm),
            rises: setup
                .blank
                .zones
                .iter()
                .filter(|zone| zone.rise_mm > 0.0)
                .map(|zone| Rise {
                    from_s_mm: wall.s_of_at(zone.at_mm.0),
                    to_s_mm: wall.s_of_at(zone.at_mm.1),
                    rise_mm: zone.rise_mm,
                })
                .collect(),
        }
    }

    /// Whether Z follows the wall.
    #[must_use]
    #[inline]
    pub fn follows(&self) -> bool {
        self.follow
    }

    /// The Z word, mm, at a place of the crest where the program asks for `program_z_mm`.
    #[must_use]
    pub fn z_mm(&self, crest: &Crest, section: &Section, program_z_mm: f64) -> f64 {
        self.z_at_height(crest.height_mm(section), program_z_mm)
    }

    fn z_at_height(&self, height_mm: f64, program_z_mm: f64) -> f64 {
        program_z_mm + self.sign * (height_mm - self.zero_height_mm)
    }

    /// The Z word a travel between two places must not go below, if either end lies below it.
    ///
    /// The work's height is the crest's, or a rise's wherever its stretch of wall comes under the
    /// nozzle, whatever the turn: higher than need be at times, never lower.
    #[must_use]
    pub fn lift_mm(
        &self,
        wall: &Wall,
        crest: &Crest,
        ends: [(&Section, f64, f64); 2],
    ) -> Option<f64> {
        let [(from, s_from, z_from), (to, s_to, z_to)] = ends;
        let along = [crest.along_mm(from), crest.along_mm(to)];
        let low = along[0].min(along[1]) - self.nozzle_radius_mm;
        let high = along[0].max(along[1]) + self.nozzle_radius_mm;
        let highest = self.highest_mm(wall, crest, low, high, s_from.min(s_to), s_from.max(s_to));
        let need = self.sign * self.z_at_height(highest, 0.0);
        let here = self.sign * self.z_mm(crest, from, z_from);
        let there = self.sign * self.z_mm(crest, to, z_to);
        (here.min(there) < need - 1e-9).then_some(self.sign * need.max(here).max(there))
    }

    /// The work's greatest height where the crest's place along lies between `low` and `high`, mm.
    fn highest_mm(
        &self,
        wall: &Wall,
        crest: &Crest,
        low: f64,
        high: f64,
        s_low: f64,
        s_high: f64,
    ) -> f64 {
        // Under a nozzle of this radius the wall reaches no further along the meridian than this.
        let widest = 2.0 * (high - low) + wall.largest_radius_mm();
        let from = (s_low - widest).max(0.0);
        let to = (s_high + widest).min(wall.length_mm());
        let mut highest = f64::NEG_INFINITY;
        let mut hint = 0;
        let mut look = |s: f64| {
            let mut section = wall.section(s, &mut hint);
            if let Some(rise) = self.rise_mm(s) {
                section.radius_mm += rise;
            }
            let along = crest.along_mm(&section);
            if along >= low - LOOK_MM && along <= high + LOOK_MM {
                highest = highest.max(crest.height_mm(&section));
            }
        };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let steps = (((to - from) / LOOK_MM).ceil().clamp(1.0, 1e6)) as u32;
        for k in 0..=steps {
            look(from + (to - from) * f64::from(k) / f64::from(steps));
        }
        for s in wall.span_ends_mm().iter().filter(|s| **s >= from && **s <= to) {
            look(*s);
        }
        for rise in &self.rises {
            look(rise.from_s_mm.clamp(0.0, wall.length_mm()));
            look(rise.to_s_mm.clamp(0.0, wall.length_mm()));
        }
        highest
    }

    fn rise_mm(&self, s_mm: f64) -> Option<f64> {
        self.rises
            .iter()
            .filter(|rise| s_mm >= rise.from_s_mm - LOOK_MM && s_mm <= rise.to_s_mm + LOOK_MM)
            .map(|rise| rise.rise_mm)
            .reduce(f64::max)
    }
}
