//! The uppermost line of the wall, under the beam, when the rotary is tilted.

use crate::Section;

/// The crest of a wall whose axis is raised by a tilt.
///
/// The tilt `τ` is positive where it raises the end with the larger `at`. A point of the meridian
/// at `(z, r)` then lies at `X = z cos τ − r sin τ` along the beam's rail and at the height `H = z
/// sin τ + r cos τ`: the meridian's half plane, turned by `τ`. Hence `dX/ds = cos(φ + τ)` and
/// `dH/ds = sin(φ + τ)`.
///
/// ```
/// use stave_wall::{Crest, Section};
///
/// // A wall that narrows by 3 degrees lies level when its far end is raised by 3 degrees.
/// let slope = -3_f64.to_radians();
/// let (sin_slope, cos_slope) = slope.sin_cos();
/// let section = Section { at_mm: 50.0, radius_mm: 30.0, cos_slope, sin_slope };
/// let crest = Crest::new(3_f64.to_radians());
/// assert!(crest.height_rate(&section).abs() < 1e-15);
/// assert!((crest.along_rate(&section) - 1.0).abs() < 1e-15);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crest {
    cos_tilt: f64,
    sin_tilt: f64,
}

impl Crest {
    /// The crest under a tilt in rad, positive where the end with the larger `at` is raised.
    pub fn new(tilt_rad: f64) -> Crest {
        Crest { cos_tilt: tilt_rad.cos(), sin_tilt: tilt_rad.sin() }
    }

    /// Place of the crest along the beam's rail, mm: `X = z cos τ − r sin τ`.
    #[inline]
    pub fn along_mm(&self, section: &Section) -> f64 {
        section.at_mm * self.cos_tilt - section.radius_mm * self.sin_tilt
    }

    /// Height of the crest above the axis at `at` = 0, mm: `H = z sin τ + r cos τ`.
    #[inline]
    pub fn height_mm(&self, section: &Section) -> f64 {
        section.at_mm * self.sin_tilt + section.radius_mm * self.cos_tilt
    }

    /// `dX/ds = cos(φ + τ)`: 1 where the wall lies level, 0 where it stands upright.
    #[inline]
    pub fn along_rate(&self, section: &Section) -> f64 {
        section.cos_slope * self.cos_tilt - section.sin_slope * self.sin_tilt
    }

    /// `dH/ds = sin(φ + τ)`.
    #[inline]
    pub fn height_rate(&self, section: &Section) -> f64 {
        section.sin_slope * self.cos_tilt + section.cos_slope * self.sin_tilt
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A point of the meridian turned by the tilt, and how it moves along the wall, under tilts and
    /// slopes of either sign.
    #[test]
    fn place_and_rates_are_those_of_the_turned_meridian() {
        for tilt_rad in [-0.4_f64, -0.05, 0.0, 0.2, 0.7] {
            for slope_rad in [-0.9_f64, -0.3, 0.0, 0.5] {
                let (sin_slope, cos_slope) = slope_rad.sin_cos();
                let at = |s_mm: f64| Section {
                    at_mm: 70.0 + s_mm * cos_slope,
                    radius_mm: 30.0 + s_mm * sin_slope,
                    cos_slope,
                    sin_slope,
                };
                let crest = Crest::new(tilt_rad);
                let (here, there) = (at(0.0), at(1.0));
                // As a distance from the axis' origin and an angle.
                let (far, angle) = (70_f64.hypot(30.0), 30_f64.atan2(70.0) + tilt_rad);
                assert!((crest.along_mm(&here) - far * angle.cos()).abs() < 1e-12);
                assert!((crest.height_mm(&here) - far * angle.sin()).abs() < 1e-12);
                let along = crest.along_mm(&there) - crest.along_mm(&here);
                let height = crest.height_mm(&there) - crest.height_mm(&here);
                assert!((crest.along_rate(&here) - along).abs() < 1e-12, "{tilt_rad} {slope_rad}");
                assert!(
                    (crest.height_rate(&here) - height).abs() < 1e-12,
                    "{tilt_rad} {slope_rad}"
                );
            }
        }
    }
}
