//! The one place that knows inches.

/// Millimetres in an inch, exact by definition (international yard and pound agreement, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// The unit of the lengths in a file.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum LengthUnit {
    /// `"mm"`.
    #[cfg_attr(feature = "serde", serde(rename = "mm"))]
    #[default]
    Mm,
    /// `"in"`.
    #[cfg_attr(feature = "serde", serde(rename = "in"))]
    Inch,
}

impl LengthUnit {
    /// A length in this unit, in mm.
    ///
    /// ```
    /// use stave_setup::LengthUnit;
    /// assert_eq!(LengthUnit::Inch.to_mm(3.5), 88.9);
    /// ```
    #[must_use]
    pub fn to_mm(self, length: f64) -> f64 {
        match self {
            Self::Mm => length,
            // In two steps, as 254 is exact and 25.4 is not: an inch size of few decimals gets the
            // nearest number.
            Self::Inch => length * 254.0 / 10.0,
        }
    }

    /// A length in mm, in this unit.
    #[must_use]
    pub fn of_mm(self, length_mm: f64) -> f64 {
        match self {
            Self::Mm => length_mm,
            Self::Inch => length_mm / MM_PER_INCH,
        }
    }
}
