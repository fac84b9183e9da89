//! Settings that can be meant but hardly are, each with its likely cause.

use crate::bounds::plain;
use crate::job::JobFile;
use crate::meeting::Meeting;
use crate::{Drive, RotaryWord};

/// Ware wider than this, mm, is more likely in another unit. This and what follows are common
/// practice, no source.
const WIDEST_WARE_MM: f64 = 600.0;
/// And ware longer than this, mm.
const LONGEST_WARE_MM: f64 = 1500.0;
/// Ware thinner than this, mm, is more likely in another unit.
const THINNEST_WARE_MM: f64 = 5.0;
/// A tolerance above this, mm, is wider than a spot.
const COARSEST_MM: f64 = 0.5;
/// On a steeper taper than this the work walks off a roller: common practice, no source.
const STEEPEST_ON_ROLLERS_DEG: f64 = 0.5;
/// A straight axis faster than this, mm/s, is more likely given per minute.
const FASTEST_MM_PER_S: f64 = 3000.0;
/// A rotary faster than this, turns/s, is more likely given per minute.
const FASTEST_TURNS_PER_S: f64 = 30.0;

impl Meeting<'_> {
    /// What can be meant but hardly is, with the likely cause.
    pub(crate) fn plausible(&mut self, job: &JobFile) {
        let wall = &self.blank.wall;
        let (first, last) = wall.at_range_mm();
        let widest_mm = 2.0 * wall.largest_radius_mm();
        let size = format!(
            "the wall of \"{}\" is {} mm long and up to {} mm across",
            self.blank.name,
            plain((last - first).round()),
            plain(widest_mm.round())
        );
        if widest_mm > WIDEST_WARE_MM || last - first > LONGEST_WARE_MM {
            let cause = "if its file is in mm, its `units` must be \"mm\"";
            self.doubt(None, format!("{size}, larger than a rotary holds: {cause}"));
        } else if widest_mm < THINNEST_WARE_MM {
            let cause = "if its file is in inches, its `units` must be \"in\"";
            self.doubt(None, format!("{size}, thinner than ware is: {cause}"));
        }
        if let Some(tolerance) = &job.tolerance_mm
            && tolerance.value > COARSEST_MM
        {
            let message = format!(
                "`tolerance` is {} mm, by which a burn may miss its place: it is wider than a \
                 spot; 0.01 is common",
                plain(tolerance.value)
            );
            self.doubt(tolerance.from.clone(), message);
        }
        let machine = self.machine;
        let axes = [("x", Some(&machine.x)), ("y", Some(&machine.y))];
        let z = machine.z.as_ref().map(|z| &z.limits);
        // Where the rotary is driven as Y, the machine's Y is the rotary.
        let is_rotary = |name: &str| name == "y" && machine.rotary.word == RotaryWord::Y;
        for (name, limits) in axes.into_iter().chain([("z", z)]) {
            let Some(limits) = limits.filter(|_| !is_rotary(name)) else { continue };
            if limits.speed > FASTEST_MM_PER_S {
                self.per_minute(name, limits.speed, "mm");
            }
        }
        let fastest = FASTEST_TURNS_PER_S * machine.rotary.units_per_turn;
        if machine.rotary.drive == Drive::Chuck && machine.rotary.limits.speed > fastest {
            self.per_minute("rotary", machine.rotary.limits.speed, "units");
        }
    }

    fn per_minute(&mut self, axis: &str, speed: f64, unit: &str) {
        let message = format!(
            "`speed` of [{axis}] is {} {unit} a second, faster than such an axis is: if it is per \
             minute, write {}",
            plain(speed),
            plain(speed / 60.0)
        );
        self.doubt(None, message);
    }

    /// A roller under a taper: the work walks off along its axis, and the surface slips.
    pub(crate) fn roller(&mut self, contact_at_mm: f64) {
        if self.machine.rotary.drive != Drive::Roller {
            return;
        }
        let wall = &self.blank.wall;
        let section = wall.section(wall.s_of_at(contact_at_mm), &mut 0);
        let slope_deg = section.slope_rad().to_degrees();
        if slope_deg.abs() <= STEEPEST_ON_ROLLERS_DEG {
            return;
        }
        let message = format!(
            "the rollers touch the wall of \"{}\" at {} mm, where it tapers by {}°: there the work \
             walks along its axis and slips; set it against a stop, and check what a turn really \
             is by `stave swatch --turn`",
            self.blank.name,
            plain(contact_at_mm),
            plain((slope_deg.abs() * 10.0).round() / 10.0)
        );
        self.doubt(None, message);
    }
}
