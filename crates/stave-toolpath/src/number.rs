//! Numbers as text: the one place where Stave turns a number into decimals.
//!
//! `{:.3}` prints `-0.000`, and the standard float formatting costs more than the rest of a wrap
//! together; a coordinate is a whole number of the last decimal anyway. So: [`round_to_counts`]
//! rounds once, and [`push_counts`] writes the integer with its point in place, without minus zero
//! and without trailing zeros.

/// The most decimals a number may have here.
pub const MOST_DECIMALS: u32 = 9;

/// The greatest number a word of a program may hold, in whatever units: none is read or written
/// that is greater.
pub const MOST_WORD: f64 = 1e9;

const POW10: [f64; 19] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18,
];

const POW10_INT: [u64; 10] =
    [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000, 1_000_000_000];

/// The number of counts of `10^-decimals` nearest to `value`, halves away from zero.
///
/// `None` where `value` is not finite or does not fit in 53 bits of counts, or `decimals` is above
/// [`MOST_DECIMALS`].
///
/// ```
/// use stave_toolpath::number::round_to_counts;
/// assert_eq!(round_to_counts(1.23456, 4), Some(12346));
/// assert_eq!(round_to_counts(f64::NAN, 4), None);
/// ```
#[must_use]
#[inline]
pub fn round_to_counts(value: f64, decimals: u32) -> Option<i64> {
    const LARGEST: f64 = 9_007_199_254_740_992.0;
    if decimals > MOST_DECIMALS {
        return None;
    }
    let scaled = value * POW10[decimals as usize];
    if scaled.abs() < LARGEST {
        // Adding half and cutting is several times faster than `round` without SSE4.1.
        #[expect(clippy::cast_possible_truncation, reason = "below LARGEST")]
        Some((scaled + 0.5_f64.copysign(scaled)) as i64)
    } else {
        None
    }
}

/// Appends `counts` · `10^-decimals`: fixed decimals, then trailing zeros and a bare point dropped.
///
/// ```
/// use stave_toolpath::number::push_counts;
/// let mut out = Vec::new();
/// push_counts(&mut out, -12_340, 4);
/// assert_eq!(out, b"-1.234");
/// ```
#[inline]
pub fn push_counts(out: &mut Vec<u8>, counts: i64, decimals: u32) {
    let mut text = [0_u8; 32];
    let length = write_counts(&mut text, counts, decimals);
    out.extend_from_slice(&text[..length]);
}

/// Writes as [`push_counts`] into a buffer of the caller's, and returns the length.
///
/// At most 21 bytes are meant; what stands after them in `text` is overwritten too.
#[inline]
pub fn write_counts(text: &mut [u8; 32], counts: i64, decimals: u32) -> usize {
    let decimals = decimals.min(MOST_DECIMALS) as usize;
    let magnitude = counts.unsigned_abs();
    // The sign is written whatever it is; the digits go over it where there is none.
    text[0] = b'-';
    let at = usize::from(counts < 0);
    #[expect(clippy::cast_possible_truncation, reason = "bounded in the same line")]
    if magnitude < 100_000_000 && decimals < 8 {
        at + place_point(text, at, eight_digits(magnitude as u32), decimals)
    } else {
        at + write_long(text, at, magnitude, decimals)
    }
}

/// Eight decimal digits, the first in the lowest byte, each 0 to 9 (not yet text).
///
/// The number is halved into fields of four, two and one digits side by side in one word; each
/// division is a multiplication by a rounded-up reciprocal, exact for fields this small (checked
/// over all field values below).
#[inline]
fn eight_digits(value: u32) -> u64 {
    let (high, low) = (u64::from(value / 10_000), u64::from(value % 10_000));
    let fours = high | (low << 32);
    let hundreds = ((fours * 10_486) >> 20) & 0x0000_007f_0000_007f;
    let twos = hundreds | ((fours - 100 * hundreds) << 16);
    let tens = ((twos * 103) >> 10) & 0x000f_000f_000f_000f;
    tens | ((twos - 10 * tens) << 8)
}

/// Writes eight digits with the point before the last `decimals` (under 8) of them, zeros in front
/// and behind dropped.
///
/// All is written whatever is shown, and the length picks what counts. The masks change nothing
/// (`at` is 0 or 1, lengths are at most 8); they show the compiler that no index can leave `text`.
#[inline]
fn place_point(text: &mut [u8; 32], at: usize, digits: u64, decimals: usize) -> usize {
    const ZEROS: u64 = 0x3030_3030_3030_3030;
    let point = 8 - decimals;
    // Where the first digit stands that must be shown, and one past the last; the digit before the
    // point always is.
    let first = ((digits.trailing_zeros() / 8) as usize).min(point - 1);
    let end = 8 - (digits.leading_zeros() / 8) as usize;
    let shown = digits + ZEROS;
    let at = at & 1;
    text[at..at + 8].copy_from_slice(&(shown >> (8 * (first & 7))).to_le_bytes());
    let length = point - first;
    let dot = (at + length) & 15;
    text[dot] = b'.';
    text[dot + 1..dot + 9].copy_from_slice(&(shown >> (8 * (point & 7))).to_le_bytes());
    if end > point { length + 1 + end - point } else { length }
}

