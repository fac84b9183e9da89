//! A patch of test burns: scan lines along the axis at constant turn, both ways, with room to come
//! up to speed.

use std::f64::consts::TAU;

use stave_setup::AxisLimits;

/// Lines may lie this much wider apart than asked, to fall on whole motor steps.
const WIDEST: f64 = 1.1;
/// How much longer a run-up is than it need be, and by how much at least, mm: time to settle.
const RUN_UP_SHARE: f64 = 0.2;
const RUN_UP_MORE_MM: f64 = 0.5;

/// A patch on the wall, true in size at its middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// Its middle along the meridian, mm.
    pub s_mm: f64,
    /// Its middle about the axis, rad.
    pub turn_rad: f64,
    /// The wall's radius at its middle, mm.
    pub radius_mm: f64,
    /// Its size both ways, mm.
    pub size_mm: f64,
    /// How far apart its lines are asked to lie, mm.
    pub spacing_mm: f64,
}

/// The lines of a patch, each burned from its first to its second end.
#[derive(Clone, Debug, PartialEq)]
pub struct PatchLines {
    /// Turn, and the two ends along the meridian in the order they are burned: rad, mm, mm.
    pub lines: Vec<(f64, f64, f64)>,
    /// How far apart they lie at the patch's middle, mm.
    pub spacing_mm: f64,
    /// Whole motor steps between them, where the steps of a turn are known.
    pub motor_steps: Option<f64>,
}

/// The lines of a patch: as many as fill it, on whole motor steps reckoned from `zero_rad` where
/// the steps of a turn are known.
///
/// ```
/// use stave_transform::{Patch, patch_lines};
/// let patch = Patch { s_mm: 50.0, turn_rad: 0.0, radius_mm: 40.0, size_mm: 8.0, spacing_mm: 0.1 };
/// let found = patch_lines(&patch, None, 0.0);
/// assert_eq!((found.lines.len(), found.spacing_mm), (80, 0.1));
/// assert_eq!((found.lines[0].1, found.lines[1].1), (46.0, 54.0));
/// ```
#[must_use]
pub fn patch_lines(patch: &Patch, steps_per_turn: Option<f64>, zero_rad: f64) -> PatchLines {
    let asked_rad = patch.spacing_mm / patch.radius_mm;
    let motor_steps = steps_per_turn.map(|steps| {
        let asked = asked_rad * steps / TAU;
        asked.round().min((WIDEST * asked).floor()).max(1.0)
    });
    let step_rad = match motor_steps.zip(steps_per_turn) {
        Some((count, steps)) => count * TAU / steps,
        None => asked_rad,
    };
    let spacing_mm = step_rad * patch.radius_mm;
    let count = (patch.size_mm / spacing_mm).round().clamp(1.0, 1e5);
    let first = patch.turn_rad - 0.5 * (count - 1.0) * step_rad;
    let first = match steps_per_turn {
        Some(steps) => zero_rad + ((first - zero_rad) * steps / TAU).round() * TAU / steps,
        None => first,
    };
    let ends = (patch.s_mm - 0.5 * patch.size_mm, patch.s_mm + 0.5 * patch.size_mm);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let lines = (0..count as u32)
        .map(|k| {
            let turn_rad = first + f64::from(k) * step_rad;
            if k % 2 == 0 { (turn_rad, ends.0, ends.1) } else { (turn_rad, ends.1, ends.0) }
        })
        .collect();
    PatchLines { lines, spacing_mm, motor_steps }
}

/// How far an axis must run in the dark to burn at a speed from the first point on, mm: `v²/2a`, or
/// with a jerk `j` on ramps of seven segments `v/2 (v/a + a/j)`, and a fifth and half a mm more to
/// settle.
///
/// ```
/// use stave_setup::AxisLimits;
/// let x = AxisLimits { speed: 500.0, acceleration: 5000.0, jerk: None, min: None, max: None };
/// assert!((stave_transform::run_up_mm(200.0, &x) - (4.0 * 1.2 + 0.5)).abs() < 1e-12);
/// ```
#[must_use]
pub fn run_up_mm(speed_mm_per_s: f64, axis: &AxisLimits) -> f64 {
    let ramp_s =
        speed_mm_per_s / axis.acceleration + axis.jerk.map_or(0.0, |jerk| axis.acceleration / jerk);
    0.5 * speed_mm_per_s * ramp_s * (1.0 + RUN_UP_SHARE) + RUN_UP_MORE_MM
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn lines_fall_on_motor_steps_and_fill_the_patch(
            radius_mm in 5.0..80.0_f64, size_mm in 2.0..20.0_f64, spacing_mm in 0.03..0.5_f64, steps in 3200.0..51200.0_f64,
            zero_rad in -3.0..3.0_f64, turn_rad in -3.0..3.0_f64,
        ) {
            let steps = steps.round();
            let patch = Patch { s_mm: 50.0, turn_rad, radius_mm, size_mm, spacing_mm };
            let found = patch_lines(&patch, Some(steps), zero_rad);
            let one_rad = TAU / steps;
            for line in &found.lines {
                let step = (line.0 - zero_rad) / one_rad;
                prop_assert!((step - step.round()).abs() < 1e-6);
                prop_assert!((line.0 - turn_rad).abs() * radius_mm <= 0.5 * size_mm + found.spacing_mm);
            }
            prop_assert!(found.spacing_mm <= spacing_mm * 1.1 + 1e-9 || found.spacing_mm <= one_rad * radius_mm + 1e-9);
            let covered = found.spacing_mm * found.lines.len() as f64;
            prop_assert!((covered - size_mm).abs() <= 0.5 * found.spacing_mm + 1e-9 || found.lines.len() == 1);
        }
    }
}
