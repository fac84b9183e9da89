//! What of a drawing is burned, how, and by which lay: what [`crate::plan_art`] is given.

use kurbo::Affine;
use stave_setup::AirLevel;
use stave_toolpath::art::{self, Art, Work};
use stave_wall::Lay;

use crate::shade::Shade;

/// A part of a shape that an operation burns.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct BurnPart {
    /// The shape, an index into the art's.
    pub shape: usize,
    /// What of it.
    pub part: art::Part,
    /// Its piece: the caller's number, which comes back with whatever concerns it.
    pub piece: usize,
    /// Its lay, an index into [`Burns::lays`].
    pub lay: usize,
}

/// Where scan lines lie.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum LineRule {
    /// The whole number of motor steps nearest to the spacing asked, at most a tenth wider.
    #[default]
    Nearest,
    /// The most motor steps that are no wider than the spacing asked at the largest diameter.
    NeverWider,
    /// At these turns, each on the motor step nearest to it.
    At {
        /// The turn of a line.
        origin_rad: f64,
        /// From one line to the next, more than 0.
        step_rad: f64,
    },
}

/// Which way scan lines run.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum ScanWay {
    /// Along the axis, the work still under the moving head.
    #[default]
    Along,
    /// Around at a constant place, the work turning under the still head.
    Around,
}

impl ScanWay {
    /// The other.
    #[must_use]
    pub fn across(self) -> Self {
        match self {
            Self::Along => Self::Around,
            Self::Around => Self::Along,
        }
    }
}

/// What is burned in one way.
#[derive(Clone, Debug, PartialEq)]
pub struct BurnOperation {
    /// Areas, lines or pictures.
    pub work: Work,
    /// Speed on the wall, mm/s, more than 0.
    pub speed_mm_per_s: f64,
    /// Power at that speed, percent, more than 0.
    pub power_percent: f64,
    /// Spacing of scan lines on the wall, mm; areas and pictures need one.
    pub line_spacing_mm: Option<f64>,
    /// Where its scan lines lie, those along the axis.
    pub lines: LineRule,
    /// Which way they run; those that are given by their turns run along the axis.
    pub scan: ScanWay,
    /// How often it is burned.
    pub passes: u32,
    /// Whether each pass is burned once more by lines that run across, areas and pictures.
    pub cross: bool,
    /// Its air assist.
    pub air: AirLevel,
    /// Whether the energy per area (for lines, per length) is held.
    pub even_dose: bool,
    /// Whether every scan line goes the same way.
    pub one_way: bool,
    /// Over how much of the wall the seam of a full wrap fades, mm.
    pub fade_mm: f64,
    /// How much farther the head is than in focus, mm.
    pub defocus_mm: f64,
    /// The width of what a burn marks, mm: what is narrower is told. `None` where it is not known,
    /// or not to be told.
    pub spot_mm: Option<f64>,
    /// How strongly each place burns; `None` where all burn alike.
    pub shade: Option<Shade>,
    /// What it burns, in the order of the drawing.
    pub parts: Vec<BurnPart>,
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
    pub operations: Vec<BurnOperation>,
}
