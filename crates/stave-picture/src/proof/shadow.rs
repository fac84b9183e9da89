//! Where nothing is burned, told by a look at rows and columns: most of a picture is bare ware.

use std::f64::consts::TAU;

use super::BurnMap;
use super::burn_map::{TILE, folded};

/// The rows and columns of maps that hold anything burned, and their tiles.
pub(crate) struct Shadow<'a>(Vec<(&'a BurnMap, Vec<bool>, Vec<bool>)>, Vec<Tiles<'a>>);

/// The tiles of a map that hold anything burned, row by row.
struct Tiles<'a> {
    row_mm: f64,
    column_rad: f64,
    rows: usize,
    columns: usize,
    burned: Vec<&'a [bool]>,
}

impl<'a> Tiles<'a> {
    fn of(map: &'a BurnMap) -> Self {
        let (rows, columns) = map.size();
        let column_rad = TAU / columns as f64;
        let burned = map.tile_rows().collect();
        Self { row_mm: map.row_mm(), column_rad, rows, columns, burned }
    }

    /// Whether any is burned within a cell of what lies between two places and two turns, less than
    /// once around.
    fn any(&self, s_mm: (f64, f64), turn_rad: (f64, f64)) -> bool {
        let row = |s: f64, by: f64| (s / self.row_mm + by).clamp(0.0, (self.rows - 1) as f64);
        let start = folded(turn_rad.0 / TAU + 0.5) * self.columns as f64 - 1.0;
        let more = (turn_rad.1 - turn_rad.0) / self.column_rad + 3.0;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let (first, last, start, more) = (
            row(s_mm.0, -1.0) as usize / TILE,
            row(s_mm.1, 1.0) as usize / TILE,
            (start + self.columns as f64) as usize,
            more as usize,
        );
        self.burned[first..=last].iter().any(|row| {
            let ends = [start, start + more];
            let mut steps = (start..start + more).step_by(TILE).chain(ends);
            steps.any(|c| row[c % self.columns / TILE])
        })
    }
}

impl<'a> Shadow<'a> {
    pub(crate) fn of(maps: impl IntoIterator<Item = &'a BurnMap>) -> Self {
        let one = |map: &'a BurnMap| {
            let (rows, columns) = map.size();
            let (mut by_row, mut by_column) = (vec![false; rows], vec![false; columns]);
            for (row, column) in map.burned_rows_and_columns() {
                by_row[row] = true;
                by_column[column] = true;
            }
            (map, by_row, by_column)
        };
        let all: Vec<_> = maps.into_iter().map(one).collect();
        let tiles = all.iter().map(|(map, ..)| Tiles::of(map)).collect();
        Self(all, tiles)
    }

    /// Whether anything may be burned between two places of the meridian, mm.
    pub(crate) fn along(&self, s_mm: (f64, f64)) -> bool {
        self.0.iter().any(|(map, rows, _)| {
            let place = |s: f64| (s / map.row_mm()).clamp(0.0, (rows.len() - 1) as f64);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let (from, to) =
                (place(s_mm.0.min(s_mm.1)) as usize, place(s_mm.0.max(s_mm.1)) as usize);
            rows[from..=to].contains(&true)
        })
    }

    /// Whether anything may be burned between two places of the meridian and two turns at once.
    pub(crate) fn within(&self, s_mm: (f64, f64), turn_rad: (f64, f64)) -> bool {
        let sorted = |(a, b): (f64, f64)| (a.min(b), a.max(b));
        let (s_mm, turn_rad) = (sorted(s_mm), sorted(turn_rad));
        // Not a number, or all the way round.
        if turn_rad.1.partial_cmp(&(turn_rad.0 + TAU)) != Some(std::cmp::Ordering::Less) {
            return true;
        }
        self.1.iter().any(|tiles| tiles.any(s_mm, turn_rad))
    }

    /// Whether anything may be burned between two turns, rad.
    pub(crate) fn around(&self, turn_rad: (f64, f64)) -> bool {
        let (from, to) = (turn_rad.0.min(turn_rad.1), turn_rad.0.max(turn_rad.1));
        // Not a number, or all the way round.
        if to.partial_cmp(&(from + TAU)) != Some(std::cmp::Ordering::Less) {
            return true;
        }
        self.0.iter().any(|(_, _, columns)| {
            let count = columns.len();
            let start = folded(from / TAU + 0.5) * count as f64;
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let (first, more) = (
                (start as usize).min(count - 1),
                // The last one may be cut into by rounding.
                ((to - from) / TAU * count as f64) as usize + 2,
            );
            (0..more).any(|k| columns[(first + k) % count])
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::WallPlace;
    use stave_wall::{Station, Wall, WallShape};

    #[test]
    fn no_burn_lies_outside_its_shadow() {
        let can = [0.0, 90.0].map(|at_mm| Station { at_mm, radius_mm: 30.0 });
        let wall = Wall::from_stations(&can, WallShape::Straight).unwrap();
        let mut map = BurnMap::new(&wall, 0.2);
        let at = |s_mm, turn_rad| WallPlace { s_mm, turn_rad };
        // Over the seam of the map, at turn π.
        map.burn(at(20.0, 3.0), at(40.0, 3.3), 5.0, 0.0, 0);
        let shadow = Shadow::of([&map]);
        let (rows, columns) = map.size();
        for cell in 0..rows * columns {
            let place = map.place(cell);
            if map.burned_at(place) {
                assert!(shadow.along((place.s_mm, place.s_mm)));
                for by in [-0.05, 0.0, 0.05] {
                    let (s, turn) = (place.s_mm + by, place.turn_rad - 0.02 * by);
                    assert!(
                        shadow.within((s, s), (turn, turn))
                            && shadow.within((s, s - 9.0), (turn, turn + 1.0))
                    );
                    assert!(shadow.within((s, s), (turn - 1.0, turn + TAU + 0.5)));
                }
                for laps in [-2.0, 0.0, 1.0] {
                    let turn = place.turn_rad + laps * TAU;
                    assert!(shadow.around((turn, turn)) && shadow.around((turn - 0.1, turn)));
                }
            }
        }
        assert!(!shadow.along((0.0, 19.0)) && !shadow.along((90.0, 41.0)));
        assert!(
            !shadow.within((0.0, 18.0), (-3.0, 3.0)) && !shadow.within((25.0, 30.0), (-2.0, 2.0))
        );
        assert!(shadow.along((0.0, 90.0)) && shadow.around((0.0, 7.0)));
        assert!(!shadow.around((-0.5, 2.9)) && !shadow.around((3.5, 6.0)));
    }
}
