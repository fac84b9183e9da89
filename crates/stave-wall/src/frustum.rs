//! One straight run of the meridian: a cylinder or a cone frustum.

use crate::Section;

/// A straight run between two stations, reckoned from its lower end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frustum {
    pub(crate) s_mm: f64,
    pub(crate) at_mm: f64,
    pub(crate) radius_mm: f64,
    pub(crate) cos_slope: f64,
    pub(crate) sin_slope: f64,
    /// `∫ ds/r` from the foot of the wall to the lower end.
    pub(crate) conformal: f64,
    /// Whether the radius changes so little that the logarithm is its own two first terms.
    nearly_cylinder: bool,
}

/// Below this relative change of radius the third term of `ln(1 + x)/x = 1 − x/2 + x²/3 − …` is
/// under half a unit in the last place.
const SERIES_LIMIT: f64 = 1e-8;

impl Frustum {
    /// The run from `(at, radius)` to `(at_end, radius_end)`, its length, and its `∫ ds/r`.
    pub(crate) fn new(
        from: (f64, f64),
        to: (f64, f64),
        s_mm: f64,
        conformal: f64,
    ) -> (Frustum, f64, f64) {
        let (rise, widen) = (to.0 - from.0, to.1 - from.1);
        let length = rise.hypot(widen);
        let frustum = Frustum {
            s_mm,
            at_mm: from.0,
            radius_mm: from.1,
            cos_slope: rise / length,
            sin_slope: widen / length,
            conformal,
            nearly_cylinder: (widen / from.1).abs() < SERIES_LIMIT,
        };
        let conformal_length = frustum.conformal_along(length);
        (frustum, length, conformal_length)
    }

    #[inline]
    pub(crate) fn section(&self, s_mm: f64) -> Section {
        let along = s_mm - self.s_mm;
        Section {
            at_mm: self.at_mm + along * self.cos_slope,
            radius_mm: self.radius_mm + along * self.sin_slope,
            cos_slope: self.cos_slope,
            sin_slope: self.sin_slope,
        }
    }

    /// `∫ ds/r` over a stretch from the lower end: `ln(r/r₁)/sin φ`, without loss for a near
    /// cylinder.
    #[inline]
    pub(crate) fn conformal_along(&self, along_mm: f64) -> f64 {
        let relative = along_mm / self.radius_mm;
        let x = self.sin_slope * relative;
        if self.nearly_cylinder { relative * (1.0 - 0.5 * x) } else { x.ln_1p() / self.sin_slope }
    }

    /// The stretch from the lower end over which `∫ ds/r` has the given value: `r₁ (e^{q sin φ} −
    /// 1)/sin φ`.
    #[inline]
    pub(crate) fn along_of_conformal(&self, q: f64) -> f64 {
        let x = self.sin_slope * q;
        if self.nearly_cylinder {
            self.radius_mm * q * (1.0 + 0.5 * x)
        } else {
            self.radius_mm * x.exp_m1() / self.sin_slope
        }
    }
}
