//! Pictures: what is burned how strongly over the flat plane.

use kurbo::{Affine, Point, Rect};

use crate::luminance::{linear_of_srgb, over_white, srgb_of_linear};

/// Levels of darkness and luminance: this is all of it.
pub(crate) const FULL: u16 = u16::MAX;

/// A raster of greys as a file or a rendering has them, the top row first.
#[derive(Clone, Debug, PartialEq)]
pub struct Shades {
    columns: u32,
    rows: u32,
    /// Relative luminance of each pixel by itself, linear, all of `u16`.
    luminance: Vec<u16>,
    /// How much of each pixel is there; `None` where all of all is.
    cover: Option<Vec<u8>>,
    /// Relative luminance of each pixel over white, where pixels have colours that are seen
    /// through; without it they are greys.
    over_white: Option<Vec<u16>>,
}

impl Shades {
    /// A raster of so many columns and rows. Missing pixels are white, those too many dropped.
    #[must_use]
    pub fn new(columns: u32, rows: u32, luminance: Vec<u16>, cover: Option<Vec<u8>>) -> Self {
        let count = columns as usize * rows as usize;
        let (mut luminance, mut cover) = (luminance, cover);
        luminance.resize(count, FULL);
        if let Some(cover) = &mut cover {
            cover.resize(count, 0);
        }
        // What covers all is no cover.
        let cover = cover.filter(|cover| cover.iter().any(|part| *part != u8::MAX));
        Self { columns, rows, luminance, cover, over_white: None }
    }

    /// The same raster of colours, whose relative luminances over white, linear, all of `u16`, do
    /// not follow from those they have by themselves. Missing pixels are white.
    #[must_use]
    pub fn seen_over_white(self, luminance: Vec<u16>) -> Self {
        let mut luminance = luminance;
        luminance.resize(self.luminance.len(), FULL);
        let over_white = self.cover.as_ref().map(|_| luminance);
        Self { over_white, ..self }
    }

    /// Columns and rows.
    #[must_use]
    pub fn size(&self) -> (u32, u32) {
        (self.columns, self.rows)
    }

    /// The luminance of a pixel, linear, 0 to 1, and how much of it is there, of all of `u8`;
    /// pixels count row by row. White and nothing past the last.
    #[must_use]
    pub fn pixel(&self, pixel: usize) -> (f64, u8) {
        let Some(luminance) = self.luminance.get(pixel) else { return (1.0, 0) };
        let cover = self.cover.as_ref().map_or(u8::MAX, |cover| cover[pixel]);
        (f64::from(*luminance) / f64::from(FULL), cover)
    }

    /// Luminance and cover, each 0 to 1, at a point of the raster's own plane, where a pixel is 1 x
    /// 1: straight between the middles of four pixels, each as far as it is there. Off the raster
    /// nothing is there.
    ///
    /// ```
    /// use stave_toolpath::Shades;
    /// let shades = Shades::new(2, 1, vec![0, u16::MAX], None);
    /// assert_eq!(shades.between(1.0, 0.5), (0.5, 1.0));
    /// ```
    #[must_use]
    pub fn between(&self, x: f64, y: f64) -> (f64, f64) {
        let (left, top) = ((x - 0.5).floor(), (y - 0.5).floor());
        let (share_x, share_y) = (x - 0.5 - left, y - 0.5 - top);
        let (mut light, mut there) = (0.0, 0.0);
        for (row, of_row) in [(top, 1.0 - share_y), (top + 1.0, share_y)] {
            for (column, of_column) in [(left, 1.0 - share_x), (left + 1.0, share_x)] {
                let inside = column >= 0.0
                    && column < f64::from(self.columns)
                    && row >= 0.0
                    && row < f64::from(self.rows);
                if !inside {
                    continue;
                }
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let pixel = row as usize * self.columns as usize + column as usize;
                let (luminance, cover) = self.pixel(pixel);
                let share = of_row * of_column * f64::from(cover) / f64::from(u8::MAX);
                light += share * luminance;
                there += share;
            }
        }
        if there > 0.0 { (light / there, there) } else { (1.0, 0.0) }
    }

    /// Whether every pixel covers what lies beneath.
    #[must_use]
    pub fn is_opaque(&self) -> bool {
        self.cover.is_none()
    }

