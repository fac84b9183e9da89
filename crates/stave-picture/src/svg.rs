//! SVG as text, lengths in mm.

use stave_toolpath::number::fixed;
pub(crate) use stave_toolpath::xml::{escaped, isolated};

/// Decimals of coordinates, mm: a tenth of a micrometre.
const DECIMALS: u32 = 4;

/// A length or coordinate as text.
pub(crate) fn mm(value: f64) -> String {
    fixed(value, DECIMALS)
}

/// The path through points.
pub(crate) fn path(points: &[(f64, f64)], closed: bool) -> String {
    let mut d = String::new();
    for (i, (x, y)) in points.iter().enumerate() {
        d.push_str(if i == 0 { "M" } else { " L" });
        d.push_str(&format!("{} {}", mm(*x), mm(*y)));
    }
    if closed {
        d.push_str(" Z");
    }
    d
}
