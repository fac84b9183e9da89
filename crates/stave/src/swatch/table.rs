//! Where the patches and labels of a swatch lie, as a reader sees them: x to the right, y up, mm
//! from the middle.

use stave_setup::Stands;
use stave_toolpath::number::fixed;
use stave_transform::{text_strokes, text_width_mm};

use super::SwatchColumns;

/// Between patches, and between patches and labels, mm.
const GAP_MM: f64 = 2.0;
/// How high figures stand, mm.
const FIGURE_MM: f64 = 3.0;
/// How high the names of rows and columns stand, and what is kept between them and the figures, mm.
const NAME_MM: f64 = 2.0;
const NAME_GAP_MM: f64 = 1.6;
const ROWS_NAME: &str = "power, %";
/// The arrow and the R beside it, mm.
const ARROW_MM: f64 = 15.0;
const ARROW_HEAD_MM: f64 = 3.0;
const R_MM: f64 = 10.0;

/// From the reader's frame to the flat plane `(u, v)`.
pub(super) fn to_flat(stands: Stands, (x, y): (f64, f64)) -> (f64, f64) {
    match stands {
        Stands::Upright => (y, -x),
        Stands::Inverted => (-y, x),
        Stands::Lying => (x, y),
    }
}

/// What is burned, about the middle of it all.
pub(super) struct Table {
    /// Middles of the patches, row by row.
    pub(super) patches: Vec<Place>,
    /// Labels in single strokes.
    pub(super) strokes: Vec<Vec<(f64, f64)>>,
    pub(super) width_mm: f64,
    pub(super) height_mm: f64,
}

pub(super) struct Place {
    pub(super) row: usize,
    pub(super) column: usize,
    pub(super) middle: (f64, f64),
}

/// Strokes turned a quarter turn to the left, so that they read upwards.
fn upwards(strokes: Vec<Vec<(f64, f64)>>) -> Vec<Vec<(f64, f64)>> {
    strokes.into_iter().map(|stroke| stroke.into_iter().map(|(x, y)| (-y, x)).collect()).collect()
}

/// A table of patches with the rows' figures at their left and the columns' above them, and what
/// they are beside either.
pub(super) fn table(
    rows: &[f64],
    (across, columns): (SwatchColumns, &[f64]),
    size_mm: f64,
) -> Table {
    let text = |value: &f64| fixed(*value, 3);
    let name = match across {
        SwatchColumns::Speeds => "speed, mm/s",
        SwatchColumns::Spacings => "spacing, mm",
    };
    let widest =
        rows.iter().map(|value| text_width_mm(&text(value), FIGURE_MM)).fold(0.0, f64::max);
    let patch_mm =
        columns.iter().map(|value| text_width_mm(&text(value), FIGURE_MM)).fold(size_mm, f64::max);
    let (pitch_x, pitch_y) = (patch_mm + GAP_MM, size_mm + GAP_MM);
    let count = |list: &[f64]| list.iter().map(|_| 1.0).sum::<f64>();
    let beside = NAME_MM + NAME_GAP_MM;
    // Names may be longer than what they name.
    let (name_mm, rows_name_mm) = (text_width_mm(name, NAME_MM), text_width_mm(ROWS_NAME, NAME_MM));
    let (across_mm, down_mm) = (pitch_x * count(columns) - GAP_MM, pitch_y * count(rows) - GAP_MM);
    let width_mm = beside + widest + GAP_MM + across_mm.max(name_mm);
    let height_mm = beside + FIGURE_MM + GAP_MM + down_mm.max(rows_name_mm);
    let (left, top) = (-0.5 * width_mm, 0.5 * height_mm);
    let (first_x, first_y) = (left + beside + widest + GAP_MM, top - beside - FIGURE_MM - GAP_MM);
    let mut strokes = Vec::new();
    let mut put = |drawn: Vec<Vec<(f64, f64)>>, x: f64, y: f64| {
        let moved = |stroke: Vec<(f64, f64)>| {
            stroke.into_iter().map(|p| (p.0 + x, p.1 + y)).collect::<Vec<_>>()
        };
        strokes.extend(drawn.into_iter().map(moved));
    };
    let middle_x = |column: usize| first_x + 0.5 * patch_mm + pitch_x * index(column);
    let middle_y = |row: usize| first_y - 0.5 * size_mm - pitch_y * index(row);
    put(text_strokes(name, NAME_MM), first_x, top - NAME_MM);
    let lowest = first_y - 0.5 * (down_mm.max(rows_name_mm) + rows_name_mm);
    put(upwards(text_strokes(ROWS_NAME, NAME_MM)), left + NAME_MM, lowest);
    for (column, value) in columns.iter().enumerate() {
        let text = text(value);
        let x = middle_x(column) - 0.5 * text_width_mm(&text, FIGURE_MM);
        put(text_strokes(&text, FIGURE_MM), x, first_y + GAP_MM);
    }
    let mut patches = Vec::new();
    for (row, value) in rows.iter().enumerate() {
        let text = text(value);
        let x = first_x - GAP_MM - text_width_mm(&text, FIGURE_MM);
        put(text_strokes(&text, FIGURE_MM), x, middle_y(row) - 0.5 * FIGURE_MM);
        let place = |column| Place { row, column, middle: (middle_x(column), middle_y(row)) };
        patches.extend((0..columns.len()).map(place));
    }
    Table { patches, strokes, width_mm, height_mm }
}

