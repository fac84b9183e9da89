//! Ware that is not round or does not run true: how far its wall lies from the mean, around.

use std::f64::consts::FRAC_PI_2;

/// How the wall departs from a circle about its axis at one place.
///
/// The radius at turn `θ` is the mean radius, plus `runout · cos(θ − runout_turn)` for a centre
/// that lies off the axis, plus `oval/4 · cos 2(θ − oval_turn)` for an ellipse whose greatest and
/// least diameters are `oval` apart: the first terms of the exact radius, less than
/// `(runout² + oval²) / radius` away from it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OutOfRound {
    /// Where along the axis, mm.
    pub at_mm: f64,
    /// The greatest less the least diameter, mm; 0 or more.
    pub oval_mm: f64,
    /// The turn of the greatest diameter, rad.
    pub oval_turn_rad: f64,
    /// How far the centre lies from the axis, mm; 0 or more.
    pub runout_mm: f64,
    /// The turn towards which it lies, rad.
    pub runout_turn_rad: f64,
}

impl OutOfRound {
    /// How far the radius at a turn lies from the mean radius, mm.
    #[must_use]
    pub fn off_mm(&self, turn_rad: f64) -> f64 {
        self.runout_mm * (turn_rad - self.runout_turn_rad).cos()
            + 0.25 * self.oval_mm * (2.0 * (turn_rad - self.oval_turn_rad)).cos()
    }

    /// What it is at the most, either way, mm; it is less where the two do not meet.
    #[must_use]
    pub fn most_mm(&self) -> f64 {
        self.runout_mm + 0.25 * self.oval_mm
    }

    fn parts(&self) -> [f64; 4] {
        let (s1, c1) = self.runout_turn_rad.sin_cos();
        let (s2, c2) = (2.0 * self.oval_turn_rad).sin_cos();
        [self.runout_mm * c1, self.runout_mm * s1, self.oval_mm * c2, self.oval_mm * s2]
    }
}

/// How a wall departs from a surface of revolution: at its stations as measured, between them in
/// proportion, past them as at the last.
///
/// ```
/// use stave_wall::{OutOfRound, TrueRunning};
/// let bent = OutOfRound { at_mm: 100.0, runout_mm: 0.4, ..OutOfRound::default() };
/// let ware = TrueRunning::new(vec![OutOfRound::default(), bent]);
/// assert_eq!(ware.off_mm(50.0, 0.0), 0.2);
/// assert_eq!(ware.off_mm(50.0, std::f64::consts::PI), -0.2);
/// assert_eq!(ware.most_mm(0.0, 50.0), 0.2);
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct TrueRunning(Vec<OutOfRound>);

impl TrueRunning {
    /// Of stations in order along the axis; those that are all true are none.
    #[must_use]
    pub fn new(stations: Vec<OutOfRound>) -> Self {
        if stations.iter().all(|station| station.most_mm() == 0.0) {
            return Self::default();
        }
        Self(stations)
    }

    /// Whether the ware is round and runs true, or nobody measured whether.
    #[must_use]
    pub fn is_true(&self) -> bool {
        self.0.is_empty()
    }

    /// The stations it was made of; none where all are true.
    #[must_use]
    pub fn stations(&self) -> &[OutOfRound] {
        &self.0
    }

    /// How far the radius lies from the mean radius there, mm.
    #[must_use]
    pub fn off_mm(&self, at_mm: f64, turn_rad: f64) -> f64 {
        self.at(at_mm).off_mm(turn_rad)
    }

    /// The most that the radius may lie off between two places along the axis, either way, mm.
    #[must_use]
    pub fn most_mm(&self, from_at_mm: f64, to_at_mm: f64) -> f64 {
        // Between stations it is no more than at one of them.
        let within = self.0.iter().filter(|s| s.at_mm > from_at_mm && s.at_mm < to_at_mm);
        let ends = [self.at(from_at_mm), self.at(to_at_mm)];
        within.chain(&ends).map(OutOfRound::most_mm).fold(0.0, f64::max)
    }

