//! A blank from the outline of a side view.

use kurbo::{BezPath, PathEl, Point, Shape as _};
use stave_parse::svg::{Fonts, SvgError, read_svg};
use stave_setup::Stands;
use stave_toolpath::art::{Art, Shape};
use stave_toolpath::number::fixed;
use stave_wall::{
    Side, Silhouette, SilhouetteError, Station, Wall, WallError, WallShape, silhouette, thin_out,
};

use super::{
    MeasureError, MeasureOptions, MeasureReport, MeasuredBy, Measurement, Odd, StationReport,
    blank_file, checked, mm,
};
use crate::error::Error;

/// The share of the bound that following curves by straight runs may take.
const CURVE_SHARE: f64 = 0.05;
/// How near to an end or a ledge the outline is looked at, mm on the blank.
const EDGE_MM: f64 = 0.01;
/// How often the stations of a smooth wall are taken twice as close until its curve keeps to the
/// bound.
const MOST_TRIES: u32 = 6;
/// Two sides that differ by more than this share of the radius are not the same wall.
const UNEVEN: f64 = 0.05;

/// The one length that is known in the drawing.
#[derive(Clone, Debug, PartialEq)]
pub enum Known {
    /// From end to end along the axis, mm.
    Height(f64),
    /// The greatest width across it, mm.
    Width(f64),
    /// The length of the element with this id, mm.
    Element(String, f64),
}

impl Known {
    fn length_mm(&self) -> f64 {
        match self {
            Self::Height(length) | Self::Width(length) | Self::Element(_, length) => *length,
        }
    }
}

/// How an outline is read.
#[derive(Clone, Debug)]
pub struct OutlineOptions {
    /// What messages call the drawing.
    pub name: String,
    /// The one known length.
    pub known: Known,
    /// How the ware stands in the drawing.
    pub stands: Stands,
    /// Which side of it is read.
    pub side: Side,
    /// The id of the outline; the largest there is where not given.
    pub id: Option<String>,
    /// How far the wall may lie from the outline, mm.
    pub within_mm: f64,
}

/// What is wrong with an outline.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum OutlineFault {
    /// The drawing cannot be read.
    #[error("{0}")]
    Svg(#[from] SvgError),
    /// It has no element of this id.
    #[error("no drawn element has the id \"{0}\"")]
    NoElement(String),
    /// Nothing is drawn.
    #[error("nothing is drawn: the outline must be a path with a fill or a stroke")]
    Nothing,
    /// What is known of it has no length.
    #[error("the known length has no length in the drawing")]
    NoLength,
    /// It shows no side view.
    #[error("{0}")]
    Silhouette(#[from] SilhouetteError),
    /// It makes no wall.
    #[error("{0}")]
    Wall(#[from] WallError),
}

/// Makes a blank of the outline of a side view, an SVG document.
pub(super) fn of_outline(
    svg: &[u8],
    outline: &OutlineOptions,
    options: &MeasureOptions,
) -> Result<Measurement, Error> {
    let wrong = |fault| MeasureError::Outline { name: outline.name.clone(), fault };
    let drawing = read_svg(svg, &Fonts::None).map_err(|error| wrong(error.into()))?;
    let art = &drawing.art;
    let shape = chosen(art, outline).map_err(wrong)?;
    // Coarse first, for the scale; then as fine as the bound asks.
    let rough = view(shape, outline, shape_size(shape) * 1e-5).map_err(wrong)?;
    let scale = scale(art, &rough, &outline.known).map_err(wrong)?;
    let found = view(shape, outline, EDGE_MM / scale).map_err(wrong)?;
    let profile: Vec<(f64, f64)> =
        found.profile.iter().map(|&(at, r)| (at * scale, r * scale)).collect();
    let (kept, strays_mm) = stations(&profile, outline.within_mm, options.shape).map_err(wrong)?;
    let known = outline.known.length_mm();
    let report = MeasureReport {
        stations: kept
            .iter()
            .map(|&(at, radius)| {
                let sure_mm = 2.0 * strays_mm + 2.0 * radius * options.gauges.place_mm / known;
                StationReport {
                    at,
                    diameter: 2.0 * radius,
                    plus_minus_mm: sure_mm,
                    by: MeasuredBy::Outline,
                    readings: 1,
                    by_readings_mm: sure_mm,
                    by_place_mm: 0.0,
                    oval_mm: None,
                    oval_turn_deg: None,
                    runout_mm: None,
                    runout_turn_deg: None,
                }
            })
            .collect(),
        odd: uneven(&found, scale, outline)
            .into_iter()
            .chain(too_far(strays_mm, outline))
            .collect(),
        start_turn_deg: None,
        notes: notes(&found, &profile, kept.len(), scale, strays_mm, outline, options),
    };
    let blank = blank_file::of_profile(&kept, &report, options);
    checked(blank, report)
}

/// The shape that is the outline.
fn chosen<'a>(art: &'a Art, outline: &OutlineOptions) -> Result<&'a Shape, OutlineFault> {
    let mut shapes: Vec<&Shape> =
        art.shapes.iter().filter(|shape| shape_size(shape) > 0.0).collect();
    if let Some(id) = &outline.id {
        shapes.retain(|shape| art.ids_of_element(shape.element).any(|own| own == id));
        if shapes.is_empty() {
            return Err(OutlineFault::NoElement(id.clone()));
        }
    }
    let largest = shapes.into_iter().max_by(|a, b| area(a).total_cmp(&area(b)));
    largest.ok_or(OutlineFault::Nothing)
}

