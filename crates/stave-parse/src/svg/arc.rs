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
    /// The arc about its centre; `None` where it is a straight line (a radius of zero) or nothing
    /// (no distance).
    ///
    /// SVG 2, appendix B.2.4 and B.2.5: radii lose their sign, and too small ones are scaled up
    /// together. Angles grow from x to y, clockwise on a page whose y points down.
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
        // On the unit circle the centre lies square to the chord, at the height that the circle
        // leaves (eq. 5.2).
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
        let centre = self.from.midpoint(self.to)
            + Vec2::new(cos * off.x - sin * off.y, sin * off.x + cos * off.y);
        Some(Arc::new(centre, (rx, ry), start, sweep_rad, self.rotation_rad))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SVG 2, appendix B.2.4, worked in 15 digits.
    #[test]
    fn centres_are_the_appendix_s() {
        let table = include_str!("../../../../fixtures/reference/D_arc_center.csv");
        let rows: Vec<Vec<f64>> = table
            .lines()
            .skip(1)
            .map(|line| line.split(',').map(|n| n.parse().unwrap()).collect())
            .collect();
        assert!(rows.len() >= 8);
        for row in rows {
            let arc = EndpointArc {
                from: Point::new(row[0], row[1]),
                radii: Vec2::new(row[2], row[3]),
                rotation_rad: row[4].to_radians(),
                large: row[5] != 0.0,
                sweep: row[6] != 0.0,
                to: Point::new(row[7], row[8]),
            };
            let found = arc.about_centre().unwrap();
            let close = |found: f64, expected: f64| {
                assert!(
                    (found - expected).abs() < 1e-9 * expected.abs().max(1.0),
                    "{row:?}: {found}"
                );
            };
            close(found.radii.x, row[9]);
            close(found.radii.y, row[10]);
            close(found.center.x, row[11]);
            close(found.center.y, row[12]);
            let turns = (found.start_angle.to_degrees() - row[13]) / 360.0;
            close(turns - turns.round(), 0.0);
            close(found.sweep_angle.to_degrees(), row[14]);
        }
    }

    #[test]
    fn what_is_no_arc() {
        let check = |radii: (f64, f64), to: (f64, f64)| {
            EndpointArc {
                from: Point::ZERO,
                to: to.into(),
                radii: radii.into(),
                rotation_rad: 1.0,
                large: true,
                sweep: false,
            }
            .about_centre()
        };
        assert!(check((0.0, 5.0), (1.0, 0.0)).is_none());
        assert!(check((5.0, f64::NAN), (1.0, 0.0)).is_none());
        assert!(check((5.0, 5.0), (0.0, 0.0)).is_none());
        assert!(check((-5.0, 5.0), (10.0, 0.0)).is_some());
        assert!(check((1e-300, 1e300), (1e-300, 0.0)).is_none_or(|arc| arc.center.is_finite()));
    }
}
