//! What of a drawing is burned, how, and by which lay: what [`crate::plan_art`] is given.

use kurbo::Affine;
use stave_setup::AirLevel;
use stave_toolpath::art::{self, Art, Work};
use stave_wall::Lay;

/// A part of a shape that an operation burns.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Part {
    /// The shape, an index into the art's.
    pub shape: usize,
    /// What of it.
    pub part: art::Part,
    /// Its piece: the caller's number, which comes back with whatever concerns it.
    pub piece: usize,
    /// Its lay, an index into [`Burns::lays`].
    pub lay: usize,
}

/// What is burned in one way.
#[derive(Clone, Debug, PartialEq)]
pub struct Operation {
    /// Areas or lines.
    pub work: Work,
    /// Speed on the wall, mm/s, more than 0.
    pub speed_mm_per_s: f64,
    /// Power at that speed, percent, more than 0.
    pub power_percent: f64,
    /// Spacing of scan lines on the wall, mm; areas need one.
    pub line_spacing_mm: Option<f64>,
    /// How often it is burned.
    pub passes: u32,
    /// Its air assist.
    pub air: AirLevel,
    /// Whether the energy per area (for lines, per length) is held.
    pub even_dose: bool,
    /// What it burns, in the order of the drawing.
    pub parts: Vec<Part>,
}

/// All that is burned of a drawing.
#[derive(Clone, Debug)]
pub struct Burns<'a> {
    /// The drawing.
    pub art: &'a Art,
    /// From its page, mm, to the flat plane, mm; it keeps lengths.
    pub to_flat: Affine,
    /// The lays.
    pub lays: &'a [Lay],
    /// The operations, in the order in which they are burned.
    pub operations: Vec<Operation>,
}
