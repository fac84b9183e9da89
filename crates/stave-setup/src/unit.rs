//! The one place that knows inches.

use stave_toolpath::number::fixed;

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
    /// The word for it in files and in pictures.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Inch => "in",
        }
    }

    /// What lengths are in, in words: "lengths in inches".
    #[must_use]
    pub fn many(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Inch => "inches",
        }
    }

    /// A length as a person reads it in this unit: mm rounded to so many decimals, inches to one
    /// more, since a hundredth of one is a quarter of a millimetre.
    ///
    /// ```
    /// use stave_setup::LengthUnit;
    /// assert_eq!(LengthUnit::Mm.figure(88.9, 1), "88.9");
    /// assert_eq!(LengthUnit::Inch.figure(88.9, 1), "3.5");
    /// assert_eq!(LengthUnit::Inch.figure(33.0, 1), "1.3");
    /// assert_eq!(LengthUnit::Inch.figure(34.0, 1), "1.34");
    /// ```
    #[must_use]
    pub fn figure(self, length_mm: f64, decimals: u32) -> String {
        match self {
            Self::Mm => fixed(length_mm, decimals),
            Self::Inch => fixed(self.of_mm(length_mm), decimals + 1),
        }
    }

    /// The same with its unit.
    #[must_use]
    pub fn told(self, length_mm: f64, decimals: u32) -> String {
        format!("{} {}", self.figure(length_mm, decimals), self.word())
    }

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
