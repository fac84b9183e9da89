//! Figures and small letters in single strokes, for labels that a beam draws.

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
        '%' => &[
            &[(0.3, 0.0), (3.7, 6.0)],
            &[(0.8, 4.2), (0.0, 5.1), (0.8, 6.0), (1.6, 5.1), (0.8, 4.2)],
            &[(3.2, 0.0), (2.4, 0.9), (3.2, 1.8), (4.0, 0.9), (3.2, 0.0)],
        ],
        '/' => return Some((2.5, &[&[(0.0, 0.0), (2.5, 6.0)]])),
        ',' => return Some((0.7, &[&[(0.6, 0.5), (0.0, -1.2)]])),
        ' ' => return Some((1.5, &[])),
        letter => return small(letter),
    };
    Some((4.0, strokes))
}

/// A round letter's bowl, open to neither side.
macro_rules! bowl {
    ($($more:expr),*) => {
        &[
            &[
                (1.0, 0.0),
                (0.0, 1.0),
                (0.0, 3.0),
                (1.0, 4.0),
                (2.5, 4.0),
                (3.5, 3.0),
                (3.5, 1.0),
                (2.5, 0.0),
                (1.0, 0.0),
            ],
            $($more),*
        ]
    };
}

/// The small letters, four units high, their stems six, their tails two below.
fn small(letter: char) -> Option<(f64, Strokes)> {
    let strokes: Strokes = match letter {
        'a' => bowl!(&[(3.5, 4.0), (3.5, 0.0)]),
        'b' => bowl!(&[(0.0, 6.0), (0.0, 0.0)]),
        'c' => &[&[
            (3.5, 3.0),
            (2.5, 4.0),
            (1.0, 4.0),
            (0.0, 3.0),
            (0.0, 1.0),
            (1.0, 0.0),
            (2.5, 0.0),
            (3.5, 1.0),
        ]],
        'd' => bowl!(&[(3.5, 6.0), (3.5, 0.0)]),
        'e' => &[&[
            (0.0, 2.0),
            (3.5, 2.0),
            (3.5, 3.0),
            (2.5, 4.0),
            (1.0, 4.0),
            (0.0, 3.0),
            (0.0, 1.0),
            (1.0, 0.0),
            (3.0, 0.0),
        ]],
        'f' => {
            return Some((
                2.5,
                &[&[(2.5, 6.0), (1.8, 6.0), (0.8, 5.0), (0.8, 0.0)], &[(0.0, 4.0), (2.2, 4.0)]],
            ));
        }
        'g' => bowl!(&[(3.5, 4.0), (3.5, -1.0), (2.5, -2.0), (0.5, -2.0)]),
        'h' => &[
            &[(0.0, 6.0), (0.0, 0.0)],
            &[(0.0, 3.0), (1.0, 4.0), (2.5, 4.0), (3.5, 3.0), (3.5, 0.0)],
        ],
        'i' => return Some((0.0, &[&[(0.0, 4.0), (0.0, 0.0)], &[(0.0, 6.0), (0.0, 5.5)]])),
        'j' => {
            return Some((
                1.5,
                &[&[(1.5, 4.0), (1.5, -1.0), (0.5, -2.0), (0.0, -2.0)], &[(1.5, 6.0), (1.5, 5.5)]],
            ));
        }
        'k' => {
            return Some((
                3.0,
                &[&[(0.0, 6.0), (0.0, 0.0)], &[(3.0, 4.0), (0.0, 1.5)], &[(1.2, 2.5), (3.0, 0.0)]],
            ));
        }
        'l' => return Some((1.0, &[&[(0.0, 6.0), (0.0, 1.0), (1.0, 0.0)]])),
        'm' => &[
            &[(0.0, 4.0), (0.0, 0.0)],
            &[(0.0, 3.0), (1.0, 4.0), (2.0, 3.0), (2.0, 0.0)],
            &[(2.0, 3.0), (3.0, 4.0), (4.0, 3.0), (4.0, 0.0)],
        ],
        'n' => &[
            &[(0.0, 4.0), (0.0, 0.0)],
            &[(0.0, 3.0), (1.0, 4.0), (2.5, 4.0), (3.5, 3.0), (3.5, 0.0)],
        ],
        'o' => bowl!(),
        'p' => bowl!(&[(0.0, 4.0), (0.0, -2.0)]),
        'q' => bowl!(&[(3.5, 4.0), (3.5, -2.0)]),
        'r' => {
            return Some((
                2.5,
                &[&[(0.0, 4.0), (0.0, 0.0)], &[(0.0, 2.8), (1.2, 4.0), (2.5, 4.0)]],
            ));
        }
        's' => &[&[
            (3.3, 4.0),
            (0.8, 4.0),
            (0.0, 3.2),
            (0.8, 2.2),
            (2.7, 1.8),
            (3.5, 0.9),
            (2.7, 0.0),
            (0.0, 0.0),
        ]],
        't' => {
            return Some((
                2.4,
                &[&[(0.8, 6.0), (0.8, 1.0), (1.6, 0.0), (2.4, 0.0)], &[(0.0, 4.0), (2.2, 4.0)]],
            ));
        }
        'u' => &[
            &[(0.0, 4.0), (0.0, 1.0), (1.0, 0.0), (2.5, 0.0), (3.5, 1.0)],
            &[(3.5, 4.0), (3.5, 0.0)],
        ],
        'v' => &[&[(0.0, 4.0), (1.75, 0.0), (3.5, 4.0)]],
        'w' => {
            return Some((4.0, &[&[(0.0, 4.0), (1.0, 0.0), (2.0, 3.0), (3.0, 0.0), (4.0, 4.0)]]));
        }
        'x' => &[&[(0.0, 4.0), (3.5, 0.0)], &[(0.0, 0.0), (3.5, 4.0)]],
        'y' => &[&[(0.0, 4.0), (1.75, 0.0)], &[(3.5, 4.0), (0.9, -2.0)]],
        'z' => &[&[(0.0, 4.0), (3.5, 4.0), (0.0, 0.0), (3.5, 0.0)]],
        _ => return None,
    };
    Some((if letter == 'm' { 4.0 } else { 3.5 }, strokes))
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
/// corner. Digits, small letters, R and `.,-/%` are drawn, anything else is passed over; tails
/// reach a third of the height below.
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
        let figures: Vec<_> = "0123456789.,-/%Rabcdefghijklmnopqrstuvwxyz"
            .chars()
            .map(|c| text_strokes(&c.to_string(), 6.0))
            .collect();
        for (k, a) in figures.iter().enumerate() {
            assert!(a.iter().all(|stroke| stroke.len() > 1) && !a.is_empty());
            assert!(
                a.iter()
                    .flatten()
                    .all(|(x, y)| (0.0..=4.0).contains(x) && (-2.0..=6.0).contains(y))
            );
            assert!(figures.iter().skip(k + 1).all(|b| a != b));
        }
        assert!(text_strokes("X", 3.0).is_empty() && text_width_mm("", 3.0) == 0.0);
    }
}
