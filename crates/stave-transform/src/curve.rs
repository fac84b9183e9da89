//! A flat move as a curve with a parameter.

use stave_toolpath::{Arc, Position};

use crate::track::Track;

/// A point of the flat plane with the program's Z above it, mm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FlatPoint {
    /// Along the axis.
    pub u: f64,
    /// Around.
    pub v: f64,
    /// The program's Z.
    pub z: f64,
}

impl FlatPoint {
    /// The flat point under a program position: `u` = X and `v` = Y, or, where the work lies along
    /// Y, `u` = Y and `v` = −X.
    #[must_use]
    #[inline]
    pub fn of(position: &Position, along_y: bool) -> Self {
        if along_y {
            Self { u: position.y, v: -position.x, z: position.z }
        } else {
            Self { u: position.x, v: position.y, z: position.z }
        }
    }

    fn lerp(self, to: Self, t: f64) -> Self {
        Self {
            u: self.u + (to.u - self.u) * t,
            v: self.v + (to.v - self.v) * t,
            z: self.z + (to.z - self.z) * t,
        }
    }
}

/// A straight or curved flat move; its parameter runs from 0 to 1 evenly with the length of the
/// path in X, Y and Z.
#[derive(Clone, Copy, Debug)]
pub enum Curve<'a> {
    /// A straight move.
    Line {
        /// Start.
        from: FlatPoint,
        /// End.
        to: FlatPoint,
    },
    /// An arc or helix.
    Arc {
        /// Start, as the program has it.
        from: &'a Position,
        /// End.
        to: &'a Position,
        /// Centre, plane and sweep.
        arc: Arc,
        /// True where the work lies along Y.
        along_y: bool,
    },
}

impl Curve<'_> {
    /// The point at `t`.
    #[must_use]
    #[inline]
    pub fn point(&self, t: f64) -> FlatPoint {
        match self {
            Self::Line { from, to } => {
                if t <= 0.0 {
                    *from
                } else if t >= 1.0 {
                    *to
                } else {
                    from.lerp(*to, t)
                }
            }
            Self::Arc { from, to, arc, along_y } => {
                FlatPoint::of(&arc.point(from, to, t), *along_y)
            }
        }
    }

    /// Its length over X, Y and Z, mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        match self {
            Self::Line { from, to } => {
                let (u, v, z) = (to.u - from.u, to.v - from.v, to.z - from.z);
                (u * u + v * v + z * z).sqrt()
            }
            Self::Arc { from, to, arc, .. } => arc.length_mm(from, to),
        }
    }

    /// Its points at so many even steps, both ends among them.
    pub fn along(&self, steps: u32, mut each: impl FnMut(FlatPoint)) {
        let track = Track::of(self);
        for k in 0..=steps {
            each(track.point(f64::from(k) / f64::from(steps.max(1))));
        }
    }

    /// The direction of the path in the flat plane at `t`, not normalised.
    #[must_use]
    pub fn direction(&self, t: f64) -> (f64, f64) {
        match self {
            Self::Line { from, to } => (to.u - from.u, to.v - from.v),
            Self::Arc { .. } => {
                const STEP: f64 = 1e-5;
                let (a, b) = (self.point((t - STEP).max(0.0)), self.point((t + STEP).min(1.0)));
                (b.u - a.u, b.v - a.v)
            }
        }
    }

    /// Parameters, in order and inside (0, 1), between which `u` only grows or only falls.
    pub(crate) fn turning_points(&self, into: &mut Vec<f64>) {
        let Self::Arc { from, arc, along_y, .. } = self else { return };
        let (first, second, _) = arc.axes();
        let along = usize::from(*along_y);
        // Where u runs with the cosine of the angle it turns at multiples of π, where with the sine
        // at odd quarters; along the normal it never turns.
        let offset = if along == first {
            0.0
        } else if along == second {
            std::f64::consts::FRAC_PI_2
        } else {
            return;
        };
        let start = [from.x, from.y, from.z];
        let angle = (start[second] - arc.centre[second]).atan2(start[first] - arc.centre[first]);
        let half_turn = std::f64::consts::PI;
        let sign = arc.sweep_rad.signum();
        let relative = (angle - offset) / half_turn;
        let mut next = if sign > 0.0 { relative.floor() + 1.0 } else { relative.ceil() - 1.0 };
        // At most one turn, so at most three half turns are met.
        for _ in 0..3 {
            let t = (offset + next * half_turn - angle) / arc.sweep_rad;
            if t > 0.0 && t < 1.0 {
                into.push(t);
            }
            next += sign;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_toolpath::Plane;

    #[test]
    fn full_circle_turns_where_u_is_extreme() {
        let from = Position { x: 3.0, y: 4.0, ..Position::default() };
        let arc = Arc { plane: Plane::Xy, centre: [0.0; 3], sweep_rad: -std::f64::consts::TAU };
        for along_y in [false, true] {
            let curve = Curve::Arc { from: &from, to: &from, arc, along_y };
            let mut turns = Vec::new();
            curve.turning_points(&mut turns);
            assert_eq!(turns.len(), 2);
            for t in turns {
                assert!((curve.point(t).u.abs() - 5.0).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn the_direction_is_that_of_the_way() {
        let (from, to) =
            (FlatPoint { u: 3.0, v: 4.0, z: 0.0 }, FlatPoint { u: 1.0, v: 9.0, z: 0.0 });
        let line = Curve::Line { from, to };
        assert_eq!((line.direction(0.0), line.direction(0.7)), ((-2.0, 5.0), (-2.0, 5.0)));
        // About the origin, clockwise: square to the radius, at the ends too.
        let start = Position { x: 3.0, y: 4.0, ..Position::default() };
        let end = Position { x: 4.0, y: -3.0, ..Position::default() };
        let sweep_rad = -std::f64::consts::FRAC_PI_2;
        let arc = Arc { plane: Plane::Xy, centre: [0.0; 3], sweep_rad };
        let curve = Curve::Arc { from: &start, to: &end, arc, along_y: false };
        for t in [0.0, 0.3, 1.0] {
            let (at, (u, v)) = (curve.point(t), curve.direction(t));
            let size = u.hypot(v);
            assert!((u / size - at.v / 5.0).abs() < 1e-4, "{t}: {u} {v}");
            assert!((v / size + at.u / 5.0).abs() < 1e-4, "{t}: {u} {v}");
        }
    }
}
