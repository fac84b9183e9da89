//! A straight burn spread over the cells that it covers, each by what of it is covered.

use std::f64::consts::TAU;

use super::{BurnMap, PARTS, TILE, WallPlace};

/// No burn is taken for narrower or shorter than this many parts of a cell: it would slip through
/// between their middles.
const LEAST_PARTS: f64 = std::f64::consts::SQRT_2;
/// Parts of a line that goes around and around, at the most.
const MOST_STEPS: i64 = 40_000_000;

/// A burn as a rectangle about its start, mm along and around.
struct Bar {
    /// The unit vector along it.
    along: (f64, f64),
    /// From where to where, along it.
    reach_mm: (f64, f64),
    half_mm: f64,
}

impl Bar {
    /// Where a line at so much of one axis enters and leaves it on the other: `along` is its vector
    /// as (that axis, the other).
    fn cut(&self, at: f64, (own, other): (f64, f64)) -> Option<(f64, f64)> {
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        // How far along it, and how far beside it: each between two bounds.
        let sides = [(other, own * at, self.reach_mm), (own, -other * at, self.either())];
        for (slope, fixed, (least, most)) in sides {
            if slope.abs() < 1e-12 {
                if fixed < least || fixed >= most {
                    return None;
                }
                continue;
            }
            let (a, b) = ((least - fixed) / slope, (most - fixed) / slope);
            (low, high) = (low.max(a.min(b)), high.min(a.max(b)));
        }
        (low < high).then_some((low, high))
    }

    fn either(&self) -> (f64, f64) {
        (-self.half_mm, self.half_mm)
    }

    /// How far it reaches on an axis.
    fn extent(&self, (own, other): (f64, f64)) -> (f64, f64) {
        let (a, b) = (own * self.reach_mm.0, own * self.reach_mm.1);
        let beside = other.abs() * self.half_mm;
        (a.min(b) - beside, a.max(b) + beside)
    }
}

/// What a burn leaves in each cell.
#[derive(Clone, Copy)]
struct Burn {
    /// Percent of full power, times seconds, per mm².
    density: f64,
    at_s: f32,
    section: u16,
}

