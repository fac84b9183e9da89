//! Halftones on the grid of the wall: a dot is one line spacing square, wherever it lies.
//!
//! On lines along the axis the cells are bounded by equal steps of `∫ds/r`, so that a cell is as
//! long as the lines lie apart there. On lines around they are counted from the middle of the art,
//! each as long as the lines lie apart everywhere.

use std::collections::BTreeMap;

use stave_setup::Tone;
use stave_wall::Wall;

use crate::area::{Grid, Way};

/// The matrix of B. E. Bayer (An optimum method for two-level rendition of continuous-tone
/// pictures, IEEE ICC 1973), 8 × 8: the order in which dots come.
const BAYER: [[u8; 8]; 8] = [
    [0, 32, 8, 40, 2, 34, 10, 42],
    [48, 16, 56, 24, 50, 18, 58, 26],
    [12, 44, 4, 36, 14, 46, 6, 38],
    [60, 28, 52, 20, 62, 30, 54, 22],
    [3, 35, 11, 43, 1, 33, 9, 41],
    [51, 19, 59, 27, 49, 17, 57, 25],
    [15, 47, 7, 39, 13, 45, 5, 37],
    [63, 31, 55, 23, 61, 29, 53, 21],
];

/// No more cells along a line than this: on a wall that comes to a point they would have no end.
const MOST_CELLS: usize = 1 << 20;

/// Dots on lines.
#[derive(Clone, Debug)]
pub(crate) struct Dots {
    /// The number of the first cell, counted from `∫ds/r` = 0 or from the middle.
    first: i64,
    /// Where cells begin and end on the wall, mm: one more than there are cells.
    ends_mm: Vec<f64>,
    grid: Grid,
    /// The middle of the art along lines around, mm along them.
    middle_mm: f64,
    /// For each line how much of the wall a mm along it is, and which of its cells are dots.
    lines: BTreeMap<i64, (f64, Vec<u64>)>,
    /// The line in hand, and how much of the wall a mm along it is.
    line: i64,
    scale: f64,
    /// Its cells: darkness times length, and length.
    dark: Vec<(f64, f64)>,
    /// What earlier cells owe to each cell of the line in hand, and of the next.
    owed: [Vec<f64>; 2],
}

impl Dots {
    /// No dots yet, on the cells between two places.
    #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)]
    pub(crate) fn new(wall: &Wall, grid: &Grid, from_mm: f64, to_mm: f64) -> Self {
        let step = grid.step;
        let (low, high) = match grid.way {
            Way::Along => (wall.conformal(from_mm) / step, wall.conformal(to_mm) / step),
            // No line is longer than where the work is widest.
            Way::Around { .. } => (-0.5 * (to_mm - from_mm) / step, 0.5 * (to_mm - from_mm) / step),
        };
        let (low, high) = (low.floor(), high.ceil());
        let (first, count) = match (low.is_finite(), high.is_finite()) {
            (true, true) if high >= low => (low as i64, ((high - low) as usize).min(MOST_CELLS)),
            _ => (0, 0),
        };
        let at = |k: usize| {
            let steps = (first + k as i64) as f64;
            match grid.way {
                Way::Along => wall.s_of_conformal(steps * step),
                Way::Around { .. } => steps * step,
            }
        };
        let ends_mm: Vec<f64> = (0..=count).map(at).collect();
        Self {
            first,
            ends_mm,
            grid: *grid,
            middle_mm: match grid.way {
                Way::Along => 0.0,
                Way::Around { .. } => 0.5 * (from_mm + to_mm),
            },
            scale: 1.0,
            lines: BTreeMap::new(),
            line: i64::MIN,
            dark: vec![(0.0, 0.0); count],
            owed: [vec![0.0; count + 2], vec![0.0; count + 2]],
        }
    }

    /// The cell that holds a place, clamped to the first and the last.
    fn cell(&self, wall_mm: f64) -> usize {
        let past = self.ends_mm.partition_point(|end| *end <= wall_mm);
        past.saturating_sub(1).min(self.dark.len().saturating_sub(1))
    }

    pub(crate) fn begin_line(&mut self, line: i64, wall: &Wall) {
        self.scale = match self.grid.way {
            Way::Along => 1.0,
            way @ Way::Around { .. } => {
                way.wall_mm(wall.section(self.grid.across(line), &mut 0).radius_mm)
            }
        };
        if line != self.line + 1 {
            self.owed.iter_mut().for_each(|owed| owed.fill(0.0));
        }
        self.line = line;
        self.dark.fill((0.0, 0.0));
    }

    /// A stretch of the line in hand is so dark.
    pub(crate) fn darken(&mut self, from_mm: f64, to_mm: f64, darkness: f64) {
        if self.dark.is_empty() {
            return;
        }
        let [from_mm, to_mm] = [from_mm, to_mm].map(|at| (at - self.middle_mm) * self.scale);
        let mut from = from_mm;
        for k in self.cell(from_mm)..self.dark.len() {
            let to = to_mm.min(self.ends_mm[k + 1]);
            let length = (to - from).max(0.0);
            self.dark[k].0 += darkness * length;
            self.dark[k].1 += length;
            if to >= to_mm {
                break;
            }
            from = to;
        }
    }