    /// The darkness of a pixel, 0 to 1: what shines through is as dark as it looks over white.
    /// `invert` burns what is light by itself, as far as it is there: what is not there is bare.
    #[inline]
    pub(crate) fn darkness(&self, pixel: usize, invert: bool) -> f64 {
        let share_of = |level: u16| f64::from(level) / f64::from(FULL);
        let luminance = share_of(self.luminance[pixel]);
        let cover = self.cover.as_ref().map_or(u8::MAX, |cover| cover[pixel]);
        let there = f64::from(cover) / f64::from(u8::MAX);
        match &self.over_white {
            _ if invert => luminance * there,
            _ if cover == u8::MAX => 1.0 - luminance,
            _ if cover == 0 => 0.0,
            Some(over_white) => 1.0 - share_of(over_white[pixel]),
            None => 1.0 - linear_of_srgb(over_white(srgb_of_linear(luminance), there)),
        }
    }
}

/// Rows of runs of equal strength over the flat plane.
///
/// Row `k` lies between `y = k` and `y = k + 1` of the picture's own plane and is parted along `x`
/// into runs. Outside its rows nothing is burned. The strength of
/// a run is one of the picture's levels.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    to_flat: Affine,
    from_flat: Affine,
    /// From where to where its rows reach along `x`.
    reach: (f64, f64),
    rows: Rows,
}

#[derive(Clone, Debug, PartialEq)]
enum Rows {
    /// Pixels: every run is 1 wide.
    Even { columns: usize, rows: usize, levels: Vec<u16> },
    /// Runs of any length.
    Runs(Vec<PictureRow>),
}

/// A row of runs of any length: six bytes a run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PictureRow {
    start: f32,
    ends: Box<[f32]>,
    levels: Box<[u16]>,
}

impl PictureRow {
    /// A row that begins at `start`: each run its end along the row and its level, ends rising. A
    /// run that ends where it begins, or at no number, is none.
    #[must_use]
    pub fn new(start: f32, runs: impl IntoIterator<Item = (f32, u16)>) -> Self {
        let (mut ends, mut levels) = (Vec::new(), Vec::new());
        let mut before = start;
        for (end, level) in runs {
            if end > before {
                ends.push(end);
                levels.push(level);
                before = end;
            }
        }
        Self { start, ends: ends.into(), levels: levels.into() }
    }
}

/// A stretch of a row of equal strength.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PictureRun {
    /// Where it begins along the row.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Its level.
    pub level: u16,
    /// Its place among the runs of its row: a hint for [`Picture::run_at`].
    pub index: usize,
}

