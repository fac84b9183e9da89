//! Lines: outlines of fills and the middles of strokes, where they are seen.

mod burn;
mod once;
mod visible;

use kurbo::{BezPath, Point, Rect, Shape as _};
use stave_toolpath::art;
use stave_wall::{Distortion, Lay, Wall};

pub(crate) use burn::{LineHow, burn_path};

use crate::burns::BurnPart;
use crate::scene::{Chain, Scene, chains};
use once::once;
pub(crate) use visible::split;
use visible::{Cover, Insides};

/// The share of the tolerance that curves are flattened with; the cutting on the wall has the rest.
pub(crate) const FLATTEN_SHARE: f64 = 0.4;
/// A line on the edge of what lies over it is seen, so far as the chords of both can tell: the
/// line's own and, a tenth, the scene's.
const ASIDE_SHARE: f64 = 0.6;

/// A line to burn, in the flat plane.
#[derive(Clone, Debug)]
pub(crate) struct LinePath {
    pub(crate) chain: Chain,
    pub(crate) piece: usize,
    pub(crate) lay: usize,
}

/// The seen parts of an operation's lines, in the order of the drawing.
pub(crate) fn paths(
    scene: &Scene<'_>,
    wall: &Wall,
    lays: &[Lay],
    parts: &[BurnPart],
    tolerance_mm: f64,
) -> Vec<LinePath> {
    let insides = Insides::new(scene);
    let mut found = Vec::new();
    for part in parts {
        let (Some(shape), Some(lay)) = (scene.art.shapes.get(part.shape), lays.get(part.lay))
        else {
            continue;
        };
        let path: &BezPath = match part.part {
            art::Part::StrokeMiddle => shape.stroke_middle().unwrap_or(&shape.path),
            _ => &shape.path,
        };
        if path.elements().is_empty() {
            continue;
        }
        let bounds = scene.to_flat.transform_rect_bbox(path.bounding_box());
        let stretch = stretch(wall, lay, bounds);
        let cover = Cover::new(&insides, part.shape, bounds, ASIDE_SHARE * tolerance_mm);
        let mut chains = chains(path, scene.to_flat, FLATTEN_SHARE * tolerance_mm / stretch);
        for chain in &mut chains {
            close(chain, part.part == art::Part::Outline && shape.fill.is_some());
        }
        for chain in once(chains) {
            let seen = cover.seen(&chain).into_iter();
            found.extend(seen.map(|chain| LinePath { chain, piece: part.piece, lay: part.lay }));
        }
    }
    found
}

/// A fill is closed whether or not its outline says so; so is a stroke that ends where it began.
fn close(chain: &mut Chain, of_fill: bool) {
    let returns = chain.points.len() > 3 && chain.points.first() == chain.points.last();
    if returns {
        chain.points.pop();
    }
    chain.closed |= returns || of_fill;
}

/// The most a lay stretches anything within a box of the flat plane, at least 1.
fn stretch(wall: &Wall, lay: &Lay, bounds: Rect) -> f64 {
    const LOOKS: u32 = 8;
    let at = |low: f64, high: f64, k: u32| low + (high - low) * f64::from(k) / f64::from(LOOKS);
    let mut most = 1.0_f64;
    for i in 0..=LOOKS {
        for j in 0..=LOOKS {
            let point = Point::new(at(bounds.x0, bounds.x1, i), at(bounds.y0, bounds.y1, j));
            let a = Distortion::of_jacobian(lay.jacobian(wall, point.x, point.y)).a;
            if a.is_finite() {
                most = most.max(a);
            }
        }
    }
    most
}
