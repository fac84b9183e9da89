//! Rendered pixels to the greys of a picture.

use kurbo::Rect;
use resvg::tiny_skia::PremultipliedColorU8;
use stave_toolpath::{EightBits, Shades as Raster};

/// The most pixels that are rendered at once; each takes four bytes, and four more for every group
/// with an effect around it.
const MOST_PIXELS: f64 = 40e6;
/// A pixel of the result is the mean of no more than so many squared that are rendered.
const MOST_TOGETHER: f64 = 6.0;
/// Of a picture at least this share of its own pixels is looked at along a side.
const LOOKED_AT: f64 = 0.75;

/// The pixels of a result, and those that are rendered for each.
pub(super) struct Grid {
    columns: u32,
    rows: u32,
    /// How many rendered pixels along either side make one.
    together: u32,
    pub(super) pixel_mm: [f64; 2],
    pub(super) fine_mm: [f64; 2],
}

impl Grid {
    /// Whole pixels that fill a region, as near to the size asked as memory lets them be, and fine
    /// enough for pixels of `own_mm`.
    pub(super) fn new(region: Rect, (x_mm, y_mm): (f64, f64), own_mm: f64) -> Option<Grid> {
        let sizes = [region.width(), region.height(), x_mm, y_mm];
        if !sizes.iter().all(|size| *size > 0.0 && size.is_finite()) {
            return None;
        }
        let asked = (region.width() / x_mm).max(1.0) * (region.height() / y_mm).max(1.0);
        let coarser = (asked / MOST_PIXELS).sqrt().max(1.0);
        let count = |length: f64, pixel: f64| (length / pixel / coarser).ceil().max(1.0);
        let (columns, rows) = (count(region.width(), x_mm), count(region.height(), y_mm));
        if columns.max(rows) > f64::from(u16::MAX) * 64.0 {
            return None;
        }
        let wanted = (x_mm.max(y_mm) * LOOKED_AT / own_mm).ceil().clamp(2.0, MOST_TOGETHER);
        let room = (MOST_PIXELS / (columns * rows)).sqrt().floor().max(1.0);
        let together = wanted.min(room);
        let pixel_mm = [region.width() / columns, region.height() / rows];
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "bounded above"
        )]
        let [columns, rows, whole] = [columns, rows, together].map(|n| n as u32);
        let fine_mm = pixel_mm.map(|mm| mm / together);
        Some(Grid { columns, rows, together: whole, pixel_mm, fine_mm })
    }

    /// Columns and rows of the rendered pixels.
    pub(super) fn fine(&self) -> (u32, u32) {
        (self.columns * self.together, self.rows * self.together)
    }

    /// The mean grey of the rendered pixels of each.
    pub(super) fn greys(
        &self,
        pixels: &[PremultipliedColorU8],
        invert: bool,
        is_opaque: bool,
    ) -> Raster {
        let light = EightBits::table();
        let (columns, rows) = (self.columns as usize, self.rows as usize);
        let (together, wide) = (self.together as usize, self.fine().0 as usize);
        let mut luminance = Vec::with_capacity(columns * rows);
        let mut cover = Vec::with_capacity(if invert { columns * rows } else { 0 });
        let mut bare = Vec::new();
        for row in 0..rows {
            for column in 0..columns {
                let mut sum = Sum::default();
                for y in 0..together {
                    let start = (row * together + y) * wide + column * together;
                    for pixel in pixels.get(start..start + together).unwrap_or_default() {
                        sum.add(*pixel, light);
                    }
                }
                let (mean, there) = match (is_opaque, invert) {
                    (true, _) => (sum.own(), sum.there.ceil().min(1.0)),
                    (false, true) => (sum.own(), sum.there / sum.count),
                    (false, false) => (sum.over_white / sum.count, 1.0),
                };
                if is_opaque && sum.there <= 0.0 {
                    bare.push(luminance.len());
                }
                luminance.push(of_all(mean, u16::MAX.into()));
                if invert {
                    #[expect(clippy::cast_possible_truncation, reason = "of all of u8")]
                    cover.push(of_all(there, u8::MAX.into()) as u8);
                }
            }
        }
        spread(&mut luminance, &bare, columns);
        Raster::new(self.columns, self.rows, luminance, invert.then_some(cover))
    }
}

