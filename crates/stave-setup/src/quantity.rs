//! Numbers and lengths as people type them on a command line.

use crate::LengthUnit;

/// A plain decimal number: sign, digits, point, exponent. Unlike `f64::from_str`, no `inf`, `nan` or overflow.
pub(crate) fn number(text: &str) -> Option<f64> {
    let digits = text.bytes().any(|byte| byte.is_ascii_digit());
    let plain =
        text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+' | b'e' | b'E'));
    if !digits || !plain {
        return None;
    }
    // Adding zero turns minus zero into zero.
    text.parse::<f64>().ok().filter(|value| value.is_finite()).map(|value| value + 0.0)
}

/// A length with or without its unit, `88`, `88mm`, `3.5in`, `-2 in`, in mm. Bare numbers are mm.
pub(crate) fn length_mm(text: &str) -> Option<f64> {
    let text = text.trim();
    let (value, unit) = if let Some(value) = text.strip_suffix("mm") {
        (value, LengthUnit::Mm)
    } else if let Some(value) = text.strip_suffix("in") {
        (value, LengthUnit::Inch)
    } else {
        (text, LengthUnit::Mm)
    };
    let value = number(value.trim_end())? * unit.mm();
    value.is_finite().then_some(value)
}

/// An angle in degrees: `3`, `-3`, `3deg`.
pub(crate) fn degrees(text: &str) -> Option<f64> {
    let text = text.trim();
    number(text.strip_suffix("deg").unwrap_or(text).trim_end())
}
