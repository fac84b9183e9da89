//! Where the wall burned on one turn is burned again on another.

use std::f64::consts::TAU;

use stave_toolpath::Place;

/// The height of a row, mm of meridian.
const ROW_MM: f64 = 1.0;
/// Cells to a turn.
const COLUMNS: i64 = 360;
/// What is burned on two turns by less than this, or by less than the spot is wide, is the closing
/// of a seam, rad: outlines meet there, and scan lines take up the outline's ends.
const SEAM_RAD: f64 = 0.05 * TAU / 360.0;

/// What has burned of one cell: on which turn first, and from where to where in it.
#[derive(Clone, Copy, Debug)]
struct Cell {
    lap: i32,
    from_rad: f32,
    to_rad: f32,
    twice: bool,
}

const BARE: Cell =
    Cell { lap: i32::MIN, from_rad: f32::INFINITY, to_rad: f32::NEG_INFINITY, twice: false };

/// The wall in cells of a millimetre by a degree, each with the turn on which it burned.
#[derive(Clone, Debug)]
pub(super) struct Laps {
    rows: Vec<Vec<Cell>>,
    seam_rad: f32,
    /// Where a place was first burned on a second turn.
    first: Option<Place>,
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, and the row is held within the wall"
)]
fn row_of(s_mm: f64, last: usize) -> usize {
    ((s_mm / ROW_MM).max(0.0) as usize).min(last)
}

impl Laps {
    /// Of a wall so long, burned with a spot that takes so much of its turn.
    pub(super) fn new(length_mm: f64, spot_rad: f64) -> Self {
        let rows = row_of(length_mm, 1_000_000) + 1;
        #[allow(clippy::cast_possible_truncation, reason = "a ten-millionth of a turn will do")]
        let seam_rad = spot_rad.max(SEAM_RAD) as f32;
        Self { rows: vec![Vec::new(); rows], seam_rad, first: None }
    }

    /// Takes in a burn from place to place, or a dot.
    #[inline]
    pub(super) fn burn(&mut self, from: &Place, to: &Place) {
        let last = self.rows.len() - 1;
        let (first_row, last_row) = (row_of(from.s_mm, last), row_of(to.s_mm, last));
        if first_row == last_row {
            return self.in_row(first_row, from.turn_rad, to.turn_rad, to);
        }
        self.over_rows(from, to, first_row.min(last_row), first_row.max(last_row));
    }

    #[allow(clippy::cast_precision_loss, reason = "rows are few")]
    fn over_rows(&mut self, from: &Place, to: &Place, low: usize, high: usize) {
        let share = |s_mm: f64| ((s_mm - from.s_mm) / (to.s_mm - from.s_mm)).clamp(0.0, 1.0);
        let turn = |s_mm: f64| from.turn_rad + (to.turn_rad - from.turn_rad) * share(s_mm);
        for row in low..=high {
            let edges = (row as f64 * ROW_MM, (row + 1) as f64 * ROW_MM);
            let place = Place { s_mm: edges.0, ..*to };
            self.in_row(row, turn(edges.0), turn(edges.1), &place);
        }
    }

    fn in_row(&mut self, row: usize, a_rad: f64, b_rad: f64, place: &Place) {
        #[allow(clippy::cast_precision_loss, reason = "columns are few")]
        let per_cell = TAU / COLUMNS as f64;
        #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
        let cell = |turn: f64| (turn / per_cell).floor() as i64;
        let (low, high) = if a_rad < b_rad { (a_rad, b_rad) } else { (b_rad, a_rad) };
        let (first, last) = (cell(low), cell(high));
        let Some(cells) = self.rows.get_mut(row) else { return };
        if cells.is_empty() {
            cells.resize(usize::try_from(COLUMNS).unwrap_or(0), BARE);
        }
        let last = last.min(first.saturating_add(4 * COLUMNS));
        for column in first..=last {
            let lap = column.div_euclid(COLUMNS);
            let Ok(index) = usize::try_from(column.rem_euclid(COLUMNS)) else { continue };
            let Some(cell) = cells.get_mut(index) else { continue };
            #[allow(clippy::cast_precision_loss, reason = "laps are few")]
            let base = lap as f64 * TAU;
            #[allow(clippy::cast_possible_truncation, reason = "a ten-millionth of a turn will do")]
            let (from, to) = ((low - base) as f32, (high - base) as f32);
            let lap = i32::try_from(lap).unwrap_or(i32::MAX);
            if cell.lap == i32::MIN || cell.lap == lap {
                cell.lap = lap;
                cell.from_rad = cell.from_rad.min(from);
                cell.to_rad = cell.to_rad.max(to);
                continue;
            }
            // Burned on another turn: twice where it lies on what was burned then, the closing of a
            // seam apart.
            if to - cell.from_rad > self.seam_rad && cell.to_rad - from > self.seam_rad {
                cell.twice = true;
                self.first.get_or_insert(*place);
            }
        }
    }

    /// How much was burned on two turns in the row where it is most, degrees, and a place of it.
    pub(super) fn twice(&self) -> Option<(f64, Place)> {
        let first = self.first?;
        let count = |row: &Vec<Cell>| row.iter().filter(|cell| cell.twice).count();
        let rows = self.rows.iter().map(count).enumerate();
        let (row, cells) = rows.max_by_key(|(_, cells)| *cells)?;
        #[allow(clippy::cast_precision_loss, reason = "rows and columns are few")]
        let (s_mm, degrees) = ((row as f64 + 0.5) * ROW_MM, cells as f64 * 360.0 / COLUMNS as f64);
        let turn = self.rows.get(row)?.iter().position(|cell| cell.twice)?;
        #[allow(clippy::cast_precision_loss, reason = "columns are few")]
        let turn_rad = (turn as f64 + 0.5) * TAU / COLUMNS as f64;
        Some((degrees, Place { s_mm, turn_rad, ..first }))
    }
}
