//! Where on the wall how much energy went, as a grid.

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
/// A burn is spread by steps of this share of a cell.
const STEP: f64 = 0.5;

/// A place on the wall.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WallPlace {
    /// Along the meridian, mm from the first station.
    pub s_mm: f64,
    /// About the axis, rad, never folded.
    pub turn_rad: f64,
}

/// The energy burned into the wall, cell by cell: rows go along the meridian from the first
/// station, columns around from turn −π to π.
#[derive(Clone, Debug)]
pub struct BurnMap {
    rows: usize,
    columns: usize,
    row_mm: f64,
    /// Radius of each row's middle, mm.
    radius_mm: Vec<f64>,
    /// Percent of full power, times seconds.
    energy: Vec<f32>,
    /// When a cell was first burned, seconds; infinite where it never was.
    first_s: Vec<f32>,
    section: Vec<u16>,
    half_spot_mm: f64,
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
            energy: vec![0.0; cells],
            first_s: vec![f32::INFINITY; cells],
            section: vec![0; cells],
            half_spot_mm: 0.5 * spot_mm.max(0.0),
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

    /// Row by row, whether each cell is burned.
    pub(crate) fn burned_rows(&self) -> impl Iterator<Item = impl Iterator<Item = bool>> {
        let rows = self.first_s.chunks(self.columns);
        rows.map(|cells| cells.iter().map(|first_s| *first_s < f32::INFINITY))
    }

    /// The middles of all burned cells.
    pub(crate) fn burned_places(&self) -> impl Iterator<Item = WallPlace> {
        let cells = (0..self.first_s.len()).filter(|cell| self.first_s[*cell] < f32::INFINITY);
        cells.map(|cell| self.place(cell))
    }

    /// How many cells of each column are burned; the columns go once around, from −π.
    pub(crate) fn burned_columns(&self) -> Vec<f64> {
        let mut found = vec![0.0; self.columns];
        for cells in self.burned_rows() {
            for (column, burned) in found.iter_mut().zip(cells) {
                *column += f64::from(u8::from(burned));
            }
        }
        found
    }

    /// Takes a burn straight from one place to another: `energy` is percent of full power times
    /// seconds, spread over its length and the spot's width. What lies past the ends of the wall is
    /// left out.
    pub fn burn(&mut self, from: WallPlace, to: WallPlace, energy: f64, at_s: f64, section: u16) {
        let middle = 0.5 * (from.s_mm + to.s_mm);
        let radius = self.radius_near(middle);
        let (ds, dt) = (to.s_mm - from.s_mm, (to.turn_rad - from.turn_rad) * radius);
        let length = ds.hypot(dt);
        if !(length.is_finite() && energy.is_finite() && energy > 0.0 && middle.is_finite()) {
            return;
        }
        let step = STEP * self.row_mm;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let (along, across) = (
            (length / step).ceil().clamp(1.0, 1e7) as usize,
            (2.0 * self.half_spot_mm / step).round().clamp(1.0, 64.0) as usize,
        );
        // The unit vector across the burn; a dot is spread along the meridian.
        let (ns, nt) = if length > 0.0 { (-dt / length, ds / length) } else { (1.0, 0.0) };
        let share = energy / (along * across) as f64;
        let mut span = Stamp { share, at_s: at_s as f32, section };
        for i in 0..along {
            let f = (i as f64 + 0.5) / along as f64;
            let s = from.s_mm + f * ds;
            let turn = from.turn_rad + f * (to.turn_rad - from.turn_rad);
            for j in 0..across {
                let off = self.half_spot_mm * (2.0 * (j as f64 + 0.5) / across as f64 - 1.0);
                self.stamp(s + off * ns, turn + off * nt / radius, &mut span);
            }
        }
    }

    fn radius_near(&self, s_mm: f64) -> f64 {
        let row = (s_mm / self.row_mm).clamp(0.0, (self.rows - 1) as f64);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let row = row as usize;
        self.radius_mm[row.min(self.rows - 1)]
    }

