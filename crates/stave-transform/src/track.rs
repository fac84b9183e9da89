//! A flat move ready to be cut: its points for the price of a sine and a cosine, its derivatives,
//! and how far they reach over a part of it.

use stave_toolpath::Plane;

use crate::curve::{Curve, FlatPoint};
use crate::range::Range;

/// An arc whose radius changes by more than this share is not cut by bounds.
const MOST_SPIRAL: f64 = 1e-3;

/// An arc in the flat plane, turned from its start.
#[derive(Clone, Copy, Debug)]
struct Turning {
    centre: (f64, f64),
    /// From the centre to the start, mm.
    start: (f64, f64),
    sweep_rad: f64,
    /// By what share the radius grows over all of the arc: what the reader lets pass.
    growth: f64,
    z: (f64, f64),
}

impl Turning {
    fn of(curve: &Curve<'_>) -> Option<Self> {
        let Curve::Arc { arc, along_y, .. } = curve else { return None };
        if arc.plane != Plane::Xy {
            return None;
        }
        let (from, to) = (curve.point(0.0), curve.point(1.0));
        let centre =
            if *along_y { (arc.centre[1], -arc.centre[0]) } else { (arc.centre[0], arc.centre[1]) };
        let start = (from.u - centre.0, from.v - centre.1);
        let radius = start.0.hypot(start.1);
        let growth = (to.u - centre.0).hypot(to.v - centre.1) / radius - 1.0;
        (growth.abs() <= MOST_SPIRAL).then_some(Self {
            centre,
            start,
            sweep_rad: arc.sweep_rad,
            growth,
            z: (from.z, to.z - from.z),
        })
    }

    /// From the centre to the point at `t`: the start turned, not an angle anew.
    #[inline]
    fn arm(&self, t: f64) -> (f64, f64) {
        let (sin, cos) = (self.sweep_rad * t).sin_cos();
        let scale = 1.0 + self.growth * t;
        (
            scale * (self.start.0 * cos - self.start.1 * sin),
            scale * (self.start.0 * sin + self.start.1 * cos),
        )
    }
}

/// First and second derivatives of a flat move by its parameter, mm.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Jet {
    pub(crate) first: (f64, f64),
    pub(crate) second: (f64, f64),
}

/// What the derivatives come to over a part of a flat move.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reaches {
    /// Of `u′` and `v′`.
    pub(crate) first: (Range, Range),
    /// `v`.
    pub(crate) v: Range,
    /// At its two ends.
    pub(crate) ends: (Jet, Jet),
    /// The greatest size of the second derivative, mm.
    pub(crate) bend: f64,
    /// By how much, in shares of its amplitude, a wave of the arc's angle may rise between the ends
    /// above the higher of them: `1 − cos` of half the angle.
    pub(crate) bulge: f64,
    /// The angle it turns by.
    pub(crate) turned_rad: f64,
}

/// A flat move with what cutting it asks again and again.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Track<'a> {
    pub(crate) curve: &'a Curve<'a>,
    turning: Option<Turning>,
}

impl<'a> Track<'a> {
    pub(crate) fn of(curve: &'a Curve<'a>) -> Self {
        Self { curve, turning: Turning::of(curve) }
    }

    /// Straight, or an arc in the flat plane: what can be cut by bounds.
    pub(crate) fn is_plain(&self) -> bool {
        self.is_straight() || self.turning.is_some()
    }

    pub(crate) fn is_straight(&self) -> bool {
        matches!(self.curve, Curve::Line { .. })
    }

    /// The point at `t`.
    #[inline]
    pub(crate) fn point(&self, t: f64) -> FlatPoint {
        let Some(turning) = &self.turning else { return self.curve.point(t) };
        if t <= 0.0 || t >= 1.0 {
            return self.curve.point(t);
        }
        let arm = turning.arm(t);
        FlatPoint {
            u: turning.centre.0 + arm.0,
            v: turning.centre.1 + arm.1,
            z: turning.z.0 + turning.z.1 * t,
        }
    }

