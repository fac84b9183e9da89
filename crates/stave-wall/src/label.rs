//! The label lay: geodesic polar coordinates about the anchor.

use crate::Wall;
use crate::geodesic::{Start, arrive, arrive_bare};

/// Nearer to the anchor than this, mm, a label is flat to the last digit of any Jacobian.
const AT_ANCHOR_MM: f64 = 1e-9;
/// The inverse has converged when its step is this small, mm.
const CONVERGED_MM: f64 = 1e-10;
/// The inverse goes out from the anchor in so many strides, each solved from the one before.
const STRIDES: u32 = 24;

/// A label about a place of the meridian, at turn 0.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Label {
    pub(crate) anchor_s_mm: f64,
}

impl Label {
    /// `s` and turn of the point `along` the meridian and `around` from the anchor.
    pub(crate) fn map(&self, wall: &Wall, along_mm: f64, around_mm: f64) -> (f64, f64) {
        let distance_mm = along_mm.hypot(around_mm);
        if distance_mm == 0.0 {
            return (self.anchor_s_mm, 0.0);
        }
        let arrival = arrive_bare(wall, self.start(along_mm, around_mm, distance_mm), distance_mm);
        (arrival.s_mm, arrival.turn_rad)
    }

    /// The Jacobian, rows `(ds, r dθ)`, columns `(du, dv)`: distances are kept along the geodesic,
    /// and across it the scale is the Jacobi field over the distance (Gauss's lemma).
    pub(crate) fn jacobian(&self, wall: &Wall, along_mm: f64, around_mm: f64) -> [[f64; 2]; 2] {
        let distance_mm = along_mm.hypot(around_mm);
        if distance_mm < AT_ANCHOR_MM {
            return [[1.0, 0.0], [0.0, 1.0]];
        }
        let start = self.start(along_mm, around_mm, distance_mm);
        let arrival = arrive(wall, start, distance_mm);
        let (out, scale) = (start.heading, arrival.jacobi_mm / distance_mm);
        let (cos, sin) = arrival.heading;
        [
            [cos * out.0 + scale * sin * out.1, cos * out.1 - scale * sin * out.0],
            [sin * out.0 - scale * cos * out.1, sin * out.1 + scale * cos * out.0],
        ]
    }

    /// The flat point that lands at a place, by Newton's method in strides out from the anchor, so
    /// that the geodesic found is the one that grows out of the anchor without a fold.
    pub(crate) fn flat(&self, wall: &Wall, s_mm: f64, turn_rad: f64) -> Option<(f64, f64)> {
        if !(s_mm.is_finite() && turn_rad.is_finite()) {
            return None;
        }
        let radius = |s_mm: f64| wall.section(s_mm, &mut 0).radius_mm;
        let rise = s_mm - self.anchor_s_mm;
        let mean_radius = 0.5 * (radius(self.anchor_s_mm) + radius(s_mm));
        let direct = self.solve(wall, (s_mm, turn_rad), (rise, turn_rad * mean_radius));
        if let Some(point) = direct.filter(|&point| self.grows_out(wall, point)) {
            return Some(point);
        }
        let mut point = (0.0, 0.0);
        for stride in 1..=STRIDES {
            let share = f64::from(stride) / f64::from(STRIDES);
            let target = (self.anchor_s_mm + share * rise, share * turn_rad);
            let grown = f64::from(stride) / f64::from(stride - 1).max(1.0);
            let guess = if stride == 1 {
                (share * rise, share * turn_rad * mean_radius)
            } else {
                (point.0 * grown, point.1 * grown)
            };
            point = self.solve(wall, target, guess)?;
        }
        self.grows_out(wall, point).then_some(point)
    }

    fn start(&self, along_mm: f64, around_mm: f64, distance_mm: f64) -> Start {
        Start { s_mm: self.anchor_s_mm, heading: (along_mm / distance_mm, around_mm / distance_mm) }
    }

    /// Whether no geodesic meets its neighbour on the way to a flat point.
    fn grows_out(&self, wall: &Wall, (along_mm, around_mm): (f64, f64)) -> bool {
        let distance_mm = along_mm.hypot(around_mm);
        distance_mm < AT_ANCHOR_MM
            || !arrive(wall, self.start(along_mm, around_mm, distance_mm), distance_mm).folded
    }

    /// Newton's method with the analytic Jacobian, each step halved until the miss shrinks.
    fn solve(&self, wall: &Wall, target: (f64, f64), guess: (f64, f64)) -> Option<(f64, f64)> {
        let miss = |point: (f64, f64)| {
            let (s_mm, turn_rad) = self.map(wall, point.0, point.1);
            let radius = wall.section(s_mm, &mut 0).radius_mm;
            (target.0 - s_mm, (target.1 - turn_rad) * radius)
        };
        let mut point = guess;
        let mut off = miss(point);
        // Newton squares the miss each round; a bad start takes a few halved steps first.
        for _ in 0..60 {
            let size = off.0.hypot(off.1);
            let j = self.jacobian(wall, point.0, point.1);
            let determinant = j[0][0] * j[1][1] - j[0][1] * j[1][0];
            let step = (
                (j[1][1] * off.0 - j[0][1] * off.1) / determinant,
                (j[0][0] * off.1 - j[1][0] * off.0) / determinant,
            );
            if !(step.0.is_finite() && step.1.is_finite()) {
                return None;
            } else if step.0.hypot(step.1) <= CONVERGED_MM {
                return Some((point.0 + step.0, point.1 + step.1));
            }
            let shrunk = (0..24).map(|halved| 0.5_f64.powi(halved)).find_map(|share| {
                let next = (point.0 + share * step.0, point.1 + share * step.1);
                let off = miss(next);
                (off.0.hypot(off.1) < size).then_some((next, off))
            });
            match shrunk {
                Some((next, next_off)) => (point, off) = (next, next_off),
                // Rounding is all that is left of the miss.
                None => return (size <= 1e-8).then_some(point),
            }
        }
        None
    }
}
