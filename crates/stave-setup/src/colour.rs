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
}

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}
