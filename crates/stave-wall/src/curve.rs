//! A point of a parametric outline.

/// A point of an outline given as a parametric curve, and how it moves with the parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParametricPoint {
    /// Distance along the axis, mm.
    pub at_mm: f64,
    /// Radius, mm, above 0.
    pub radius_mm: f64,
    /// Derivative of `at` with respect to the parameter, never below 0.
    pub at_rate: f64,
    /// Derivative of the radius with respect to the parameter.
    pub radius_rate: f64,
}

impl ParametricPoint {
    /// `ds/dp`: how fast the length along the meridian grows with the parameter.
    pub(crate) fn speed(&self) -> f64 {
        self.at_rate.hypot(self.radius_rate)
    }
}
