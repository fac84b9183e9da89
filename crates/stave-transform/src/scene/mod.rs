//! The drawing as layers of paint over the flat plane: what lies over what.
//!
//! Every shape is up to two layers, its fill and its stroke, in the order in which they are
//! painted. What is seen at a point is decided here alone, in the flat plane, before any lay: a
//! burned layer is seen where it is painted, where its clips let it be, and where no opaque layer
//! lies over it.

mod flatten;

use std::cell::OnceCell;
use std::collections::HashSet;

use kurbo::{Affine, Rect, Shape as _};
use stave_toolpath::art::{Art, Part, Rule, Shape};

pub(crate) use flatten::{Chain, bulge_at, bulge_within, chains};

/// One layer of paint.
#[derive(Debug)]
pub(crate) struct Layer {
    /// The shape it belongs to, an index into the art's.
    pub(crate) shape: usize,
    /// Whether it is the shape's stroke; else its fill.
    pub(crate) is_stroke: bool,
    /// Whether what lies beneath is hidden.
    pub(crate) hides: bool,
    /// A box around it in the flat plane, mm; clips may leave less.
    pub(crate) bounds: Rect,
    rings: OnceCell<Vec<Chain>>,
}

/// A drawing's layers, the lowest first, its outlines as chords in the flat plane.
#[derive(Debug)]
pub(crate) struct Scene<'a> {
    pub(crate) art: &'a Art,
    pub(crate) to_flat: Affine,
    /// How far chords may stray from curves, mm.
    tolerance_mm: f64,
    pub(crate) layers: Vec<Layer>,
    /// For each shape its fill's and its stroke's layer.
    of_shape: Vec<[Option<usize>; 2]>,
    clips: Vec<Vec<OnceCell<Vec<Chain>>>>,
}

impl<'a> Scene<'a> {
    /// The layers of a drawing.
    ///
    /// `burned_along` are the shapes whose strokes something burns along their middle. Such a
    /// stroke is a line without width on the ware, so it hides nothing: a fill under it reaches to
    /// the line. Every other opaque stroke hides by its width, as in the picture.
    pub(crate) fn new(
        art: &'a Art,
        to_flat: Affine,
        tolerance_mm: f64,
        burned_along: &HashSet<usize>,
    ) -> Scene<'a> {
        let mut layers: Vec<Layer> = Vec::new();
        let mut of_shape = Vec::with_capacity(art.shapes.len());
        for (index, shape) in art.shapes.iter().enumerate() {
            let mut mine = [None; 2];
            let order = if shape.stroke_first { [true, false] } else { [false, true] };
            for is_stroke in order {
                let hides = if is_stroke {
                    shape
                        .stroke
                        .as_ref()
                        .map(|stroke| stroke.hides() && !burned_along.contains(&index))
                } else {
                    shape.fill.map(|fill| fill.hides())
                };
                let Some(hides) = hides else { continue };
                let bounds = to_flat.transform_rect_bbox(bounds(shape, is_stroke));
                mine[usize::from(is_stroke)] = Some(layers.len());
                layers.push(Layer {
                    shape: index,
                    is_stroke,
                    hides,
                    bounds,
                    rings: OnceCell::new(),
                });
            }
            of_shape.push(mine);
        }
        let clips =
            art.clips.iter().map(|clip| clip.areas.iter().map(|_| OnceCell::new()).collect());
        Scene { art, to_flat, tolerance_mm, layers, of_shape, clips: clips.collect() }
    }

    /// The layer of a part of a shape; `None` where the shape has no such paint.
    pub(crate) fn layer_of(&self, shape: usize, part: Part) -> Option<usize> {
        let is_stroke = matches!(part, Part::StrokeArea | Part::StrokeMiddle);
        self.of_shape.get(shape)?[usize::from(is_stroke)]
    }

    /// The clips of a shape.
    pub(crate) fn clips_of(&self, shape: usize) -> &'a [usize] {
        self.art.shapes.get(shape).map_or(&[], |shape| &shape.clips)
    }

    /// Whether a layer is bare ware.
    pub(crate) fn is_bare(&self, layer: usize) -> bool {
        let Some(layer) = self.layers.get(layer) else { return false };
        let shape = self.art.shapes.get(layer.shape);
        if self.art.is_shaded(layer.shape) {
            return false;
        }
        match layer.is_stroke {
            true => shape
                .and_then(|shape| shape.stroke.as_ref())
                .is_some_and(stave_toolpath::art::Stroke::is_bare),
            false => shape.and_then(|shape| shape.fill).is_some_and(|fill| fill.is_bare()),
        }
    }

    /// The rule by which a layer's rings are filled.
    pub(crate) fn rule(&self, layer: usize) -> Rule {
        let Some(layer) = self.layers.get(layer) else { return Rule::NonZero };
        match self.art.shapes.get(layer.shape).and_then(|shape| shape.fill) {
            Some(fill) if !layer.is_stroke => fill.rule,
            _ => Rule::NonZero,
        }
    }

    /// A layer's outline; every chain is meant closed.
    pub(crate) fn rings(&self, layer: usize) -> &[Chain] {
        let Some(layer) = self.layers.get(layer) else { return &[] };
        layer.rings.get_or_init(|| {
            let Some(shape) = self.art.shapes.get(layer.shape) else { return Vec::new() };
            if layer.is_stroke {
                // Half of the tolerance for the offset curves, half for their chords.
                let area = shape.stroke_area(0.5 * self.tolerance_mm).unwrap_or_default();
                chains(&area, self.to_flat, 0.5 * self.tolerance_mm)
            } else {
                chains(&shape.path, self.to_flat, self.tolerance_mm)
            }
        })
    }

    /// The outline of one area of a clip path.
    pub(crate) fn clip_rings(&self, clip: usize, area: usize) -> &[Chain] {
        let Some(cell) = self.clips.get(clip).and_then(|areas| areas.get(area)) else { return &[] };
        cell.get_or_init(|| {
            let area = self.art.clips.get(clip).and_then(|clip| clip.areas.get(area));
            area.map_or_else(Vec::new, |area| chains(&area.path, self.to_flat, self.tolerance_mm))
        })
    }
}

/// A box around a layer on the page.
fn bounds(shape: &Shape, is_stroke: bool) -> Rect {
    let path =
        if shape.path.elements().is_empty() { Rect::ZERO } else { shape.path.bounding_box() };
    match &shape.stroke {
        Some(stroke) if is_stroke => {
            // A mitre reaches farthest, a square cap √2 of half the width; a stretched pen
            // stretches both.
            let reach = 0.5 * stroke.width_mm * stroke.miter_limit.max(std::f64::consts::SQRT_2);
            let pen =
                stroke.pen.as_coeffs()[..4].iter().map(|c| c * c).sum::<f64>().sqrt().max(1.0);
            path.inflate(reach * pen, reach * pen)
        }
        _ => path,
    }
}