/// Gives pixels of which nothing is there the mean of those around them of which something is, so
/// that what is cut between two pixels is cut at its own edge.
fn spread(luminance: &mut [u16], bare: &[usize], columns: usize) {
    let is_bare = |at: usize| bare.binary_search(&at).is_ok();
    let mut new = Vec::new();
    for &at in bare {
        let (row, column) = (at / columns, at % columns);
        let (mut sum, mut count) = (0_u32, 0_u32);
        for y in row.saturating_sub(1)..=row + 1 {
            for x in column.saturating_sub(1)..(column + 2).min(columns) {
                let near = y * columns + x;
                if let Some(light) = luminance.get(near).filter(|_| !is_bare(near)) {
                    sum += u32::from(*light);
                    count += 1;
                }
            }
        }
        if let Some(mean) = sum.checked_div(count) {
            #[expect(clippy::cast_possible_truncation, reason = "a mean of u16")]
            new.push((at, mean as u16));
        }
    }
    for (at, mean) in new {
        luminance[at] = mean;
    }
}

/// What the rendered pixels of one come to.
#[derive(Default)]
struct Sum {
    count: f64,
    /// How much of them is there.
    there: f64,
    /// How light they are over white, as a viewer shows them.
    over_white: f64,
    /// How light what is there is by itself.
    alone: f64,
}

impl Sum {
    fn add(&mut self, pixel: PremultipliedColorU8, light: &EightBits) {
        let alpha = pixel.alpha();
        let share = f64::from(alpha) / f64::from(u8::MAX);
        self.count += 1.0;
        self.there += share;
        let colour = [pixel.red(), pixel.green(), pixel.blue()];
        self.over_white += light.over_white(colour, alpha);
        if alpha == u8::MAX {
            self.alone += light.colour(colour);
        } else if alpha > 0 {
            let own = pixel.demultiply();
            self.alone += share * light.colour([own.red(), own.green(), own.blue()]);
        }
    }

    fn own(&self) -> f64 {
        if self.there > 0.0 { self.alone / self.there } else { 1.0 }
    }
}

