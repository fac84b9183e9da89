//! Numbers, the one rule for both readers: the `f64` nearest to what is written.
//!
//! RS274/NGC 3.3.2.1: an optional sign, digits, an optional point, digits, at least one digit in
//! all, and no exponent. A general float parser would take the `10E5` of `X10E5` and words like
//! `inf`, so the rule is our own.

/// Powers of ten that an `f64` holds exactly.
const POW10: [f64; 16] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// The most digits whose every value an `f64` holds exactly: `10^15 < 2^53`.
const EXACT_DIGITS: usize = 15;

/// A number that was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Number {
    pub(super) value: f64,
    /// Where it ends.
    pub(super) end: usize,
    /// Whether it has a minus sign, be its value zero.
    pub(super) negative: bool,
}

/// Why there is no number.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum NoNumber {
    /// No digit, before the byte at this place.
    NoDigit(usize),
    /// Beyond the range of `f64`.
    TooLarge,
}

/// The number that begins at `start`, which ends where it cannot go on.
pub(super) fn number(bytes: &[u8], start: usize) -> Result<Number, NoNumber> {
    match short(bytes, start) {
        Some(number) => Ok(number),
        None => at_length(bytes, start),
    }
}

/// [`number`] where it has at most fifteen digits and a byte behind it; otherwise `None`. The quick
/// reader asks for no more: a call for the rest among its loops costs it thirty instructions a
/// line.
///
/// A loop, digit by digit: working on eight bytes as one word was tried and is slower, as the next
/// word cannot begin before the end of this one is known, and the number of digits is mostly
/// guessed right.
#[inline]
pub(super) fn short(bytes: &[u8], start: usize) -> Option<Number> {
    let mut end = start;
    let mut byte = *bytes.get(end)?;
    let negative = byte == b'-';
    if negative || byte == b'+' {
        end += 1;
        byte = *bytes.get(end)?;
    }
    let first = end;
    let mut mantissa = 0_u64;
    while byte.is_ascii_digit() {
        mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
        end += 1;
        byte = *bytes.get(end)?;
    }
    let mut count = end - first;
    let mut decimals = 0;
    if byte == b'.' {
        end += 1;
        let point = end;
        byte = *bytes.get(end)?;
        while byte.is_ascii_digit() {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
            end += 1;
            byte = *bytes.get(end)?;
        }
        decimals = end - point;
        count += decimals;
    }
    if count == 0 || count > EXACT_DIGITS {
        return None;
    }
    // A mantissa below 2^53 and a power of ten up to 10^22 are both exact, so that their quotient
    // is rounded once, which is correct rounding (W. D. Clinger, *How to read floating point
    // numbers accurately*, PLDI 1990). Fifteen digits fit an i64, whose conversion is the shorter
    // one.
    #[expect(
        clippy::cast_precision_loss,
        clippy::indexing_slicing,
        reason = "at most fifteen digits, and sixteen powers"
    )]
    let magnitude = mantissa.cast_signed() as f64 / POW10[decimals & 15];
    Some(Number { value: if negative { -magnitude } else { magnitude }, end, negative })
}

/// The number that the digits at `start` make, and where they end. Beyond nineteen of them the
/// value wraps around.
#[inline]
pub(super) fn digits(bytes: &[u8], start: usize) -> (u64, usize) {
    let mut value = 0_u64;
    let mut end = start;
    while let Some(digit) = bytes.get(end).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
        value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        end += 1;
    }
    (value, end)
}

/// [`number`] at any length, by the standard library's parser, which rounds correctly.
#[cold]
fn at_length(bytes: &[u8], start: usize) -> Result<Number, NoNumber> {
    let negative = bytes.get(start) == Some(&b'-');
    let first = start + usize::from(negative || bytes.get(start) == Some(&b'+'));
    let (_, mut end) = digits(bytes, first);
    let mut count = end - first;
    if bytes.get(end) == Some(&b'.') {
        let point = end + 1;
        (_, end) = digits(bytes, point);
        count += end - point;
    }
    if count == 0 {
        return Err(NoNumber::NoDigit(end));
    }
    let text = bytes.get(first..end).and_then(|text| std::str::from_utf8(text).ok());
    let magnitude = text.and_then(|text| text.parse().ok()).filter(|v: &f64| v.is_finite());
    let magnitude = magnitude.ok_or(NoNumber::TooLarge)?;
    Ok(Number { value: if negative { -magnitude } else { magnitude }, end, negative })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn value(text: &str) -> Result<f64, NoNumber> {
        number(text.as_bytes(), 0).map(|n| n.value)
    }

    #[test]
    fn edges() {
        assert_eq!(value(".5"), Ok(0.5));
        assert_eq!(value("-12"), Ok(-12.0));
        assert_eq!(value("+12."), Ok(12.0));
        assert_eq!(value("0000000000000000000001.5000000000000000000000000"), Ok(1.5));
        assert_eq!(value(&"9".repeat(400)), Err(NoNumber::TooLarge));
        assert_eq!(value(&format!("0.{}", "0".repeat(400))), Ok(0.0));
        // Halfway between 2^53 and 2^53 + 2, then a hair above it.
        assert_eq!(value("9007199254740993"), Ok(9_007_199_254_740_992.0));
        assert_eq!(value("9007199254740993.0000000001"), Ok(9_007_199_254_740_994.0));
        for (text, end) in [("", 0), ("-", 1), ("+.", 2), (".", 1), ("-X1", 1), ("--1", 1)] {
            assert_eq!(value(text), Err(NoNumber::NoDigit(end)), "{text}");
        }
        assert_eq!(number(b"X-0.Y1", 1), Ok(Number { value: 0.0, end: 4, negative: true }));
        assert_eq!(number(b"1e5", 0).unwrap().end, 1);
        assert_eq!(number(b"1.2.3", 0).unwrap().end, 3);
    }

    proptest! {
        // The standard library's parser is the outside check: it rounds correctly at any length.
        #[test]
        fn as_the_standard_library(
            whole in "[0-9]{0,25}", fraction in "[0-9]{0,25}", negative: bool
        ) {
            prop_assume!(!whole.is_empty() || !fraction.is_empty());
            let text = format!("{}{whole}.{fraction}", if negative { "-" } else { "" });
            let expected: f64 = text.parse().unwrap();
            let read = number((text.clone() + "Y").as_bytes(), 0).unwrap();
            prop_assert_eq!(read.value.to_bits(), expected.to_bits());
            prop_assert_eq!((read.end, read.negative), (text.len(), negative));
        }

        // The short way and the long one, whatever the bytes.
        #[test]
        fn short_as_long(text in "[+-]?[0-9]{0,9}(\\.[0-9]{0,8})?[0-9X. -]?.?") {
            if let Some(short) = short(text.as_bytes(), 0) {
                prop_assert_eq!(Ok(short), at_length(text.as_bytes(), 0));
                prop_assert_eq!(
                    short.value.to_bits(), at_length(text.as_bytes(), 0).unwrap().value.to_bits()
                );
            }
        }
    }
}