impl Picture {
    /// A picture of a raster: rows along the columns or rows of the raster, whichever `to_flat`
    /// carries along the axis, so that a scan line along the axis keeps to few rows.
    ///
    /// `to_flat` carries the raster's own plane (a pixel is 1 × 1, y down from its top left corner)
    /// to the flat plane, mm. Levels are darkness, all of `u16` for what is full. Where
    /// `finest_mm` is more than two pixels, so many pixels are put together (their mean) that they
    /// come near it: what is finer than a line would only flicker.
    #[must_use]
    pub fn of_shades(shades: &Shades, to_flat: Affine, invert: bool, finest_mm: f64) -> Self {
        let [a, b, c, d, _, _] = to_flat.as_coeffs();
        // Columns of the raster that run along the axis become rows.
        let turned = c.abs() > a.abs();
        let (size_x, size_y) = (a.hypot(b), c.hypot(d));
        let together = |size: f64| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let count = (finest_mm / size).round().clamp(1.0, 1e4) as usize;
            count
        };
        let (nx, ny) = (together(size_x), together(size_y));
        let (columns, rows) = (shades.columns as usize, shades.rows as usize);
        let (wide, high) = (columns.div_ceil(nx), rows.div_ceil(ny));
        let mut levels = vec![0_u16; wide * high];
        for cell_y in 0..high {
            for cell_x in 0..wide {
                let (y, x) = (cell_y * ny, cell_x * nx);
                let (y_end, x_end) = ((y + ny).min(rows), (x + nx).min(columns));
                let mut sum = 0.0;
                for row in y..y_end {
                    for column in x..x_end {
                        sum += shades.darkness(row * columns + column, invert);
                    }
                }
                // What reaches past the edge of the raster is bare there.
                #[allow(clippy::cast_precision_loss)]
                let mean = sum / (nx * ny) as f64;
                let at = if turned { cell_x * high + cell_y } else { cell_y * wide + cell_x };
                levels[at] = level_of(mean);
            }
        }
        #[allow(clippy::cast_precision_loss)]
        let cells = to_flat * Affine::scale_non_uniform(nx as f64, ny as f64);
        let (to_flat, columns, rows) = if turned {
            (cells * Affine::new([0.0, 1.0, 1.0, 0.0, 0.0, 0.0]), high, wide)
        } else {
            (cells, wide, high)
        };
        #[allow(clippy::cast_precision_loss)]
        let width = columns as f64;
        let rows = Rows::Even { columns, rows, levels };
        Self { to_flat, from_flat: to_flat.inverse(), reach: (0.0, width), rows }
    }

    /// A picture of rows of runs, which `to_flat` carries to the flat plane, mm.
    #[must_use]
    pub fn of_rows(to_flat: Affine, rows: Vec<PictureRow>) -> Self {
        let full = || rows.iter().filter(|row| !row.ends.is_empty());
        let from = full().map(|row| row.start).fold(f32::INFINITY, f32::min);
        let to = full().filter_map(|row| row.ends.last().copied()).fold(from, f32::max);
        let reach = if from.is_finite() { (from.into(), to.into()) } else { (0.0, 0.0) };
        Self { to_flat, from_flat: to_flat.inverse(), reach, rows: Rows::Runs(rows) }
    }

    /// How many rows it has.
    #[must_use]
    pub fn rows(&self) -> usize {
        match &self.rows {
            Rows::Even { rows, .. } => *rows,
            Rows::Runs(rows) => rows.len(),
        }
    }

    /// The highest of its levels.
    #[must_use]
    pub fn darkest(&self) -> u16 {
        let darkest = match &self.rows {
            Rows::Even { levels, .. } => levels.iter().max().copied(),
            Rows::Runs(rows) => rows.iter().flat_map(|row| row.levels.iter().copied()).max(),
        };
        darkest.unwrap_or(0)
    }

    /// From the picture's own plane to the flat plane, mm.
    #[must_use]
    pub fn to_flat(&self) -> Affine {
        self.to_flat
    }

    /// A flat point in the picture's own plane.
    #[must_use]
    #[inline]
    pub fn own(&self, u_mm: f64, v_mm: f64) -> Point {
        self.from_flat * Point::new(u_mm, v_mm)
    }

    /// The box around it in the flat plane, mm.
    #[must_use]
    pub fn bounds_flat(&self) -> Rect {
        #[allow(clippy::cast_precision_loss)]
        let own = Rect::new(self.reach.0, 0.0, self.reach.1, self.rows() as f64);
        self.to_flat.transform_rect_bbox(own)
    }

    /// The run of a row that holds `x`; beside the row's runs an endless one of level 0. `hint` is
    /// the index of a run near it.
    #[must_use]
    #[inline]
    pub fn run_at(&self, row: i64, x: f64, hint: usize) -> PictureRun {
        const BARE: PictureRun =
            PictureRun { from: f64::NEG_INFINITY, to: f64::INFINITY, level: 0, index: 0 };
        let Some(row) = usize::try_from(row).ok().filter(|row| *row < self.rows()) else {
            return BARE;
        };
        match &self.rows {
            Rows::Even { columns, levels, .. } => {
                if x < 0.0 {
                    return PictureRun { to: 0.0, ..BARE };
                }
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let column = x as usize;
                if column >= *columns {
                    return PictureRun { from: self.reach.1, ..BARE };
                }
                #[allow(clippy::cast_precision_loss)]
                let from = column as f64;
                let level = levels[row * columns + column];
                PictureRun { from, to: from + 1.0, level, index: column }
            }
            Rows::Runs(rows) => {
                let PictureRow { start, ends, levels } = &rows[row];
                if ends.is_empty() {
                    return BARE;
                }
                let start = f64::from(*start);
                if x < start {
                    return PictureRun { to: start, ..BARE };
                }
                let index = find(ends, x, hint);
                let from = if index == 0 { start } else { f64::from(ends[index - 1]) };
                match ends.get(index) {
                    Some(to) => {
                        PictureRun { from, to: f64::from(*to), level: levels[index], index }
                    }
                    None => PictureRun { from, to: f64::INFINITY, level: 0, index },
                }
            }
        }
    }
}

