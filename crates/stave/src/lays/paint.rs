//! A piece as it is painted, for the picture of its lays.

use std::collections::HashMap;

use kurbo::{BezPath, Rect, Shape as _};
use stave_toolpath::art::{Part, Rule, Shape};

use super::subject::LOOK_MM;
use crate::layout::{Layout, PlacedPart};

/// What a part of a drawing does to the picture.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Painted {
    /// An area that burns.
    Area(Rule),
    /// A line that burns.
    Line,
    /// What hides that lies beneath it, and does not burn.
    Bare(Rule),
}

/// A part of a piece, in the flat plane.
#[derive(Clone, Debug)]
pub(super) struct Paint {
    pub(super) flat: BezPath,
    pub(super) painted: Painted,
    /// The areas to which it is confined: a point lies in one of each list.
    pub(super) clips: Vec<Vec<(BezPath, Rule)>>,
}

/// What is painted of a piece: all of it that burns, and what hides some of that.
pub(super) fn paints(
    layout: &Layout,
    (parts, bounds): (&[PlacedPart], Rect),
    boxes: &[Option<Rect>],
) -> Vec<Paint> {
    let Some(first) = parts.iter().min_by_key(|part| part.shape) else { return Vec::new() };
    let mut of_shape: HashMap<usize, Vec<Part>> = HashMap::new();
    for part in parts {
        of_shape.entry(part.shape).or_default().push(part.part);
    }
    let mut paints = Vec::new();
    for (number, shape) in layout.art.shapes.iter().enumerate().skip(first.shape) {
        let Some(on_page) = boxes.get(number).copied().flatten() else { continue };
        let on_flat = layout.to_flat.transform_rect_bbox(on_page);
        if !on_flat.overlaps(bounds) {
            continue;
        }
        let own = of_shape.get(&number).map_or(&[][..], Vec::as_slice);
        for (part, painted) in painted(shape, own, !layout.operations.is_empty()) {
            let placed = PlacedPart { shape: number, part, ..*first };
            let flat = layout.outline_flat(&placed, LOOK_MM);
            let clips = clips(layout, &shape.clips, flat.bounding_box());
            paints.push(Paint { flat, painted, clips });
        }
    }
    paints
}

/// The clips that cut something off what lies in a box.
fn clips(layout: &Layout, own: &[usize], inside: Rect) -> Vec<Vec<(BezPath, Rule)>> {
    let (mut all, mut next) = (Vec::new(), own.to_vec());
    while let Some(number) = next.pop() {
        let Some(clip) = layout.art.clips.get(number) else { continue };
        next.extend(&clip.within);
        let areas: Vec<(BezPath, Rule)> =
            clip.areas.iter().map(|area| (layout.to_flat * area.path.clone(), area.rule)).collect();
        if !areas.iter().any(|(area, _)| is_box_around(area, inside)) {
            all.push(areas);
        }
    }
    all
}

/// Whether an area is a level box that holds another: the edge of a page, of a drawing in it.
fn is_box_around(area: &BezPath, inside: Rect) -> bool {
    let bounds = area.bounding_box();
    let is_box = (area.area().abs() - bounds.area()).abs() <= 1e-6 * bounds.area();
    is_box && bounds.inflate(1e-6, 1e-6).union(inside) == bounds.inflate(1e-6, 1e-6)
}

/// What of a shape is painted, and how. What an operation picks burns, whatever its colour.
fn painted(shape: &Shape, own: &[Part], picked: bool) -> Vec<(Part, Painted)> {
    let fill = shape.fill.and_then(|fill| {
        let burns = own.contains(&Part::Fill) && (picked || !fill.is_bare());
        let painted = if burns { Painted::Area(fill.rule) } else { Painted::Bare(fill.rule) };
        (burns || fill.hides()).then_some((Part::Fill, painted))
    });
    let mut strokes = Vec::new();
    if let Some(stroke) = &shape.stroke {
        let burns = own.contains(&Part::StrokeArea);
        let painted =
            if burns { Painted::Area(Rule::NonZero) } else { Painted::Bare(Rule::NonZero) };
        if burns || stroke.hides() {
            strokes.push((Part::StrokeArea, painted));
        }
        if own.contains(&Part::StrokeMiddle) && (picked || !stroke.is_bare()) {
            strokes.push((Part::StrokeMiddle, Painted::Line));
        }
    }
    let outline = own.contains(&Part::Outline).then_some((Part::Outline, Painted::Line));
    let mut all: Vec<(Part, Painted)> = fill.into_iter().collect();
    let at = if shape.stroke_first { 0 } else { all.len() };
    all.splice(at..at, strokes);
    all.extend(outline);
    all
}
