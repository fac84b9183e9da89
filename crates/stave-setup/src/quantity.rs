//! Numbers and lengths as people type them on a command line.

use crate::LengthUnit;

/// A plain decimal number: sign, digits, point, exponent. Unlike `f64::from_str`, no `inf`, `nan`
/// or overflow.
pub(crate) fn number(text: &str) -> Option<f64> {
    let digits = text.bytes().any(|byte| byte.is_ascii_digit());
    let plain = text
        .bytes()
        .all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+' | b'e' | b'E'));
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
    let value = unit.to_mm(number(value.trim_end())?);
    value.is_finite().then_some(value)
}

/// An angle in degrees: `3`, `-3`, `3deg`.
pub(crate) fn degrees(text: &str) -> Option<f64> {
    let text = text.trim();
    number(text.strip_suffix("deg").unwrap_or(text).trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths() {
        assert_eq!(length_mm("88"), Some(88.0));
        assert_eq!(length_mm("88mm"), Some(88.0));
        assert_eq!(length_mm(" 3.5in "), Some(88.9));
        assert_eq!(length_mm("-2 in"), Some(-50.8));
        assert_eq!(length_mm("1e2"), Some(100.0));
        assert_eq!(length_mm(".5"), Some(0.5));
        for text in [
            "", "mm", "in", "8 8", "inf", "nan", "infin", "1e999", "--3", "3cm", "0x10", "1_000",
            "3,5",
        ] {
            assert_eq!(length_mm(text), None, "{text}");
        }
    }

    #[test]
    fn angles() {
        assert_eq!(degrees("-3"), Some(-3.0));
        assert_eq!(degrees("3deg"), Some(3.0));
        assert_eq!(degrees("3rad"), None);
    }

    #[test]
    fn minus_zero_is_zero() {
        assert!(length_mm("-0").is_some_and(f64::is_sign_positive));
        assert!(number("-0.0").is_some_and(f64::is_sign_positive));
    }
}