    /// The derivatives at the point `at`, whose parameter is `t`.
    #[inline]
    pub(crate) fn jet(&self, at: &FlatPoint, t: f64) -> Jet {
        match (&self.turning, self.curve) {
            (Some(turning), _) => {
                let arm = (at.u - turning.centre.0, at.v - turning.centre.1);
                let (turn, grow) = (turning.sweep_rad, turning.growth / (1.0 + turning.growth * t));
                let across = (-arm.1, arm.0);
                let (back, twist) = (turn * turn, 2.0 * turn * grow);
                Jet {
                    first: (turn * across.0 + grow * arm.0, turn * across.1 + grow * arm.1),
                    second: (twist * across.0 - back * arm.0, twist * across.1 - back * arm.1),
                }
            }
            (None, Curve::Line { from, to }) => {
                Jet { first: (to.u - from.u, to.v - from.v), second: (0.0, 0.0) }
            }
            (None, Curve::Arc { .. }) => Jet::default(),
        }
    }

    /// What holds between two points of it.
    ///
    /// Of an arc every derivative is a wave of its angle: `A cos(ωt + ψ)`. Between two places an
    /// angle `2d ≤ π` apart such a wave exceeds the higher of its ends by at most `A (1 − cos d)`:
    /// where its summit lies between them, the nearer end is no farther than `d` from it.
    pub(crate) fn reaches(&self, from: (&FlatPoint, f64), to: (&FlatPoint, f64)) -> Reaches {
        let ends = (self.jet(from.0, from.1), self.jet(to.0, to.1));
        let pair = Range::between;
        let (mut first, mut v) = (
            (pair(ends.0.first.0, ends.1.first.0), pair(ends.0.first.1, ends.1.first.1)),
            pair(from.0.v, to.0.v),
        );
        let Some(turning) = &self.turning else {
            return Reaches { first, v, ends, bend: 0.0, bulge: 0.0, turned_rad: 0.0 };
        };
        let turned_rad = turning.sweep_rad.abs() * (to.1 - from.1);
        // 1 − cos d ≤ d²/2.
        let bulge = 0.125 * turned_rad * turned_rad;
        let radius = turning.start.0.hypot(turning.start.1) * (1.0 + turning.growth.abs());
        let turn = turning.sweep_rad.abs() + turning.growth.abs();
        first.0 = first.0.wider(radius * turn * bulge);
        first.1 = first.1.wider(radius * turn * bulge);
        v = v.wider(radius * bulge);
        Reaches { first, v, ends, bend: radius * turn * turn, bulge, turned_rad }
    }

    /// The least and the greatest `u` and `v` of all of it; `None` where that is not plain.
    pub(crate) fn extent(&self) -> Option<(Range, Range)> {
        let (from, to) = (self.curve.point(0.0), self.curve.point(1.0));
        let ends = (Range::between(from.u, to.u), Range::between(from.v, to.v));
        if self.is_straight() {
            return Some(ends);
        }
        let turning = self.turning.as_ref()?;
        let (cu, cv) = turning.centre;
        let radius = turning.start.0.hypot(turning.start.1) * (1.0 + turning.growth.abs());
        let (mut u, mut v) = ends;
        // The four places where u or v turns, as far as the arc comes to them: sides of its box.
        let at = turning.start.1.atan2(turning.start.0);
        let reaches = |angle: f64| {
            let ahead = if turning.sweep_rad > 0.0 { angle - at } else { at - angle };
            ahead.rem_euclid(std::f64::consts::TAU) <= turning.sweep_rad.abs()
        };
        let quarter = std::f64::consts::FRAC_PI_2;
        if reaches(0.0) {
            u = u.with(cu + radius);
        }
        if reaches(2.0 * quarter) {
            u = u.with(cu - radius);
        }
        if reaches(quarter) {
            v = v.with(cv + radius);
        }
        if reaches(3.0 * quarter) {
            v = v.with(cv - radius);
        }
        let slack = radius * turning.growth.abs();
        Some((u.wider(slack), v.wider(slack)))
    }

