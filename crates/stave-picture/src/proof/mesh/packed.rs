//! Triangles as few bytes: whole numbers, each as its difference from the one before.

use serde::Serialize;

use super::super::png::encode_raw;
use super::Mesh;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;

/// Places are told to this, mm on the wall where it is widest.
const STEP_MM: f64 = 0.002;
/// Width of the picture that holds the bytes.
const COLUMNS: usize = 1024;
/// The latest time: 0 is never.
const LAST_TIME: f64 = 65535.0;

/// The mesh as the page reads it.
#[derive(Serialize)]
pub(crate) struct Packed {
    /// Bytes in a grey picture: for every corner its place along, around, its time, its energy, its
    /// section, one after the other, then the corners of the triangles.
    bytes: String,
    corners: usize,
    triangles: usize,
    /// mm of meridian, and rad, for one.
    steps: (f64, f64),
    /// The width of a line, mm.
    spot: f64,
}

/// Packs a mesh for a wall of this largest radius, with times as shares of a duration and energies
/// as shares of the top of the colours.
pub(crate) fn packed(mesh: &Mesh, radius_mm: f64, duration_s: f64, top: f64) -> Packed {
    let steps = (STEP_MM, STEP_MM / radius_mm);
    let corners = &mesh.corners;
    let share = |value: f64, of: f64| if of > 0.0 { (value / of).clamp(0.0, 1.0) } else { 0.0 };
    let mut bytes = Vec::new();
    let mut plane = |values: &mut dyn Iterator<Item = i64>| {
        let mut before = 0;
        for value in values {
            push(value - before, &mut bytes);
            before = value;
        }
    };
    plane(&mut corners.iter().map(|(corner, _)| rounded(corner.s_mm / steps.0)));
    plane(&mut corners.iter().map(|(corner, _)| rounded(corner.turn_rad / steps.1)));
    plane(&mut corners.iter().map(|(corner, _)| {
        rounded((1.0 + (LAST_TIME - 1.0) * share(corner.at_s, duration_s)).floor())
    }));
    plane(&mut corners.iter().map(|(corner, _)| rounded(255.0 * share(corner.density, top))));
    plane(&mut corners.iter().map(|(_, section)| i64::from((*section).min(255))));
    plane(&mut mesh.triangles.iter().map(|corner| i64::from(*corner)));
    let rows = bytes.len().div_ceil(COLUMNS).max(1);
    bytes.resize(rows * COLUMNS, 0);
    let png = encode_raw(COLUMNS, rows, png::ColorType::Grayscale, &bytes);
    Packed {
        bytes: STANDARD.encode(&png),
        corners: corners.len(),
        triangles: mesh.triangles.len() / 3,
        steps,
        spot: mesh.spot_mm,
    }
}

#[allow(clippy::cast_possible_truncation)]
fn rounded(value: f64) -> i64 {
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
