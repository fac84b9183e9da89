//! Where on the wall how much energy went, as a grid.
//!
//! A cell knows how much energy went into it, how much of it burns cover, each counted, and which
//! of its sixteen parts are covered at all. So a line has its own energy per area in every cell
//! that it crosses, whether it fills it or only brushes it, and once more where it is burned again.

mod stroke;

use std::f64::consts::{PI, TAU};

use stave_wall::Wall;

/// The finest a cell may be, mm on the wall.
const FINEST_MM: f64 = 0.1;
/// The most cells of a map: beyond, cells grow.
const MOST_CELLS: f64 = 4.0e6;
/// The most cells along one side, so that a browser takes the map for a picture on the work.
const MOST_SIDE: usize = 4096;
/// What lies no further than this from a burn counts as burned alike, mm.
const NEAR_MM: f64 = 0.3;
/// Looks to either side within [`NEAR_MM`].
const NEAR: i32 = 3;
/// A cell has so many parts along each side, each a bit.
const PARTS: u32 = 4;
/// What burns cover of a cell may be more by this than the parts whose middles they cover: half a
/// part at either side. What is more than that was burned again.
const ROUNDED: f64 = 1.04 / PARTS as f64;

/// Cells along a side of a tile.
pub(crate) const TILE: usize = 8;

/// A place on the wall.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WallPlace {
    /// Along the meridian, mm from the first station.
    pub s_mm: f64,
    /// About the axis, rad, never folded.
    pub turn_rad: f64,
}

/// What burned in a cell: energy, percent of full power times seconds; how many times burns cover
/// it; when it was first burned, seconds; which of its parts are covered, row by row: one with none
/// is not burned; and the section that burned it first.
///
/// All of a cell lies together, for a burn changes all of it; and it is a tuple, so that a map of
/// noughts takes memory where something burns alone.
type Cell = (f32, f32, f32, u16, u16);

/// The energy burned into the wall, cell by cell: rows go along the meridian from the first
/// station, columns around from turn −π to π.
#[derive(Clone, Debug)]
pub struct BurnMap {
    rows: usize,
    columns: usize,
    row_mm: f64,
    /// Radius of each row's middle, mm.
    radius_mm: Vec<f64>,
    cells: Vec<Cell>,
    half_spot_mm: f64,
    /// Which tiles hold a burned cell, row by row: most of a wall is bare.
    tiles: Vec<bool>,
}

impl BurnMap {
    /// A map of nothing burned. `spot_mm` is the width of a burn.
    #[must_use]
    pub fn new(wall: &Wall, spot_mm: f64) -> Self {
        let (along, around) = (wall.length_mm(), TAU * wall.largest_radius_mm());
        let cell = (along * around / MOST_CELLS).sqrt().max(FINEST_MM);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let count = |length: f64| ((length / cell).ceil() as usize).clamp(1, MOST_SIDE);
        let (rows, columns) = (count(along), count(around));
        let row_mm = along / rows as f64;
        let mut hint = 0;
        let radius_mm = (0..rows)
            .map(|row| wall.section((row as f64 + 0.5) * row_mm, &mut hint).radius_mm)
            .collect();
        let cells = rows * columns;
        Self {
            rows,
            columns,
            row_mm,
            radius_mm,
            cells: vec![(0.0, 0.0, 0.0, 0, 0); cells],
            half_spot_mm: 0.5 * spot_mm.max(0.0),
            tiles: vec![false; rows.div_ceil(TILE) * columns.div_ceil(TILE)],
        }
    }

