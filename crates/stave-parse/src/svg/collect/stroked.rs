//! Letters of single lines, and dashes.

use kurbo::{Affine, BezPath, PathEl};
use stave_toolpath::art::Shape;

use super::{Around, Walk};
use crate::svg::convert;
use crate::svg::line_font::SHOWN_EM;

impl Walk<'_, '_, '_> {
    /// Letters of single lines: their strokes as the drawing strokes them, or as thin lines in the
    /// colour that it fills them with.
    pub(super) fn lettering(
        &mut self,
        entry: usize,
        path: &usvg::Path,
        strokes: &BezPath,
        em: f64,
        around: &Around,
    ) {
        let to_page = convert::to_mm(around.to_px);
        let (paint, opacity) = match (path.stroke(), path.fill()) {
            (Some(stroke), _) => (stroke.paint(), stroke.opacity()),
            (None, Some(fill)) => (fill.paint(), fill.opacity()),
            (None, None) => return,
        };
        let opacity = around.opacity * f64::from(opacity.get());
        let Some((ink, tint)) = self.ink(entry, paint, opacity, around) else { return };
        let placed = around.fit.map_or(to_page, |fit| fit * to_page);
        let stroke = match path.stroke() {
            Some(stroke) => convert::stroke(stroke, ink, 1.0, to_page),
            None => convert::round_stroke(SHOWN_EM * em, ink, 1.0, placed),
        };
        let Some(stroke) = stroke else { return };
        let element = self.instances.element(entry, around.instance);
        if let Some(element) = self.instances.elements.get_mut(element) {
            element.is_lettering = true;
        }
        let letters = Shape {
            element,
            path: placed * strokes.clone(),
            fill: None,
            stroke: Some(stroke),
            stroke_first: false,
            clips: around.clips.clone(),
        };
        self.push(letters, tint, around);
    }

    /// The dashes of a stroke on the page. `None` for a solid one, or where they would be too many.
    pub(super) fn dashes(
        &mut self,
        entry: usize,
        stroke: &usvg::Stroke,
        data: &usvg::tiny_skia_path::Path,
        to_page: Affine,
    ) -> Option<BezPath> {
        let lengths: Vec<f64> = stroke.dasharray()?.iter().map(|&d| f64::from(d)).collect();
        let period: f64 = lengths.iter().sum();
        let offset = f64::from(stroke.dashoffset());
        if !(period > 0.0 && period.is_finite() && offset.is_finite()) {
            return None;
        }
        let path = convert::path(data, Affine::IDENTITY)?;
        #[allow(clippy::cast_precision_loss)]
        let count = control_length(&path) / period * lengths.len() as f64;
        if count > self.dashes_left {
            self.fates[entry].dense_dashes = true;
            return None;
        }
        self.dashes_left -= count;
        let mut dashes = BezPath::new();
        for el in kurbo::dash(path.iter(), offset.rem_euclid(period), &lengths) {
            // A subpath of no length comes without its beginning.
            if matches!(el, PathEl::MoveTo(_)) || !dashes.elements().is_empty() {
                dashes.push(el);
            }
        }
        Some(to_page * dashes)
    }
}

/// The length of a path's control polygon, at least that of the path.
fn control_length(path: &BezPath) -> f64 {
    let mut length = 0.0;
    let (mut at, mut start) = (kurbo::Point::ZERO, kurbo::Point::ZERO);
    for el in path.elements() {
        let mut go = |to: kurbo::Point| {
            length += at.distance(to);
            at = to;
        };
        match *el {
            PathEl::MoveTo(p) => (at, start) = (p, p),
            PathEl::LineTo(p) => go(p),
            PathEl::QuadTo(a, p) => [a, p].into_iter().for_each(&mut go),
            PathEl::CurveTo(a, b, p) => [a, b, p].into_iter().for_each(&mut go),
            PathEl::ClosePath => go(start),
        }
    }
    length
}