/// An arrow along +u and an R beside it, which stands upright where the arrow points up.
pub(super) fn arrow() -> Table {
    let (tip, tail) = (0.5 * ARROW_MM, -0.5 * ARROW_MM);
    let width_mm = 2.0 * ARROW_HEAD_MM + text_width_mm("R", R_MM);
    let x = -0.5 * width_mm + 0.5 * ARROW_HEAD_MM;
    let mut strokes = vec![
        vec![(x, tail), (x, tip)],
        vec![
            (x - 0.5 * ARROW_HEAD_MM, tip - ARROW_HEAD_MM),
            (x, tip),
            (x + 0.5 * ARROW_HEAD_MM, tip - ARROW_HEAD_MM),
        ],
    ];
    let letter = 0.5 * width_mm - text_width_mm("R", R_MM);
    let moved = |p: (f64, f64)| (p.0 + letter, p.1 - 0.5 * R_MM);
    strokes.extend(
        text_strokes("R", R_MM).into_iter().map(|stroke| stroke.into_iter().map(moved).collect()),
    );
    Table { patches: Vec::new(), strokes, width_mm, height_mm: ARROW_MM }
}

#[expect(clippy::cast_precision_loss, reason = "patches are few")]
fn index(k: usize) -> f64 {
    k as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_overlaps_and_all_lies_within() {
        let speeds = [50.0, 1000.0, 62.5, 0.0635];
        let table = table(&[5.0, 20.0, 100.0], (SwatchColumns::Speeds, &speeds), 6.0);
        assert_eq!(table.patches.len(), 12);
        let inside = |p: &(f64, f64)| {
            p.0.abs() <= 0.5 * table.width_mm + 1e-9 && p.1.abs() <= 0.5 * table.height_mm + 1e-9
        };
        assert!(table.strokes.iter().flatten().all(inside));
        for (k, a) in table.patches.iter().enumerate() {
            assert!(inside(&(a.middle.0 + 3.0, a.middle.1 - 3.0)), "{:?}", a.middle);
            let clear =
                |p: &(f64, f64)| (p.0 - a.middle.0).abs().max((p.1 - a.middle.1).abs()) >= 4.9;
            assert!(table.strokes.iter().flatten().all(clear), "a label within 2 mm of patch {k}");
            for b in &table.patches[k + 1..] {
                assert!(
                    (a.middle.0 - b.middle.0).abs().max((a.middle.1 - b.middle.1).abs()) >= 7.9
                );
            }
        }
    }

    #[test]
    fn the_reader_sees_it_unmirrored() {
        // Right-handed seen from outside: (u, v) turns the same way as (x, y).
        for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
            let (a, b) = (to_flat(stands, (1.0, 0.0)), to_flat(stands, (0.0, 1.0)));
            assert_eq!(a.0 * b.1 - a.1 * b.0, 1.0, "{stands:?}");
        }
    }
}