fn area(shape: &Shape) -> f64 {
    let bounds = shape.path.bounding_box();
    bounds.width() * bounds.height()
}

fn shape_size(shape: &Shape) -> f64 {
    let bounds = shape.path.bounding_box();
    bounds.width().max(bounds.height())
}

/// The silhouette of a shape, looked at as near to its edges as `edge` mm on the page.
fn view(shape: &Shape, outline: &OutlineOptions, edge: f64) -> Result<Silhouette, OutlineFault> {
    let lines =
        runs(&shape.path, (edge * CURVE_SHARE * outline.within_mm / EDGE_MM).max(edge * 0.1));
    let stand = |p: Point| match outline.stands {
        Stands::Upright => (-p.y, p.x),
        Stands::Inverted => (p.y, p.x),
        Stands::Lying => (p.x, p.y),
    };
    let lines: Vec<Vec<(f64, f64)>> =
        lines.into_iter().map(|line| line.into_iter().map(stand).collect()).collect();
    Ok(silhouette(&lines, outline.side, edge)?)
}

/// A path as runs of points.
fn runs(path: &BezPath, tolerance: f64) -> Vec<Vec<Point>> {
    let mut lines: Vec<Vec<Point>> = Vec::new();
    kurbo::flatten(path.elements().iter().copied(), tolerance, |element| match element {
        PathEl::MoveTo(p) => lines.push(vec![p]),
        PathEl::LineTo(p) => {
            if let Some(line) = lines.last_mut() {
                line.push(p);
            }
        }
        PathEl::ClosePath => {
            if let Some(line) = lines.last_mut()
                && let Some(first) = line.first().copied()
            {
                line.push(first);
            }
        }
        PathEl::QuadTo(..) | PathEl::CurveTo(..) => {}
    });
    lines
}

/// mm on the blank for one mm on the page.
fn scale(art: &Art, found: &Silhouette, known: &Known) -> Result<f64, OutlineFault> {
    let (drawn, mm) = match known {
        Known::Height(mm) => (found.length, *mm),
        Known::Width(mm) => (2.0 * found.profile.iter().map(|p| p.1).fold(0.0, f64::max), *mm),
        Known::Element(id, mm) => {
            let mut shapes = art.shapes.iter();
            let element =
                shapes.find(|shape| art.ids_of_element(shape.element).any(|own| own == id));
            let shape = element.ok_or_else(|| OutlineFault::NoElement(id.clone()))?;
            (length(shape), *mm)
        }
    };
    if drawn > 0.0 && mm > 0.0 { Ok(mm / drawn) } else { Err(OutlineFault::NoLength) }
}

