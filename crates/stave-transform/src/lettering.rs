//! Figures in single strokes, for labels that a beam draws.

/// Height of a figure in its own units.
const HEIGHT: f64 = 6.0;
/// What stands between two figures, in the same units.
const GAP: f64 = 1.5;

type Strokes = &'static [&'static [(f64, f64)]];

/// The width of a character and its strokes, x to the right, y up, from its lower left corner;
/// `None` where it is not drawn.
fn glyph(character: char) -> Option<(f64, Strokes)> {
    let strokes: Strokes = match character {
        '0' => &[&[
            (1.0, 0.0),
            (3.0, 0.0),
            (4.0, 1.0),
            (4.0, 5.0),
            (3.0, 6.0),
            (1.0, 6.0),
            (0.0, 5.0),
            (0.0, 1.0),
            (1.0, 0.0),
        ]],
        '1' => &[&[(0.5, 4.5), (2.0, 6.0), (2.0, 0.0)], &[(0.5, 0.0), (3.5, 0.0)]],
        '2' => {
            &[&[(0.0, 5.0), (1.0, 6.0), (3.0, 6.0), (4.0, 5.0), (4.0, 4.0), (0.0, 0.0), (4.0, 0.0)]]
        }
        '3' => &[
            &[(0.0, 5.0), (1.0, 6.0), (3.0, 6.0), (4.0, 5.0), (4.0, 4.0), (3.0, 3.0), (1.5, 3.0)],
            &[(3.0, 3.0), (4.0, 2.0), (4.0, 1.0), (3.0, 0.0), (1.0, 0.0), (0.0, 1.0)],
        ],
        '4' => &[&[(3.0, 0.0), (3.0, 6.0), (0.0, 2.0), (4.0, 2.0)]],
        '5' => &[&[
            (4.0, 6.0),
            (0.0, 6.0),
            (0.0, 3.5),
            (3.0, 3.5),
            (4.0, 2.5),
            (4.0, 1.0),
            (3.0, 0.0),
            (1.0, 0.0),
            (0.0, 1.0),
        ]],
        '6' => &[&[
            (4.0, 5.0),
            (3.0, 6.0),
            (1.0, 6.0),
            (0.0, 5.0),
            (0.0, 1.0),
            (1.0, 0.0),
            (3.0, 0.0),
            (4.0, 1.0),
            (4.0, 2.5),
            (3.0, 3.5),
            (0.0, 3.5),
        ]],
        '7' => &[&[(0.0, 6.0), (4.0, 6.0), (1.5, 0.0)]],
        '8' => &[&[
            (1.0, 3.0),
            (0.0, 4.0),
            (0.0, 5.0),
            (1.0, 6.0),
            (3.0, 6.0),
            (4.0, 5.0),
            (4.0, 4.0),
            (3.0, 3.0),
            (1.0, 3.0),
            (0.0, 2.0),
            (0.0, 1.0),
            (1.0, 0.0),
            (3.0, 0.0),
            (4.0, 1.0),
            (4.0, 2.0),
            (3.0, 3.0),
        ]],
        '9' => &[&[
            (0.0, 1.0),
            (1.0, 0.0),
            (3.0, 0.0),
            (4.0, 1.0),
            (4.0, 5.0),
            (3.0, 6.0),
            (1.0, 6.0),
            (0.0, 5.0),
            (0.0, 3.5),
            (1.0, 2.5),
            (4.0, 2.5),
        ]],
        'R' => &[
            &[(0.0, 0.0), (0.0, 6.0), (3.0, 6.0), (4.0, 5.0), (4.0, 4.0), (3.0, 3.0), (0.0, 3.0)],
            &[(2.0, 3.0), (4.0, 0.0)],
        ],
        '-' => &[&[(0.5, 3.0), (3.5, 3.0)]],
        '.' => {
            return Some((0.7, &[&[(0.0, 0.0), (0.7, 0.0), (0.7, 0.7), (0.0, 0.7), (0.0, 0.0)]]));
        }
        _ => return None,
    };
    Some((4.0, strokes))
}

/// The width of a text of a height, mm.
///
/// ```
/// // Two figures of four units with one and a half between, six units high.
/// assert_eq!(stave_transform::text_width_mm("20", 6.0), 9.5);
/// ```
#[must_use]
pub fn text_width_mm(text: &str, height_mm: f64) -> f64 {
    let widths = text.chars().filter_map(glyph).map(|(width, _)| width + GAP);
    (widths.sum::<f64>() - GAP).max(0.0) * height_mm / HEIGHT
}

/// A text in single strokes: runs of points, mm, x to the right and y up from its lower left
/// corner. Digits, the point, the minus and R are drawn, anything else is passed over.
///
/// ```
/// let seven = stave_transform::text_strokes("7", 3.0);
/// assert_eq!(seven, [[(0.0, 3.0), (2.0, 3.0), (0.75, 0.0)]]);
/// ```
#[must_use]
pub fn text_strokes(text: &str, height_mm: f64) -> Vec<Vec<(f64, f64)>> {
    let scale = height_mm / HEIGHT;
    let (mut strokes, mut x) = (Vec::new(), 0.0);
    for (width, glyph) in text.chars().filter_map(glyph) {
        strokes.extend(glyph.iter().map(|stroke| {
            stroke.iter().map(|(gx, gy)| ((x + gx) * scale, gy * scale)).collect::<Vec<_>>()
        }));
        x += width + GAP;
    }
    strokes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_is_drawn_and_unlike_the_others() {
        let figures: Vec<_> =
            "0123456789.-R".chars().map(|c| text_strokes(&c.to_string(), 6.0)).collect();
        for (k, a) in figures.iter().enumerate() {
            assert!(a.iter().all(|stroke| stroke.len() > 1) && !a.is_empty());
            assert!(
                a.iter().flatten().all(|(x, y)| (0.0..=4.0).contains(x) && (0.0..=6.0).contains(y))
            );
            assert!(figures.iter().skip(k + 1).all(|b| a != b));
        }
        assert!(text_strokes("x", 3.0).is_empty() && text_width_mm("", 3.0) == 0.0);
    }
}
