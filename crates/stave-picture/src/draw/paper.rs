//! The paper that drawings are printed on.

use crate::svg::mm;

/// A4 (ISO 216), standing, mm: what all sheets are laid out on.
const A4_MM: (f64, f64) = (210.0, 297.0);
/// What a sheet laid out on A4 leaves bare at its left and right edge, and what the printer of an
/// office does not reach, mm.
const MARGIN_MM: f64 = 10.0;

/// Paper.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum SheetSize {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 inches (ANSI/ASME Y14.1, size A).
    Letter,
}

impl SheetSize {
    /// Width and height of a standing sheet, mm.
    #[must_use]
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Self::A4 => A4_MM,
            Self::Letter => (215.9, 279.4),
        }
    }

    /// The same of a sheet that lies.
    pub(crate) fn lying_mm(self) -> (f64, f64) {
        let (across, down) = self.size_mm();
        (down, across)
    }

    /// How what was laid out on a lying A4 sheet is carried to this one, as SVG has it: in its
    /// middle, as large as its margins leave; none where nothing changes.
    pub(crate) fn lying_transform(self) -> Option<String> {
        if self == Self::A4 {
            return None;
        }
        let ((width, height), (wide, high)) = (self.lying_mm(), Self::A4.lying_mm());
        let scale = (width - 2.0 * MARGIN_MM) / (wide - 2.0 * MARGIN_MM);
        let (x, y) = (0.5 * (width - scale * wide), 0.5 * (height - scale * high));
        Some(format!("transform=\"translate({} {}) scale({})\"", mm(x), mm(y), mm(scale)))
    }

    /// The same for one that stands, of which nothing reaches below what either sheet shows: at
    /// full size, in the middle from left to right.
    pub(crate) fn standing_transform(self) -> Option<String> {
        let x = 0.5 * (self.size_mm().0 - A4_MM.0);
        (self != Self::A4).then(|| format!("transform=\"translate({} 0)\"", mm(x)))
    }
}
