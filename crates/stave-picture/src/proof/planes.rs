//! Lists of numbers as few bytes, for the page: whole numbers, each as its difference from the one
//! before.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::png::encode_raw;

/// Places are told to this, mm on the wall where it is widest.
const STEP_MM: f64 = 0.002;
/// Width of the picture that holds the bytes.
const COLUMNS: usize = 1024;

/// Places on a wall are told in steps of so many mm of meridian, and of so many rad.
pub(super) fn steps(radius_mm: f64) -> (f64, f64) {
    (STEP_MM, STEP_MM / radius_mm)
}

/// Lists of numbers, one after the other.
#[derive(Default)]
pub(super) struct Planes {
    bytes: Vec<u8>,
}

impl Planes {
    /// One more list.
    pub(super) fn add(&mut self, values: impl Iterator<Item = i64>) {
        let mut before = 0;
        for value in values {
            push(value - before, &mut self.bytes);
            before = value;
        }
    }

    /// One more list, of places or times, in whole steps.
    pub(super) fn add_in_steps(&mut self, values: impl Iterator<Item = f64>, step: f64) {
        self.add(values.map(|value| rounded(value / step)));
    }

    /// All of them as a grey picture in base64, which a browser can unpack by itself.
    pub(super) fn packed(mut self) -> String {
        let rows = self.bytes.len().div_ceil(COLUMNS).max(1);
        self.bytes.resize(rows * COLUMNS, 0);
        STANDARD.encode(encode_raw(COLUMNS, rows, png::ColorType::Grayscale, &self.bytes))
    }
}

#[allow(clippy::cast_possible_truncation)]
pub(super) fn rounded(value: f64) -> i64 {
    value.round() as i64
}

/// A whole number, small ones in one byte: its sign in the lowest bit, seven bits a byte, lowest
/// first, the eighth where more follow (the base 128 numbers of DWARF, section 7.6, after folding
/// the sign).
fn push(value: i64, out: &mut Vec<u8>) {
    let mut rest = ((value << 1) ^ (value >> 63)).cast_unsigned();
    loop {
        let low = u8::try_from(rest & 0x7f).unwrap_or(0);
        rest >>= 7;
        out.push(if rest > 0 { low | 0x80 } else { low });
        if rest == 0 {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_numbers_take_one_byte_and_large_ones_come_back() {
        let read = |bytes: &[u8]| {
            let folded = bytes
                .iter()
                .enumerate()
                .fold(0_u64, |sum, (k, byte)| sum | (u64::from(byte & 0x7f) << (7 * k)));
            (folded >> 1).cast_signed() ^ -(folded & 1).cast_signed()
        };
        for (value, length) in [(0, 1), (-1, 1), (63, 1), (-64, 1), (64, 2), (-100_000, 3)] {
            let mut bytes = Vec::new();
            push(value, &mut bytes);
            assert_eq!((read(&bytes), bytes.len()), (value, length));
        }
    }
}