    /// Rows and columns.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.rows, self.columns)
    }

    /// How far a row reaches along the meridian, mm.
    pub(crate) fn row_mm(&self) -> f64 {
        self.row_mm
    }

    fn is_burned(&self, cell: usize) -> bool {
        self.parts(cell) != 0
    }

    fn parts(&self, cell: usize) -> u16 {
        let (.., parts, _) = self.cells[cell];
        parts
    }

    fn energy(&self, cell: usize) -> f64 {
        f64::from(self.cells[cell].0)
    }

    /// Row by row of tiles, which hold a burned cell; the last of a row may reach past the seam.
    pub(crate) fn tile_rows(&self) -> impl Iterator<Item = &[bool]> {
        self.tiles.chunks(self.columns.div_ceil(TILE))
    }

    /// All burned cells, row by row.
    fn burned_cells(&self) -> impl Iterator<Item = usize> {
        let tiles = self.tile_rows().enumerate();
        let rows = tiles.flat_map(|(k, tiles)| {
            (k * TILE..((k + 1) * TILE).min(self.rows)).map(move |row| (row, tiles))
        });
        rows.flat_map(move |(row, tiles)| {
            let burned = tiles.iter().enumerate().filter(|(_, is_burned)| **is_burned);
            let columns = burned.flat_map(|(k, _)| k * TILE..((k + 1) * TILE).min(self.columns));
            columns.map(move |column| row * self.columns + column)
        })
        .filter(|cell| self.is_burned(*cell))
    }

    /// The row and column of every burned cell.
    pub(crate) fn burned_rows_and_columns(&self) -> impl Iterator<Item = (usize, usize)> {
        self.burned_cells().map(|cell| (cell / self.columns, cell % self.columns))
    }

    /// The middles of all burned cells.
    pub(crate) fn burned_places(&self) -> impl Iterator<Item = WallPlace> {
        self.burned_cells().map(|cell| self.place(cell))
    }

    /// How many cells of each column are burned; the columns go once around, from −π.
    pub(crate) fn burned_columns(&self) -> Vec<f64> {
        let mut found = vec![0.0; self.columns];
        self.burned_rows_and_columns().for_each(|(_, column)| found[column] += 1.0);
        found
    }

    fn radius_near(&self, s_mm: f64) -> f64 {
        let row = (s_mm / self.row_mm).clamp(0.0, (self.rows - 1) as f64);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let row = row as usize;
        self.radius_mm[row.min(self.rows - 1)]
    }

    /// How many columns lie before a turn, from −π on.
    fn column(&self, turn_rad: f64) -> f64 {
        folded(turn_rad / TAU + 0.5) * self.columns as f64
    }

    /// The cell that holds a place; `None` past the ends of the wall.
    #[must_use]
    pub fn cell(&self, s_mm: f64, turn_rad: f64) -> Option<usize> {
        let row = s_mm / self.row_mm;
        if !(row >= 0.0 && row <= self.rows as f64) {
            return None;
        }
        let column = self.column(turn_rad);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let (row, column) =
            ((row as usize).min(self.rows - 1), (column as usize).min(self.columns - 1));
        Some(row * self.columns + column)
    }

    /// Energy per area of all of a cell: percent of full power, times seconds, per mm² of wall.
    #[must_use]
    pub fn density(&self, cell: usize) -> f64 {
        self.energy(cell) / self.cell_area_mm2(cell / self.columns)
    }

    /// Energy per area of what of a cell is burned: that of a line is the same all along it.
    #[must_use]
    pub fn strength(&self, cell: usize) -> f64 {
        let share = self.share(cell);
        if share > 0.0 { self.density(cell) / share } else { 0.0 }
    }

    /// What share of a cell is burned: where one burn lies beside the other, all that each covers.
    fn share(&self, cell: usize) -> f64 {
        let (_, covered, ..) = self.cells[cell];
        let (covered, parts) = (f64::from(covered), self.share_by_parts(cell));
        (if covered <= parts + ROUNDED { covered } else { parts }).min(1.0)
    }

    /// The same by its parts, which is right in the mean alone, burned again or not.
    fn share_by_parts(&self, cell: usize) -> f64 {
        f64::from(self.parts(cell).count_ones()) / f64::from(PARTS * PARTS)
    }

    /// Area of the cells of a row on the wall, mm².
    #[must_use]
    pub fn cell_area_mm2(&self, row: usize) -> f64 {
        self.row_mm * TAU * self.radius_mm[row] / self.columns as f64
    }

    /// When a cell was first burned, seconds, and by which section of the program; `None` where it
    /// never was.
    #[must_use]
    pub fn first(&self, cell: usize) -> Option<(f32, u16)> {
        let (_, _, first_s, parts, section) = self.cells[cell];
        (parts != 0).then_some((first_s, section))
    }

    /// How many cells each section burned first.
    pub(crate) fn cells_by_section(&self) -> Vec<usize> {
        let mut found = Vec::new();
        for cell in self.burned_cells() {
            let (.., section) = self.cells[cell];
            let section = usize::from(section);
            if found.len() <= section {
                found.resize(section + 1, 0);
            }
            found[section] += 1;
        }
        found
    }

    /// The four cells about a place, by how near it lies to their middles: a thin line that leans
    /// over the cells is not to look dashed.
    fn cells_about(&self, place: WallPlace) -> [Option<(usize, f64)>; 4] {
        let row = place.s_mm / self.row_mm - 0.5;
        let column = self.column(place.turn_rad) - 0.5;
        let (row0, column0) = (row.floor(), column.floor());
        let (fr, fc) = (row - row0, column - column0);
        let of = |dr: f64, dc: f64, weight: f64| {
            let row = row0 + dr;
            if !(row >= 0.0 && row < self.rows as f64) {
                return None;
            }
            // One past either end is the other end.
            let (column, columns) = (column0 + dc, self.columns as f64);
            let column = if column < 0.0 { column + columns } else { column };
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let (row, column) = (row as usize, column as usize);
            let column = if column < self.columns { column } else { 0 };
            Some((row * self.columns + column, weight))
        };
        [
            of(0.0, 0.0, (1.0 - fr) * (1.0 - fc)),
            of(0.0, 1.0, (1.0 - fr) * fc),
            of(1.0, 0.0, fr * (1.0 - fc)),
            of(1.0, 1.0, fr * fc),
        ]
    }

    /// Whether the part of a cell in which a place lies is burned.
    fn part_at(&self, place: WallPlace) -> bool {
        let Some(cell) = self.cell(place.s_mm, place.turn_rad) else { return false };
        let of = |share: f64| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let part = (f64::from(PARTS) * folded(share)) as u32;
            part.min(PARTS - 1)
        };
        let bit = PARTS * of(place.s_mm / self.row_mm) + of(self.column(place.turn_rad));
        self.parts(cell) >> bit & 1 == 1
    }

    /// Whether a place is burned.
    pub(crate) fn burned_at(&self, place: WallPlace) -> bool {
        self.cell(place.s_mm, place.turn_rad).is_some_and(|cell| self.is_burned(cell))
    }

    /// Whether anything within [`NEAR_MM`] of a place is burned: what two programs burn alike may
    /// differ by a spot's edge.
    pub(crate) fn burned_near(&self, place: WallPlace) -> bool {
        let radius = self.radius_near(place.s_mm);
        (-NEAR..=NEAR).any(|i| {
            (-NEAR..=NEAR).any(|j| {
                let step = NEAR_MM / f64::from(NEAR);
                self.burned_at(WallPlace {
                    s_mm: place.s_mm + f64::from(i) * step,
                    turn_rad: place.turn_rad + f64::from(j) * step / radius,
                })
            })
        })
    }

    /// How much wall is burned here but not even near in another map of the same wall, mm², and a
    /// place amid the most of it; `None` where none is.
    #[must_use]
    pub fn beyond(&self, other: &Self) -> Option<(WallPlace, f64)> {
        let is_stray = |cell: &usize| !other.burned_near(self.place(*cell));
        let strays: Vec<usize> = self.burned_cells().filter(is_stray).collect();
        let middle = self.place(*strays.get(strays.len() / 2)?);
        Some((middle, strays.into_iter().map(|cell| self.burned_of_mm2(cell)).sum()))
    }

    /// How much wall is burned, mm².
    #[must_use]
    pub fn burned_mm2(&self) -> f64 {
        self.burned_cells().map(|cell| self.burned_of_mm2(cell)).sum()
    }

    fn burned_of_mm2(&self, cell: usize) -> f64 {
        self.share_by_parts(cell) * self.cell_area_mm2(cell / self.columns)
    }

    /// The middle of a cell.
    #[must_use]
    pub fn place(&self, cell: usize) -> WallPlace {
        let (row, column) = (cell / self.columns, cell % self.columns);
        WallPlace {
            s_mm: (row as f64 + 0.5) * self.row_mm,
            turn_rad: TAU * (column as f64 + 0.5) / self.columns as f64 - PI,
        }
    }

    /// The energy per area that few cells pass, as the dark end of the colours: what 98 in 100 of
    /// the burned cells stay under.
    #[must_use]
    pub fn top_density(&self) -> f64 {
        #[allow(clippy::cast_possible_truncation)]
        let mut found: Vec<f32> =
            self.burned_cells().map(|cell| self.strength(cell) as f32).collect();
        if found.is_empty() {
            return 0.0;
        }
        let rank = (found.len() - 1) * 98 / 100;
        f64::from(*found.select_nth_unstable_by(rank, f32::total_cmp).1)
    }

    /// What lies under a spot of a picture, from places sampled in it: where they lie closer than
    /// a cell's parts do twice, each shows its own part, else each what of its cell is burned.
    pub(crate) fn look(&self, places: &[Option<WallPlace>]) -> Seen {
        let mut known = places.iter().flatten();
        let is_fine = known.next().zip(known.next()).is_some_and(|(a, b)| {
            let around_mm = (b.turn_rad - a.turn_rad) * self.radius_near(a.s_mm);
            (b.s_mm - a.s_mm).hypot(around_mm) < 0.5 * self.row_mm
        });
        // Each cell is weighed once, however many places lie about it.
        let mut weights = Weights(Vec::with_capacity(16));
        for place in places.iter().flatten() {
            if is_fine {
                let cell = self.cell(place.s_mm, place.turn_rad);
                cell.filter(|_| self.part_at(*place)).into_iter().for_each(|c| weights.add(c, 1.0));
            } else {
                let about = self.cells_about(*place).into_iter().flatten();
                about.for_each(|(cell, weight)| weights.add(cell, weight));
            }
        }
        let (mut energy, mut sum, mut cover) = (0.0, 0.0, 0.0);
        for &(cell, weight) in &weights.0 {
            let (density, share) = (self.density(cell), self.share(cell));
            if self.is_burned(cell) && share > 0.0 {
                // By energy, for a line that is burned again may seem weaker at its edges.
                energy += weight * density;
                sum += weight * density * (density / share);
                cover += weight * if is_fine { 1.0 } else { share };
            }
        }
        if energy <= 0.0 {
            return Seen { density: 0.0, cover: 0.0 };
        }
        Seen { density: sum / energy, cover: cover / places.len() as f64 }
    }
}

/// What is above the whole number below.
pub(crate) fn folded(number: f64) -> f64 {
    number - number.floor()
}

/// Cells and how much each counts; a spot of a picture lies over few.
struct Weights(Vec<(usize, f64)>);

impl Weights {
    fn add(&mut self, cell: usize, weight: f64) {
        match self.0.iter_mut().find(|one| one.0 == cell) {
            Some(one) => one.1 += weight,
            None => self.0.push((cell, weight)),
        }
    }
}

/// What a spot of a picture shows of the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Seen {
    /// Mean energy per area where it is burned.
    pub(crate) density: f64,
    /// The share of the spot that is burned.
    pub(crate) cover: f64,
}

#[cfg(test)]
mod tests;
