//! Which element of a drawing it is that cannot be burned.

use kurbo::{BezPath, ParamCurveNearest as _, Point, Shape as _};
use stave_rig::Misfit;
use stave_toolpath::art::Part;
use stave_transform::Hit;
use stave_wall::Wall;

use crate::layout::{Layout, PlacedPart};

/// How close outlines are followed, mm.
const LOOK_MM: f64 = 0.05;

/// The element of a hit's piece that lies where it hit, the topmost of several, or nearest to it;
/// by id, or by kind and line.
pub(crate) fn element_of<'l>(hit: &Hit, layout: &'l Layout, wall: &Wall) -> Option<&'l str> {
    let operation = layout.operations.get(hit.operation)?;
    let parts = operation.parts.iter().filter(|part| part.piece == hit.piece);
    let far = |part: &PlacedPart| {
        let path = layout.outline_flat(part, LOOK_MM);
        let far = match hit.misfit {
            Misfit::Zone { at_mm, turn_deg, .. } => {
                let s_mm = wall.s_of_at(at_mm);
                let (u, v) = layout.lays.get(part.lay)?.flat(wall, s_mm, turn_deg.to_radians())?;
                distance_mm(&path, part.part, Point::new(u, v))
            }
            // What reaches farthest past that end.
            Misfit::OffWall { at_mm, wall_mm } => {
                let bounds = path.bounding_box();
                if at_mm > wall_mm.1 { -bounds.x1 } else { bounds.x0 }
            }
            _ => return None,
        };
        Some(far)
    };
    let mut nearest: Option<(f64, usize)> = None;
    for part in parts {
        let Some(far) = far(part).filter(|far| !far.is_nan()) else { continue };
        if nearest.is_none_or(|(known, _)| far <= known) {
            nearest = Some((far, part.shape));
        }
    }
    let shape = layout.art.shapes.get(nearest?.1)?;
    layout.art.elements.get(shape.element).map(|element| element.name.as_str())
}

/// How far a point lies from what burns of a path, mm.
fn distance_mm(path: &BezPath, part: Part, point: Point) -> f64 {
    if matches!(part, Part::Fill | Part::StrokeArea) && path.winding(point) != 0 {
        return 0.0;
    }
    let nearest = path.segments().map(|segment| segment.nearest(point, LOOK_MM).distance_sq);
    nearest.fold(f64::INFINITY, f64::min).sqrt()
}
