//! The one place that knows inches.

/// Millimetres in an inch, exact by definition (international yard and pound agreement, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// The unit of the lengths in a file.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum LengthUnit {
    /// `"mm"`.
    #[default]
    Mm,
    /// `"in"`.
    Inch,
}

impl LengthUnit {
    /// How many mm one of it is.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Inch => MM_PER_INCH,
        }
    }
}
