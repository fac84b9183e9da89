//! Clips that cut nothing: the region of a mask, or a viewport, as wide as the page around a small
//! shape. Whoever scans the drawing would look at their edges on every line of the page.

use kurbo::{BezPath, PathEl, Point, Rect, Shape as _};
use stave_toolpath::art::{Art, Clip};

use super::page_edge::reach_mm;

/// Takes away from every shape, and from every clip, the clips that are a plain rectangle around
/// all of it.
pub(super) fn drop_idle(art: &mut Art) {
    let frames: Vec<Option<Rect>> = art.clips.iter().map(frame).collect();
    if frames.iter().all(Option::is_none) {
        return;
    }
    let cuts = |clip: usize, bounds: Rect| match frames.get(clip).copied().flatten() {
        Some(frame) => frame.union(bounds) != frame,
        None => true,
    };
    for shape in &mut art.shapes {
        if shape.clips.is_empty() || shape.path.elements().is_empty() {
            continue;
        }
        let pen_mm = shape.stroke.as_ref().map_or(0.0, reach_mm);
        let bounds = shape.path.bounding_box().inflate(pen_mm, pen_mm);
        shape.clips.retain(|clip| cuts(*clip, bounds));
    }
    for clip in &mut art.clips {
        for area in &mut clip.areas {
            if !area.clips.is_empty() && !area.path.elements().is_empty() {
                let bounds = area.path.bounding_box();
                area.clips.retain(|clip| cuts(*clip, bounds));
            }
        }
        let boxes = clip.areas.iter().filter(|area| !area.path.elements().is_empty());
        let boxes = boxes.map(|area| area.path.bounding_box());
        if let Some(bounds) = boxes.reduce(|one, other| one.union(other)) {
            clip.within.retain(|clip| cuts(*clip, bounds));
        }
    }
}

/// The rectangle that a clip is, if it is nothing but one.
fn frame(clip: &Clip) -> Option<Rect> {
    let [area] = clip.areas.as_slice() else { return None };
    let is_plain = clip.within.is_empty() && area.clips.is_empty();
    // One ring has the same inside by either rule.
    rectangle(&area.path).filter(|_| is_plain)
}

/// The rectangle along the axes that a path is.
fn rectangle(path: &BezPath) -> Option<Rect> {
    let mut corners: Vec<Point> = Vec::with_capacity(5);
    for (k, el) in path.elements().iter().enumerate() {
        match *el {
            PathEl::MoveTo(point) if k == 0 => corners.push(point),
            PathEl::LineTo(point) if corners.len() < 5 => corners.push(point),
            PathEl::ClosePath if k + 1 == path.elements().len() => {}
            _ => return None,
        }
    }
    if corners.len() == 5 && corners.first() == corners.last() {
        corners.pop();
    }
    let [a, b, c, d] = corners.as_slice() else { return None };
    let along = |p: &Point, q: &Point| p.x == q.x || p.y == q.y;
    let is_along = along(a, b) && along(b, c) && along(c, d) && along(d, a);
    let is_box = (a.x == b.x) != (b.x == c.x) && a.x + c.x == b.x + d.x && a.y + c.y == b.y + d.y;
    (is_along && is_box).then(|| Rect::from_points(*a, *c))
}

#[cfg(test)]
mod tests {
    use kurbo::Affine;

    use super::*;

    #[test]
    fn only_boxes_along_the_axes_are_rectangles() -> Result<(), kurbo::SvgParseError> {
        let of = |d: &str| BezPath::from_svg(d).map(|path| rectangle(&path));
        assert_eq!(of("M1 2H5V9H1Z")?, Some(Rect::new(1.0, 2.0, 5.0, 9.0)));
        assert_eq!(of("M1 2V9H5V2H1Z")?, Some(Rect::new(1.0, 2.0, 5.0, 9.0)));
        for d in ["M1 2H5V9H2Z", "M1 2L5 3V9H1Z", "M1 2H5V9H1ZM2 3H3V4H2Z", "M1 2H5V9Z", "M0 0"] {
            assert_eq!(of(d)?, None, "{d}");
        }
        let turned = Affine::rotate(0.1) * Rect::new(0.0, 0.0, 9.0, 9.0).to_path(0.1);
        assert_eq!(rectangle(&turned), None);
        Ok(())
    }
}
