//! Places of a label on a curved wall, looked up: a geodesic is integrated for each knot of a grid
//! of the flat plane that somebody comes near, once, and what lies between is interpolated.
//!
//! Between the knots the cubic through the four nearest of each row, and of those the cubic across
//! (Lagrange's form; M. Abramowitz and I. A. Stegun, *Handbook of Mathematical Functions*,
//! 25.2.13). Its error is `f⁗` times a product of four distances, which is greatest in the middle
//! of a cell: there and beside it each cell is held against the exact place before it is used.

use std::sync::OnceLock;

use crate::Wall;
use crate::label::Label;

/// Between knots, mm: of the table, and of a closer one where that does not serve.
const KNOTS_MM: [f64; 2] = [1.0, 0.25];
/// Knots to a tile's side.
const TILE: usize = 8;
/// Tiles to a side: 256 mm of the coarse table either way.
const TILES: usize = 64;
/// Where a cell is held against the exact place: in the middle, and beside it, since across the
/// jump of curvature at a station, where no cubic is good, two faults may cancel in one place.
const TRIED: [(f64, f64); 3] = [(0.5, 0.5), (0.2, 0.7), (0.8, 0.3)];
/// A cell that is off by more than this there, mm, is not used: elsewhere it is off by some times
/// that at the most.
const TRIED_MM: f64 = 5e-6;

/// `s` and turn from the anchor's.
type Landed = (f64, f64);

#[derive(Debug)]
struct Tile {
    knots: [OnceLock<Landed>; TILE * TILE],
    /// Whether the cell that a knot begins may be used.
    holds: [OnceLock<bool>; TILE * TILE],
}

/// The tables of one label, filled as they are asked.
#[derive(Debug)]
pub(crate) struct LabelTable {
    grids: [Grid; KNOTS_MM.len()],
}

/// One of them, tiles in rows.
#[derive(Debug)]
struct Grid {
    knot_mm: f64,
    rows: Box<[OnceLock<Row>]>,
}

type Row = Box<[OnceLock<Box<Tile>>]>;

/// Tiles, or rows of tiles, that nobody has come near.
fn bare<T>() -> Box<[OnceLock<T>]> {
    std::iter::repeat_with(OnceLock::new).take(TILES).collect()
}

/// The weights of the knots at −1, 0, 1 and 2 for a place between 0 and 1.
#[inline]
fn weights(x: f64) -> [f64; 4] {
    let (before, next, after) = (x + 1.0, x - 1.0, x - 2.0);
    [
        -x * next * after / 6.0,
        0.5 * before * next * after,
        -0.5 * before * x * after,
        before * x * next / 6.0,
    ]
}

impl LabelTable {
    pub(crate) fn new() -> Self {
        Self { grids: KNOTS_MM.map(|knot_mm| Grid { knot_mm, rows: bare() }) }
    }

    /// `s` and turn of a flat point, mm from the anchor, to within 5e-5 mm of the exact ones;
    /// `None` where no table knows them so well.
    pub(crate) fn look(
        &self,
        label: &Label,
        wall: &Wall,
        along_mm: f64,
        around_mm: f64,
    ) -> Option<Landed> {
        self.grids.iter().find_map(|grid| grid.look(label, wall, along_mm, around_mm))
    }
}

impl Grid {
    fn look(&self, label: &Label, wall: &Wall, along_mm: f64, around_mm: f64) -> Option<Landed> {
        let ((row, x), (column, y)) = (self.knot_of(along_mm)?, self.knot_of(around_mm)?);
        let holds = self.tile(row, column)?.holds.get(row % TILE * TILE + column % TILE)?;
        let is_good = holds.get_or_init(|| {
            TRIED.iter().all(|&(x, y)| {
                let Some(looked) = self.between(label, wall, (row, x), (column, y)) else {
                    return false;
                };
                let exact = label.map(wall, self.flat_mm(row, x), self.flat_mm(column, y));
                let radius_mm = wall.section(exact.0, &mut 0).radius_mm;
                let off_mm = (looked.0 - exact.0).abs().max((looked.1 - exact.1).abs() * radius_mm);
                // What is no number is no good.
                off_mm <= TRIED_MM
            })
        });
        if *is_good { self.between(label, wall, (row, x), (column, y)) } else { None }
    }

    /// Where a place lies among the knots: the knot below it, counted from the table's corner, and
    /// the share of the way to the next.
    fn knot_of(&self, mm: f64) -> Option<(usize, f64)> {
        #[allow(clippy::cast_precision_loss, reason = "a few hundred knots")]
        let (middle, last) = ((TILE * TILES / 2) as f64, (TILE * TILES - 2) as f64);
        let knots = mm / self.knot_mm + middle;
        let below = knots.floor();
        // The outermost knots have no neighbours beyond; what is no number has none at all.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within it")]
        (below >= 1.0 && below < last).then_some((below as usize, knots - below))
    }

