//! Spot and depth of focus, which several crates need: a measured value beats the formula.
//!
//! The formulas are those of a Gaussian beam of quality M² (ISO 11146 defines M²; Siegman,
//! *Lasers*, 1986, ch. 17).

use std::f64::consts::PI;

use crate::{Beam, Lens};

/// How much larger the spot may grow where it still counts as in focus.
pub const SPOT_GROWTH: f64 = 0.10;

impl Lens {
    /// The diameter of the spot in focus, mm: as measured, else `4 M² λ f / (π D)`; `None` where
    /// neither is known.
    ///
    /// ```
    /// use stave_setup::{Beam, Lens};
    /// let beam = Beam { wavelength_um: 10.6, diameter_at_lens_mm: 7.0, m2: 1.2 };
    /// let lens = Lens {
    ///     name: "medium".into(),
    ///     focal_length_mm: 63.5,
    ///     spot_mm: None,
    ///     depth_of_focus_mm: None,
    /// };
    /// let spot_mm = lens.spot_in_focus_mm(Some(&beam)).unwrap();
    /// assert!((spot_mm - 0.14692).abs() < 1e-5);
    /// ```
    #[must_use]
    pub fn spot_in_focus_mm(&self, beam: Option<&Beam>) -> Option<f64> {
        self.spot_mm.or_else(|| {
            let beam = beam?;
            let wavelength_mm = beam.wavelength_um / 1000.0;
            Some(
                4.0 * beam.m2 * wavelength_mm * self.focal_length_mm
                    / (PI * beam.diameter_at_lens_mm),
            )
        })
    }

    /// The diameter of the spot so far from focus, mm: `d √(1 + (z/z_R)²)` (ISO 11146-1: the width
    /// of a beam along its axis), with `z_R` as the depth of focus has it.
    ///
    /// ```
    /// use stave_setup::Lens;
    /// let lens = Lens {
    ///     name: "measured".into(),
    ///     focal_length_mm: 63.5,
    ///     spot_mm: Some(0.2),
    ///     // ± 2 mm for a tenth more: the Rayleigh length is 2/√0.21 mm.
    ///     depth_of_focus_mm: Some(2.0),
    /// };
    /// assert!((lens.spot_at_mm(None, 2.0).unwrap() - 0.22).abs() < 1e-12);
    /// assert_eq!(lens.spot_at_mm(None, 0.0), Some(0.2));
    /// ```
    #[must_use]
    pub fn spot_at_mm(&self, beam: Option<&Beam>, defocus_mm: f64) -> Option<f64> {
        let spot_mm = self.spot_in_focus_mm(beam)?;
        if defocus_mm == 0.0 {
            return Some(spot_mm);
        }
        Some(spot_mm * (defocus_mm / self.rayleigh_mm(beam)?).hypot(1.0))
    }

    /// How far from focus the spot's area has doubled, mm: what the depth of focus tells of it;
    /// `None` where that is not known.
    #[must_use]
    pub fn rayleigh_mm(&self, beam: Option<&Beam>) -> Option<f64> {
        let growth = 1.0 + SPOT_GROWTH;
        let depth_mm = self.half_depth_of_focus_mm(beam, SPOT_GROWTH)?;
        Some(depth_mm / (growth * growth - 1.0).sqrt())
    }

    /// The half depth of focus, ± mm: as measured, else `z_R √((1+g)² − 1)` with `z_R = π d² / (4
    /// M² λ)` and the growth `g` of the spot; `None` where the beam is not known.
    #[must_use]
    pub fn half_depth_of_focus_mm(&self, beam: Option<&Beam>, growth: f64) -> Option<f64> {
        self.depth_of_focus_mm.or_else(|| {
            let spot_mm = self.spot_in_focus_mm(beam)?;
            let beam = beam?;
            let rayleigh_mm =
                PI * spot_mm * spot_mm / (4.0 * beam.m2 * beam.wavelength_um / 1000.0);
            Some(rayleigh_mm * ((1.0 + growth) * (1.0 + growth) - 1.0).sqrt())
        })
    }
}
