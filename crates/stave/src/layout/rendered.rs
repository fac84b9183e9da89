//! What of a drawing is no plain fill or stroke, rendered to be burned as a picture.

use std::sync::Arc;

use kurbo::{Affine, Rect, Shape as _};
use stave_parse::svg::{Notice, NoticeKind, Shades, Sight, View};
use stave_toolpath::Picture;
use stave_toolpath::art::{Art, Choice, Part, Stroke, Work};

use super::{PlacedOperation, PlacedPart};

/// Around what is rendered so much of the page is rendered too, in pixels: what lies at the edge of
/// a pixel is seen whole.
const MARGIN_PIXELS: f64 = 1.0;
/// How close to the exact edge of a stroke its box is, mm.
const STROKE_TOLERANCE_MM: f64 = 0.1;

/// The shades of a drawing.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shaded {
    view: Option<View>,
    shades: Vec<Shades>,
    /// For each shape that the art has by now, which it was as the drawing was read; what was made
    /// since stands for that which it was made from.
    pub(super) as_read: Vec<usize>,
    /// Shapes as read that were cut at a threshold.
    pub(super) cut: Vec<usize>,
    /// Shapes as read that could not be rendered.
    failed: Vec<usize>,
}

impl Shaded {
    pub(super) fn new(view: Option<View>, shades: Vec<Shades>) -> Shaded {
        Shaded { view, shades, ..Shaded::default() }
    }

    /// Which shape this was as the drawing was read.
    fn read(&self, shape: usize) -> usize {
        self.as_read.get(shape).copied().unwrap_or(shape)
    }

    fn is_blend(&self, as_read: usize) -> bool {
        let is_it =
            |shades: &Shades| shades.shape == as_read && shades.notice.kind == NoticeKind::Blend;
        self.shades.iter().any(is_it)
    }

    /// The number that shapes share which are seen through as one; none for what has a blend mode,
    /// which covers what it lies over.
    pub(crate) fn as_one(&self, shape: usize) -> Option<usize> {
        let as_read = self.read(shape);
        let at = self.shades.binary_search_by_key(&as_read, |shades| shades.shape).ok()?;
        let own = self.shades.get(at)?;
        own.as_one.filter(|_| own.notice.kind != NoticeKind::Blend)
    }

    /// What has a blend mode is rendered with what it lies over: where an operation burns it, it
    /// covers that.
    pub(super) fn cover(&self, art: &mut Art, choice: &Choice) {
        for chosen in choice.operations.iter().flatten() {
            let Some(shape) = art.shapes.get_mut(chosen.shape) else { continue };
            if self.is_blend(chosen.shape) {
                shape.fill.iter_mut().for_each(|fill| fill.opacity = 1.0);
                shape.stroke.iter_mut().for_each(|stroke| stroke.opacity = 1.0);
            }
        }
    }

    /// Renders some shapes of the art in pixels of a size; what cannot be is noted.
    pub(crate) fn see(
        &mut self,
        art: &Art,
        parts: &[(usize, Part)],
        pixel_mm: f64,
        invert: bool,
    ) -> Option<stave_parse::svg::Seen> {
        let mut shapes: Vec<usize> = parts.iter().map(|(shape, _)| self.read(*shape)).collect();
        shapes.sort_unstable();
        shapes.dedup();
        let margin = MARGIN_PIXELS * pixel_mm;
        let region = region(art, parts)?.inflate(margin, margin);
        let is_opaque = !shapes.iter().any(|shape| self.is_blend(*shape))
            && parts.iter().all(|(shape, part)| hides(art, *shape, *part));
        let pixel_mm = (pixel_mm, pixel_mm);
        let read: Vec<(usize, Part)> =
            parts.iter().map(|(shape, part)| (self.read(*shape), *part)).collect();
        let sight = Sight { parts: &read, region, pixel_mm, invert, is_opaque };
        let seen = self.view.as_ref().and_then(|view| view.render(&sight));
        if seen.is_none() {
            self.failed.extend(shapes);
        }
        seen
    }

