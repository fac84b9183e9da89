//! Elliptical arcs from end points to centres.

use kurbo::{Arc, Point, Vec2};

/// An arc as path data tells it.
#[derive(Clone, Copy, Debug)]
pub(super) struct EndpointArc {
    pub(super) from: Point,
    pub(super) to: Point,
    pub(super) radii: Vec2,
    pub(super) rotation_rad: f64,
    pub(super) large: bool,
    pub(super) sweep: bool,
}

impl EndpointArc {
    /// The arc about its centre; `None` where it is a straight line (a radius of zero) or nothing (no distance).
    ///
    /// SVG 2, appendix B.2.4 and B.2.5: radii lose their sign, and too small ones are scaled up together. Angles grow from
    /// x to y, clockwise on a page whose y points down.
    pub(super) fn about_centre(&self) -> Option<Arc> {
        let (mut rx, mut ry) = (self.radii.x.abs(), self.radii.y.abs());
        if self.from == self.to || !(rx > 0.0 && ry > 0.0) {
            return None;
        }
        let (sin, cos) = self.rotation_rad.sin_cos();
        let half = (self.from - self.to) / 2.0;
        // The half chord in the ellipse's axes, then in units of its radii (B.2.4, eq. 5.1).
        let along = Vec2::new(cos * half.x + sin * half.y, -sin * half.x + cos * half.y);
        let mut unit = Vec2::new(along.x / rx, along.y / ry);
        let mut distance = unit.hypot();
        // B.2.5, eqs 6.1 to 6.3, with the root taken of Lambda.
        if distance > 1.0 {
            rx *= distance;
            ry *= distance;
            unit /= distance;
            distance = 1.0;
        }
        if !(distance > 0.0 && rx.is_finite() && ry.is_finite()) {
            return None;
        }
        // On the unit circle the centre lies square to the chord, at the height that the circle leaves (eq. 5.2).
        let height = (1.0 - distance * distance).max(0.0).sqrt() / distance;
        let side = if self.large == self.sweep { -1.0 } else { 1.0 };
        let centre = Vec2::new(unit.y, -unit.x) * (height * side);
        let (start, end) = ((unit - centre).atan2(), (-unit - centre).atan2());
        let mut sweep_rad = end - start;
        if self.sweep && sweep_rad < 0.0 {
            sweep_rad += std::f64::consts::TAU;
        } else if !self.sweep && sweep_rad > 0.0 {
            sweep_rad -= std::f64::consts::TAU;
        }
        let off = Vec2::new(centre.x * rx, centre.y * ry);
        let centre =
            self.from.midpoint(self.to) + Vec2::new(cos * off.x - sin * off.y, sin * off.x + cos * off.y);
        Some(Arc::new(centre, (rx, ry), start, sweep_rad, self.rotation_rad))
    }
}