/// Any magnitude and any number of decimals.
#[cold]
fn write_long(text: &mut [u8; 32], at: usize, magnitude: u64, decimals: usize) -> usize {
    let unit = POW10_INT[decimals];
    let mut length = write_whole(&mut text[at..], magnitude / unit, 1);
    let mut fraction = magnitude % unit;
    if fraction != 0 {
        let mut digits = decimals;
        while fraction.is_multiple_of(10) {
            fraction /= 10;
            digits -= 1;
        }
        text[at + length] = b'.';
        length += 1;
        length += write_whole(&mut text[at + length..], fraction, digits);
    }
    length
}

/// Writes `value` with at least `digits` digits, zeros in front; returns how many there are.
fn write_whole(text: &mut [u8], mut value: u64, digits: usize) -> usize {
    let length = digits.max(value.checked_ilog10().map_or(1, |log| log as usize + 1));
    for place in text[..length].iter_mut().rev() {
        *place = b'0' + (value % 10) as u8;
        value /= 10;
    }
    length
}

/// Appends `value` rounded to `decimals`; what is not finite or does not fit is written as `?`,
/// which no reader takes for a number.
///
/// ```
/// use stave_toolpath::number::push_fixed;
/// let mut out = Vec::new();
/// push_fixed(&mut out, -0.0004, 3);
/// assert_eq!(out, b"0");
/// ```
pub fn push_fixed(out: &mut Vec<u8>, value: f64, decimals: u32) {
    match round_to_counts(value, decimals) {
        Some(counts) => push_counts(out, counts, decimals),
        None => out.push(b'?'),
    }
}

/// `value` rounded to `decimals` as a string, by [`push_fixed`].
///
/// ```
/// assert_eq!(stave_toolpath::number::fixed(12.50, 3), "12.5");
/// ```
#[must_use]
pub fn fixed(value: f64, decimals: u32) -> String {
    let mut out = Vec::new();
    push_fixed(&mut out, value, decimals);
    String::from_utf8_lossy(&out).into_owned()
}

/// `value` with all of its decimals, so that columns stand under each other.
///
/// ```
/// assert_eq!(stave_toolpath::number::padded(12.5, 3), "12.500");
/// ```
#[must_use]
pub fn padded(value: f64, decimals: u32) -> String {
    let mut text = fixed(value, decimals);
    let point = text.find('.').unwrap_or_else(|| {
        text.push('.');
        text.len() - 1
    });
    while text.len() < point + 1 + decimals as usize {
        text.push('0');
    }
    text
}

/// A ratio as a change in per cent: `+12.5 %`.
///
/// ```
/// use stave_toolpath::number::change_percent;
/// assert_eq!(change_percent(1.125), "+12.5 %");
/// assert_eq!(change_percent(0.9), "-10 %");
/// assert_eq!(change_percent(1.0), "0 %");
/// ```
#[must_use]
pub fn change_percent(ratio: f64) -> String {
    let text = fixed(100.0 * (ratio - 1.0), 1);
    if text.starts_with('-') || text == "0" { format!("{text} %") } else { format!("+{text} %") }
}

/// A number of `figures` significant digits as counts and decimals, ready for [`push_counts`].
///
/// Meant for feed rates: `value` is zero or more. Digits after the ninth decimal are cut off.
/// `None` where `value` is not finite or does not fit.
///
/// ```
/// use stave_toolpath::number::significant;
/// assert_eq!(significant(1234.567_89, 6), Some((123_457, 2)));
/// assert_eq!(significant(1_234_567.0, 6), Some((1_234_570, 0)));
/// ```
#[must_use]
#[inline]
pub fn significant(value: f64, figures: u32) -> Option<(i64, u32)> {
    if !value.is_finite() {
        return None;
    }
    let magnitude = value.abs();
    let whole = whole_digits(magnitude);
    if whole <= figures {
        let mut decimals = figures - whole;
        if whole == 0 && magnitude > 0.0 {
            let mut bound = 0.1;
            while magnitude < bound && decimals < MOST_DECIMALS {
                bound *= 0.1;
                decimals += 1;
            }
        }
        let decimals = decimals.min(MOST_DECIMALS);
        round_to_counts(value, decimals).map(|counts| (counts, decimals))
    } else {
        let unit = POW10[(whole - figures) as usize];
        round_to_counts((value / unit).round() * unit, 0).map(|counts| (counts, 0))
    }
}

