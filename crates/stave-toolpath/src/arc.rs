//! Circular arcs and helices in the three planes of RS274/NGC.

use crate::Position;

/// The plane an arc lies in. The first axis of each pair is the one RS274/NGC names first
/// (4.3.6.1): counter-clockwise turns the first axis towards the second.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Plane {
    /// G17: first axis X, second Y, normal Z.
    #[default]
    Xy,
    /// G18: first axis Z, second X, normal Y.
    Zx,
    /// G19: first axis Y, second Z, normal X.
    Yz,
}

/// An arc about a centre, from a start that travels with the move that holds it.
///
/// # Units
/// mm and radians. `sweep_rad` is signed: positive is counter-clockwise seen from the positive end
/// of the plane's normal. The axis along the normal and the rotary axes move evenly with the angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// The plane the circle lies in.
    pub plane: Plane,
    /// The centre in machine coordinates, mm; its component along the normal is the start's.
    pub centre: [f64; 3],
    /// Signed angle from start to end; never zero, at most one turn either way.
    pub sweep_rad: f64,
}

impl Arc {
    /// The indices (x 0, y 1, z 2) of the plane's first and second axis and of its normal.
    #[must_use]
    pub fn axes(&self) -> (usize, usize, usize) {
        match self.plane {
            Plane::Xy => (0, 1, 2),
            Plane::Zx => (2, 0, 1),
            Plane::Yz => (1, 2, 0),
        }
    }

    /// The point at fraction `t` (0 to 1) of the arc that starts at `from` and ends at `to`.
    ///
    /// The radius runs evenly from the start's to the end's, which differ by no more than the
    /// reader's radius tolerance, so that both ends are met exactly.
    ///
    /// ```
    /// use stave_toolpath::{Arc, Plane, Position};
    /// let from = Position { x: 10.0, ..Position::default() };
    /// let to = Position { y: 10.0, ..Position::default() };
    /// let quarter_rad = std::f64::consts::FRAC_PI_2;
    /// let arc = Arc { plane: Plane::Xy, centre: [0.0; 3], sweep_rad: quarter_rad };
    /// let middle = arc.point(&from, &to, 0.5);
    /// assert!((middle.x - 10.0 * 0.5_f64.sqrt()).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn point(&self, from: &Position, to: &Position, t: f64) -> Position {
        if t <= 0.0 {
            return *from;
        }
        if t >= 1.0 {
            return *to;
        }
        let (first, second, normal) = self.axes();
        let start = [from.x, from.y, from.z];
        let end = [to.x, to.y, to.z];
        let (r0, a0) = polar(&start, &self.centre, first, second);
        let (r1, _) = polar(&end, &self.centre, first, second);
        let radius = r0 + (r1 - r0) * t;
        let (sin, cos) = (a0 + self.sweep_rad * t).sin_cos();
        let mut p = [0.0; 3];
        p[first] = self.centre[first] + radius * cos;
        p[second] = self.centre[second] + radius * sin;
        p[normal] = start[normal] + (end[normal] - start[normal]) * t;
        let lerp = |a: f64, b: f64| a + (b - a) * t;
        Position {
            x: p[0],
            y: p[1],
            z: p[2],
            a: lerp(from.a, to.a),
            b: lerp(from.b, to.b),
            c: lerp(from.c, to.c),
        }
    }

    /// The radius at the start, mm.
    #[must_use]
    pub fn radius_mm(&self, from: &Position) -> f64 {
        let (first, second, _) = self.axes();
        polar(&[from.x, from.y, from.z], &self.centre, first, second).0
    }

    /// The length of the arc or helix, mm: radius times sweep, and the rise along the normal.
    ///
    /// ```
    /// use stave_toolpath::{Arc, Plane, Position};
    /// let from = Position { x: 5.0, ..Position::default() };
    /// let arc = Arc { plane: Plane::Xy, centre: [0.0; 3], sweep_rad: std::f64::consts::TAU };
    /// assert!((arc.length_mm(&from, &from) - 31.415_926_535).abs() < 1e-8);
    /// ```
    #[must_use]
    pub fn length_mm(&self, from: &Position, to: &Position) -> f64 {
        let (_, _, normal) = self.axes();
        let rise = [to.x - from.x, to.y - from.y, to.z - from.z][normal];
        (self.radius_mm(from) * self.sweep_rad).hypot(rise)
    }
}

fn polar(p: &[f64; 3], centre: &[f64; 3], first: usize, second: usize) -> (f64, f64) {
    let (a, b) = (p[first] - centre[first], p[second] - centre[second]);
    (a.hypot(b), b.atan2(a))
}