/// A darkness of 0 to 1 as a level. What is dark at all has a level.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn level_of(darkness: f64) -> u16 {
    (darkness * f64::from(FULL)).round().clamp(0.0, f64::from(FULL)) as u16
}

/// The first run whose end lies past `x`, looked for from near the hint on.
#[inline]
fn find(ends: &[f32], x: f64, hint: usize) -> usize {
    let past = |k: usize| ends.get(k).is_none_or(|end| f64::from(*end) > x);
    let mut low = hint.min(ends.len());
    let mut reach = 1;
    if past(low) {
        while low > 0 && past(low - 1) {
            if reach > 4 {
                return ends[..low].partition_point(|end| f64::from(*end) <= x);
            }
            low -= 1;
            reach += 1;
        }
        return low;
    }
    while !past(low) {
        if reach > 4 {
            return low + ends[low..].partition_point(|end| f64::from(*end) <= x);
        }
        low += 1;
        reach += 1;
    }
    low
}

#[cfg(test)]
#[allow(clippy::cast_possible_truncation)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_raster_is_carried_pixel_by_pixel() {
        // White, a half, black of which a fifth is there.
        let shades = Shades::new(3, 1, vec![FULL, 32_768, 0], Some(vec![255, 255, 51]));
        let upright = Affine::new([0.0, -0.1, -0.1, 0.0, 0.1, 0.15]);
        let picture = Picture::of_shades(&shades, upright, false, 0.1);
        // Page right is -v: the black pixel lies at the least v, and rows run along u.
        assert_eq!(picture.rows(), 3);
        let at = |u: f64, v: f64| {
            let own = picture.own(u, v);
            picture.run_at(own.y.floor() as i64, own.x, 0).level
        };
        assert_eq!(at(0.05, 0.1), 0);
        assert!((i32::from(at(0.05, 0.0)) - 32_767).abs() <= 1);
        // A fifth of black over white is the sRGB grey 0.8.
        let seen = 1.0 - ((0.8_f64 + 0.055) / 1.055).powf(2.4);
        assert!((f64::from(at(0.05, -0.1)) / f64::from(FULL) - seen).abs() < 2e-5);
        let light = Picture::of_shades(&shades, upright, true, 0.1);
        let own = light.own(0.05, 0.1);
        assert_eq!(light.run_at(own.y.floor() as i64, own.x, 0).level, FULL);
    }

    #[test]
    fn what_is_finer_than_a_line_is_put_together() {
        let luminance = (0..6 * 4).map(|k| if k % 2 == 0 { 0 } else { FULL }).collect();
        let shades = Shades::new(6, 4, luminance, None);
        let picture = Picture::of_shades(&shades, Affine::scale(0.05), false, 0.1);
        assert_eq!(picture.rows(), 2);
        assert_eq!(picture.run_at(1, 2.5, 0).level, 32_768);
        assert_eq!(picture.bounds_flat(), Rect::new(0.0, 0.0, 0.05 * 6.0, 0.2));
    }

    proptest! {
        #[test]
        fn every_place_of_a_row_is_in_its_run(
            // Counts: the generator of f32 stumbles over its own rounding at times.
            lengths in prop::collection::vec(
                (1..9000_u16).prop_map(|k| f32::from(k) * 1e-3), 0..40
            ),
            x in -5.0..200.0_f64, hint in 0..60_usize,
        ) {
            let mut end = -1.0;
            let runs = lengths.iter().zip(1..);
            let runs = runs.map(|(length, level)| { end += length; (end, level) });
            let row: Vec<(f32, u16)> = runs.collect();
            let rows = vec![PictureRow::new(-1.0, row.clone())];
            let picture = Picture::of_rows(Affine::IDENTITY, rows);
            let run = picture.run_at(0, x, hint);
            prop_assert!(run.from <= x && x < run.to);
            let level = row.iter().find(|(end, _)| f64::from(*end) > x).map_or(0, |run| run.1);
            prop_assert_eq!(run.level, if x < -1.0 { 0 } else { level });
            prop_assert_eq!(picture.run_at(1, x, hint).level, 0);
        }
    }
}
