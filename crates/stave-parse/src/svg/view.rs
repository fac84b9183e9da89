//! A drawing as it is seen, pixel by pixel: rendered by resvg, over nothing.

use std::sync::{Arc, Mutex};

use kurbo::{Affine, Rect};
use resvg::tiny_skia::{Pixmap, Transform};
use stave_toolpath::Shades as Raster;
use stave_toolpath::art::Part;

use super::document::{self, Entries, Role};
use super::fonts::{Fonts, Wanting};
use super::greys::Grid;
use super::linked::Pictures;
use super::rewrite::{self, Otherwise, Unseen};
use super::shades::Shades;
use super::unit::MM_PER_PX;
use super::unseen::{Paints, unseen};
use super::view_cost;
use super::{NoticeKind, on_deep_stack, options};

/// What is needed to render a drawing.
#[derive(Clone, Debug)]
pub struct View {
    text: Arc<str>,
    otherwise: Arc<Otherwise>,
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
    /// What is to be seen of which shapes, indices into the art's; where one of them has a blend
    /// mode all of the drawing is seen, on a white page, since what lies beneath is part of it.
    pub parts: &'a [(usize, Part)],
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
        otherwise: Otherwise,
        fonts: &Fonts,
        pictures: &Pictures,
        shades: &[Shades],
        entry_of_shape: Vec<usize>,
    ) -> View {
        View {
            text: text.into(),
            otherwise: Arc::new(otherwise),
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
        let mut shapes: Vec<usize> = sight.parts.iter().map(|(shape, _)| *shape).collect();
        shapes.sort_unstable();
        shapes.dedup();
        let unseen = match self.blends(&shapes) {
            true => Unseen::default(),
            false => self.unseen(&entries, sight.parts),
        };
        let text = rewrite::for_view(&entries, &self.otherwise, &unseen);
        let wanting = Arc::new(Mutex::new(Wanting::default()));
        let has_text = entries.list.iter().any(|entry| entry.role == Role::Text);
        let database = if has_text { self.fonts.database() } else { Arc::default() };
        let options = options(&self.fonts, &database, &wanting, &self.pictures);
        let tree = usvg::Tree::from_str(&text, &options).ok()?;
        let own_mm = self.own_pixel_mm(&shapes);
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
        resvg::render(&tree, to_pixels, &mut pixels.as_mut());
        if self.blends(&shapes) {
            // It stands in place of what it lies over, the page among that. What it is blended with
            // is the drawing alone: over the bare page it is as it is without.
            over_white(&mut pixels);
        }
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

    /// What of the document is not to be seen where parts of shapes are.
    fn unseen(&self, entries: &Entries<'_, '_>, parts: &[(usize, Part)]) -> Unseen {
        let frames = |shape: usize| {
            let is_it = |shades: &&Shades| shades.shape == shape;
            self.shades.iter().find(is_it).is_some_and(|s| s.notice.kind == NoticeKind::Filter)
        };
        let said = parts.iter().filter_map(|(shape, part)| {
            let entry = *self.entry_of_shape.get(*shape)?;
            let is_fill = matches!(part, Part::Fill | Part::Outline);
            // What a filter touches is seen whole.
            let whole = frames(*shape);
            Some((entry, Paints { fill: whole || is_fill, stroke: whole || !is_fill }))
        });
        unseen(entries, said)
    }
}

/// Lays what was rendered over nothing on white.
fn over_white(pixels: &mut Pixmap) {
    // Parts of a pixel are multiplied by how far it covers.
    for pixel in pixels.data_mut().chunks_exact_mut(4) {
        let [parts @ .., cover] = pixel else { continue };
        let through = u8::MAX - *cover;
        parts.iter_mut().for_each(|part| *part = part.saturating_add(through));
        *cover = u8::MAX;
    }
}
