//! Lengths of the document: the one place that knows inches.
//!
//! 96 px are an inch, an inch is 25.4 mm (CSS Values and Units Level 3, section 5.2, which SVG 2
//! refers to).

use svgtypes::{Length, LengthUnit};

/// Millimetres of one px.
pub(super) const MM_PER_PX: f64 = 25.4 / 96.0;

/// A length in mm, `None` where it depends on its surroundings (em, %), or is none.
pub(super) fn length_mm(text: &str) -> Option<f64> {
    if let Some(quarters) = quarter_millimetres(text) {
        return Some(quarters / 4.0);
    }
    let length: Length = text.trim().parse().ok()?;
    let mm_per_unit = match length.unit {
        LengthUnit::None | LengthUnit::Px => MM_PER_PX,
        LengthUnit::In => 25.4,
        LengthUnit::Cm => 10.0,
        LengthUnit::Mm => 1.0,
        LengthUnit::Pt => 25.4 / 72.0,
        LengthUnit::Pc => 25.4 / 6.0,
        LengthUnit::Em | LengthUnit::Ex | LengthUnit::Percent => return None,
    };
    Some(length.number * mm_per_unit).filter(|mm| mm.is_finite())
}

/// The number before a unit Q.
fn quarter_millimetres(text: &str) -> Option<f64> {
    let number = text.trim().strip_suffix(['Q', 'q'])?;
    let starts = number.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+'));
    // Rust's rule for numbers takes SVG's, and words like `inf` besides.
    number.parse().ok().filter(|n: &f64| starts && n.is_finite())
}

/// A value of an attribute or a `style` with its unit Q, which usvg does not read, written in mm;
/// `None` where there is none.
pub(super) fn in_millimetres(name: &str, value: &str) -> Option<String> {
    // Nearly every value has none, and path data would take long to look through.
    if name == "d" || name == "points" || !value.contains(['Q', 'q']) {
        return None;
    }
    let mut found = false;
    let mut words = |text: &str| -> String {
        let mut word = |word: &str| match quarter_millimetres(word) {
            Some(quarters) => {
                found = true;
                format!("{}mm", quarters / 4.0)
            }
            None => word.to_owned(),
        };
        text.split_inclusive([' ', ',', '\t', '\n'])
            .map(|part| {
                let bare = part.trim_end_matches([' ', ',', '\t', '\n']);
                word(bare) + &part[bare.len()..]
            })
            .collect()
    };
    let written = if name == "style" {
        let declaration = |text: &str| match text.split_once(':') {
            Some((name, value)) => format!("{name}: {}", words(value.trim())),
            None => text.to_owned(),
        };
        value.split(';').map(declaration).collect::<Vec<_>>().join(";")
    } else {
        words(value)
    };
    found.then_some(written)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unit_q_is_written_in_millimetres() {
        let check = |name, value, expected: Option<&str>| {
            assert_eq!(in_millimetres(name, value).as_deref(), expected);
        };
        check("width", "101.6Q", Some("25.4mm"));
        check("stroke-dasharray", "4Q, 8q 3", Some("1mm, 2mm 3"));
        check("style", "stroke-width:2Q;fill:red", Some("stroke-width: 0.5mm;fill: red"));
        check("class", "Q infQ -Q", None);
        check("font-family", "Quay", None);
        check("d", "M0 0Q1 1 2 2", None);
    }
}
