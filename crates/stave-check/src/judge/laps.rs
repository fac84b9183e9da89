//! Where the wall burned on one turn is burned again on another.

use std::f64::consts::TAU;

use stave_rig::Meant;
use stave_toolpath::Place;

/// The height of a row, mm of meridian.
const ROW_MM: f64 = 1.0;
/// Cells to a turn.
const COLUMNS: i64 = 360;
#[allow(clippy::cast_precision_loss, reason = "columns are few")]
const CELLS_PER_RAD: f64 = COLUMNS as f64 / TAU;
/// What is burned on two turns by less than this, or by less than the spot is wide, is the closing
/// of a seam, rad: outlines meet there, and scan lines take up the outline's ends.
const SEAM_RAD: f64 = 0.05 * TAU / 360.0;
/// Lines so near to a cell's edge, as a share of it, go on over it.
const SAME_SHARE: f64 = 0.2;
/// Burns of two turns farther apart than this along the meridian do not meet, mm: about the finest
/// spot there is (common practice, no source).
const APART_MM: f32 = 0.02;

/// What has burned of one cell: on which turn first, and from where to where.
#[derive(Clone, Copy, Debug)]
struct Cell {
    lap: i32,
    from_rad: f32,
    to_rad: f32,
    low_mm: f32,
    high_mm: f32,
    /// Burned at the same height on another turn, if only beside what burned first.
    again: bool,
    twice: bool,
    /// From where to where that is, within the cell's turn.
    again_rad: (f32, f32),
}

const BARE: Cell = Cell {
    lap: i32::MIN,
    from_rad: f32::INFINITY,
    to_rad: f32::NEG_INFINITY,
    low_mm: f32::INFINITY,
    high_mm: f32::NEG_INFINITY,
    again: false,
    twice: false,
    again_rad: (f32::INFINITY, f32::NEG_INFINITY),
};

impl Cell {
    /// Takes in what burns of it on its own turn.
    #[inline]
    fn take(&mut self, lap: i32, (from, to): (f32, f32), (low_mm, high_mm): (f32, f32)) {
        self.lap = lap;
        // Comparisons spare the care for what is not a number.
        self.from_rad = if from < self.from_rad { from } else { self.from_rad };
        self.to_rad = if to > self.to_rad { to } else { self.to_rad };
        self.low_mm = if low_mm < self.low_mm { low_mm } else { self.low_mm };
        self.high_mm = if high_mm > self.high_mm { high_mm } else { self.high_mm };
    }

    /// Takes in what burns of it on another turn, as far as it lies on what burned first.
    fn lie_again(&mut self, (from, to): (f32, f32)) {
        let (from, to) = (from.max(self.from_rad), to.min(self.to_rad));
        if from <= to {
            self.again_rad = (self.again_rad.0.min(from), self.again_rad.1.max(to));
        }
    }
}

/// The greatest whole number that is not above: without the call that rounding is on processors
/// that cannot do it at once.
#[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
#[allow(clippy::cast_precision_loss, reason = "what is that large is whole")]
#[inline]
fn floor(x: f64) -> i64 {
    let whole = x as i64;
    whole - i64::from(whole as f64 > x)
}

/// A straight burn within one row: turns and lengths along the meridian at its ends, the lesser
/// turn first.
#[derive(Clone, Copy)]
struct Stretch {
    turn_rad: (f64, f64),
    s_mm: (f64, f64),
}

impl Stretch {
    fn new(a: (f64, f64), b: (f64, f64)) -> Self {
        let (low, high) = if a.0 < b.0 { (a, b) } else { (b, a) };
        Self { turn_rad: (low.0, high.0), s_mm: (low.1, high.1) }
    }

    /// Its turns, from a place on.
    #[allow(clippy::cast_possible_truncation, reason = "a ten-millionth of a turn will do")]
    #[inline]
    fn turns_from(&self, base_rad: f64) -> (f32, f32) {
        ((self.turn_rad.0 - base_rad) as f32, (self.turn_rad.1 - base_rad) as f32)
    }

