//! Why a drawing, or an operation on it, burns nothing.

use kurbo::{BezPath, PathEl, Shape as _};
use stave_check::{Code, Finding, Severity};
use stave_setup::{Setup, Tone, ZoneRule};
use stave_toolpath::art::{Part, Shape, Work};
use stave_transform::{OperationFigures, Shade, plan_art};

use crate::layout::{Layout, PlacedOperation};
use crate::source::Source;
use crate::wrap_art::{burns_of, shade};

/// Insides smaller than this are none, mm²: points are read in 32 bits.
pub(crate) const NO_AREA_MM2: f64 = 1e-3;

/// That a drawing burns nothing: an error, where a program that does is only odd.
pub(crate) fn error(message: String) -> Finding {
    Finding { severity: Severity::Error, ..Finding::new(Code::NothingBurns, message) }
}

/// Puts a drawing's own words in the place of those for programs, where nothing burns.
pub(crate) fn tell(
    findings: &mut Vec<Finding>,
    layout: &Layout,
    figures: &[OperationFigures],
    source: &Source<'_>,
    setup: &Setup,
) {
    let of_programs = |finding: &Finding| {
        finding.code == Code::NothingBurns && finding.severity != Severity::Error
    };
    if !findings.iter().any(of_programs) {
        return;
    }
    findings.retain(|finding| !of_programs(finding));
    if !findings.iter().any(|finding| finding.code == Code::NothingBurns) {
        findings.push(of_layout(layout, figures, source, setup));
    }
}

/// That a layout burns nothing, and why.
pub(crate) fn of_layout(
    layout: &Layout,
    figures: &[OperationFigures],
    source: &Source<'_>,
    setup: &Setup,
) -> Finding {
    if layout.art.shapes.is_empty() {
        return error("nothing of the drawing burns: the drawing shows nothing".to_owned());
    }
    if !layout.art.shapes.iter().any(Shape::is_dark) {
        let message = "nothing of the drawing burns: all that the drawing shows is white or near \
                       it, which is bare ware; draw what is to burn in another colour";
        return error(message.to_owned());
    }
    let each = layout.operations.iter().zip(figures).enumerate();
    let why = each.filter(|(_, (operation, _))| !operation.parts.is_empty());
    let whys: Vec<String> = why
        .map(|(number, (operation, figures))| {
            let why = of_operation(number, figures.masked_mm > 0.0, layout, source, setup);
            format!("operation \"{}\": {why}", operation.name)
        })
        .collect();
    match whys.is_empty() {
        true => error(
            "nothing of the drawing burns: no operation picks anything of the drawing".to_owned(),
        ),
        false => error(format!("nothing of the drawing burns: {}", whys.join("; "))),
    }
}

/// Why an operation that picks something burns nothing of it.
pub(crate) fn of_operation(
    number: usize,
    in_zone: bool,
    layout: &Layout,
    source: &Source<'_>,
    setup: &Setup,
) -> &'static str {
    if in_zone {
        return "all that it picks lies in zones";
    }
    let Some(operation) = layout.operations.get(number) else { return "it is none" };
    let picked = operation
        .parts
        .iter()
        .filter_map(|part| Some((layout.art.shapes.get(part.shape)?, part.part)));
    let is_open = |(shape, part): (&Shape, Part)| {
        part == Part::Fill && closed(&shape.path).area().abs() <= NO_AREA_MM2
    };
    if picked.clone().all(is_open) {
        if layout.shades.is_some() {
            return "the picture is too small to burn: give more by --width or --height";
        }
        return "it picks fills of lines without an inside: SVG fills a line black unless it says \
                fill=\"none\"; give it a stroke and pick that";
    }
    if let Some(why) = too_light(operation, layout) {
        return why;
    }
    match burns_alone(operation, layout, source, setup) {
        true => "all that it picks is hidden by what lies over it",
        false if picked.clone().any(|(shape, _)| !shape.clips.is_empty()) => {
            "clip paths, or the edge of the page, leave nothing of all that it picks"
        }
        false => "what it picks is too small to burn",
    }
}

/// Why an operation for pictures burns nothing of what it shows, where it is light all over.
fn too_light(operation: &PlacedOperation, layout: &Layout) -> Option<&'static str> {
    if operation.work != Work::Picture {
        return None;
    }
    let Shade { surfaces, tones } = shade(layout, operation);
    let darkest = surfaces.iter().map(|surface| surface.picture.darkest()).max()?;
    let burns = tones.share(darkest) > 0.0;
    (!burns).then_some(match operation.shading.tone {
        Tone::Threshold => "nothing of it is as dark as its `threshold` says",
        _ if operation.shading.invert => {
            "all of it is black, and where it says `invert` what is light burns"
        }
        _ => "all of it is white, which is bare ware; `invert` burns what is light",
    })
}

/// A path with each part of it closed, as a fill takes it.
pub(crate) fn closed(path: &BezPath) -> BezPath {
    let mut closed = BezPath::new();
    for element in path.elements() {
        if matches!(element, PathEl::MoveTo(_)) && !closed.elements().is_empty() {
            closed.close_path();
        }
        closed.push(*element);
    }
    closed.close_path();
    closed
}

/// Whether an operation would burn if nothing else were drawn.
fn burns_alone(
    operation: &PlacedOperation,
    layout: &Layout,
    source: &Source<'_>,
    setup: &Setup,
) -> bool {
    let mut alone = Layout { operations: vec![operation.clone()], ..layout.clone() };
    for (index, shape) in alone.art.shapes.iter_mut().enumerate() {
        if !operation.parts.iter().any(|part| part.shape == index) {
            (shape.fill, shape.stroke) = (None, None);
        }
    }
    let mut anywhere = setup.clone();
    anywhere.job.zones = ZoneRule::Ignore;
    let burns = burns_of(&alone, source, &anywhere);
    let Ok(plan) = plan_art(&burns, &anywhere) else { return true };
    plan.figures().iter().any(|figures| figures.hatch.is_some() || figures.paths > 0)
}
