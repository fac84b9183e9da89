//! How high what burns lies under the head, where that is not the crest's height alone: on ware
//! that is not true, and under a lift.

use stave_rig::Pose;
use stave_toolpath::{Place, Stand, Step};

use super::{Judge, Seen, seen};

/// How far apart burns on uneven ware are looked at: there its height is known to a thousandth of
/// what the ware strays.
const UNEVEN_LOOK_MM: f64 = 1.0;
const UNEVEN_LOOK_RAD: f64 = std::f64::consts::PI / 90.0;

impl Judge<'_> {
    /// Heights of what burns on ware that is not round or does not run true: the crest's, and how
    /// far the wall is out at the turns that burn.
    #[cold]
    pub(super) fn uneven_heights(
        &mut self,
        step: &Step,
        from: (&Place, &Pose),
        to: (&Place, &Pose),
    ) {
        let running = &self.setup.blank.running;
        let up = self.made_for.tilt_rad.cos();
        let span_mm = (to.0.at_mm - from.0.at_mm).abs();
        let span_rad = (to.0.turn_rad - from.0.turn_rad).abs();
        let looks = (span_mm / UNEVEN_LOOK_MM).max(span_rad / UNEVEN_LOOK_RAD).ceil();
        // A step of no place looks once; none spans more than a wall and some turns.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let looks = if looks.is_finite() { looks.clamp(1.0, 1e5) as u32 } else { 1 };
        for look in 0..=looks {
            let share = f64::from(look) / f64::from(looks);
            let between = |a: f64, b: f64| a + share * (b - a);
            let along_mm = between(from.1.along_mm, to.1.along_mm);
            let Some((_, height_mm)) = self.crest.heights_mm(along_mm, along_mm) else { continue };
            let at_mm = between(from.0.at_mm, to.0.at_mm);
            let turn_rad = between(from.0.turn_rad, to.0.turn_rad);
            let out_mm = running.off_mm(at_mm, turn_rad) * up;
            let value = height_mm + out_mm - between(from.1.lift_mm, to.1.lift_mm);
            if !self.lifted.holds(value) {
                let place = Place { at_mm, turn_rad, ..*to.0 };
                let stand = Stand { place: Some(place), ..step.to };
                self.lifted.note(Seen { stand, ..seen(value, step) });
            }
        }
    }

    /// A burn with the head away from where it was focused.
    pub(super) fn own_lift(&mut self, step: &Step, was: &Pose, is: &Pose) {
        self.passed.add(was.along_mm, is.along_mm);
        for pose in [was, is] {
            if !self.lifts.holds(pose.lift_mm) {
                self.lifts.note(seen(pose.lift_mm, step));
            }
        }
    }

    /// Heights of the crest under a head that is lifted: the ends are what is known where the lift
    /// changes.
    pub(super) fn heights(&mut self, step: &Step, was: &Pose, is: &Pose) {
        let mut note = |height_mm: f64, stand: &Stand| {
            if !self.lifted.holds(height_mm) {
                self.lifted.note(Seen { stand: *stand, ..seen(height_mm, step) });
            }
        };
        if was.lift_mm == is.lift_mm {
            let (low, high) = (was.along_mm.min(is.along_mm), was.along_mm.max(is.along_mm));
            if let Some((least, most)) = self.crest.heights_mm(low, high) {
                note(least - is.lift_mm, &step.to);
                note(most - is.lift_mm, &step.to);
            }
            return;
        }
        for (pose, stand) in [(was, &step.from), (is, &step.to)] {
            if let Some((_, height)) = self.crest.heights_mm(pose.along_mm, pose.along_mm) {
                note(height - pose.lift_mm, stand);
            }
        }
    }
}