/// A share of 0 to 1 as a whole number of all that there are.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within all")]
fn of_all(share: f64, all: f64) -> u16 {
    (share * all).round().clamp(0.0, all) as u16
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_toolpath::linear_of_srgb;

    /// Pixels of 2 columns and 3 rows, 2 x 2 rendered for each: of each column and row in its
    /// order.
    fn greys(cells: [[[u8; 4]; 4]; 6], invert: bool, is_opaque: bool) -> Raster {
        let grid = Grid::new(Rect::new(0.0, 0.0, 2.0, 3.0), (1.0, 1.0), f64::INFINITY).unwrap();
        assert_eq!((grid.columns, grid.rows, grid.fine()), (2, 3, (4, 6)));
        let pixel = |k: usize| {
            let (x, y) = (k % 4, k / 4);
            let [r, g, b, a] = cells[y / 2 * 2 + x / 2][y % 2 * 2 + x % 2];
            PremultipliedColorU8::from_rgba(r, g, b, a).unwrap()
        };
        let pixels: Vec<PremultipliedColorU8> = (0..24).map(pixel).collect();
        grid.greys(&pixels, invert, is_opaque)
    }

    const WHITE: [u8; 4] = [255; 4];
    const BLACK: [u8; 4] = [0, 0, 0, 255];
    const NOTHING: [u8; 4] = [0; 4];
    /// A grey of 102, not half of it there.
    const MIST: [u8; 4] = [50, 50, 50, 125];
    /// White, half of it there.
    const VEIL: [u8; 4] = [128; 4];

    fn near(found: (f64, u8), luminance: f64, cover: u8) -> bool {
        (found.0 - luminance).abs() < 1e-4 && found.1 == cover
    }

    /// Every pixel is the mean of those that were rendered for it, linear in light (BT.709-6, 3.2,
    /// for the shares of the colours), over white.
    #[test]
    fn a_pixel_is_the_mean_of_what_was_rendered_for_it() {
        let red = [255, 0, 0, 255];
        let cells = [
            [WHITE; 4],
            [BLACK; 4],
            [WHITE, BLACK, BLACK, BLACK],
            [WHITE, WHITE, BLACK, WHITE],
            [red; 4],
            [NOTHING, BLACK, BLACK, NOTHING],
        ];
        let greys = greys(cells, false, false);
        assert!(greys.is_opaque());
        for (pixel, luminance) in [1.0, 0.0, 0.25, 0.75, 0.2126, 0.5].into_iter().enumerate() {
            assert!(near(greys.pixel(pixel), luminance, 255), "{pixel}: {:?}", greys.pixel(pixel));
        }
    }

    /// Where what is light burns, white is told from what is not there.
    #[test]
    fn inverted_what_is_there_is_told_from_how_light_it_is() {
        let cells = [
            [WHITE; 4],
            [NOTHING; 4],
            [WHITE, NOTHING, NOTHING, NOTHING],
            [BLACK, WHITE, NOTHING, NOTHING],
            [MIST; 4],
            [BLACK, BLACK, BLACK, VEIL],
        ];
        let greys = greys(cells, true, false);
        let half = 128.0 / 255.0;
        let last = half / (3.0 + half);
        let mist = linear_of_srgb(102.0 / 255.0);
        let there = [(1.0, 255), (1.0, 0), (1.0, 64), (0.5, 128), (mist, 125), (last, 223)];
        for (pixel, (luminance, cover)) in there.into_iter().enumerate() {
            let found = greys.pixel(pixel);
            assert!(near(found, luminance, cover), "{pixel}: {found:?}");
        }
    }

    /// Where the edge is cut elsewhere a pixel has the colour of what of it is there, and one of
    /// which nothing is there that of its neighbours.
    #[test]
    fn an_opaque_edge_has_its_colour_whole() {
        let cells = [
            [BLACK; 4],
            [NOTHING; 4],
            [BLACK, NOTHING, NOTHING, NOTHING],
            [WHITE, NOTHING, NOTHING, NOTHING],
            [VEIL; 4],
            [BLACK, WHITE, WHITE, WHITE],
        ];
        for invert in [false, true] {
            let greys = greys(cells, invert, true);
            let cover = if invert { 0 } else { 255 };
            // The mean of two black ones and a white one.
            let there =
                [(0.0, 255), (1.0 / 3.0, cover), (0.0, 255), (1.0, 255), (1.0, 255), (0.75, 255)];
            for (pixel, (luminance, cover)) in there.into_iter().enumerate() {
                let found = greys.pixel(pixel);
                assert!(near(found, luminance, cover), "{invert}, {pixel}: {found:?}");
            }
        }
    }

    /// A region of any size is made of whole pixels, no more than memory holds, and no less fine
    /// than its pictures, within bounds.
    #[test]
    fn a_grid_is_as_fine_as_is_asked_and_memory_lets_it_be() {
        let grid = |width: f64, height: f64, pixel: (f64, f64), own_mm: f64| {
            Grid::new(Rect::new(5.0, 7.0, 5.0 + width, 7.0 + height), pixel, own_mm)
        };
        let whole = grid(10.0, 4.0, (0.3, 0.5), f64::INFINITY).unwrap();
        assert_eq!((whole.columns, whole.rows, whole.together), (34, 8, 2));
        assert_eq!(whole.pixel_mm, [10.0 / 34.0, 0.5]);
        assert_eq!(whole.fine_mm, [5.0 / 34.0, 0.25]);
        assert_eq!(whole.fine(), (68, 16));
        // Three quarters of a pixel of the picture's own along a side, six at the most.
        let together = |own_mm| grid(10.0, 4.0, (0.5, 0.3), own_mm).unwrap().together;
        assert_eq!((together(0.13), together(0.1), together(0.01)), (3, 4, 6));
        // 80 million pixels asked: coarser by the root of two; 20 million: one for each, not two.
        let large = grid(4000.0, 2500.0, (0.5, 0.25), 1.0).unwrap();
        assert_eq!((large.columns, large.rows, large.together), (5657, 7072, 1));
        let room = grid(4000.0, 5000.0, (1.0, 1.0), 0.1).unwrap();
        assert_eq!((room.columns, room.rows, room.together), (4000, 5000, 1));
        let less = grid(2000.0, 5000.0, (1.0, 1.0), 0.1).unwrap();
        assert_eq!(less.together, 2);
        // Nothing to see, and what is far longer than wide.
        assert!(grid(0.0, 4.0, (0.3, 0.5), 1.0).is_none());
        assert!(grid(4.0, 4.0, (0.0, 0.5), 1.0).is_none());
        assert!(grid(f64::INFINITY, 4.0, (0.3, 0.5), 1.0).is_none());
        assert!(grid(4.2e6, 1.0, (1.0, 1.0), 1.0).is_none());
        assert!(grid(4.1e6, 1.0, (1.0, 1.0), 1.0).is_some());
    }

    #[test]
    fn what_is_bare_takes_the_mean_of_what_is_around_it() {
        //  1  2  4  8
        // 16  .  .  128
        //  .  512 1024 2048
        let mut luminance = [1, 2, 4, 8, 16, 0, 0, 128, 0, 512, 1024, 2048];
        spread(&mut luminance, &[5, 6, 8], 4);
        let mean = |of: &[u16]| of.iter().sum::<u16>() / u16::try_from(of.len()).unwrap();
        let of_5 = mean(&[1, 2, 4, 16, 512, 1024]);
        let of_6 = mean(&[2, 4, 8, 128, 512, 1024, 2048]);
        let of_8 = mean(&[16, 512]);
        assert_eq!(luminance, [1, 2, 4, 8, 16, of_5, of_6, 128, of_8, 512, 1024, 2048]);
        // With nothing around it, it stays as it is.
        let mut alone = [7, 7];
        spread(&mut alone, &[0, 1], 2);
        assert_eq!(alone, [7, 7]);
    }
}
