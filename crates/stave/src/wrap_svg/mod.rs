//! `wrap --to svg`: the drawing laid on the wall and drawn anew, for controllers that read drawings
//! and take every wall for a cylinder.

mod clips;
mod judged;
mod note;
mod pixels;
mod sheet;

use std::io::Write;

use kurbo::{BezPath, Rect, Shape as _};
use stave_check::Code;
use stave_rig::Misfit;
use stave_setup::{Setup, ZoneRule};
use stave_toolpath::art::{Part, Rule, Shape};
use stave_transform::{Extent, Redraw};

use crate::error::{Error, PlacedMisfit, SourceFault, sentence};
use crate::layout::{Layout, Purpose};
use crate::lays::as_laid;
use crate::nothing;
use crate::report::{OperationReport, PieceReport, WrapReport};
use crate::source::{Options, Source};
use crate::wrap_art::unfolded;
use sheet::{Ink, LaidShape, Sheet};

/// How close to the exact edge of a stroke its outline is kept before it is laid, mm.
const STROKE_TOLERANCE_MM: f64 = 0.001;

/// Lays a drawing on the setup's blank, and writes it to `output` as an SVG document for a
/// controller that is told the job's `set_diameter` and takes the wall for a cylinder of it.
///
/// What is no plain fill or stroke (pictures, gradients, what shines through) is laid too, and
/// drawn as a picture of greys.
///
/// Groups, ids, colours and order are the drawing's; curves stay curves, within the job's tolerance
/// on the wall. Along the page is the X word, 0 at its bottom edge; around it turn × half the
/// diameter, 0 in its middle (the left edge and half the height where the drawing lies; the top
/// edge where it is inverted). Strokes that an operation burns as areas become filled outlines,
/// dashes become lines of their own. Nothing hidden is cut away: what lies over it is still drawn
/// over it. With `zones = "mask"` white shapes cover the zones.
///
/// # Errors
/// A program, a drawing that cannot be read (exit status 2); art that lies off the wall, where the
/// beam cannot reach, in a zone, or that is too large for a label (1); errors of writing.
#[expect(clippy::needless_pass_by_value, reason = "every step of the job takes its source")]
pub fn redraw<W: Write>(
    source: Source<'_>,
    output: W,
    setup: &Setup,
    options: &Options,
) -> Result<WrapReport, Error> {
    if matches!(source, Source::Picture { .. }) {
        return Err(Error::of_source(source.name(), SourceFault::PictureAnew));
    }
    if let Some(on) = &setup.facet {
        let place = on.facet.name.clone();
        return Err(Error::of_source(source.name(), SourceFault::FlatPlaceAnew { place }));
    }
    let layout = unfolded(&source, setup, options, Purpose::Redraw)?;
    let redraw = Redraw::new(setup);
    let mut warnings = layout.warnings.clone();
    let shapes = plan(&layout, &mut warnings);
    refuse_misfits(&layout, setup, &redraw, &shapes)?;
    let mut extent = Extent::NOTHING;
    let mut laid = Vec::with_capacity(shapes.len());
    for (index, shape) in shapes.iter().enumerate() {
        // What was cut at a threshold stands there as it burns.
        if layout.shaded.is_cut(&layout.art, index) {
            continue;
        }
        match lay(&layout, &redraw, shape, &mut extent) {
            Ok(one) => laid.push(LaidShape { shape: index, ..one }),
            // Burned ones have been looked at: this one is only shown.
            Err(misfit) => warnings.push(format!("{} is left out: {misfit}", shape.name)),
        }
    }
    let mut outcome = as_laid(&layout, setup);
    outcome.findings.splice(0..0, layout.findings.iter().cloned());
    // The controller makes the moves, so these refuse nothing; a program of ours they would.
    let of_outlines = judged::judged(&layout, setup, &shapes);
    warnings.extend(of_outlines.iter().map(|finding| {
        let told = sentence(finding);
        format!("as far as its outlines tell, for the controller goes its own way: {told}")
    }));
    let told = outcome.findings.iter().any(|finding| finding.code == Code::NothingBurns);
    if !told && !shapes.iter().any(|shape| shape.burned) {
        outcome.findings.push(nothing::of_layout(&layout, &[], &source, setup));
    }
    let unfit = crate::wrap::refused(outcome.findings.clone(), &options.allow);
    if !unfit.is_empty() {
        return Err(Error::NotFit(unfit));
    }
    let sheet = Sheet::new(setup, &redraw, &laid, &mut warnings);
    let lost = pixels::carry(&layout, &redraw, &sheet, setup, &mut laid);
    let unfit = crate::wrap::refused(lost.clone(), &options.allow);
    if !unfit.is_empty() {
        return Err(Error::NotFit(unfit));
    }
    outcome.findings.extend(lost);
    let carried = laid.iter().filter(|one| one.in_greys);
    let greys: Vec<&str> =
        carried.filter_map(|one| shapes.get(one.shape)).map(|shape| shape.name).collect();
    if !greys.is_empty() {
        warnings.push(format!(
            "pictures of greys stand for these, whatever their colours: {}",
            crate::layout::listed(&greys)
        ));
    }
    let note = note::note(setup, &layout, &sheet, laid.iter().any(|one| one.outlined));
    sheet.write(output, &layout, &redraw, &laid, &note).map_err(Error::Output)?;
    Ok(WrapReport {
        as_laid: outcome.pieces,
        findings: outcome.findings,
        ..report(&layout, setup, &extent, warnings)
    })
}

