//! How far apart scan lines lie: whole motor steps, and a whole number of lines to a full turn.

use std::f64::consts::TAU;

use super::scan::{Grid, Way};

/// Lines may lie this much wider apart than asked (DESIGN "Line spacing").
const WIDEST: f64 = 1.1;
/// The same the other way, where a full wrap must close.
const CLOSEST: f64 = 0.9;

/// The spacing that was chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spacing {
    /// Radians between lines.
    pub(crate) step_rad: f64,
    /// Motor steps between lines, where they are known.
    pub(crate) motor_steps: Option<f64>,
    /// Whether a whole number of lines makes a turn.
    pub(crate) closes: bool,
    /// Whether a single motor step is wider than allowed.
    pub(crate) coarse: bool,
}

/// The spacing nearest to `asked_mm` on a wall of `radius_mm`.
///
/// It is a whole number of motor steps, at most a tenth wider than asked. For a full wrap it is the
/// divisor of the turn nearest to what was asked, within a tenth either way, if there is one. Where
/// the steps are not known the spacing is as asked, or for a full wrap the nearest that closes.
/// `never_wider` takes the most steps that are no wider than asked.
pub(crate) fn choose(
    asked_mm: f64,
    radius_mm: f64,
    steps_per_turn: Option<f64>,
    full_wrap: bool,
    never_wider: bool,
) -> Spacing {
    let asked_rad = asked_mm / radius_mm;
    let Some(steps) = steps_per_turn else {
        let lines = (TAU / asked_rad).round().max(1.0);
        return Spacing {
            step_rad: if full_wrap { TAU / lines } else { asked_rad },
            motor_steps: None,
            closes: full_wrap,
            coarse: false,
        };
    };
    let one_rad = TAU / steps;
    let asked = asked_rad / one_rad;
    let of = |count: f64, closes: bool| Spacing {
        step_rad: count * one_rad,
        motor_steps: Some(count),
        closes,
        coarse: count > WIDEST * asked,
    };
    if full_wrap
        && !never_wider
        && let Some(count) = divisor(steps, asked)
    {
        return of(count, true);
    }
    if never_wider {
        // What rounding made of a whole number is that number.
        let count = (asked * (1.0 + 1e-9)).floor().max(1.0);
        return of(count, (steps / count).fract() == 0.0);
    }
    let nearest = asked.round().max(1.0);
    let widest = (WIDEST * asked).floor().max(1.0);
    let count = nearest.min(widest);
    of(count, (steps / count).fract() == 0.0)
}

/// The divisor of `steps` nearest to `asked`, within a tenth either way.
fn divisor(steps: f64, asked: f64) -> Option<f64> {
    // Steps of a geared drive need not be a whole number a turn: then nothing divides them.
    let divides = |count: f64| count >= 1.0 && (steps / count).fract() == 0.0;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let (low, high) = ((CLOSEST * asked).ceil().max(1.0) as u64, (WIDEST * asked).floor() as u64);
    #[allow(clippy::cast_precision_loss)]
    let all = (low..=high).map(|count| count as f64).filter(|count| divides(*count));
    all.min_by(|a, b| (a - asked).abs().total_cmp(&(b - asked).abs()))
}

/// Lines at this spacing, in whole motor steps from `zero_rad`.
///
/// `seam_rad` lies half way between two lines (to the nearest step), so that a wrap that closes
/// there has no line twice.
pub(crate) fn grid(spacing: &Spacing, zero_rad: f64, seam_rad: f64) -> Grid {
    let origin_rad = match spacing.motor_steps {
        Some(count) => {
            let one_rad = spacing.step_rad / count;
            let seam = (seam_rad - zero_rad) / one_rad;
            zero_rad + (seam + 0.5 * count).round().rem_euclid(count) * one_rad
        }
        None => {
            zero_rad + (seam_rad - zero_rad + 0.5 * spacing.step_rad).rem_euclid(spacing.step_rad)
        }
    };
    Grid { way: Way::Along, origin: origin_rad, step: spacing.step_rad, snap: None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn steps_and_divisors() {
        // A tin of 74 mm with 12,800 steps a turn: 0.01816 mm a step.
        let plain = choose(0.0635, 37.0, Some(12_800.0), false, false);
        assert_eq!((plain.motor_steps, plain.closes), (Some(3.0), false));
        // 254 lines an inch are 5.506 steps: 6 would be 9 % wider, 5 is nearest that divides
        // 12,800.
        let open = choose(0.1, 37.0, Some(12_800.0), false, false);
        assert_eq!(open.motor_steps, Some(6.0));
        let wrap = choose(0.1, 37.0, Some(12_800.0), true, false);
        assert_eq!((wrap.motor_steps, wrap.closes), (Some(5.0), true));
        // 1.6 steps round to 2, which is a quarter wider than asked: 1 it is.
        assert_eq!(choose(1.6, 1.0, Some(TAU), false, false).motor_steps, Some(1.0));
        // No steps known: as asked, or closed.
        assert_eq!(choose(0.1, 37.0, None, false, false).step_rad, 0.1 / 37.0);
        let wrap = choose(0.1, 37.0, None, true, false);
        assert!((TAU / wrap.step_rad - 2325.0).abs() < 1e-9 && wrap.closes);
    }

    #[test]
    fn a_motor_too_coarse_is_told() {
        let coarse = choose(0.01, 37.0, Some(12_800.0), false, false);
        assert_eq!((coarse.motor_steps, coarse.coarse), (Some(1.0), true));
    }

    proptest! {
        #[test]
        fn never_wider_than_a_tenth(asked in 0.02..1.0_f64, radius in 5.0..100.0_f64, steps in 20_000_u32..100_000, wrap: bool) {
            let steps = f64::from(steps);
            let chosen = choose(asked, radius, Some(steps), wrap, false);
            prop_assert!(chosen.coarse || chosen.step_rad * radius <= asked * 1.1 + 1e-12);
            let count = chosen.motor_steps.unwrap();
            prop_assert_eq!(count.fract(), 0.0);
            // Nothing nearer is allowed.
            if !wrap {
                for other in [count - 1.0, count + 1.0] {
                    let width = other * TAU / steps * radius;
                    prop_assert!(other < 1.0 || width > asked * 1.1 || (width - asked).abs() >= (chosen.step_rad * radius - asked).abs() - 1e-9);
                }
            }
        }

        #[test]
        fn lines_lie_on_steps_and_off_the_seam(asked in 0.05..1.0_f64, zero in -3.0..3.0_f64, seam in -7.0..7.0_f64) {
            let spacing = choose(asked, 40.0, Some(12_800.0), false, false);
            let grid = grid(&spacing, zero, seam);
            let one = TAU / 12_800.0;
            let steps = (grid.across(17) - zero) / one;
            prop_assert!((steps - steps.round()).abs() < 1e-6);
            let first = grid.across(grid.line_from(seam)) - seam;
            let is_near = (first - 0.5 * grid.step).abs() <= one * 0.5 + 1e-9;
            prop_assert!(is_near || spacing.motor_steps == Some(1.0));
        }
    }
}