    /// The least and greatest length along the meridian of all of it.
    #[allow(clippy::cast_possible_truncation, reason = "a ten-thousandth of a mm will do")]
    #[inline]
    fn whole(&self) -> (f32, f32) {
        let (a, b) = (self.s_mm.0 as f32, self.s_mm.1 as f32);
        if a < b { (a, b) } else { (b, a) }
    }

    /// The least and greatest length along the meridian between two turns.
    #[allow(clippy::cast_possible_truncation, reason = "a ten-thousandth of a mm will do")]
    fn between(&self, from_rad: f64, to_rad: f64) -> (f32, f32) {
        let (low, high) = self.turn_rad;
        let at = |turn: f64| {
            let share =
                if high > low { ((turn - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
            self.s_mm.0 + (self.s_mm.1 - self.s_mm.0) * share
        };
        let (a, b) = (at(from_rad), at(to_rad));
        (a.min(b) as f32, a.max(b) as f32)
    }
}

/// The cell in which the last burn lay: the next one mostly lies in it too, and need not look for
/// it.
#[derive(Clone, Copy, Debug)]
struct Near {
    row: usize,
    index: usize,
    /// From where to where along the meridian it reaches, mm, and around, in cells; the ends not
    /// taken in.
    s_mm: (f64, f64),
    columns: (f64, f64),
    lap: i32,
    /// Where that turn begins.
    base_rad: f64,
}

/// Holds nothing.
const NOWHERE: Near = Near {
    row: 0,
    index: 0,
    s_mm: (f64::INFINITY, f64::NEG_INFINITY),
    columns: (f64::INFINITY, f64::NEG_INFINITY),
    lap: 0,
    base_rad: 0.0,
};

impl Near {
    /// A cell by its row, its place in that and the column that it is of all turns.
    #[allow(clippy::cast_precision_loss, reason = "rows are few; columns beyond 2^53 hold nothing")]
    fn of((row, index): (usize, usize), column: i64, (lap, base_rad): (i32, f64)) -> Self {
        let (low, left) = (row as f64 * ROW_MM, column as f64);
        let (s_mm, columns) = ((low, low + ROW_MM), (left, left + 1.0));
        Self { row, index, s_mm, columns, lap, base_rad }
    }

    /// Whether both ends of a burn lie in it, its turns counted in cells.
    #[inline]
    fn holds(&self, s_mm: (f64, f64), columns: (f64, f64)) -> bool {
        let within = |value: f64, (low, high): (f64, f64)| value >= low && value < high;
        within(s_mm.0, self.s_mm)
            && within(s_mm.1, self.s_mm)
            && within(columns.0, self.columns)
            && within(columns.1, self.columns)
    }
}

/// The wall in cells of a millimetre by a degree, each with the turn on which it burned.
#[derive(Clone, Debug)]
pub(super) struct Laps {
    rows: Vec<Vec<Cell>>,
    near: Near,
    seam_rad: f32,
    /// Where a cell was first burned on a second turn.
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
        Self { rows: vec![Vec::new(); rows], near: NOWHERE, seam_rad, first: None }
    }

    /// Takes in a burn from place to place, or a dot.
    #[inline]
    pub(super) fn burn(&mut self, from: &Place, to: &Place, meant: &Meant) {
        let Near { row, index, lap, base_rad, .. } = self.near;
        let columns = (from.turn_rad * CELLS_PER_RAD, to.turn_rad * CELLS_PER_RAD);
        if self.near.holds((from.s_mm, to.s_mm), columns)
            && let Some(cell) = self.rows.get_mut(row).and_then(|cells| cells.get_mut(index))
            && cell.lap == lap
        {
            let stretch = Stretch::new((from.turn_rad, from.s_mm), (to.turn_rad, to.s_mm));
            return cell.take(lap, stretch.turns_from(base_rad), stretch.whole());
        }
        self.burn_anywhere(from, to, meant);
    }

    /// As [`Laps::burn`], wherever the last one lay.
    fn burn_anywhere(&mut self, from: &Place, to: &Place, meant: &Meant) {
        let last = self.rows.len() - 1;
        let (first_row, last_row) = (row_of(from.s_mm, last), row_of(to.s_mm, last));
        if first_row == last_row {
            let stretch = Stretch::new((from.turn_rad, from.s_mm), (to.turn_rad, to.s_mm));
            return self.in_row(first_row, stretch, to, meant);
        }
        let rows = (first_row.min(last_row), first_row.max(last_row));
        self.over_rows(from, to, rows, meant);
    }

    #[allow(clippy::cast_precision_loss, reason = "rows are few")]
    fn over_rows(&mut self, from: &Place, to: &Place, (low, high): (usize, usize), meant: &Meant) {
        let share = |s_mm: f64| ((s_mm - from.s_mm) / (to.s_mm - from.s_mm)).clamp(0.0, 1.0);
        let at = |s_mm: f64| {
            let share = share(s_mm);
            let turn_rad = from.turn_rad + (to.turn_rad - from.turn_rad) * share;
            (turn_rad, from.s_mm + (to.s_mm - from.s_mm) * share)
        };
        for row in low..=high {
            let edges = (row as f64 * ROW_MM, (row + 1) as f64 * ROW_MM);
            let place = Place { s_mm: edges.0, ..*to };
            self.in_row(row, Stretch::new(at(edges.0), at(edges.1)), &place, meant);
        }
    }

    fn in_row(&mut self, row: usize, stretch: Stretch, place: &Place, meant: &Meant) {
        let (low, high) = stretch.turn_rad;
        let (first, last) = (floor(low * CELLS_PER_RAD), floor(high * CELLS_PER_RAD));
        let Some(cells) = self.rows.get_mut(row) else { return };
        if cells.is_empty() {
            cells.resize(usize::try_from(COLUMNS).unwrap_or(0), BARE);
        }
        let mut lap = first.div_euclid(COLUMNS);
        let mut index = first - lap * COLUMNS;
        let cells_left = last.saturating_sub(first).min(4 * COLUMNS);
        for k in 0..=cells_left {
            let Some(cell) = usize::try_from(index).ok().and_then(|index| cells.get_mut(index))
            else {
                return;
            };
            #[allow(clippy::cast_precision_loss, reason = "laps are few")]
            let base = lap as f64 * TAU;
            let (from, to) = stretch.turns_from(base);
            let (low_mm, high_mm) = if cells_left == 0 {
                stretch.whole()
            } else {
                #[allow(clippy::cast_precision_loss, reason = "columns are few")]
                let edge = |k: i64| (first.saturating_add(k)) as f64 / CELLS_PER_RAD;
                stretch.between(edge(k), edge(k + 1))
            };
            let here = i32::try_from(lap).unwrap_or(i32::MAX);
            if cell.lap == i32::MIN || cell.lap == here {
                cell.take(here, (from, to), (low_mm, high_mm));
                if let Ok(index) = usize::try_from(index) {
                    self.near = Near::of((row, index), first.saturating_add(k), (here, base));
                }
            } else {
                // Burned on another turn: twice where it lies on what was burned then, the closing
                // of a seam apart.
                let around = (to - cell.from_rad).min(cell.to_rad - from) > self.seam_rad;
                let along = (cell.low_mm - high_mm).max(low_mm - cell.high_mm) < APART_MM;
                if along && !meant.fades(low, SEAM_RAD) {
                    cell.again = true;
                    #[allow(clippy::cast_precision_loss, reason = "columns are few")]
                    #[allow(clippy::cast_possible_truncation, reason = "a ten-millionth will do")]
                    let [left, right] =
                        [index, index + 1].map(|column| (column as f64 / CELLS_PER_RAD) as f32);
                    cell.lie_again((from.max(left), to.min(right)));
                    cell.twice |= around;
                    self.first.get_or_insert(*place);
                }
            }
            index += 1;
            if index == COLUMNS {
                (index, lap) = (0, lap + 1);
            }
        }
    }

    /// How much was burned on two turns in the row where it is most, degrees, and a place of it.
    pub(super) fn twice(&self) -> Option<(f64, Place)> {
        let first = self.first?;
        let rows = self.rows.iter().map(|row| self.twice_in(row)).enumerate();
        let wide = rows.map(|(row, cells)| (self.width_deg(row, &cells), row, cells));
        let (degrees, row, cells) = wide.max_by(|a, b| a.0.total_cmp(&b.0))?;
        let turn = *cells.first()?;
        #[allow(clippy::cast_precision_loss, reason = "rows and columns are few")]
        let (s_mm, turn_rad) =
            ((row as f64 + 0.5) * ROW_MM, (turn as f64 + 0.5) * TAU / COLUMNS as f64);
        Some((degrees, Place { s_mm, turn_rad, ..first }))
    }

    /// How wide cells of a row are together, of the first and the last of neighbours what burned
    /// twice, degrees: at least what closes a seam.
    #[allow(clippy::cast_precision_loss, reason = "columns are few")]
    fn width_deg(&self, row: usize, twice: &[usize]) -> f64 {
        let cells = self.rows.get(row).map_or(&[][..], |cells| cells);
        let count = cells.len().max(1);
        let is_twice = |cell: usize| twice.binary_search(&(cell % count)).is_ok();
        // What burned twice of a cell, from its left edge.
        let again = |cell: usize| {
            let cell = cell % count;
            let left = cell as f64 / CELLS_PER_RAD;
            let (from, to) = cells.get(cell)?.again_rad;
            (from <= to).then(|| (f64::from(from) - left, f64::from(to) - left))
        };
        let wide = 1.0 / CELLS_PER_RAD;
        let mut width_rad = 0.0;
        for &cell in twice {
            let (follows, goes_on) = (is_twice(cell + count - 1), is_twice(cell + 1));
            let (from, to) = again(cell).unwrap_or((0.0, wide));
            // Of a neighbour that does not count by itself, what lies up to here does.
            let before = again(cell + count - 1).filter(|_| !follows && from < SAME_SHARE * wide);
            let after = again(cell + 1).filter(|_| !goes_on && to > (1.0 - SAME_SHARE) * wide);
            let from = if follows { 0.0 } else { before.map_or(from, |before| before.0 - wide) };
            let to = if goes_on { wide } else { after.map_or(to, |after| wide + after.1) };
            let least = if follows || goes_on { 0.0 } else { f64::from(self.seam_rad) };
            width_rad += (to - from).max(least);
        }
        width_rad.to_degrees()
    }

    /// The cells of a row that are burned on two turns. Lines along the axis tell little within one
    /// cell; a row of neighbours that are longer together than a seam is wide is not its closing.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_precision_loss,
        clippy::cast_sign_loss,
        reason = "a seam is no wider than a row is long"
    )]
    fn twice_in(&self, row: &[Cell]) -> Vec<usize> {
        let seam_cells = f64::from(self.seam_rad) / TAU * row.len() as f64;
        let least = 2 + seam_cells.clamp(0.0, row.len() as f64).ceil() as usize;
        let again = |k: usize| row.get(k % row.len().max(1)).is_some_and(|cell| cell.again);
        let mut twice: Vec<bool> = row.iter().map(|cell| cell.twice).collect();
        for from in (0..row.len()).filter(|from| again(*from)) {
            if (from..from + least).all(again) {
                // What only touches the first and the last of them counts by its own width.
                for k in from + 1..from + least - 1 {
                    if let Some(twice) = twice.get_mut(k % row.len()) {
                        *twice = true;
                    }
                }
            }
        }
        twice.iter().enumerate().filter(|(_, twice)| **twice).map(|(k, _)| k).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn place(s_mm: f64, turn_deg: f64) -> Place {
        Place { s_mm, turn_rad: turn_deg.to_radians(), at_mm: s_mm, radius_mm: 30.0 }
    }

    /// Around at one height, in equal chords.
    fn around(laps: &mut Laps, s_mm: f64, (from, to): (f64, f64), chords: u32) {
        let at = |k: u32| place(s_mm, from + (to - from) * f64::from(k) / f64::from(chords));
        for k in 0..chords {
            laps.burn(&at(k), &at(k + 1), &Meant::default());
        }
    }

    /// A patch filled with lines along the axis, a tenth of a degree apart.
    fn patch(laps: &mut Laps, (low, high): (f64, f64), (from, to): (f64, f64)) {
        let lines = ((to - from) * 10.0).round();
        let mut line = 0.0;
        while line <= lines {
            let turn = from + (to - from) * line / lines;
            laps.burn(&place(low, turn), &place(high, turn), &Meant::default());
            line += 1.0;
        }
    }

    proptest! {
        #[test]
        fn nothing_is_burned_twice_below_a_turn(
            start in -900.0..900.0_f64,
            burns in prop::collection::vec(
                (0.0..50.0_f64, 0.0..50.0_f64, 0.0..360.0_f64, 0.0..360.0_f64), 1..60),
        ) {
            let mut laps = Laps::new(50.0, 0.0);
            for (s0, s1, a, b) in burns {
                laps.burn(&place(s0, start + a), &place(s1, start + b), &Meant::default());
            }
            prop_assert!(laps.twice().is_none(), "{:?}", laps.twice());
        }

        // Where the next burn lies in the cell of the last, and where it is looked for.
        #[test]
        fn near_as_anywhere(
            start in (-2.0..52.0_f64, -800.0..800.0_f64),
            steps in prop::collection::vec((-0.4..0.4_f64, -0.6..0.6_f64, 0..40_u8), 1..400),
        ) {
            let mut near = Laps::new(50.0, 0.0);
            let mut anywhere = near.clone();
            let (mut s_mm, mut turn) = start;
            for (along, around, jump) in steps {
                let from = place(s_mm, turn);
                (s_mm, turn) = (s_mm + along, turn + around);
                if jump == 0 {
                    turn += 360.0;
                }
                let to = place(s_mm, turn);
                near.burn(&from, &to, &Meant::default());
                anywhere.burn_anywhere(&from, &to, &Meant::default());
            }
            anywhere.near = near.near;
            prop_assert_eq!(format!("{near:?}"), format!("{anywhere:?}"));
        }

        #[test]
        fn a_band_that_closes_is_not_burned_twice_and_97_degrees_more_are(
            (start, chords) in (-400.0..400.0_f64, 1..1000_u32),
            (s_mm, backwards) in (0.0..50.0_f64, any::<bool>()),
        ) {
            let ends = |sweep: f64| {
                if backwards { (start + sweep, start) } else { (start, start + sweep) }
            };
            let mut laps = Laps::new(50.0, 0.0);
            around(&mut laps, s_mm, ends(360.0), chords);
            prop_assert!(laps.twice().is_none(), "{:?}", laps.twice());
            let mut laps = Laps::new(50.0, 0.0);
            around(&mut laps, s_mm, ends(457.0), chords);
            let (degrees, found) = laps.twice().unwrap();
            prop_assert!((degrees - 97.0).abs() <= 0.01, "{degrees}");
            prop_assert!((found.s_mm - s_mm).abs() <= 1.0);
        }
    }

    #[test]
    fn an_area_that_closes_is_not_burned_twice_and_one_that_runs_on_is() {
        for start in [0.0, 0.5, -123.4] {
            let mut laps = Laps::new(60.0, 0.0);
            patch(&mut laps, (10.0, 22.5), (start, start + 360.0));
            assert!(laps.twice().is_none(), "{start}: {:?}", laps.twice());
            patch(&mut laps, (10.0, 22.5), (start + 360.0, start + 457.0));
            let (degrees, place) = laps.twice().unwrap();
            assert!((degrees - 97.0).abs() <= 0.11, "{degrees}");
            assert!((10.0..=22.5).contains(&place.s_mm));
        }
    }

    #[test]
    fn pieces_a_lap_apart_that_do_not_meet_are_not_burned_twice() {
        // Beside each other around, and at other heights.
        let mut laps = Laps::new(60.0, 0.0);
        patch(&mut laps, (10.0, 20.0), (0.0, 90.0));
        patch(&mut laps, (10.0, 20.0), (450.0, 540.0));
        patch(&mut laps, (30.0, 40.0), (360.0, 450.0));
        patch(&mut laps, (45.0, 50.0), (-720.0, -600.0));
        assert!(laps.twice().is_none(), "{:?}", laps.twice());
        // Less than a millimetre apart: a thread that winds round and round.
        let mut laps = Laps::new(60.0, 0.0);
        for k in 0..40 {
            let (from, to) = (f64::from(k), f64::from(k + 1));
            let at = |t: f64| place(10.0 + 0.4 * t / 8.0, t * 45.0);
            laps.burn(&at(from), &at(to), &Meant::default());
        }
        assert!(laps.twice().is_none(), "{:?}", laps.twice());
        // Rings of other laps in between.
        around(&mut laps, 30.3, (0.0, 90.0), 7);
        around(&mut laps, 30.6, (360.0, 450.0), 7);
        assert!(laps.twice().is_none(), "{:?}", laps.twice());
        around(&mut laps, 30.3, (370.0, 380.0), 7);
        assert!(laps.twice().is_some_and(|(degrees, _)| (degrees - 10.0).abs() <= 1.0));
    }

    #[test]
    fn each_height_counts_for_itself() {
        let mut laps = Laps::new(60.0, 0.0);
        around(&mut laps, 10.2, (0.0, 457.0), 40);
        around(&mut laps, 30.2, (0.0, 370.0), 40);
        let (degrees, place) = laps.twice().unwrap();
        assert!((degrees - 97.0).abs() <= 0.01 && (place.s_mm - 10.2).abs() <= 1.0);
        // Half of it at one height and half at another: more than a turn together, at neither.
        let mut laps = Laps::new(60.0, 0.0);
        around(&mut laps, 10.2, (0.0, 250.0), 40);
        around(&mut laps, 30.2, (200.0, 457.0), 40);
        assert!(laps.twice().is_none());
    }

    /// On slim ware the spot is wider than what lines along the axis take of a cell.
    #[test]
    fn an_area_on_slim_ware_is_seen_to_run_on() {
        for spot_rad in [0.005, 0.012, 0.03] {
            let mut laps = Laps::new(60.0, spot_rad);
            patch(&mut laps, (10.0, 22.5), (0.3, 360.3 + spot_rad.to_degrees()));
            assert!(laps.twice().is_none(), "{spot_rad}: {:?}", laps.twice());
            patch(&mut laps, (10.0, 22.5), (360.3, 400.3));
            let (degrees, _) = laps.twice().unwrap();
            assert!((degrees - 40.0).abs() <= 0.5, "{spot_rad}: {degrees}");
        }
    }

    /// A little past the turn, over cells' edges and within them.
    #[test]
    fn how_much_is_told_is_how_much_it_is() {
        for start in [0.0, 0.3, 17.9, -359.9] {
            for past in [0.3, 1.0, 2.4, 14.2, 46.7] {
                let mut laps = Laps::new(60.0, 0.0);
                around(&mut laps, 10.2, (start, start + 360.0 + past), 40);
                let (degrees, _) = laps.twice().unwrap();
                assert!((degrees - past).abs() <= 0.01, "{start} {past}: {degrees}");
            }
        }
    }

    #[test]
    fn dots_count() {
        let mut laps = Laps::new(60.0, 0.0);
        around(&mut laps, 10.0, (0.0, 90.0), 4);
        let dot = place(10.0, 400.5);
        laps.burn(&dot, &dot, &Meant::default());
        let (degrees, _) = laps.twice().unwrap();
        assert!((degrees - SEAM_RAD.to_degrees()).abs() < 1e-6, "{degrees}");
    }
}
