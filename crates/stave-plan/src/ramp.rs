//! One change of speed with a jerk limit, acceleration zero at both ends.
//!
//! A ramp by `Δ` in speed with acceleration `a` and jerk `j` (L. Biagiotti, C. Melchiorri,
//! *Trajectory Planning for Automatic Machines and Robots*, Springer 2008, ch. 3): the jerk acts
//! one way, then not at all, then the other way.
//!
//! ```text
//! Δ j ≥ a²: the acceleration is reached:      time Δ/a + a/j
//! else: it peaks at √(Δ j) half way:          time 2 √(Δ/j)
//! ```
//!
//! The speed is symmetric about the middle of the ramp, so the length is the mean of the two speeds
//! times the time. `j` may be infinite: then `a/j = 0` and every formula falls back to the ramp
//! without jerk.

/// Acceleration and jerk along a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Push {
    pub(super) a: f64,
    pub(super) j: f64,
}

impl Push {
    /// How long the speed takes to change by `change ≥ 0`.
    pub(super) fn time(self, change: f64) -> f64 {
        let Self { a, j } = self;
        if change * j < a * a { 2.0 * (change / j).sqrt() } else { change / a + a / j }
    }

    /// The length of the ramp between two speeds, either way round.
    pub(super) fn length(self, v0: f64, v1: f64) -> f64 {
        0.5 * (v0 + v1) * self.time((v1 - v0).abs())
    }

    /// The greatest speed, from `v0` up, that a ramp of at most `length` reaches; by symmetry the
    /// greatest from which it falls to `v0`.
    ///
    /// With the acceleration reached, `(v0 + Δ/2)(Δ/a + a/j) = L` is a quadratic in `Δ`. Otherwise,
    /// with `x = √Δ`, `x³ + 2 v0 x = L √j`, whose left side is convex and rises: Newton's rule from
    /// above comes down to the root.
    pub(super) fn reachable(self, v0: f64, length: f64) -> f64 {
        let Self { a, j } = self;
        let spare = length - v0 * a / j - 0.5 * (a / j) * a * (a / j);
        if spare >= v0 * a / j + 0.5 * (a / j) * a * (a / j) {
            let b = v0 / a + 0.5 * a / j;
            let c = length - v0 * a / j;
            return v0 + 2.0 * c / (b + (b * b + 2.0 * c / a).sqrt());
        }
        let target = length * j.sqrt();
        let mut x = target.cbrt();
        if 2.0 * v0 * x > target {
            x = target / (2.0 * v0);
        }
        for _ in 0..60 {
            let step = (x * x * x + 2.0 * v0 * x - target) / (3.0 * x * x + 2.0 * v0);
            if !step.is_finite() || step <= 1e-16 * x {
                break;
            }
            x -= step;
        }
        v0 + x * x
    }

    /// The least that [`reachable`](Self::reachable) gives for any start of `v0` or more.
    ///
    /// A ramp that starts with zero acceleration from a slow start can be longer than the one to
    /// the same speed from rest: with the length given, the speed reached falls as `v0` rises until
    /// `Δ = 2 v0` (or `v0 = a²/2j`, if the acceleration is reached before), and rises from there
    /// on.
    pub(super) fn reachable_at_least(self, v0: f64, length: f64) -> f64 {
        let x = (0.5 * length * self.j.sqrt()).cbrt();
        let turning = (0.5 * x * x).min(0.5 * self.a * (self.a / self.j));
        self.reachable(v0.max(turning), length)
    }

    /// The greatest peak up to `most` between `v0` and `v1` over `length`.
    pub(super) fn peak(self, v0: f64, v1: f64, length: f64, most: f64) -> f64 {
        let needed = |p: f64| self.length(v0, p) + self.length(p, v1) - length;
        let mut low = v0.max(v1).min(most);
        if needed(most) <= 0.0 {
            return most;
        }
        if needed(low) >= 0.0 {
            return low;
        }
        let mut high = most;
        let (mut at_low, mut at_high) = (needed(low), needed(high));
        // The rule of false position with halving of the stale end (Illinois), in speed.
        let mut last = 0;
        for _ in 0..200 {
            let p = if last < 100 {
                low - at_low * (high - low) / (at_high - at_low)
            } else {
                0.5 * (low + high)
            };
            let p = if p > low && p < high { p } else { 0.5 * (low + high) };
            let at = needed(p);
            if at == 0.0 || high - low <= 1e-15 * high || p <= low || p >= high {
                return if at <= 0.0 { p } else { low };
            }
            if at < 0.0 {
                low = p;
                at_low = at;
                if last == 1 {
                    at_high *= 0.5;
                }
                last = 1;
            } else {
                high = p;
                at_high = at;
                if last == 2 {
                    at_low *= 0.5;
                }
                last = 2;
            }
        }
        low
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn reachable_is_the_inverse_of_length(
            v0 in 0.0..500.0_f64, length in 1e-4..1e3_f64, a in 1.0..1e4_f64, j in 10.0..1e6_f64,
        ) {
            let push = Push { a, j };
            let v1 = push.reachable(v0, length);
            let back = push.length(v0, v1);
            // The ramp's length as a function of its end speed is steep where the ramp is short.
            let slack = 1e-9 * length + 1e-12 * push.length(v0, v1 * (1.0 + 1e-12)).max(1.0) + 1e-6 * length * (v1 - v0 < 1e-6 * v1) as u8 as f64;
            prop_assert!((back - length).abs() <= slack, "{back} {length}");
        }

        #[test]
        fn the_least_is_the_least(
            v0 in 0.0..200.0_f64, length in 1e-3..1e2_f64, a in 1.0..1e4_f64, j in 10.0..1e6_f64, more in 0.0..200.0_f64,
        ) {
            let push = Push { a, j };
            let least = push.reachable_at_least(v0, length);
            prop_assert!(least <= push.reachable(v0 + more, length) * (1.0 + 1e-9));
            prop_assert!(least >= push.reachable_at_least(v0 * 0.5, length) * (1.0 - 1e-9));
        }

        #[test]
        fn the_peak_uses_the_length(length in 1e-3..1e3_f64, a in 1.0..1e4_f64, j in 10.0..1e6_f64, v0 in 0.0..50.0_f64) {
            let push = Push { a, j };
            let v1 = push.reachable(v0, length * 0.3);
            let p = push.peak(v0, v1, length, 1e9);
            let used = push.length(v0, p) + push.length(p, v1);
            prop_assert!((used - length).abs() < 1e-7 * length, "{used} {length}");
        }
    }

    #[test]
    fn without_jerk_it_is_the_old_ramp() {
        let push = Push { a: 100.0, j: f64::INFINITY };
        assert!((push.reachable(3.0, 2.0) - (9.0_f64 + 400.0).sqrt()).abs() < 1e-12);
        assert_eq!(push.time(0.0), 0.0);
    }
}
