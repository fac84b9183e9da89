//! A drawing as it is seen, pixel by pixel: rendered by resvg, over nothing.

use std::collections::HashSet;
use std::sync::{Arc, Mutex};

use kurbo::{Affine, Rect};
use resvg::tiny_skia::{Color, Pixmap, PremultipliedColorU8, Transform};
use stave_toolpath::{Shades as Raster, linear_of_srgb};

use super::document::{self, Entries, Role};
use super::fonts::{Fonts, Wanting};
use super::linked::Pictures;
use super::rewrite::{self, APPLIED};
use super::shades::Shades;
use super::unit::MM_PER_PX;
use super::view_cost;
use super::{NoticeKind, on_deep_stack, options};

/// The most pixels that are rendered at once; each takes four bytes, and four more for every group
/// with an effect around it.
const MOST_PIXELS: f64 = 40e6;
/// A pixel of the result is the mean of no more than so many squared that are rendered.
const MOST_TOGETHER: f64 = 6.0;
/// Of a picture at least this share of its own pixels is looked at along a side.
const LOOKED_AT: f64 = 0.75;
/// Shares of red, green and blue in luminance (ITU-R BT.709-6, 3.2).
const WEIGHTS: [f64; 3] = [0.2126, 0.7152, 0.0722];

/// What is needed to render a drawing.
#[derive(Clone, Debug)]
pub struct View {
    text: Arc<str>,
    cut: Arc<[usize]>,
    fonts: Fonts,
    pictures: Pictures,
    shades: Arc<[Shades]>,
    /// For each shape its element of the document.
    entry_of_shape: Arc<[usize]>,
}

impl PartialEq for View {
    fn eq(&self, other: &View) -> bool {
        self.text == other.text
    }
}

/// What is to be rendered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight<'a> {
    /// The shapes to be seen, indices into the art's; where one of them has a blend mode all of the
    /// drawing is seen, on a white page, since what lies beneath is part of it.
    pub shapes: &'a [usize],
    /// Which part of the page, mm.
    pub region: Rect,
    /// How wide and high a pixel is to be, mm.
    pub pixel_mm: (f64, f64),
    /// Whether what is light will burn: then white is told from what is not there.
    pub invert: bool,
    /// Whether every shape that is seen covers all of what it lies over: then a pixel at its edge
    /// has its colour whole, since the edge itself is cut elsewhere.
    pub is_opaque: bool,
}

/// A part of the page as it is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Its greys, the top row first.
    pub raster: Raster,
    /// From the raster (a pixel is 1 x 1) to the page, mm.
    pub to_page: Affine,
}

impl View {
    pub(super) fn new(
        text: &str,
        cut: &[usize],
        fonts: &Fonts,
        pictures: &Pictures,
        shades: &[Shades],
        entry_of_shape: Vec<usize>,
    ) -> View {
        View {
            text: text.into(),
            cut: cut.into(),
            fonts: fonts.clone(),
            pictures: pictures.clone(),
            shades: shades.into(),
            entry_of_shape: entry_of_shape.into(),
        }
    }

    /// Renders some shapes of the drawing. `None` where that would take more time or memory than a
    /// drawing is worth, or the renderer stumbles.
    #[must_use]
    pub fn render(&self, sight: &Sight<'_>) -> Option<Seen> {
        on_deep_stack(|| self.rendered(sight)).ok().flatten()
    }

    fn rendered(&self, sight: &Sight<'_>) -> Option<Seen> {
        let xml = document::parse_xml(&self.text).ok()?;
        let entries = Entries::new(&xml);
        let text = rewrite::for_view(&entries, &self.cut, &self.hidden(&entries, sight.shapes));
        let wanting = Arc::new(Mutex::new(Wanting::default()));
        let has_text = entries.list.iter().any(|entry| entry.role == Role::Text);
        let database = if has_text { self.fonts.database() } else { Arc::default() };
        let options = options(&self.fonts, &database, &wanting, &self.pictures);
        let tree = usvg::Tree::from_str(&text, &options).ok()?;
        let own_mm = self.own_pixel_mm(sight.shapes);
        let grid = Grid::new(sight.region, sight.pixel_mm, own_mm)?;
        let [x, y] = grid.fine_mm.map(|fine| MM_PER_PX / fine);
        let (from_x, from_y) =
            (-sight.region.x0 / grid.fine_mm[0], -sight.region.y0 / grid.fine_mm[1]);
        #[expect(clippy::cast_possible_truncation, reason = "the renderer reckons in 32 bits")]
        let to_pixels =
            Transform::from_row(x as f32, 0.0, 0.0, y as f32, from_x as f32, from_y as f32);
        let (width, height) = grid.fine();
        if !view_cost::is_fair(&tree, to_pixels, (width, height)) {
            return None;
        }
        let mut pixels = Pixmap::new(width, height)?;
        if self.blends(sight.shapes) {
            // The page is part of what it lies over.
            pixels.fill(Color::WHITE);
        }
        resvg::render(&tree, to_pixels, &mut pixels.as_mut());
        let raster = grid.greys(pixels.pixels(), sight.invert, sight.is_opaque);
        let to_page = Affine::translate(sight.region.origin().to_vec2())
            * Affine::scale_non_uniform(grid.pixel_mm[0], grid.pixel_mm[1]);
        Some(Seen { raster, to_page })
    }

