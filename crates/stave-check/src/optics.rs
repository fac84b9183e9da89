//! What a lens makes of a beam.

use stave_setup::{Beam, Lens, SPOT_GROWTH};

/// The finest sensible spacing of scan lines, as a share of the spot: closer, every place is burned
/// more than twice and nothing finer is drawn (common practice, no source).
const FINEST_SPACING_OF_SPOT: f64 = 0.5;

/// A lens's figures, all mm; `None` where neither the lens nor the beam file tells.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Optics {
    /// Diameter of the spot in focus.
    pub spot_mm: Option<f64>,
    /// The half depth of focus, ±: how far from focus the spot is at most a tenth larger.
    pub half_depth_mm: Option<f64>,
    /// How far from focus the spot's area has doubled: the Rayleigh length.
    pub rayleigh_mm: Option<f64>,
    /// The finest sensible spacing of scan lines: half the spot.
    pub finest_spacing_mm: Option<f64>,
}

/// The figures of a lens: what was measured, else the formulas of DESIGN "Optics" for a spot that
/// grows by a tenth.
///
/// Where only the depth of focus is measured, the Rayleigh length is reckoned from it.
#[must_use]
pub fn optics(lens: &Lens, beam: Option<&Beam>) -> Optics {
    let spot_mm = lens.spot_in_focus_mm(beam);
    Optics {
        spot_mm,
        half_depth_mm: lens.half_depth_of_focus_mm(beam, SPOT_GROWTH),
        rayleigh_mm: lens.rayleigh_mm(beam),
        finest_spacing_mm: spot_mm.map(|spot| FINEST_SPACING_OF_SPOT * spot),
    }
}
