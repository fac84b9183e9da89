//! What the wall is like at one place of its meridian.

/// One place of the meridian: where it is and how it slopes.
///
/// The slope `φ` is the angle of the meridian against the axis, positive where the wall widens with
/// growing `at`; `tan φ = dr/dz`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Distance along the axis, mm.
    pub at_mm: f64,
    /// Radius of the wall, mm.
    pub radius_mm: f64,
    /// `cos φ = dz/ds`, 0 to 1.
    pub cos_slope: f64,
    /// `sin φ = dr/ds`, −1 to 1.
    pub sin_slope: f64,
}

impl Section {
    /// The slope `φ` of the wall against the axis, rad, −π/2 to π/2.
    pub fn slope_rad(&self) -> f64 {
        self.sin_slope.atan2(self.cos_slope)
    }
}