/// A shape of the drawing with what is to become of it.
#[derive(Clone, Debug)]
struct Planned<'l> {
    shape: &'l Shape,
    name: &'l str,
    piece: &'l str,
    /// An index into the layout's lays.
    lay: usize,
    burned: bool,
    /// Its fill burns as an area (or would, by a controller that goes by colours).
    area: bool,
    /// Its stroke burns with its width.
    broad: bool,
    /// The box around what clips leave of it, in the flat plane; `None` for nothing.
    seen: Option<Rect>,
}

fn plan<'l>(layout: &'l Layout, warnings: &mut Vec<String>) -> Vec<Planned<'l>> {
    let by_job = !layout.operations.is_empty();
    let boxes = layout.art.bounds_of_shapes();
    let mut planned: Vec<Planned<'l>> = layout
        .art
        .shapes
        .iter()
        .enumerate()
        .map(|(index, shape)| {
            let piece =
                layout.piece_of_shape.get(index).and_then(|&piece| layout.pieces.get(piece));
            let dark_fill = shape.fill.is_some_and(|fill| !fill.is_bare());
            Planned {
                shape,
                name: layout
                    .art
                    .elements
                    .get(shape.element)
                    .map_or("art", |element| element.name.as_str()),
                piece: piece.map_or("art", |piece| piece.id.as_str()),
                lay: piece.map_or(0, |piece| piece.lay),
                burned: !by_job && shape.is_dark(),
                area: !by_job && dark_fill,
                // No width stands for a pen that is wider one way than the other.
                broad: shape.stroke.as_ref().is_some_and(|s| s.pen != kurbo::Affine::IDENTITY),
                seen: boxes
                    .get(index)
                    .copied()
                    .flatten()
                    .map(|seen| layout.to_flat.transform_rect_bbox(seen)),
            }
        })
        .collect();
    for part in layout.operations.iter().flat_map(|operation| &operation.parts) {
        let Some(one) = planned.get_mut(part.shape) else { continue };
        if one.burned && one.lay != part.lay {
            let told = format!(
                "{}: two operations lay it in two ways; it is drawn by the first one's",
                one.name
            );
            if !warnings.contains(&told) {
                warnings.push(told);
            }
        } else {
            one.lay = part.lay;
        }
        one.burned = true;
        one.area |= part.part == Part::Fill;
        one.broad |= part.part == Part::StrokeArea;
    }
    planned
}

/// What of a shape is burned, in the flat plane: an outline, and by which rule its inside burns, if
/// it does.
fn burns(layout: &Layout, planned: &Planned<'_>) -> Vec<(BezPath, Option<Rule>)> {
    let shape = planned.shape;
    let mut burns = Vec::new();
    if let Some(fill) = shape.fill {
        let inside = planned.area.then_some(fill.rule);
        burns.push((layout.to_flat * shape.path.clone(), inside));
    }
    if planned.broad {
        let area = shape.stroke_area(STROKE_TOLERANCE_MM).unwrap_or_default();
        burns.push((layout.to_flat * area, Some(Rule::NonZero)));
    } else if let Some(middle) = shape.stroke_middle() {
        burns.push((layout.to_flat * middle.clone(), None));
    }
    burns
}

