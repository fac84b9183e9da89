//! Colours, by which a drawing tells its operations apart.

use std::fmt;

/// An opaque colour.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Rgb {
    /// Red.
    pub red: u8,
    /// Green.
    pub green: u8,
    /// Blue.
    pub blue: u8,
}

impl Rgb {
    /// White: bare ware, where a drawing is black on white.
    pub const WHITE: Rgb = Rgb::new(255, 255, 255);

    /// A colour from its three parts.
    ///
    /// ```
    /// use stave_toolpath::art::Rgb;
    /// assert_eq!(Rgb::new(31, 58, 95).to_string(), "#1f3a5f");
    /// ```
    #[must_use]
    pub const fn new(red: u8, green: u8, blue: u8) -> Rgb {
        Rgb { red, green, blue }
    }
}

impl fmt::Display for Rgb {
    /// As CSS writes it: `#rrggbb`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}