    /// Decides which cells of the line in hand are dots.
    pub(crate) fn end_line(&mut self, tone: Tone) {
        let count = self.dark.len();
        let mut bits = vec![0_u64; count.div_ceil(64)];
        let mut set = |k: usize| bits[k / 64] |= 1 << (k % 64);
        let mean = |cell: (f64, f64)| if cell.1 > 0.0 { cell.0 / cell.1 } else { 0.0 };
        if tone == Tone::Diffused {
            self.diffuse(&mut set);
        } else {
            #[allow(clippy::cast_possible_wrap, clippy::cast_sign_loss)]
            let eighth = |number: i64| number.rem_euclid(8) as usize;
            let row = BAYER[eighth(self.line)];
            for (k, cell) in self.dark.iter().enumerate() {
                #[allow(clippy::cast_possible_wrap)]
                let order = row[eighth(self.first + k as i64)];
                if mean(*cell) * 64.0 > f64::from(order) + 0.5 {
                    set(k);
                }
            }
        }
        if bits.iter().any(|word| *word != 0) {
            self.lines.insert(self.line, (self.scale, bits));
        }
    }

    /// R. W. Floyd and L. Steinberg, An adaptive algorithm for spatial greyscale, Proc. SID 17
    /// (1976): 7, 3, 5 and 1 sixteenths of what a dot is too much or too little go on to the
    /// neighbours; lines go there and back, so that no worms run one way. Cells that are not seen
    /// pass nothing on.
    fn diffuse(&mut self, set: &mut impl FnMut(usize)) {
        let count = self.dark.len();
        let [now, next] = &mut self.owed;
        next.fill(0.0);
        let forward = self.line % 2 == 0;
        for step in 0..count {
            let k = if forward { step } else { count - 1 - step };
            let (dark, length) = self.dark[k];
            if length <= 0.0 {
                continue;
            }
            // Cell k is at k + 1 of what is owed, so that both neighbours are there.
            let wanted = dark / length + now[k + 1];
            let dot = dark > 0.0 && wanted >= 0.5;
            if dot {
                set(k);
            }
            let rest = (wanted - f64::from(u8::from(dot))) / 16.0;
            let (ahead, behind) = if forward { (k + 2, k) } else { (k, k + 2) };
            now[ahead] += 7.0 * rest;
            next[behind] += 3.0 * rest;
            next[k + 1] += 5.0 * rest;
            next[ahead] += rest;
        }
        self.owed.swap(0, 1);
    }

    /// Calls `each` with the ends of every row of dots within a stretch of a line, and of every
    /// gap between them.
    pub(crate) fn runs(&self, line: i64, from_mm: f64, to_mm: f64, mut each: impl FnMut(f64, f64)) {
        let Some((scale, bits)) = self.lines.get(&line) else { return };
        let own = |at_mm: f64| (at_mm - self.middle_mm) * scale;
        let along = |wall_mm: f64| wall_mm / scale + self.middle_mm;
        let mut k = self.cell(own(from_mm));
        let dot = |k: usize| bits[k / 64] >> (k % 64) & 1 == 1;
        while k < self.dark.len() && self.ends_mm[k] < own(to_mm) {
            if !dot(k) {
                k += 1;
                continue;
            }
            let begin = k;
            while k < self.dark.len() && dot(k) {
                k += 1;
            }
            let (from, to) =
                (along(self.ends_mm[begin]).max(from_mm), along(self.ends_mm[k]).min(to_mm));
            if to > from {
                each(from, to);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use stave_wall::{Station, WallShape};

    const STEP_RAD: f64 = 0.0025;

    /// Dots of a flat tone on a cone, as many lines as cells.
    fn flat(darkness: f64, tone: Tone, lines: i64) -> Dots {
        let stations = [(0.0, 40.0), (60.0, 30.0)];
        let stations = stations.map(|(at_mm, radius_mm)| Station { at_mm, radius_mm });
        let wall = Wall::from_stations(&stations, WallShape::Straight).unwrap();
        let grid = Grid { way: Way::Along, origin: 0.0, step: STEP_RAD, snap: None };
        let mut dots = Dots::new(&wall, &grid, 5.0, 20.0);
        for line in 0..lines {
            dots.begin_line(line, &wall);
            dots.darken(5.0, 20.0, darkness);
            dots.end_line(tone);
        }
        dots
    }

    fn block(dots: &Dots, line: i64, cell: usize, size: usize) -> f64 {
        let mut count = 0;
        for row in line..line + size as i64 {
            for k in cell..cell + size {
                count += u32::from(
                    dots.lines.get(&row).is_some_and(|(_, b)| b[k / 64] >> (k % 64) & 1 == 1),
                );
            }
        }
        f64::from(count) / (size * size) as f64
    }

    #[test]
    fn a_cell_is_as_long_as_lines_lie_apart() {
        let dots = flat(0.5, Tone::Ordered, 1);
        for pair in dots.ends_mm.windows(2) {
            let radius = 40.0 - 10.0 * (0.5 * (pair[0] + pair[1])) / 60.0_f64.hypot(10.0);
            assert!(((pair[1] - pair[0]) / (radius * STEP_RAD) - 1.0).abs() < 1e-6);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn the_mean_of_a_patch_is_its_tone(darkness in 0.0..=1.0_f64, diffused: bool) {
            let tone = if diffused { Tone::Diffused } else { Tone::Ordered };
            let dots = flat(darkness, tone, 80);
            // A patch of 64 x 64 dots: within 1 %; blocks of 8 x 8: ordered within 1/64, diffused
            // rms under 0.05.
            let patch = block(&dots, 8, 16, 64);
            prop_assert!((patch - darkness).abs() <= 0.01, "{patch} {darkness}");
            let mut squares = 0.0;
            for row in 0..8 {
                for column in 0..8 {
                    let mean = block(&dots, 8 + 8 * row, 16 + 8 * column as usize, 8);
                    if diffused {
                        squares += (mean - darkness).powi(2) / 64.0;
                    } else {
                        prop_assert!((mean - darkness).abs() <= 1.0 / 64.0, "{mean} {darkness}");
                    }
                }
            }
            prop_assert!(squares.sqrt() < 0.05, "{}", squares.sqrt());
        }
    }
}
