//! Decimal numbers, exactly: the `f64` nearest to what is written.
//!
//! RS274/NGC 3.3.2.1: an optional sign, digits, an optional point, digits, at least one digit in
//! all, and no exponent. A general float parser would take the `10E5` of `X10E5` and words like
//! `inf`, so the rule is our own.

/// Powers of ten that an `f64` holds exactly.
pub(super) const POW10: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// The most digits whose every value an `f64` holds exactly: `10^15 < 2^53`.
pub(super) const EXACT_DIGITS: usize = 15;

/// The value of `whole.fraction`, both strings of ASCII digits, nearest to the decimal; `None`
/// beyond the range of `f64`.
///
/// A mantissa below 2^53 and a power of ten up to 10^22 are both exact, so that their quotient is
/// rounded once, which is correct rounding (W. D. Clinger, *How to read floating point numbers
/// accurately*, PLDI 1990). What is longer goes through the standard library's parser.
pub(super) fn value(negative: bool, whole: &[u8], fraction: &[u8]) -> Option<f64> {
    // Leading and trailing zeros say nothing.
    let lead = whole.iter().take_while(|&&b| b == b'0').count();
    let whole = &whole[lead..];
    let trail = fraction.iter().rev().take_while(|&&b| b == b'0').count();
    let fraction = &fraction[..fraction.len() - trail];
    let magnitude = if whole.len() + fraction.len() <= EXACT_DIGITS {
        let mantissa =
            whole.iter().chain(fraction).fold(0_u64, |m, &b| m * 10 + u64::from(b - b'0'));
        #[allow(clippy::cast_precision_loss)]
        {
            mantissa as f64 / POW10[fraction.len()]
        }
    } else {
        long(whole, fraction)?
    };
    Some(if negative { -magnitude } else { magnitude })
}

#[cold]
fn long(whole: &[u8], fraction: &[u8]) -> Option<f64> {
    let mut text = String::with_capacity(whole.len() + fraction.len() + 2);
    text.push('0');
    text.extend(whole.iter().map(|&b| char::from(b)));
    text.push('.');
    text.extend(fraction.iter().map(|&b| char::from(b)));
    // "0." and digits is always a number to the standard library.
    text.parse().ok().filter(|v: &f64| v.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn edges() {
        assert_eq!(value(false, b"", b"5"), Some(0.5));
        assert_eq!(value(true, b"12", b""), Some(-12.0));
        assert_eq!(
            value(false, b"0000000000000000000001", b"5000000000000000000000000"),
            Some(1.5)
        );
        assert_eq!(value(false, &[b'9'; 400], b""), None);
        assert_eq!(value(false, b"0", &[b'0'; 400]), Some(0.0));
        // Halfway between 2^53 and 2^53 + 2, then a hair above it.
        assert_eq!(value(false, b"9007199254740993", b""), Some(9_007_199_254_740_992.0));
        assert_eq!(value(false, b"9007199254740993", b"0000000001"), Some(9_007_199_254_740_994.0));
    }

    proptest! {
        // The standard library's parser is the outside check: it rounds correctly at any length.
        #[test]
        fn as_the_standard_library(whole in "[0-9]{0,25}", fraction in "[0-9]{0,25}", negative: bool) {
            prop_assume!(!whole.is_empty() || !fraction.is_empty());
            let text = format!("{}{whole}.{fraction}", if negative { "-" } else { "" });
            let expected: f64 = text.parse().unwrap();
            prop_assert_eq!(value(negative, whole.as_bytes(), fraction.as_bytes()), Some(expected));
        }

        #[test]
        fn short_as_the_standard_library(whole in "[0-9]{1,7}", fraction in "[0-9]{0,8}") {
            let expected: f64 = format!("{whole}.{fraction}").parse().unwrap();
            let read = value(false, whole.as_bytes(), fraction.as_bytes()).unwrap();
            prop_assert_eq!(read.to_bits(), expected.to_bits());
        }
    }
}