    /// The flat distance of a place among the knots from the anchor, mm.
    fn flat_mm(&self, knot: usize, share: f64) -> f64 {
        #[allow(clippy::cast_precision_loss, reason = "a few hundred knots")]
        let knots = knot as f64 - (TILE * TILES / 2) as f64;
        (knots + share) * self.knot_mm
    }

    fn tile(&self, row: usize, column: usize) -> Option<&Tile> {
        let tiles = self.rows.get(row / TILE)?.get_or_init(bare);
        let empty = || Tile {
            knots: std::array::from_fn(|_| OnceLock::new()),
            holds: std::array::from_fn(|_| OnceLock::new()),
        };
        Some(tiles.get(column / TILE)?.get_or_init(|| Box::new(empty())))
    }

    fn between(
        &self,
        label: &Label,
        wall: &Wall,
        (row, x): (usize, f64),
        (column, y): (usize, f64),
    ) -> Option<Landed> {
        let (rows, columns) = (weights(x), weights(y));
        let mut sum = (0.0, 0.0);
        for (row, by_row) in (row - 1..).zip(rows) {
            for (column, by_column) in (column - 1..).zip(columns) {
                let knot = self.tile(row, column)?.knots.get(row % TILE * TILE + column % TILE)?;
                let landed = knot.get_or_init(|| {
                    label.map(wall, self.flat_mm(row, 0.0), self.flat_mm(column, 0.0))
                });
                let weight = by_row * by_column;
                sum = (sum.0 + weight * landed.0, sum.1 + weight * landed.1);
            }
        }
        Some(sum)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Station, WallShape};
    use proptest::prelude::*;

    #[test]
    fn cubics_are_kept() {
        let cubic = |x: f64| 3.0 - x * (2.0 - x * (0.5 - 0.25 * x));
        for x in [0.0, 0.1, 0.5, 0.77, 1.0] {
            let sum: f64 =
                weights(x).iter().zip([-1.0, 0.0, 1.0, 2.0]).map(|(w, at)| w * cubic(at)).sum();
            assert!((sum - cubic(x)).abs() < 1e-14, "{x}: {sum}");
        }
    }

    /// In its middle alone this cell looked good: two faults cancel there.
    #[test]
    fn a_cell_is_tried_beside_its_middle() {
        let radii = [22.094, 23.771, 41.595, 20.796, 26.575, 43.201, 24.889, 30.862];
        let stations: Vec<Station> = radii
            .iter()
            .enumerate()
            .map(|(k, &radius_mm)| Station { at_mm: k as f64 * 12.315, radius_mm })
            .collect();
        let wall = Wall::from_stations(&stations, WallShape::Smooth).unwrap();
        let label = Label { anchor_s_mm: 0.372_344 * wall.length_mm() };
        let table = LabelTable::new();
        for k in 0..400_u16 {
            let (along_mm, around_mm) =
                (6.5 + f64::from(k % 20) / 20.0, 38.4 + f64::from(k / 20) / 20.0);
            let exact = label.map(&wall, along_mm, around_mm);
            let Some(looked) = table.look(&label, &wall, along_mm, around_mm) else { continue };
            let radius_mm = wall.section(exact.0, &mut 0).radius_mm;
            let off_mm = (looked.0 - exact.0).hypot((looked.1 - exact.1) * radius_mm);
            assert!(off_mm <= 2e-5, "{along_mm} {around_mm}: {off_mm}");
        }
    }

    proptest! {
        #![proptest_config(stave_tests::cases(64))]

        #[test]
        fn what_is_looked_up_is_where_the_geodesic_ends(
            radii in prop::collection::vec(20.0..45.0_f64, 3..9),
            between_mm in 6.0..40.0_f64,
            anchor in 0.1..0.9_f64,
            places in prop::collection::vec((-60.0..60.0_f64, -60.0..60.0_f64), 40),
        ) {
            let stations: Vec<Station> = radii.iter().enumerate()
                .map(|(k, &radius_mm)| Station { at_mm: k as f64 * between_mm, radius_mm })
                .collect();
            let wall = Wall::from_stations(&stations, WallShape::Smooth).unwrap();
            let label = Label { anchor_s_mm: anchor * wall.length_mm() };
            let table = LabelTable::new();
            for (along_mm, around_mm) in places {
                let Some(looked) = table.look(&label, &wall, along_mm, around_mm) else { continue };
                let exact = label.map(&wall, along_mm, around_mm);
                let radius_mm = wall.section(exact.0, &mut 0).radius_mm;
                let off_mm = (looked.0 - exact.0).hypot((looked.1 - exact.1) * radius_mm);
                prop_assert!(off_mm <= 5e-5, "{along_mm} {around_mm}: {off_mm}");
            }
        }
    }
}