    /// Adds the parameters inside (0, 1) at which `u` has a value, in no order; false where they
    /// are not to be had in closed form.
    pub(crate) fn crossings(&self, u: f64, into: &mut Vec<f64>) -> bool {
        if let Curve::Line { from, to } = self.curve {
            let t = (u - from.u) / (to.u - from.u);
            if t > 0.0 && t < 1.0 {
                into.push(t);
            }
            return true;
        }
        let Some(turning) = &self.turning else { return false };
        let radius = turning.start.0.hypot(turning.start.1);
        let cosine = (u - turning.centre.0) / radius;
        // A station that the arc only grazes, or meets at a radius that grows, takes the long way.
        if turning.growth.abs() > 1e-12 || (cosine.abs() - 1.0).abs() < 1e-6 {
            return false;
        }
        if cosine.abs() > 1.0 {
            return true;
        }
        let at = turning.start.1.atan2(turning.start.0);
        let turn = std::f64::consts::TAU;
        for angle in [cosine.acos(), -cosine.acos()] {
            let ahead = if turning.sweep_rad > 0.0 { angle - at } else { at - angle };
            let t = ahead.rem_euclid(turn) / turning.sweep_rad.abs();
            if t > 0.0 && t < 1.0 {
                into.push(t);
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use stave_toolpath::{Arc, Position};

    proptest! {
        /// Against the arc as the reader has it, and against differences.
        #[test]
        fn an_arc_turned_is_the_arc(
            centre in (-50.0..50.0_f64, -50.0..50.0_f64), radius in 0.05..60.0_f64,
            start in -3.1..3.1_f64, sweep in -6.2..6.2_f64, growth in -9e-4..9e-4_f64,
            part in (0.0..1.0_f64, 0.0..1.0_f64), along_y: bool,
        ) {
            prop_assume!(sweep.abs() > 1e-3);
            let place = |radius: f64, angle: f64| Position {
                x: centre.0 + radius * angle.cos(),
                y: centre.1 + radius * angle.sin(),
                ..Position::default()
            };
            let (from, to) = (place(radius, start), place(radius * (1.0 + growth), start + sweep));
            let arc = Arc { plane: Plane::Xy, centre: [centre.0, centre.1, 0.0], sweep_rad: sweep };
            let curve = Curve::Arc { from: &from, to: &to, arc, along_y };
            let track = Track::of(&curve);
            let (low, high) = (part.0.min(part.1), part.0.max(part.1));
            let (u, v) = track.extent().unwrap();
            let ends = (track.point(low), track.point(high));
            let reaches = track.reaches((&ends.0, low), (&ends.1, high));
            for k in 0..=20 {
                let share = f64::from(k) / 20.0;
                let t = low + (high - low) * share;
                let (here, exact) = (track.point(t), curve.point(t));
                prop_assert!((here.u - exact.u).hypot(here.v - exact.v) < 1e-9 * (1.0 + radius));
                prop_assert!(u.wider(1e-9).holds(here.u) && v.wider(1e-9).holds(here.v));
                let jet = track.jet(&here, t);
                let step = 1e-4;
                let (a, b) = (track.point(t - step), track.point(t + step));
                if t > step && t < 1.0 - step {
                    let first = ((b.u - a.u) / (2.0 * step), (b.v - a.v) / (2.0 * step));
                    let bend = |a: f64, here: f64, b: f64| (b - 2.0 * here + a) / step / step;
                    let second = (bend(a.u, here.u, b.u), bend(a.v, here.v, b.v));
                    let size = radius * (1.0 + sweep.abs()).powi(4) + 50.0;
                    let off = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1);
                    prop_assert!(off(jet.first, first) < 1e-7 * size);
                    prop_assert!(off(jet.second, second) < 1e-5 * size);
                }
                if reaches.turned_rad <= 1.0 {
                    prop_assert!(reaches.first.0.wider(1e-9).holds(jet.first.0));
                    prop_assert!(reaches.first.1.wider(1e-9).holds(jet.first.1));
                    prop_assert!(reaches.v.wider(1e-9).holds(here.v));
                    prop_assert!(jet.second.0.hypot(jet.second.1) <= reaches.bend * (1.0 + 1e-9));
                }
            }
        }

        #[test]
        fn crossings_are_where_u_has_that_value(
            radius in 0.5..60.0_f64, start in -3.1..3.1_f64, sweep in -6.2..6.2_f64,
            u in -60.0..60.0_f64,
        ) {
            prop_assume!(sweep.abs() > 1e-3);
            let place = |angle: f64| Position {
                x: radius * angle.cos(), y: radius * angle.sin(), ..Position::default()
            };
            let (from, to) = (place(start), place(start + sweep));
            let arc = Arc { plane: Plane::Xy, centre: [0.0; 3], sweep_rad: sweep };
            let curve = Curve::Arc { from: &from, to: &to, arc, along_y: false };
            let track = Track::of(&curve);
            let mut found = Vec::new();
            if track.crossings(u, &mut found) {
                let steps = 2000;
                let side = |k: u32| curve.point(f64::from(k) / f64::from(steps)).u > u;
                let changes = (0..steps).filter(|&k| side(k) != side(k + 1)).count();
                prop_assert!(found.len() >= changes);
                for t in found {
                    prop_assert!((track.point(t).u - u).abs() < 1e-9 * (1.0 + radius));
                }
            }
        }
    }
}
