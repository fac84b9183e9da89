//! The flat sheet that rolls up into one straight run of the wall.

use std::f64::consts::TAU;

use crate::wall::Body;
use crate::{Section, Wall};

/// The development of a cone frustum or cylinder, as a sheet-metal worker cuts it: a ring sector,
/// or a rectangle.
///
/// On the sheet `x` runs around with growing turn and `y` along the meridian with growing `s`; the
/// origin is the lower end of the run at turn 0, where both axes touch the wall. Nothing is
/// reckoned from the apex, so a near cylinder keeps its digits.
///
/// # References
/// E. M. Longfield, *Sheet Metal Drafting* (McGraw-Hill 1921): frustum of a right cone.
///
/// ```
/// use stave_wall::{Development, Station, Wall, WallShape};
/// // A reducer from 5 to 8 across, 4 high: its net has radii of 7.12 and 11.39 and a sector of
/// // 126.4 degrees.
/// let stations = [Station { at_mm: 0.0, radius_mm: 2.5 }, Station { at_mm: 4.0, radius_mm: 4.0 }];
/// let wall = Wall::from_stations(&stations, WallShape::Straight)?;
/// let sheet = Development::of_span(&wall, 0).unwrap();
/// let (inner_mm, outer_mm) = sheet.radii_mm().unwrap();
/// assert!((inner_mm - 7.12).abs() < 0.005 && (outer_mm - 11.39).abs() < 0.005);
/// assert!((sheet.sector_rad().to_degrees() - 126.4).abs() < 0.05);
/// # Ok::<(), stave_wall::WallError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Development {
    from_s_mm: f64,
    lower: Section,
    slant_mm: f64,
}

impl Development {
    /// The sheet of one span of a straight wall; `None` for a smooth wall, which has none, or no
    /// such span.
    pub fn of_span(wall: &Wall, span: usize) -> Option<Development> {
        let ends = wall.span_ends_mm().get(span..=span.checked_add(1)?)?;
        match &wall.body {
            Body::Straight(_) => Some(Development {
                from_s_mm: ends[0],
                lower: wall.section_in(span, ends[0]),
                slant_mm: ends[1] - ends[0],
            }),
            Body::Curved { .. } => None,
        }
    }

    /// Slant height, mm.
    pub fn slant_mm(&self) -> f64 {
        self.slant_mm
    }

    /// Inner and outer radius of the ring sector, mm; `None` for a cylinder, whose sheet is a
    /// rectangle.
    pub fn radii_mm(&self) -> Option<(f64, f64)> {
        let k = self.lower.sin_slope;
        let upper_mm = self.lower.radius_mm + k * self.slant_mm;
        let radii = (
            self.lower.radius_mm.min(upper_mm) / k.abs(),
            self.lower.radius_mm.max(upper_mm) / k.abs(),
        );
        (k != 0.0 && radii.1.is_finite()).then_some(radii)
    }

    /// Angle of the ring sector for a full turn, rad: `2π |sin φ|`, 0 for a cylinder.
    pub fn sector_rad(&self) -> f64 {
        TAU * self.lower.sin_slope.abs()
    }

    /// The point `(x, y)` of the sheet, mm, that rolls up to a place of the wall. The turn is not
    /// folded.
    pub fn point_mm(&self, s_mm: f64, turn_rad: f64) -> (f64, f64) {
        let k = self.lower.sin_slope;
        let along_mm = s_mm - self.from_s_mm;
        let radius_mm = self.lower.radius_mm + k * along_mm;
        // With ψ = k θ: x = (r/k) sin ψ, y = s − (r/k)(1 − cos ψ); both ratios have their limits at
        // k θ = 0.
        let half = 0.5 * k * turn_rad;
        let sinc = if half.abs() < 1e-9 { 1.0 } else { half.sin() / half };
        let around_mm = radius_mm * turn_rad * sinc;
        (around_mm * half.cos(), along_mm - around_mm * half.sin())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Station, WallShape};

    /// On the sheet a place lies as far from the apex as along the cone, and its angle there is the
    /// turn times the sine of the slope.
    #[test]
    fn points_lie_about_the_apex() {
        let stations = [(0.0, 30.0), (40.0, 45.0), (70.0, 28.0)]
            .map(|(at_mm, radius_mm)| Station { at_mm, radius_mm });
        let wall = Wall::from_stations(&stations, WallShape::Straight).unwrap();
        for span in 0..2 {
            let sheet = Development::of_span(&wall, span).unwrap();
            let from_s_mm = wall.span_ends_mm()[span];
            let section = wall.section_in(span, from_s_mm);
            let k = section.sin_slope;
            // Along the middle of the sheet it is `radius/k` from the first end to the apex.
            let apex_mm = -section.radius_mm / k;
            for (along_mm, turn_rad) in [(0.0, 0.4), (5.0, -1.2), (17.0, 2.0), (30.0, 0.0)] {
                let (x, y) = sheet.point_mm(from_s_mm + along_mm, turn_rad);
                let far_mm = (along_mm - apex_mm).abs();
                assert!((x.hypot(y - apex_mm) - far_mm).abs() < 1e-9, "{span} {along_mm}: {x} {y}");
                let angle = (x / (y - apex_mm).abs()).atan();
                assert!((angle - k.abs() * turn_rad).abs() < 1e-9, "{span} {turn_rad}: {angle}");
            }
        }
    }
}
