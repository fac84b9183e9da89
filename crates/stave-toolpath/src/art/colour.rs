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

impl Rgb {
    /// Whether paint of this colour and opacity, over white, is bare ware: white, or so near to it
    /// that tracing and export left it for white. Its relative luminance is above 0.97: linear
    /// light by sRGB's curve (IEC 61966-2-1) weighed as in Rec. ITU-R BT.709.
    ///
    /// ```
    /// use stave_toolpath::art::Rgb;
    /// assert!(Rgb::new(254, 255, 255).is_bare(1.0) && Rgb::new(0, 0, 0).is_bare(0.01));
    /// assert!(!Rgb::new(250, 250, 250).is_bare(1.0) && !Rgb::new(255, 255, 0).is_bare(1.0));
    /// ```
    #[must_use]
    pub fn is_bare(&self, opacity: f64) -> bool {
        const LEAST_LUMINANCE: f64 = 0.97;
        self.luminance(opacity) > LEAST_LUMINANCE
    }

    /// The relative luminance of paint of this colour and opacity over white, 0 to 1: linear light
    /// by sRGB's curve (IEC 61966-2-1) weighed as in Rec. ITU-R BT.709.
    #[must_use]
    pub fn luminance(&self, opacity: f64) -> f64 {
        let parts = [self.red, self.green, self.blue].map(|part| f64::from(part) / 255.0);
        crate::luminance(parts.map(|part| crate::over_white(part, opacity)))
    }
}

impl fmt::Display for Rgb {
    /// As CSS writes it: `#rrggbb`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}
