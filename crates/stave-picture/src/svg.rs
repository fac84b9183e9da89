//! SVG as text, lengths in mm.

use stave_toolpath::number::fixed;

/// Decimals of coordinates, mm: a tenth of a micrometre.
const DECIMALS: u32 = 4;

/// A length or coordinate as text.
pub(crate) fn mm(value: f64) -> String {
    fixed(value, DECIMALS)
}

/// Text with the characters that SVG keeps for itself written as entities.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Characters that XML 1.0 cannot hold.
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
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
