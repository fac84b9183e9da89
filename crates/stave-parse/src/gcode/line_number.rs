//! N numbers, the one rule for both readers (3.3.1): N and an unsigned whole number, of at most
//! five digits where a program is held to the letter.

use super::decimal;
use super::problem::Problem;

/// The most digits of strict reading.
const STRICT_DIGITS: usize = 5;
/// The most digits whose every number a `u64` holds.
const EXACT_DIGITS: usize = 19;

/// The line number whose digits begin at `start`, and where they end; otherwise what is wrong, and
/// where. A number beyond `u64` is taken as the largest: nothing counts by it.
#[inline]
pub(super) fn read(
    bytes: &[u8],
    start: usize,
    strict: bool,
) -> Result<(u64, usize), (Problem, usize)> {
    let (number, end) = decimal::digits(bytes, start);
    if end == start || bytes.get(end) == Some(&b'.') {
        return Err((Problem::BadLineNumber, end));
    }
    if strict && end - start > STRICT_DIGITS {
        return Err((Problem::LongLineNumber, start + STRICT_DIGITS));
    }
    if end - start > EXACT_DIGITS {
        return Ok((large(bytes.get(start..end).unwrap_or_default()), end));
    }
    Ok((number, end))
}

#[cold]
fn large(digits: &[u8]) -> u64 {
    digits
        .iter()
        .fold(0, |n: u64, b| n.saturating_mul(10).saturating_add(u64::from(b.wrapping_sub(b'0'))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers() {
        assert_eq!(read(b"N120G1", 1, true), Ok((120, 4)));
        assert_eq!(read(b"00018446744073709551615", 0, false), Ok((u64::MAX, 23)));
        assert_eq!(read(b"18446744073709551616", 0, false), Ok((u64::MAX, 20)));
        assert_eq!(read(b"00000000000000000000000007", 0, false), Ok((7, 26)));
        assert_eq!(read(b"123456 ", 0, true), Err((Problem::LongLineNumber, 5)));
        assert_eq!(read(b"1.5", 0, false), Err((Problem::BadLineNumber, 1)));
        assert_eq!(read(b"-5", 0, false), Err((Problem::BadLineNumber, 0)));
    }
}
