//! Colour by energy: pale straw for little, dark blue for most.

use stave_setup::{Colour, Look};

/// Lightness of the ramp's two ends, OKLab `L`. The ware is lighter than either.
const LIGHTNESS: (f64, f64) = (0.80, 0.24);
/// The blue-yellow axis at the two ends, OKLab `b`: the axis that people with red-green deficiency
/// see.
const BLUE_YELLOW: (f64, f64) = (0.09, -0.075);
/// The red-green axis stays where it is, OKLab `a`.
const RED_GREEN: f64 = 0.004;

/// The colour of a share of the most energy, 0 to 1 (clamped), sRGB.
///
/// A straight line in OKLab (Björn Ottosson, "A perceptual color space for image processing", 2020;
/// coefficients from memory), so that equal steps of energy look equal; its lightness falls all the
/// way, so that it reads in grey print and with any colour vision.
pub(crate) fn colour(share: f64) -> [u8; 3] {
    let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
    let mix = |(from, to): (f64, f64)| from + (to - from) * share;
    srgb(mix(LIGHTNESS), RED_GREEN, mix(BLUE_YELLOW))
}

/// The colour of a share of the most energy on ware of its own colours: a little burns clearly
/// already, as the page shows it.
pub(crate) fn burned(look: Look, share: f64) -> [u8; 3] {
    let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0).sqrt() };
    let mix = |from: u8, to: u8| {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        {
            (f64::from(from) + share * (f64::from(to) - f64::from(from))).round() as u8
        }
    };
    [
        mix(look.ware.red, look.burn.red),
        mix(look.ware.green, look.burn.green),
        mix(look.ware.blue, look.burn.blue),
    ]
}

/// A colour in the shade (under 1) or towards white (by what is over 1), as SVG writes it.
pub(crate) fn shade(of: Colour, by: f64) -> String {
    let part = |value: u8| {
        let value = f64::from(value);
        let shaded = if by <= 1.0 { value * by } else { value + (by - 1.0) * (255.0 - value) };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        {
            shaded.clamp(0.0, 255.0).round() as u8
        }
    };
    hex([part(of.red), part(of.green), part(of.blue)])
}

/// The colour as SVG and CSS write it.
pub(crate) fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn srgb(lightness: f64, a: f64, b: f64) -> [u8; 3] {
    let long = (lightness + 0.396_337_777_4 * a + 0.215_803_757_3 * b).powi(3);
    let middle = (lightness - 0.105_561_345_8 * a - 0.063_854_172_8 * b).powi(3);
    let short = (lightness - 0.089_484_177_5 * a - 1.291_485_548_0 * b).powi(3);
    [
        4.076_741_662_1 * long - 3.307_711_591_3 * middle + 0.230_969_929_2 * short,
        -1.268_438_004_6 * long + 2.609_757_401_1 * middle - 0.341_319_396_5 * short,
        -0.004_196_086_3 * long - 0.703_418_614_7 * middle + 1.707_614_701_0 * short,
    ]
    .map(|linear| {
        // The transfer curve of IEC 61966-2-1 (sRGB).
        let linear = linear.clamp(0.0, 1.0);
        let value = if linear <= 0.003_130_8 {
            12.92 * linear
        } else {
            1.055 * linear.powf(1.0 / 2.4) - 0.055
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        {
            (255.0 * value).round() as u8
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn linear(value: u8) -> f64 {
        let value = f64::from(value) / 255.0;
        if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    }

    /// Relative luminance of sRGB (IEC 61966-2-1).
    fn luminance(colour: [u8; 3]) -> f64 {
        let [r, g, b] = colour.map(linear);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    /// What a protanope and a deuteranope are left with, linear RGB in and out (Viénot, Brettel and
    /// Mollon, Color Research and Application 24, 1999, their reduced planes; rows from memory,
    /// rounded).
    fn dichromat(colour: [u8; 3]) -> [[f64; 3]; 2] {
        let [r, g, b] = colour.map(linear);
        let protan = [0.112 * r + 0.888 * g, 0.112 * r + 0.888 * g, 0.004 * r - 0.004 * g + b];
        let deutan = [0.293 * r + 0.707 * g, 0.293 * r + 0.707 * g, -0.022 * r + 0.022 * g + b];
        [protan, deutan]
    }

    #[test]
    fn every_step_is_darker_by_every_eye() {
        let steps: Vec<[u8; 3]> = (0..=32).map(|k| colour(f64::from(k) / 32.0)).collect();
        for pair in steps.windows(2) {
            assert!(luminance(pair[1]) < luminance(pair[0]), "{pair:?}");
            for (before, after) in dichromat(pair[0]).iter().zip(dichromat(pair[1])) {
                assert!(after[0] < before[0], "{pair:?}");
            }
        }
    }

    #[test]
    fn equal_steps_look_equal() {
        // CIE L*, another scale than the one the ramp is made in: the steps differ by less than a
        // fifth of their mean.
        let lightness = |colour: [u8; 3]| 116.0 * luminance(colour).cbrt() - 16.0;
        let steps: Vec<f64> = (0..=8).map(|k| lightness(colour(f64::from(k) / 8.0))).collect();
        let mean = (steps[0] - steps[8]) / 8.0;
        for pair in steps.windows(2) {
            assert!(((pair[0] - pair[1]) / mean - 1.0).abs() < 0.2, "{steps:?}");
        }
    }

    #[test]
    fn what_is_no_number_is_no_energy() {
        assert_eq!(colour(f64::NAN), colour(0.0));
        assert_eq!(colour(7.0), colour(1.0));
        assert_eq!(hex([0, 10, 255]), "#000aff");
    }
}