/// How many digits stand before the point: the least `n` from 0 to 18 with `magnitude < 10^n`.
#[inline]
fn whole_digits(magnitude: f64) -> u32 {
    // The binary exponent tells the decimal one, or one less: 1233/4096 is a little under log10(2),
    // and near enough for 60 bits.
    let exponent = (magnitude.to_bits() >> 52) as u32;
    let Some(bits) = exponent.checked_sub(1022) else { return 0 };
    let least = ((bits * 1233) >> 12).min(17);
    least + u32::from(magnitude >= POW10[least as usize])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn text(value: f64, decimals: u32) -> String {
        fixed(value, decimals)
    }

    #[test]
    fn edges() {
        assert_eq!(text(0.0, 4), "0");
        assert_eq!(text(-0.0, 4), "0");
        assert_eq!(text(-0.000_04, 4), "0");
        assert_eq!(text(-0.000_06, 4), "-0.0001");
        assert_eq!(text(10.0, 4), "10");
        assert_eq!(text(100.050, 4), "100.05");
        assert_eq!(text(0.05, 2), "0.05");
        assert_eq!(text(12345.0, 0), "12345");
        assert_eq!(text(0.123_456_789, 9), "0.123456789");
        assert_eq!(text(f64::INFINITY, 3), "?");
        assert_eq!(text(f64::NAN, 3), "?");
        assert_eq!(text(1e300, 3), "?");
    }

    #[test]
    fn largest_integers() {
        let mut out = Vec::new();
        push_counts(&mut out, i64::MIN, 0);
        assert_eq!(out, b"-9223372036854775808");
        out.clear();
        push_counts(&mut out, i64::MAX, 9);
        assert_eq!(out, b"9223372036.854775807");
    }

    #[test]
    fn significant_figures() {
        let show = |v| {
            significant(v, 6).map(|(c, d)| {
                let mut o = Vec::new();
                push_counts(&mut o, c, d);
                String::from_utf8(o).unwrap()
            })
        };
        assert_eq!(show(0.0).as_deref(), Some("0"));
        assert_eq!(show(999_999.7).as_deref(), Some("1000000"));
        assert_eq!(show(0.001_234_567_8).as_deref(), Some("0.00123457"));
        assert_eq!(show(9.999_999_9).as_deref(), Some("10"));
        assert_eq!(show(f64::NAN), None);
    }

    #[test]
    fn digits_before_the_point_are_counted_to_the_edge() {
        let counted =
            |value: f64| POW10.iter().take(18).take_while(|bound| value >= **bound).count();
        for power in POW10 {
            for value in [
                power.next_down(),
                power,
                power.next_up(),
                power * 2.0,
                power * 5.0,
                power / 1024.0,
            ] {
                assert_eq!(whole_digits(value) as usize, counted(value), "{value}");
            }
        }
        for bits in -1022..=1023 {
            let value = 2_f64.powi(bits);
            assert_eq!(whole_digits(value) as usize, counted(value), "{value}");
            assert_eq!(
                whole_digits(value.next_down()) as usize,
                counted(value.next_down()),
                "{value}"
            );
        }
        assert_eq!(whole_digits(0.0), 0);
    }

    #[test]
    fn every_field_of_the_digits_is_exact() {
        for value in 0..10_000_u32 {
            let text: Vec<u8> = eight_digits(value * 10_000 + (9_999 - value))
                .to_le_bytes()
                .iter()
                .map(|d| d + b'0')
                .collect();
            assert_eq!(String::from_utf8(text).unwrap(), format!("{value:04}{:04}", 9_999 - value));
        }
    }

    proptest! {
        #[test]
        fn reads_back(counts in prop_oneof![-200_000_000_i64..200_000_000, -9_000_000_000_000_i64..9_000_000_000_000], decimals in 0_u32..=9) {
            let mut out = Vec::new();
            push_counts(&mut out, counts, decimals);
            let written = String::from_utf8(out).unwrap();
            let value: f64 = written.parse().unwrap();
            prop_assert_eq!(round_to_counts(value, decimals), Some(counts));
            prop_assert!(!written.starts_with("-0") || written.starts_with("-0."));
            prop_assert!(!written.contains('.') || !written.ends_with('0'));
        }

        #[test]
        fn significant_is_within_half_a_unit(value in 1e-3_f64..1e9) {
            let (counts, decimals) = significant(value, 6).unwrap();
            #[expect(clippy::cast_precision_loss, reason = "six figures")]
            let back = counts as f64 / POW10[decimals as usize];
            prop_assert!((back - value).abs() <= value * 5.0e-6 * 1.000_001);
        }
    }
}
