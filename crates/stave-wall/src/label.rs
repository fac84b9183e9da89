//! The label lay: geodesic polar coordinates about the anchor.

use crate::Wall;
use crate::geodesic::{Arrival, Start, arrive, arrive_bare};

/// Nearer to the anchor than this, mm, a label is flat to the last digit of any Jacobian.
const AT_ANCHOR_MM: f64 = 1e-9;
/// The inverse has converged once a step is this small, mm: Newton's method squares the miss with
/// every step, so what is left after it is some 1e-11 mm.
const LAST_STEP_MM: f64 = 1e-5;
/// A place near one that is known has its flat point no farther from the other's than this, mm.
const NEAR_MM: f64 = 10.0;
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
        let distance_mm = (along_mm * along_mm + around_mm * around_mm).sqrt();
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
        jacobian_of(&start, &arrive(wall, start, distance_mm), distance_mm)
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
        if let Some((point, false)) = direct {
            return Some(point);
        }
        let (mut point, mut folded) = ((0.0, 0.0), false);
        for stride in 1..=STRIDES {
            let share = f64::from(stride) / f64::from(STRIDES);
            let target = (self.anchor_s_mm + share * rise, share * turn_rad);
            let grown = f64::from(stride) / f64::from(stride - 1).max(1.0);
            let guess = if stride == 1 {
                (share * rise, share * turn_rad * mean_radius)
            } else {
                (point.0 * grown, point.1 * grown)
            };
            (point, folded) = self.solve(wall, target, guess)?;
        }
        (!folded).then_some(point)
    }

    /// As [`Label::flat`], where the flat point of a place near by is known.
    pub(crate) fn flat_near(
        &self,
        wall: &Wall,
        place: (f64, f64),
        near: (f64, f64),
    ) -> Option<(f64, f64)> {
        match self.solve(wall, place, near) {
            Some((point, false)) if (point.0 - near.0).hypot(point.1 - near.1) <= NEAR_MM => {
                Some(point)
            }
            _ => self.flat(wall, place.0, place.1),
        }
    }

    fn start(&self, along_mm: f64, around_mm: f64, distance_mm: f64) -> Start {
        Start { s_mm: self.anchor_s_mm, heading: (along_mm / distance_mm, around_mm / distance_mm) }
    }

    /// How far from a place a flat point lands, with its Jacobian, and whether a geodesic meets its
    /// neighbour on the way to it.
    fn look(&self, wall: &Wall, target: (f64, f64), point: (f64, f64)) -> Look {
        let distance_mm = point.0.hypot(point.1);
        let (s_mm, turn_rad, jacobian, folded) = if distance_mm < AT_ANCHOR_MM {
            (self.anchor_s_mm + point.0, 0.0, [[1.0, 0.0], [0.0, 1.0]], false)
        } else {
            let start = self.start(point.0, point.1, distance_mm);
            let arrival = arrive(wall, start, distance_mm);
            let jacobian = jacobian_of(&start, &arrival, distance_mm);
            (arrival.s_mm, arrival.turn_rad, jacobian, arrival.folded)
        };
        let radius_mm = wall.section(s_mm, &mut 0).radius_mm;
        let off = (target.0 - s_mm, (target.1 - turn_rad) * radius_mm);
        Look { off, jacobian, folded }
    }

    /// Newton's method with the analytic Jacobian, each step halved until the miss shrinks; whether
    /// a geodesic meets its neighbour on the way to what is found.
    fn solve(
        &self,
        wall: &Wall,
        target: (f64, f64),
        guess: (f64, f64),
    ) -> Option<((f64, f64), bool)> {
        let mut point = guess;
        let mut here = self.look(wall, target, point);
        // Newton squares the miss each round; a bad start takes a few halved steps first.
        for _ in 0..60 {
            let Look { off, jacobian: j, folded } = here;
            let size = off.0.hypot(off.1);
            let determinant = j[0][0] * j[1][1] - j[0][1] * j[1][0];
            let step = (
                (j[1][1] * off.0 - j[0][1] * off.1) / determinant,
                (j[0][0] * off.1 - j[1][0] * off.0) / determinant,
            );
            if !(step.0.is_finite() && step.1.is_finite()) {
                return None;
            } else if step.0.hypot(step.1) <= LAST_STEP_MM {
                return Some(((point.0 + step.0, point.1 + step.1), folded));
            }
            let shrunk = (0..24).map(|halved| 0.5_f64.powi(halved)).find_map(|share| {
                let next = (point.0 + share * step.0, point.1 + share * step.1);
                let look = self.look(wall, target, next);
                (look.off.0.hypot(look.off.1) < size).then_some((next, look))
            });
            match shrunk {
                Some(next) => (point, here) = next,
                // Rounding is all that is left of the miss.
                None => return (size <= 1e-8).then_some((point, folded)),
            }
        }
        None
    }
}

/// What is known of a flat point that may be the one looked for.
struct Look {
    /// Along the meridian and around, mm.
    off: (f64, f64),
    jacobian: [[f64; 2]; 2],
    folded: bool,
}

/// The Jacobian where a geodesic ends.
fn jacobian_of(start: &Start, arrival: &Arrival, distance_mm: f64) -> [[f64; 2]; 2] {
    let (out, scale) = (start.heading, arrival.jacobi_mm / distance_mm);
    let (cos, sin) = arrival.heading;
    [
        [cos * out.0 + scale * sin * out.1, cos * out.1 - scale * sin * out.0],
        [sin * out.0 - scale * cos * out.1, sin * out.1 + scale * cos * out.0],
    ]
}