/// The length of a line from end to end, or of a closed shape along its longer side.
fn length(shape: &Shape) -> f64 {
    let lines = runs(&shape.path, shape_size(shape) * 1e-4);
    match lines.as_slice() {
        [line] if line.first() != line.last() => match (line.first(), line.last()) {
            (Some(from), Some(to)) => from.distance(*to),
            _ => 0.0,
        },
        _ => shape_size(shape),
    }
}

type Kept = (Vec<(f64, f64)>, f64);

/// The stations that keep the wall within the bound, and how far it strays from the outline at
/// worst, mm.
fn stations(
    profile: &[(f64, f64)],
    within_mm: f64,
    shape: WallShape,
) -> Result<Kept, OutlineFault> {
    let mut bound = within_mm;
    let mut best: Option<Kept> = None;
    for _ in 0..MOST_TRIES {
        let kept: Vec<(f64, f64)> =
            thin_out(profile, bound).into_iter().filter_map(|k| profile.get(k).copied()).collect();
        let strays = strays(profile, &kept, shape)?;
        let enough = strays <= within_mm * (1.0 + 1e-9);
        if best.as_ref().is_none_or(|best| strays < best.1) {
            best = Some((kept, strays));
        }
        if enough {
            break;
        }
        bound *= 0.5;
    }
    best.ok_or(OutlineFault::Silhouette(SilhouetteError::Flat))
}

/// How far the wall through some stations lies from the outline at worst, square to the wall, mm.
fn strays(
    profile: &[(f64, f64)],
    kept: &[(f64, f64)],
    shape: WallShape,
) -> Result<f64, OutlineFault> {
    let stations: Vec<Station> =
        kept.iter().map(|&(at_mm, radius_mm)| Station { at_mm, radius_mm }).collect();
    let wall = Wall::from_stations(&stations, shape)?;
    let mut hint = 0;
    Ok(profile
        .iter()
        .map(|&(at, radius)| {
            let section = wall.section(wall.s_of_at(at), &mut hint);
            (radius - section.radius_mm).abs() * section.cos_slope
        })
        .fold(0.0, f64::max))
}

fn uneven(found: &Silhouette, scale: f64, outline: &OutlineOptions) -> Option<Odd> {
    let (by, at) = (found.uneven.0 * scale, found.uneven.1 * scale);
    let widest = found.profile.iter().map(|p| p.1).fold(0.0, f64::max) * scale;
    if outline.side != Side::Both || by <= UNEVEN * widest {
        return None;
    }
    let message = format!(
        "one side lies {} mm farther from the axis than the other: where one shows a handle, take \
         the other with --side",
        mm(by)
    );
    Some(Odd { at: Some(at), message })
}

/// A smooth wall cannot follow every outline.
fn too_far(strays_mm: f64, outline: &OutlineOptions) -> Option<Odd> {
    (strays_mm > outline.within_mm * (1.0 + 1e-9)).then(|| Odd {
        at: None,
        message: format!(
            "a smooth wall lies up to {} mm from this outline, more than the {} mm asked: take \
             --wall straight",
            fixed(strays_mm, 3),
            fixed(outline.within_mm, 3)
        ),
    })
}

fn notes(
    found: &Silhouette,
    profile: &[(f64, f64)],
    kept: usize,
    scale: f64,
    strays_mm: f64,
    outline: &OutlineOptions,
    options: &MeasureOptions,
) -> Vec<String> {
    let known = outline.known.length_mm();
    let mut notes = vec![format!(
        "{kept} stations of {} looked at; no place of the outline lies more than {} mm from their \
         wall",
        profile.len(),
        fixed(strays_mm, 3)
    )];
    notes.push(format!(
        "± is that, and the known length of {} mm taken as good to ±{} mm, which makes everything \
         larger or smaller by {}%; how well the \
         drawing shows the ware cannot be seen from it: check one diameter with a caliper",
        mm(known),
        fixed(options.gauges.place_mm, 3),
        fixed(100.0 * options.gauges.place_mm / known, 2)
    ));
    notes.push(format!("1 mm of the drawing is {} mm of the ware", fixed(scale, 5)));
    if found.lean_rad.abs() > 1e-3 {
        notes.push(format!(
            "the axis leans by {}° in the drawing, which is taken out",
            fixed(found.lean_rad.to_degrees(), 2)
        ));
    }
    notes
}
