//! Areas made of shades: what is rendered is cut where it is dark enough.

use stave_setup::{Operation, Setup};
use stave_toolpath::art::{
    Art, Choice, Chosen, Clip, ClipArea, Fill, Part, Rgb, Rule, Shape, Work,
};

use super::rendered::{Shaded, region};

/// So many pixels make a spot: edges between them are told to a part of one.
const PIXELS_OF_SPOT: f64 = 3.0;
/// How close to the exact edge of a stroke what is cut of it lies, mm.
const STROKE_TOLERANCE_MM: f64 = 0.001;

/// Puts above every shape of shades that an operation for areas cuts what is dark enough of it: a
/// plain shape, which that operation burns in its place.
pub(super) fn cut(
    art: &mut Art,
    choice: &mut Choice,
    seen: &mut Shaded,
    rules: &[Operation],
    setup: &Setup,
) {
    let mut made: Vec<Made> = Vec::new();
    let each = rules.iter().zip(&mut choice.operations).enumerate();
    for (operation, (Operation { rule, line_spacing_mm, .. }, chosen)) in each {
        if rule.work != Work::Area {
            continue;
        }
        let shaded = chosen.iter().filter(|one| art.is_shaded(one.shape));
        let parts: Vec<(usize, Part)> = shaded.map(|one| (one.shape, one.part)).collect();
        chosen.retain(|one| !art.is_shaded(one.shape));
        if parts.is_empty() {
            continue;
        }
        let spacing_mm = line_spacing_mm.unwrap_or(f64::INFINITY);
        let spot_mm = setup.spot_mm().unwrap_or(f64::INFINITY).min(spacing_mm);
        let pixel_mm = spot_mm / PIXELS_OF_SPOT;
        let invert = rule.shading.invert;
        let Some(raster) = seen.see(art, &parts, pixel_mm, invert) else { continue };
        let threshold = rule.shading.threshold_percent / 100.0;
        for (shape, part) in parts {
            seen.cut.push(shape);
            let Some(window) = region(art, &[(shape, part)]) else { continue };
            let window = raster.to_page.inverse().transform_rect_bbox(window);
            let path = raster.to_page * raster.raster.contour(threshold, invert, window);
            if let Some(shape_now) = art.shapes.get(shape)
                && let Some(cut) = cut_of(shape_now, part, path, &mut art.clips)
            {
                made.push(Made { operation, of: (shape, part), shape: cut });
            }
        }
    }
    insert(art, choice, seen, made);
}

/// A shape made of shades.
struct Made {
    operation: usize,
    /// The shape that it is made of, and which part.
    of: (usize, Part),
    shape: Shape,
}

/// What is dark of a part of a shape: a plain shape within the exact edge of that part.
fn cut_of(shape: &Shape, part: Part, path: kurbo::BezPath, clips: &mut Vec<Clip>) -> Option<Shape> {
    let (edge, rule) = match part {
        Part::Fill | Part::Outline => (shape.path.clone(), shape.fill?.rule),
        Part::StrokeArea | Part::StrokeMiddle => {
            (shape.stroke_area(STROKE_TOLERANCE_MM)?, Rule::NonZero)
        }
    };
    let area = ClipArea { path: edge, rule, clips: Vec::new() };
    clips.push(Clip { areas: vec![area], within: Vec::new() });
    let mut within = shape.clips.clone();
    within.push(clips.len() - 1);
    let fill = Fill { colour: Rgb::default(), rule: Rule::EvenOdd, opacity: 1.0 };
    Some(Shape {
        element: shape.element,
        path,
        fill: Some(fill),
        stroke: None,
        stroke_first: false,
        clips: within,
    })
}

/// Puts what was made above what it was made of, and tells all that counts shapes.
fn insert(art: &mut Art, choice: &mut Choice, seen: &mut Shaded, mut made: Vec<Made>) {
    if made.is_empty() {
        return;
    }
    made.sort_by_key(|one| one.of);
    let before = std::mem::take(&mut art.shapes);
    let mut now = Vec::with_capacity(before.len() + made.len());
    let (mut moved, mut as_read) = (Vec::with_capacity(before.len()), Vec::new());
    let mut burned = Vec::with_capacity(made.len());
    let mut made = made.into_iter().peekable();
    for (index, shape) in before.into_iter().enumerate() {
        moved.push(now.len());
        now.push(shape);
        as_read.push(index);
        while let Some(one) = made.next_if(|one| one.of.0 == index) {
            burned.push((one.operation, Chosen { shape: now.len(), part: Part::Fill }));
            now.push(one.shape);
            as_read.push(index);
        }
    }
    let to = |shape: &mut usize| *shape = moved.get(*shape).copied().unwrap_or(*shape);
    art.shapes = now;
    art.shaded.iter_mut().for_each(|shaded| to(&mut shaded.shape));
    choice.operations.iter_mut().flatten().for_each(|chosen| to(&mut chosen.shape));
    for (operation, chosen) in burned {
        if let Some(operation) = choice.operations.get_mut(operation) {
            operation.push(chosen);
            operation.sort_by_key(|one| (one.shape, one.part));
        }
    }
    seen.as_read = as_read;
}