    /// Whether a shape of shades was cut at a threshold.
    pub(crate) fn is_cut(&self, art: &Art, shape: usize) -> bool {
        art.is_shaded(shape) && self.cut.contains(&self.read(shape))
    }

    /// What is said where a shape of shades cannot be rendered.
    pub(crate) fn lost(&self, shape: usize) -> Option<Notice> {
        let shades = self.shades.iter().find(|shades| shades.shape == self.read(shape))?;
        Some(Notice { message: too_much(&shades.notice.message), ..shades.notice.clone() })
    }

    /// What is to be said of shades that nothing burns.
    pub(super) fn left_out(&self, operations: &[PlacedOperation]) -> Vec<Notice> {
        let pictures = operations.iter().filter(|operation| operation.work == Work::Picture);
        let burned: Vec<usize> =
            pictures.flat_map(|o| &o.parts).map(|part| self.read(part.shape)).collect();
        let mut told: Vec<Notice> = Vec::new();
        for shades in &self.shades {
            let failed = self.failed.contains(&shades.shape);
            if !failed && (burned.contains(&shades.shape) || self.cut.contains(&shades.shape)) {
                continue;
            }
            let what = &shades.notice.message;
            let message = match failed {
                true => too_much(what),
                false => format!(
                    "{what}, which no operation burns: left out; take it as a picture \
                                  (work = \"picture\"), or cut it at a darkness (work = \"area\" \
                                  with a `threshold`)"
                ),
            };
            let notice = Notice { message, ..shades.notice.clone() };
            if !told.contains(&notice) {
                told.push(notice);
            }
        }
        told
    }
}

fn too_much(what: &str) -> String {
    format!(
        "{what}, and it would take too long or too much memory to render: left out; simplify it, \
         or embed it as a picture"
    )
}

/// Whether a part of a shape covers all that it lies over.
fn hides(art: &Art, shape: usize, part: Part) -> bool {
    art.shapes.get(shape).is_some_and(|shape| match part {
        Part::Fill | Part::Outline => shape.fill.is_some_and(|fill| fill.hides()),
        Part::StrokeArea | Part::StrokeMiddle => shape.stroke.as_ref().is_some_and(Stroke::hides),
    })
}

/// The box around parts of shapes on the page, mm.
pub(crate) fn region(art: &Art, parts: &[(usize, Part)]) -> Option<Rect> {
    let boxes = art.bounds_of_shapes();
    let of = |&(index, part): &(usize, Part)| {
        let bounds = boxes.get(index).copied().flatten()?;
        let shape = art.shapes.get(index)?;
        match part {
            Part::Fill | Part::Outline => Some(bounds),
            Part::StrokeArea | Part::StrokeMiddle => {
                let path = shape.path.bounding_box();
                let pen = shape.stroke_area(STROKE_TOLERANCE_MM)?.bounding_box();
                let reach =
                    [path.x0 - pen.x0, path.y0 - pen.y0, pen.x1 - path.x1, pen.y1 - path.y1];
                let reach = reach.into_iter().fold(0.0, f64::max);
                Some(bounds.inflate(reach, reach))
            }
        }
    };
    parts.iter().filter_map(of).reduce(|one, other| one.union(other))
}

/// Renders what an operation burns as pictures, one for each of its pieces.
pub(super) fn render(
    operation: &mut PlacedOperation,
    art: &Art,
    seen: &mut Shaded,
    to_flat: Affine,
) {
    let Some(spacing_mm) = operation.line_spacing_mm else { return };
    let invert = operation.shading.invert;
    let mut pieces: Vec<usize> = operation.parts.iter().map(|part| part.piece).collect();
    pieces.sort_unstable();
    pieces.dedup();
    for piece in pieces {
        let of_piece = |part: &&PlacedPart| part.piece == piece;
        let parts: Vec<(usize, Part)> =
            operation.parts.iter().filter(of_piece).map(|part| (part.shape, part.part)).collect();
        if let Some(one) = seen.see(art, &parts, spacing_mm, invert) {
            let to_flat = to_flat * one.to_page;
            let picture = Picture::of_shades(&one.raster, to_flat, invert, spacing_mm);
            operation.pictures.push((piece, Arc::new(picture)));
        }
    }
}
