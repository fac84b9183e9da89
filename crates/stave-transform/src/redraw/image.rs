//! The image of one curve, as curve fitting wants to see it.

use std::ops::Range;

use kurbo::common::{solve_cubic, solve_quadratic};
use kurbo::{
    BezPath, CubicBez, CurveFitSample, ParamCurve, ParamCurveDeriv, ParamCurveFit,
    ParamCurveNearest, PathSeg, Point, Vec2,
};
use stave_wall::Lay;

use super::Redraw;

/// How far inside its ends the rates of a curve are taken, as a part of it: on the side of a
/// station that it lies on.
const INSIDE: f64 = 1e-7;
/// How far from an end without direction one is looked for.
const BESIDE: f64 = 1e-3;

/// The shortest part of a curve that is fitted; what is shorter is drawn straight.
const SHORTEST: f64 = 1.0 / 4096.0;
/// Into how many parts a fitted stretch is looked at.
const CHECKS: u32 = 16;

/// The image on the page of a stretch of a flat curve.
pub(super) struct Image<'r, 'a> {
    pub(super) redraw: &'r Redraw<'a>,
    pub(super) lay: &'r Lay,
    pub(super) curve: &'r PathSeg,
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Image<'_, '_> {
    /// Adds cubics that follow a stretch of the image, each as long as the accuracy lets it be.
    ///
    /// The error that curve fitting tells is an estimate: it is looked at again.
    pub(super) fn fit(&self, range: Range<f64>, accuracy_mm: f64, out: &mut BezPath) {
        let cubic = kurbo::fit_to_cubic(self, range.clone(), accuracy_mm)
            .map(|(cubic, _)| cubic)
            .filter(|cubic| self.is_followed(cubic, &range));
        if let Some(cubic) = cubic {
            out.curve_to(cubic.p1, cubic.p2, self.point(range.end));
        } else if range.end - range.start > SHORTEST {
            let middle = 0.5 * (range.start + range.end);
            self.fit(range.start..middle, accuracy_mm, out);
            self.fit(middle..range.end, accuracy_mm, out);
        } else {
            out.line_to(self.point(range.end));
        }
    }

    /// Adds the image by the curve's control points, where the page is the flat plane but for scale
    /// ([`Redraw::is_affine`]).
    pub(super) fn carry(&self, out: &mut BezPath) {
        let part = self.curve.subsegment(self.from..self.to);
        let middle = part.eval(0.5);
        let place = self.redraw.place(self.lay, middle);
        let j = self.lay.jacobian(self.redraw.wall, middle.x, middle.y);
        let origin = self.redraw.on_page(&place);
        let carried = |p: Point| {
            let d = p - middle;
            let (along, around) = (j[0][0] * d.x + j[0][1] * d.y, j[1][0] * d.x + j[1][1] * d.y);
            let told_mm = self.redraw.told_radius_mm;
            origin + self.redraw.rig.page_rate(&place.section, along, around, told_mm)
        };
        let end = self.point(1.0);
        match part {
            PathSeg::Line(_) => out.line_to(end),
            PathSeg::Quad(quad) => out.quad_to(carried(quad.p1), end),
            PathSeg::Cubic(cubic) => out.curve_to(carried(cubic.p1), carried(cubic.p2), end),
        }
    }

    /// Whether a cubic stays within the tolerance on the wall.
    fn is_followed(&self, cubic: &CubicBez, range: &Range<f64>) -> bool {
        let tolerance_mm = self.redraw.tolerance_mm;
        (1..CHECKS).all(|k| {
            let t = range.start + (range.end - range.start) * f64::from(k) / f64::from(CHECKS);
            let place = self.redraw.place(self.lay, eval(self.curve, self.at(t)));
            let off = cubic.nearest(self.redraw.on_page(&place), 0.05 * tolerance_mm).distance_sq;
            off.sqrt() * self.redraw.stretch(&place) <= tolerance_mm
        })
    }

    fn at(&self, t: f64) -> f64 {
        self.from + (self.to - self.from) * t
    }

    fn point(&self, t: f64) -> Point {
        self.redraw.on_page(&self.redraw.place(self.lay, eval(self.curve, self.at(t))))
    }

    fn rate(&self, t: f64) -> Vec2 {
        let at = self.at(t.clamp(INSIDE, 1.0 - INSIDE));
        let flat = eval(self.curve, at);
        let d = rate(self.curve, at) * (self.to - self.from);
        let place = self.redraw.place(self.lay, flat);
        let j = self.lay.jacobian(self.redraw.wall, flat.x, flat.y);
        let (along, around) = (j[0][0] * d.x + j[0][1] * d.y, j[1][0] * d.x + j[1][1] * d.y);
        self.redraw.rig.page_rate(&place.section, along, around, self.redraw.told_radius_mm)
    }
}

impl ParamCurveFit for Image<'_, '_> {
    fn sample_pt_tangent(&self, t: f64, sign: f64) -> CurveFitSample {
        let mut tangent = self.rate(t);
        if tangent.hypot2() < 1e-18 {
            tangent = self.rate((t + BESIDE * sign.signum()).clamp(0.0, 1.0));
        }
        CurveFitSample { p: self.point(t), tangent }
    }

