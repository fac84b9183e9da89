//! Colours that pick elements of a drawing.

use std::fmt;

/// An opaque colour, by which an operation picks what it burns.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Colour {
    /// Red.
    pub red: u8,
    /// Green.
    pub green: u8,
    /// Blue.
    pub blue: u8,
}

impl Colour {
    /// Reads a colour as CSS writes it (CSS Color Module Level 3): `#rgb`, `#rrggbb`, `rgb(…)` or a
    /// name. `None` for anything else, and for colours with transparency, which burn no fainter.
    ///
    /// ```
    /// use stave_setup::Colour;
    /// assert_eq!(Colour::from_css("navy"), Colour::from_css("#000080"));
    /// assert_eq!(Colour::from_css("#1f3a5f").unwrap().to_string(), "#1f3a5f");
    /// ```
    #[must_use]
    pub fn from_css(text: &str) -> Option<Colour> {
        let colour: svgtypes::Color = text.trim().parse().ok()?;
        (colour.alpha == 255).then_some(Colour {
            red: colour.red,
            green: colour.green,
            blue: colour.blue,
        })
    }

    /// How bright it looks, black 0 to white 1: its relative luminance (WCAG 2.2, glossary).
    fn luminance(self) -> f64 {
        let parts = [self.red, self.green, self.blue];
        stave_toolpath::luminance(parts.map(|part| f64::from(part) / 255.0))
    }

    /// How well two colours are told apart, 1 for one colour to 21 for black on white (WCAG 2.2,
    /// "contrast ratio").
    ///
    /// ```
    /// use stave_setup::Colour;
    /// let contrast = |a, b| Colour::from_css(a).unwrap().contrast(Colour::from_css(b).unwrap());
    /// assert!((contrast("black", "white") - 21.0).abs() < 1e-9);
    /// assert!((contrast("#777777", "white") - 4.48).abs() < 0.005);
    /// ```
    #[must_use]
    pub fn contrast(self, other: Self) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }
}

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}