    /// Shares a little energy among the four cells about a place.
    fn stamp(&mut self, s_mm: f64, turn_rad: f64, stamp: &mut Stamp) {
        let row = s_mm / self.row_mm - 0.5;
        if !(row > -1.0 && row < self.rows as f64) {
            return;
        }
        let column = (turn_rad / TAU + 0.5).rem_euclid(1.0) * self.columns as f64 - 0.5;
        let (row0, column0) = (row.floor(), column.floor());
        let (fr, fc) = (row - row0, column - column0);
        for (dr, wr) in [(0.0, 1.0 - fr), (1.0, fr)] {
            let r = row0 + dr;
            if r < 0.0 || r >= self.rows as f64 {
                continue;
            }
            for (dc, wc) in [(0.0, 1.0 - fc), (1.0, fc)] {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let c = (column0 + dc).rem_euclid(self.columns as f64) as usize;
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let cell = r as usize * self.columns + c.min(self.columns - 1);
                let weight = wr * wc;
                #[allow(clippy::cast_possible_truncation)]
                {
                    self.energy[cell] += (stamp.share * weight) as f32;
                }
                // A cell that is only brushed does not count as burned at this time.
                if weight > 0.1 && stamp.at_s < self.first_s[cell] {
                    self.first_s[cell] = stamp.at_s;
                    self.section[cell] = stamp.section;
                }
            }
        }
    }

    /// The cell that holds a place; `None` past the ends of the wall.
    #[must_use]
    pub fn cell(&self, s_mm: f64, turn_rad: f64) -> Option<usize> {
        let row = s_mm / self.row_mm;
        if !(row >= 0.0 && row <= self.rows as f64) {
            return None;
        }
        let column = (turn_rad / TAU + 0.5).rem_euclid(1.0) * self.columns as f64;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let (row, column) =
            ((row as usize).min(self.rows - 1), (column as usize).min(self.columns - 1));
        Some(row * self.columns + column)
    }

    /// Energy per area of a cell: percent of full power, times seconds, per mm² of wall.
    #[must_use]
    pub fn density(&self, cell: usize) -> f64 {
        f64::from(self.energy[cell]) / self.cell_area_mm2(cell / self.columns)
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
        (self.first_s[cell] < f32::INFINITY).then(|| (self.first_s[cell], self.section[cell]))
    }

    /// How many cells each section burned first.
    pub(crate) fn cells_by_section(&self) -> Vec<usize> {
        let mut found = Vec::new();
        for cell in 0..self.energy.len() {
            let Some((_, section)) = self.first(cell) else { continue };
            let section = usize::from(section);
            if found.len() <= section {
                found.resize(section + 1, 0);
            }
            found[section] += 1;
        }
        found
    }

    /// Whether a place is burned.
    pub(crate) fn burned_at(&self, place: WallPlace) -> bool {
        self.cell(place.s_mm, place.turn_rad).is_some_and(|cell| self.first_s[cell] < f32::INFINITY)
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
        let cells = (0..self.energy.len()).filter(|cell| self.first_s[*cell] < f32::INFINITY);
        let strays: Vec<usize> =
            cells.filter(|cell| !other.burned_near(self.place(*cell))).collect();
        let middle = self.place(*strays.get(strays.len() / 2)?);
        Some((middle, strays.into_iter().map(|cell| self.cell_area_mm2(cell / self.columns)).sum()))
    }

    /// How much wall is burned, mm².
    #[must_use]
    pub fn burned_mm2(&self) -> f64 {
        let cells = (0..self.energy.len()).filter(|cell| self.first_s[*cell] < f32::INFINITY);
        cells.map(|cell| self.cell_area_mm2(cell / self.columns)).sum()
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
        let mut found: Vec<f32> = Vec::new();
        for row in 0..self.rows {
            let area = self.cell_area_mm2(row);
            let cells = &self.energy[row * self.columns..(row + 1) * self.columns];
            #[allow(clippy::cast_possible_truncation)]
            found.extend(cells.iter().filter(|e| **e > 0.0).map(|e| (f64::from(*e) / area) as f32));
        }
        if found.is_empty() {
            return 0.0;
        }
        let rank = (found.len() - 1) * 98 / 100;
        f64::from(*found.select_nth_unstable_by(rank, f32::total_cmp).1)
    }

    /// What lies under a spot of a picture, from samples taken with [`BurnMap::cell`].
    pub(crate) fn look(&self, cells: impl Iterator<Item = Option<usize>>) -> Seen {
        let (mut sum, mut squares, mut burned, mut all) = (0.0, 0.0, 0_u32, 0_u32);
        for cell in cells {
            all += 1;
            let Some(cell) = cell else { continue };
            if self.first_s[cell] < f32::INFINITY {
                let density = self.density(cell);
                sum += density;
                squares += density * density;
                burned += 1;
            }
        }
        if burned == 0 || sum <= 0.0 {
            return Seen { density: 0.0, cover: 0.0 };
        }
        // Weighted by energy, so that the pale edge of a thin line does not make the line pale.
        Seen { density: squares / sum, cover: f64::from(burned) / f64::from(all) }
    }
}