fn refuse_misfits(
    layout: &Layout,
    setup: &Setup,
    redraw: &Redraw<'_>,
    shapes: &[Planned<'_>],
) -> Result<(), Error> {
    let mut misfits: Vec<PlacedMisfit> = Vec::new();
    for planned in shapes.iter().filter(|shape| shape.burned) {
        let (Some(lay), Some(seen)) = (layout.lays.get(planned.lay), planned.seen) else {
            continue;
        };
        for (flat, area) in burns(layout, planned) {
            // Nothing clips but what the drawing clips.
            let seen = if planned.shape.clips.is_empty() { flat.bounding_box() } else { seen };
            let placed = |misfit| PlacedMisfit {
                element: Some(planned.name.to_owned()),
                piece: Some(planned.piece.to_owned()),
                misfit,
            };
            if let Err(misfit) = redraw.reaches(lay, &flat, seen) {
                misfits.push(placed(misfit));
            } else if setup.job.zones == ZoneRule::Refuse {
                let hits =
                    redraw.zone_hits(lay, &flat, area, seen).into_iter().map(|hit| Misfit::Zone {
                        name: hit.zone,
                        at_mm: hit.at_mm,
                        turn_deg: hit.turn_rad.to_degrees(),
                    });
                misfits.extend(hits.map(placed));
            }
        }
    }
    misfits.dedup();
    if misfits.is_empty() { Ok(()) } else { Err(Error::Misfits(misfits)) }
}

fn lay(
    layout: &Layout,
    redraw: &Redraw<'_>,
    planned: &Planned<'_>,
    extent: &mut Extent,
) -> Result<LaidShape, Misfit> {
    let shape = planned.shape;
    let mut covered = Extent::NOTHING;
    let counted = if planned.burned { extent } else { &mut covered };
    let Some(lay) = layout.lays.get(planned.lay) else { return Ok(LaidShape::nothing(shape)) };
    let mut draw = |path: &BezPath| redraw.path(lay, &(layout.to_flat * path.clone()), counted);
    let mut inks = Vec::new();
    let stroke = shape.stroke.as_ref();
    let outline = draw(&shape.path)?;
    let mut bounds = (!outline.elements().is_empty()).then(|| outline.bounding_box());
    let split = planned.broad || stroke.is_some_and(|stroke| stroke.dashes.is_some());
    match (stroke, split) {
        (Some(stroke), true) => {
            let over = if planned.broad {
                let area = draw(&shape.stroke_area(STROKE_TOLERANCE_MM).unwrap_or_default())?;
                let fill = stave_toolpath::art::Fill {
                    colour: stroke.colour,
                    rule: Rule::NonZero,
                    opacity: stroke.opacity,
                };
                Ink { path: area, fill: Some(fill), stroke: None }
            } else {
                let dashes = draw(shape.stroke_middle().unwrap_or(&shape.path))?;
                Ink { path: dashes, fill: None, stroke: Some(stroke.clone()) }
            };
            if shape.fill.is_some() {
                inks.push(Ink { path: outline, fill: shape.fill, stroke: None });
            }
            inks.push(over);
            if shape.stroke_first {
                inks.reverse();
            }
        }
        (stroke, _) => inks.push(Ink { path: outline, fill: shape.fill, stroke: stroke.cloned() }),
    }
    if let (false, Some(seen)) = (shape.clips.is_empty(), planned.seen) {
        let seen =
            redraw.path(lay, &seen.to_path(STROKE_TOLERANCE_MM), &mut Extent::NOTHING.clone())?;
        bounds = bounds.map(|bounds| bounds.intersect(seen.bounding_box()));
    }
    Ok(LaidShape {
        shape: 0,
        pixels: Vec::new(),
        in_greys: false,
        bounds,
        element: shape.element,
        lay: planned.lay,
        clips: shape.clips.clone(),
        stroke_first: shape.stroke_first,
        outlined: planned.broad,
        inks,
    })
}

fn report(layout: &Layout, setup: &Setup, extent: &Extent, warnings: Vec<String>) -> WrapReport {
    let there = |value: f64| Some(value).filter(|value| value.is_finite());
    let turn = extent.turn_rad.1 - extent.turn_rad.0;
    WrapReport {
        at_min: there(extent.at_mm.0),
        at_max: there(extent.at_mm.1),
        turn_min_deg: there(extent.turn_rad.0.to_degrees()),
        turn_max_deg: there(extent.turn_rad.1.to_degrees()),
        overlap_deg: (turn.to_degrees() - 360.0).max(0.0),
        pieces: layout
            .pieces
            .iter()
            .map(|piece| PieceReport::new(&piece.id, layout.kind_of(piece, setup)))
            .collect(),
        operations: layout
            .operations
            .iter()
            .map(|operation| OperationReport::unburned(&operation.name, operation.work))
            .collect(),
        warnings,
        ..WrapReport::default()
    }
}
