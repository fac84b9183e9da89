//! How light colours are: alone, and where they are seen through, over white.
//!
//! What is to burn is as dark as a viewer shows it on a white ground, and a viewer blends channel
//! by channel in sRGB (W3C Compositing and Blending Level 1, 5.1: source over).

use std::sync::LazyLock;

/// Shares of red, green and blue in luminance (ITU-R BT.709-6, 3.2).
const WEIGHTS: [f64; 3] = [0.2126, 0.7152, 0.0722];

/// The luminance that an sRGB value stands for, both 0 to 1 (IEC 61966-2-1:1999, 5.2).
///
/// ```
/// use stave_toolpath::linear_of_srgb;
/// assert_eq!((linear_of_srgb(0.0), linear_of_srgb(1.0)), (0.0, 1.0));
/// assert!((linear_of_srgb(0.5) - 0.214_041).abs() < 1e-6);
/// ```
#[must_use]
pub fn linear_of_srgb(value: f64) -> f64 {
    if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// The sRGB value of a luminance, both 0 to 1: the way back.
///
/// ```
/// use stave_toolpath::{linear_of_srgb, srgb_of_linear};
/// assert!((srgb_of_linear(linear_of_srgb(0.3)) - 0.3).abs() < 1e-6);
/// ```
#[must_use]
pub fn srgb_of_linear(luminance: f64) -> f64 {
    match luminance {
        dark if dark <= 0.003_130_8 => 12.92 * dark,
        light => 1.055 * light.powf(1.0 / 2.4) - 0.055,
    }
}

/// The relative luminance of an sRGB colour, its parts and itself 0 to 1.
///
/// ```
/// assert!((stave_toolpath::luminance([1.0, 0.0, 0.0]) - 0.2126).abs() < 1e-9);
/// ```
#[must_use]
pub fn luminance(srgb: [f64; 3]) -> f64 {
    weighed(srgb.map(linear_of_srgb))
}

/// An sRGB value that is there to a share, as it looks over white.
///
/// ```
/// assert_eq!(stave_toolpath::over_white(0.0, 0.25), 0.75);
/// ```
#[must_use]
pub fn over_white(srgb: f64, share: f64) -> f64 {
    1.0 - share * (1.0 - srgb)
}

fn weighed([red, green, blue]: [f64; 3]) -> f64 {
    WEIGHTS[0] * red + WEIGHTS[1] * green + WEIGHTS[2] * blue
}

/// The same of parts that are 8 bits each.
#[derive(Debug)]
pub struct EightBits {
    linear: [f64; 256],
}

static EIGHT_BITS: LazyLock<EightBits> = LazyLock::new(|| EightBits {
    #[allow(clippy::cast_precision_loss)]
    linear: std::array::from_fn(|value| linear_of_srgb(value as f64 / 255.0)),
});

impl EightBits {
    /// The one table of all that 8 bits can say.
    #[must_use]
    pub fn table() -> &'static EightBits {
        &EIGHT_BITS
    }

    /// The luminance of a grey.
    #[must_use]
    #[inline]
    pub fn grey(&self, value: u8) -> f64 {
        self.linear[usize::from(value)]
    }

    /// The luminance of red, green and blue.
    #[must_use]
    #[inline]
    pub fn colour(&self, parts: [u8; 3]) -> f64 {
        weighed(parts.map(|part| self.grey(part)))
    }

    /// The luminance over white of parts that were multiplied by how much of them is there.
    ///
    /// ```
    /// use stave_toolpath::EightBits;
    /// let half = EightBits::table().over_white([0, 0, 0], 128);
    /// assert!((half - EightBits::table().grey(127)).abs() < 1e-12);
    /// ```
    #[must_use]
    #[inline]
    pub fn over_white(&self, multiplied: [u8; 3], cover: u8) -> f64 {
        self.colour(multiplied.map(|part| part.saturating_add(u8::MAX - cover)))
    }

    /// A part multiplied by how much of it is there, rounded as renderers do.
    ///
    /// ```
    /// assert_eq!(stave_toolpath::EightBits::multiplied(255, 77), 77);
    /// ```
    #[must_use]
    #[inline]
    #[allow(clippy::cast_possible_truncation)]
    pub fn multiplied(part: u8, cover: u8) -> u8 {
        ((u32::from(part) * u32::from(cover) + 127) / 255) as u8
    }
}