    /// The finest pixel of the pictures among some shapes, mm.
    fn own_pixel_mm(&self, shapes: &[usize]) -> f64 {
        let of = |shades: &&Shades| shapes.contains(&shades.shape);
        self.shades.iter().filter(of).map(|s| s.pixel_mm).fold(f64::INFINITY, f64::min)
    }

    /// Whether one of some shapes has a blend mode.
    fn blends(&self, shapes: &[usize]) -> bool {
        let is_it = |shades: &Shades| {
            shades.notice.kind == NoticeKind::Blend && shapes.contains(&shades.shape)
        };
        self.shades.iter().any(is_it)
    }

    /// The elements of the document that are not to be seen.
    fn hidden(&self, entries: &Entries<'_, '_>, shapes: &[usize]) -> HashSet<usize> {
        if self.blends(shapes) {
            return HashSet::new();
        }
        let mut shown = vec![false; entries.list.len()];
        for &shape in shapes {
            let Some(&entry) = self.entry_of_shape.get(shape) else { continue };
            let mut at = entry;
            // A use shows what it refers to.
            for _ in 0..entries.list.len() {
                let Some(one) = entries.list.get(at) else { break };
                shown[at..one.end].fill(true);
                match one.target {
                    Some(target) if !shown[target] => at = target,
                    _ => break,
                }
            }
        }
        let mut applied = vec![false; entries.list.len()];
        for (index, entry) in entries.list.iter().enumerate() {
            let around = entry.parent.is_some_and(|parent| applied[parent]);
            applied[index] = around || APPLIED.contains(&entry.tag());
        }
        let leaf = |role: Role| matches!(role, Role::Shape | Role::Text | Role::Image);
        let hidden =
            |&index: &usize| leaf(entries.list[index].role) && !shown[index] && !applied[index];
        (0..entries.list.len()).filter(hidden).collect()
    }
}

/// The pixels of a result, and those that are rendered for each.
struct Grid {
    columns: u32,
    rows: u32,
    /// How many rendered pixels along either side make one.
    together: u32,
    pixel_mm: [f64; 2],
    fine_mm: [f64; 2],
}

impl Grid {
    /// Whole pixels that fill a region, as near to the size asked as memory lets them be, and fine
    /// enough for pixels of `own_mm`.
    fn new(region: Rect, (x_mm, y_mm): (f64, f64), own_mm: f64) -> Option<Grid> {
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
        let wanted =
            (x_mm.max(y_mm) * coarser * LOOKED_AT / own_mm).ceil().clamp(2.0, MOST_TOGETHER);
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

    fn fine(&self) -> (u32, u32) {
        (self.columns * self.together, self.rows * self.together)
    }

    /// The mean grey of the rendered pixels of each.
    fn greys(&self, pixels: &[PremultipliedColorU8], invert: bool, is_opaque: bool) -> Raster {
        let light = Light::new();
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
                        sum.add(*pixel, &light);
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

/// How light colours are.
struct Light([f64; 256]);

impl Light {
    #[expect(clippy::cast_precision_loss, reason = "0 to 255")]
    fn new() -> Light {
        Light(std::array::from_fn(|value| linear_of_srgb(value as f64 / 255.0)))
    }

    fn of(&self, [red, green, blue]: [u8; 3]) -> f64 {
        let linear = |part: u8| self.0[usize::from(part)];
        WEIGHTS[0] * linear(red) + WEIGHTS[1] * linear(green) + WEIGHTS[2] * linear(blue)
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
    fn add(&mut self, pixel: PremultipliedColorU8, light: &Light) {
        let alpha = pixel.alpha();
        let share = f64::from(alpha) / f64::from(u8::MAX);
        self.count += 1.0;
        self.there += share;
        let colour = [pixel.red(), pixel.green(), pixel.blue()];
        let white = u8::MAX - alpha;
        self.over_white += light.of(colour.map(|part| part.saturating_add(white)));
        if alpha == u8::MAX {
            self.alone += light.of(colour);
        } else if alpha > 0 {
            let own = pixel.demultiply();
            self.alone += share * light.of([own.red(), own.green(), own.blue()]);
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
    use super::spread;

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