    fn sample_pt_deriv(&self, t: f64) -> (Point, Vec2) {
        (self.point(t), self.rate(t))
    }

    fn break_cusp(&self, _range: Range<f64>) -> Option<f64> {
        None
    }
}

pub(super) fn eval(curve: &PathSeg, t: f64) -> Point {
    curve.eval(t)
}

pub(super) fn end(curve: &PathSeg) -> Point {
    curve.eval(1.0)
}

fn rate(curve: &PathSeg, t: f64) -> Vec2 {
    match curve {
        PathSeg::Line(line) => line.p1 - line.p0,
        PathSeg::Quad(quad) => quad.deriv().eval(t).to_vec2(),
        PathSeg::Cubic(cubic) => cubic.deriv().eval(t).to_vec2(),
    }
}

/// The length of a curve's control polygon, mm: at least its own.
pub(super) fn length_at_most(curve: &PathSeg) -> f64 {
    let cubic = curve.to_cubic();
    cubic.p0.distance(cubic.p1) + cubic.p1.distance(cubic.p2) + cubic.p2.distance(cubic.p3)
}

/// Adds the parameters inside a curve at which it has a `u`.
pub(super) fn crossings(curve: &PathSeg, u_mm: f64, into: &mut Vec<f64>) {
    let off = |p: Point| p.x - u_mm;
    let roots = match curve {
        PathSeg::Line(line) => solve_quadratic(off(line.p0), line.p1.x - line.p0.x, 0.0).to_vec(),
        PathSeg::Quad(q) => {
            let (a, b, c) = (off(q.p0), off(q.p1), off(q.p2));
            solve_quadratic(a, 2.0 * (b - a), a - 2.0 * b + c).to_vec()
        }
        PathSeg::Cubic(q) => {
            let (a, b, c, d) = (off(q.p0), off(q.p1), off(q.p2), off(q.p3));
            solve_cubic(a, 3.0 * (b - a), 3.0 * (a - 2.0 * b + c), d - a + 3.0 * (b - c)).to_vec()
        }
    };
    // Closed forms lose digits; a step or two of Newton's method gives them back.
    let polished = |t: f64| {
        (0..3).fold(t, |t, _| {
            let step = off(eval(curve, t)) / rate(curve, t).x;
            if step.abs() < 1e-2 { t - step } else { t }
        })
    };
    into.extend(roots.into_iter().map(polished).filter(|t| *t > 0.0 && *t < 1.0));
}

/// Where a function changes its sign.
pub(super) fn bisect(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let rises = f(low) < 0.0;
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if (f(middle) < 0.0) == rises { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Whether points lie within `within_mm` of the straight line from the first to the last.
pub(super) fn is_straight(points: &[Point], within_mm: f64) -> bool {
    let (Some(&first), Some(&last)) = (points.first(), points.last()) else { return true };
    let along = last - first;
    let length = along.hypot();
    if length == 0.0 {
        return points.iter().all(|p| p.distance(first) <= within_mm);
    }
    points.iter().all(|p| (along.cross(*p - first) / length).abs() <= within_mm)
}