    /// The turn in the middle of that half turn over which the radius strays least at any station,
    /// rad from 0 to a full turn, to half a degree. `None` where the ware is true.
    #[must_use]
    pub fn steadiest_half_rad(&self) -> Option<f64> {
        const STEPS: u32 = 720;
        let step_rad = std::f64::consts::TAU / f64::from(STEPS);
        let strays = |middle: u32| {
            let strays = self.0.iter().map(|station| {
                let offs = (0..=STEPS / 2)
                    .map(|k| station.off_mm(f64::from(middle + k) * step_rad - FRAC_PI_2));
                let (low, high) = offs
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), off| {
                        (low.min(off), high.max(off))
                    });
                high - low
            });
            strays.fold(0.0, f64::max)
        };
        if self.is_true() {
            return None;
        }
        let best = (0..STEPS).map(|k| (strays(k), k)).min_by(|a, b| a.0.total_cmp(&b.0))?;
        Some(f64::from(best.1) * step_rad)
    }

    /// The turn nearest to one at which the radius at a place along the axis is the mean radius,
    /// rad. `None` where the ware is true.
    ///
    /// Over a whole turn what is off the mean adds up to nothing, and so it is nothing somewhere.
    #[must_use]
    pub fn mean_turn_rad(&self, at_mm: f64, near_rad: f64) -> Option<f64> {
        const STEPS: u32 = 720;
        const HALVINGS: u32 = 40;
        if self.is_true() {
            return None;
        }
        let station = self.at(at_mm);
        let step_rad = std::f64::consts::TAU / f64::from(STEPS);
        for k in 0..STEPS {
            for way in [step_rad, -step_rad] {
                let [mut from, mut to] = [k, k + 1].map(|k| near_rad + f64::from(k) * way);
                let rises = station.off_mm(from) <= 0.0;
                if rises == (station.off_mm(to) < 0.0) {
                    continue;
                }
                for _ in 0..HALVINGS {
                    let middle = 0.5 * (from + to);
                    if (station.off_mm(middle) <= 0.0) == rises {
                        from = middle;
                    } else {
                        to = middle;
                    }
                }
                return Some(0.5 * (from + to));
            }
        }
        Some(near_rad)
    }

    /// How it is at a place along the axis.
    #[must_use]
    pub fn at(&self, at_mm: f64) -> OutOfRound {
        let next = self.0.partition_point(|station| station.at_mm < at_mm);
        let (Some(before), Some(after)) =
            (self.0.get(next.saturating_sub(1)), self.0.get(next).or(self.0.last()))
        else {
            return OutOfRound { at_mm, ..OutOfRound::default() };
        };
        let span_mm = after.at_mm - before.at_mm;
        if span_mm <= 0.0 {
            return OutOfRound { at_mm, ..*after };
        }
        let share = ((at_mm - before.at_mm) / span_mm).clamp(0.0, 1.0);
        let (from, to) = (before.parts(), after.parts());
        let [cx, cy, ox, oy]: [f64; 4] =
            std::array::from_fn(|k| from[k] + share * (to[k] - from[k]));
        OutOfRound {
            at_mm,
            oval_mm: ox.hypot(oy),
            oval_turn_rad: 0.5 * oy.atan2(ox),
            runout_mm: cx.hypot(cy),
            runout_turn_rad: cy.atan2(cx),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{PI, TAU};

    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// The exact radius of an ellipse about a centre off the axis, by the quadratic equation
        /// of the ray.
        #[test]
        fn the_radius_is_that_of_the_ellipse(
            oval in 0.0..1.0_f64, oval_turn in 0.0..PI, runout in 0.0..1.0_f64,
            runout_turn in 0.0..TAU, turn in 0.0..TAU,
        ) {
            let station = OutOfRound {
                at_mm: 0.0, oval_mm: oval, oval_turn_rad: oval_turn, runout_mm: runout,
                runout_turn_rad: runout_turn,
            };
            let (a, b) = (40.0 + 0.25 * oval, 40.0 - 0.25 * oval);
            // In the ellipse's own axes.
            let (dx, dy) = ((turn - oval_turn).cos(), (turn - oval_turn).sin());
            let (sin, cos) = (runout_turn - oval_turn).sin_cos();
            let (cx, cy) = (runout * cos, runout * sin);
            let (p, q, r) = (
                (dx / a).powi(2) + (dy / b).powi(2),
                dx * cx / (a * a) + dy * cy / (b * b),
                (cx / a).powi(2) + (cy / b).powi(2) - 1.0,
            );
            let exact = (q + (q * q - p * r).sqrt()) / p;
            let close = (runout * runout + oval * oval) / 40.0 + 1e-9;
            prop_assert!((40.0 + station.off_mm(turn) - exact).abs() <= close);
        }

        #[test]
        fn nothing_lies_farther_off_than_the_most(
            stations in prop::collection::vec(
                (0.1..20.0_f64, 0.0..2.0_f64, 0.0..PI, 0.0..2.0_f64, 0.0..TAU), 2..6),
            at in -5.0..110.0_f64, reach in 0.0..40.0_f64, share in 0.0..1.0_f64, turn in 0.0..TAU,
        ) {
            let mut at_mm = 0.0;
            let ware = TrueRunning::new(stations.iter().map(|s| {
                at_mm += s.0;
                OutOfRound { at_mm, oval_mm: s.1, oval_turn_rad: s.2, runout_mm: s.3,
                    runout_turn_rad: s.4 }
            }).collect());
            let off = ware.off_mm(at + share * reach, turn).abs();
            prop_assert!(off <= ware.most_mm(at, at + reach) + 1e-12);
        }
    }

    /// Between stations what is off the circle goes evenly from one to the other, at every turn;
    /// beyond them it stays.
    #[test]
    fn between_stations_it_goes_evenly() {
        let station = |at_mm, oval_mm, oval_turn_rad, runout_mm, runout_turn_rad| OutOfRound {
            at_mm,
            oval_mm,
            oval_turn_rad,
            runout_mm,
            runout_turn_rad,
        };
        let (from, to) = (station(10.0, 0.4, 0.3, 0.2, 5.0), station(30.0, 1.0, 2.0, 0.7, 1.0));
        let ware = TrueRunning::new(vec![from, to]);
        for k in 0..24 {
            let turn = f64::from(k) * TAU / 24.0;
            for (at_mm, share) in [(0.0, 0.0), (10.0, 0.0), (13.0, 0.15), (20.0, 0.5), (35.0, 1.0)]
            {
                let even = (1.0 - share) * from.off_mm(turn) + share * to.off_mm(turn);
                assert!((ware.off_mm(at_mm, turn) - even).abs() < 1e-12, "{at_mm} {turn}");
                assert_eq!(ware.at(at_mm).at_mm, at_mm);
            }
        }
        assert_eq!(TrueRunning::new(Vec::new()).at(7.0).at_mm, 7.0);
    }

    #[test]
    fn somewhere_near_the_radius_is_the_mean() {
        let mut ware = OutOfRound { runout_mm: 0.5, runout_turn_rad: 0.7, ..OutOfRound::default() };
        for (oval_mm, near) in [(0.0, 0.0), (0.0, 3.0), (1.0, -9.0), (5.0, 1.0), (0.1, 0.7)] {
            ware.oval_mm = oval_mm;
            let turn = TrueRunning::new(vec![ware]).mean_turn_rad(3.0, near).unwrap();
            assert!(ware.off_mm(turn).abs() < 1e-9 && (turn - near).abs() <= PI, "{turn}");
            // None is nearer.
            let signs = (0..=100).map(|k| near + (turn - near) * 0.99 * f64::from(k) / 100.0);
            let first = ware.off_mm(near);
            assert!(signs.map(|turn| ware.off_mm(turn)).all(|off| off * first > 0.0), "{turn}");
        }
        assert_eq!(TrueRunning::default().mean_turn_rad(3.0, 0.0), None);
    }

    #[test]
    fn a_bent_piece_is_steadiest_about_its_extremes() {
        let bent = OutOfRound { runout_mm: 0.5, runout_turn_rad: 0.7, ..OutOfRound::default() };
        let turn = TrueRunning::new(vec![bent]).steadiest_half_rad();
        let off = turn.map(|turn| (turn - 0.7).rem_euclid(PI));
        assert!(off.is_some_and(|off| off.min(PI - off) < 0.01), "{turn:?}");
        assert_eq!(TrueRunning::new(vec![OutOfRound::default(); 3]).steadiest_half_rad(), None);
    }
}