struct Stamp {
    share: f64,
    at_s: f32,
    section: u16,
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
mod tests {
    use super::*;
    use stave_wall::{Station, WallShape};
    use std::collections::BTreeSet;

    fn cone() -> Wall {
        let stations =
            [Station { at_mm: 0.0, radius_mm: 20.0 }, Station { at_mm: 40.0, radius_mm: 30.0 }];
        Wall::from_stations(&stations, WallShape::Straight).unwrap()
    }

    fn place(s_mm: f64, turn_rad: f64) -> WallPlace {
        WallPlace { s_mm, turn_rad }
    }

    #[test]
    fn no_energy_is_lost_on_the_wall_nor_at_the_seam() {
        let wall = cone();
        let mut map = BurnMap::new(&wall, 0.2);
        map.burn(place(10.0, PI - 0.1), place(12.0, PI + 0.1), 5.0, 1.0, 0);
        let all: f64 = map.energy.iter().map(|e| f64::from(*e)).sum();
        assert!((all - 5.0).abs() < 1e-4, "{all}");
        assert!(map.cell(11.0, PI).is_some_and(|cell| map.density(cell) > 0.0));
        assert!(
            map.cell(11.0, 3.0 * PI).is_some_and(|cell| map.density(cell) > 0.0),
            "turns are folded"
        );
        assert_eq!(map.cell(-0.1, 0.0), None);
        map.burn(place(-5.0, 0.0), place(-4.0, 0.0), 5.0, 1.0, 0);
        map.burn(place(f64::NAN, 0.0), place(1.0, 0.0), 5.0, 1.0, 0);
        let still: f64 = map.energy.iter().map(|e| f64::from(*e)).sum();
        assert!((all - still).abs() < 1e-9);
    }

    #[test]
    fn hatching_gives_power_over_speed_and_spacing_at_either_radius() {
        // 40 % at 200 mm/s, lines 0.1 mm apart on the wall: 40 / (200 · 0.1) = 2 %·s/mm².
        let wall = cone();
        let mut map = BurnMap::new(&wall, 0.15);
        for (s, name) in [(5.0, "narrow"), (35.0, "wide")] {
            let radius = wall.section(s, &mut 0).radius_mm;
            for k in -60..=60 {
                let turn = f64::from(k) * 0.1 / radius;
                map.burn(place(s - 3.0, turn), place(s + 3.0, turn), 40.0 * 6.0 / 200.0, 0.0, 0);
            }
            let looks =
                (-20..20).flat_map(|i| (-20..20).map(move |j| (f64::from(i), f64::from(j))));
            let cells: BTreeSet<usize> =
                looks.filter_map(|(i, j)| map.cell(s + 0.05 * i, 0.05 * j / radius)).collect();
            let seen: Vec<f64> = cells.into_iter().map(|cell| map.density(cell)).collect();
            let mean = seen.iter().sum::<f64>() / seen.len() as f64;
            assert!((mean - 2.0).abs() < 0.03, "{name}: {mean}");
            assert!(seen.iter().all(|d| (d - 2.0).abs() < 0.5), "no stripes to speak of");
        }
    }

    #[test]
    fn the_first_burn_gives_time_and_section() {
        let mut map = BurnMap::new(&cone(), 0.2);
        map.burn(place(10.0, 0.0), place(12.0, 0.0), 1.0, 7.0, 3);
        map.burn(place(11.0, -0.1), place(11.0, 0.1), 1.0, 9.0, 4);
        let cell = map.cell(11.0, 0.0).unwrap();
        assert_eq!(map.first(cell), Some((7.0, 3)));
        let cell = map.cell(11.0, 0.08).unwrap();
        assert_eq!(map.first(cell), Some((9.0, 4)));
        assert_eq!(map.first(map.cell(30.0, 0.0).unwrap()), None);
        let there = map.place(map.cell(11.0, 0.08).unwrap());
        assert!((there.s_mm - 11.0).abs() < 0.1 && (there.turn_rad - 0.08).abs() < 0.005);
    }

    #[test]
    fn a_map_of_large_ware_stays_small() {
        let stations =
            [Station { at_mm: 0.0, radius_mm: 400.0 }, Station { at_mm: 2000.0, radius_mm: 400.0 }];
        let map = BurnMap::new(&Wall::from_stations(&stations, WallShape::Straight).unwrap(), 0.2);
        assert!((map.size().0 * map.size().1) as f64 <= 1.01 * MOST_CELLS);
        assert_eq!(map.top_density(), 0.0);
    }
}