impl BurnMap {
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
        let part_rad = TAU / (self.columns as f64 * f64::from(PARTS));
        let part_mm = self.row_mm / f64::from(PARTS);
        let least_mm = LEAST_PARTS * part_mm.max(part_rad * radius);
        let half_mm = self.half_spot_mm.max(0.5 * least_mm);
        // A dot is as long as it is wide.
        let long_mm = if length > 0.0 { length.max(least_mm) } else { 2.0 * half_mm };
        let more = 0.5 * (long_mm - length);
        let bar = Bar {
            along: if length > 0.0 { (ds / length, dt / length) } else { (1.0, 0.0) },
            reach_mm: (-more, length + more),
            half_mm,
        };
        #[allow(clippy::cast_possible_truncation)]
        let burn = Burn { density: energy / (2.0 * half_mm * long_mm), at_s: at_s as f32, section };
        if bar.along.0.abs() >= bar.along.1.abs() {
            self.rows_of(&bar, from, (to.turn_rad - from.turn_rad) / ds, part_mm, burn);
        } else {
            self.columns_of(&bar, from, radius, part_rad, burn);
        }
    }

    /// One that goes along rather than around: part of a row by part of a row.
    fn rows_of(&mut self, bar: &Bar, from: WallPlace, slope: f64, part_mm: f64, burn: Burn) {
        let slope = if slope.is_finite() { slope } else { 0.0 };
        let (low, high) = bar.extent(bar.along);
        let parts = self.rows as f64 * f64::from(PARTS);
        let number = |s_mm: f64| ((s_mm / part_mm - 0.5).ceil()).clamp(0.0, parts);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let (first, end) = (number(from.s_mm + low) as usize, number(from.s_mm + high) as usize);
        let middle_mm = bar.along.1 / bar.along.0;
        for k in first..end {
            let along_mm = (k as f64 + 0.5) * part_mm - from.s_mm;
            let Some((a, b)) = bar.cut(along_mm, bar.along) else { continue };
            let row = k / PARTS as usize;
            // As wide on the wall at every height, about where the burn is there.
            let turn = from.turn_rad + along_mm * slope;
            let beside = |mm: f64| {
                let turn = turn + (mm - along_mm * middle_mm) / self.radius_mm[row];
                (turn / TAU + 0.5) * self.columns as f64 * f64::from(PARTS)
            };
            let (a, b) = (beside(a), beside(b));
            for_each_cell((a, b), |column, share, bits| {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let column = column.rem_euclid(self.columns as i64) as usize;
                let bits = bits << (PARTS as usize * (k % PARTS as usize));
                self.put((row, column), share, bits, burn);
            });
        }
    }

    /// One that goes around rather than along: part of a column by part of a column.
    fn columns_of(&mut self, bar: &Bar, from: WallPlace, radius: f64, part_rad: f64, burn: Burn) {
        let own = (bar.along.1, bar.along.0);
        let (low, high) = bar.extent(own);
        let start = (from.turn_rad / TAU + 0.5) * self.columns as f64 * f64::from(PARTS);
        let part_mm = part_rad * radius;
        #[allow(clippy::cast_possible_truncation)]
        let number = |mm: f64| (start + mm / part_mm - 0.5).ceil() as i64;
        let first = number(low);
        let end = number(high).min(first.saturating_add(MOST_STEPS));
        let per_row = f64::from(PARTS) / self.row_mm;
        for k in first..end {
            let Some((a, b)) = bar.cut((k as f64 + 0.5 - start) * part_mm, own) else { continue };
            let ends = ((from.s_mm + a) * per_row, (from.s_mm + b) * per_row);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let (column, part) = {
                let all = self.columns as i64 * i64::from(PARTS);
                let k = k.rem_euclid(all) as usize;
                (k / PARTS as usize, k % PARTS as usize)
            };
            for_each_cell(ends, |row, share, bits| {
                let Some(row) = usize::try_from(row).ok().filter(|row| *row < self.rows) else {
                    return;
                };
                let bits = (0..PARTS).fold(0, |all, i| all | (bits >> i & 1) << (PARTS * i));
                self.put((row, column), share, bits << part, burn);
            });
        }
    }

    /// Burns a share of a cell; bits are the parts of it that are covered.
    fn put(&mut self, (row, column): (usize, usize), share: f64, bits: u16, burn: Burn) {
        let area_mm2 = self.cell_area_mm2(row);
        let cell = &mut self.cells[row * self.columns + column];
        let (energy, covered, first_s, parts, section) = cell;
        #[allow(clippy::cast_possible_truncation)]
        {
            *energy += (share * area_mm2 * burn.density) as f32;
            *covered += share as f32;
        }
        // A cell that is only brushed does not count as burned at this time.
        if bits == 0 {
            return;
        }
        if *parts == 0 || burn.at_s < *first_s {
            (*first_s, *section) = (burn.at_s, burn.section);
        }
        if *parts == 0 {
            self.tiles[row / TILE * self.columns.div_ceil(TILE) + column / TILE] = true;
        }
        *parts |= bits;
    }
}

/// The cells that a stretch of their parts meets: their number, what share of all their parts it
/// covers, and those parts whose middles it covers, the first the lowest bit.
fn for_each_cell((low, high): (f64, f64), mut then: impl FnMut(i64, f64, u16)) {
    let side = f64::from(PARTS);
    let mut from = low;
    #[allow(clippy::cast_possible_truncation)]
    let mut cell = (low / side).floor() as i64;
    while from < high {
        let start = cell as f64 * side;
        let to = high.min(start + side);
        let (a, b) = (from - start, to - start);
        let middles = (0..PARTS).filter(|part| {
            let middle = f64::from(*part) + 0.5;
            a <= middle && middle < b
        });
        let bits = middles.fold(0, |all, part| all | 1 << part);
        then(cell, (b - a) / (side * side), bits);
        (from, cell) = (to, cell + 1);
    }
}
