//! The pieces of a drawing, and what their lays do to them.

use stave_check::{Code, Finding, LaidPiece, lay_figures, overlaps};
use stave_setup::Setup;
use stave_wall::{Lay, LayKind};

use super::subject::{LOOK_MM, Subject};
use super::{LayRow, distortion, lay_setting};
use crate::error::Error;
use crate::layout::{Layout, PlacedPart, Purpose, anchor_of};
use crate::report::PieceAsLaid;
use crate::source::{Options, Source};

/// Points inside a piece: so many along either side of its box.
const INSIDE: u32 = 24;
/// The same where there are more pieces than anyone looks at one by one.
const INSIDE_OF_MANY: u32 = 8;
const MANY: usize = 200;

/// The pieces of a drawing, and what a person should know of it.
pub(super) fn of_drawing(
    source: &Source<'_>,
    setup: &Setup,
    options: &Options,
) -> Result<(Vec<Subject>, Vec<String>), Error> {
    let layout = Layout::read(source, setup, options, Purpose::Show)?;
    let found = layout.findings.iter().map(|finding| finding.message.clone());
    let notes = found.chain(layout.warnings.iter().cloned()).collect();
    #[cfg_attr(not(feature = "pictures"), expect(unused_mut, reason = "nothing is painted"))]
    let mut subjects = subjects(&layout, setup);
    #[cfg(feature = "pictures")]
    paint(&layout, &mut subjects);
    Ok((subjects, notes))
}

/// Notes how the pieces that are drawn are painted.
#[cfg(feature = "pictures")]
fn paint(layout: &Layout, subjects: &mut [Subject]) {
    let boxes = layout.art.bounds_of_shapes();
    let parts = layout.parts();
    for subject in subjects.iter_mut().take(stave_picture::MOST_LAYS_ROWS) {
        let own: Vec<PlacedPart> =
            parts.iter().filter(|part| part.piece == subject.piece).copied().collect();
        let (from, to) = (subject.from, subject.to);
        let bounds = kurbo::Rect::new(from.0, from.1, to.0, to.1);
        subject.paints = super::paint::paints(layout, (&own, bounds), &boxes);
    }
}

/// The pieces of a layout that have a size.
fn subjects(layout: &Layout, setup: &Setup) -> Vec<Subject> {
    let mut parts_of: Vec<Vec<PlacedPart>> = vec![Vec::new(); layout.pieces.len()];
    for part in layout.parts() {
        if let Some(parts) = parts_of.get_mut(part.piece) {
            parts.push(part);
        }
    }
    let clips = layout.art.bounds_of_clips();
    let side = if layout.pieces.len() > MANY { INSIDE_OF_MANY } else { INSIDE };
    let mut subjects = Vec::new();
    for (piece, (placed, parts)) in layout.pieces.iter().zip(&parts_of).enumerate() {
        let (Some(bounds), Some(first)) = (placed.bounds_flat, parts.first()) else { continue };
        let anchor = anchor_of(&setup.job, placed, None);
        let settings =
            LayKind::ALL.map(|kind| lay_setting(setup, kind, anchor, placed.centre_flat)).to_vec();
        let mut burns = Vec::new();
        for part in parts {
            let flat = layout.outline_flat(part, LOOK_MM);
            let Some(seen) = layout.seen_flat(part, &flat, &clips) else { continue };
            let rule = layout.rule_of(part);
            burns.push((flat, rule, seen));
        }
        let mut subject = Subject::new(side, placed.id.clone(), first.lay, bounds, burns, settings);
        subject.piece = piece;
        if !subject.outline.is_empty() {
            subjects.push(subject);
        }
    }
    subjects
}

/// What the lays of a layout do to its pieces.
pub(crate) struct AsLaid {
    /// The figures, piece by piece.
    pub(crate) pieces: Vec<PieceAsLaid>,
    /// Pieces that come out changed, and those that come to lie over each other.
    pub(crate) findings: Vec<Finding>,
}

/// What the lays of a layout do to its pieces, and what a person should know of that: angles off by
/// 5 degrees or sizes by 5 per cent, and pieces that come to lie over each other. A piece without a
/// size, or that has no place, is left out.
pub(crate) fn as_laid(layout: &Layout, setup: &Setup) -> AsLaid {
    let subjects = subjects(layout, setup);
    let (mut pieces, mut findings) = (Vec::new(), Vec::new());
    for subject in &subjects {
        let Some(lay) = layout.lays.get(subject.lay) else { continue };
        let Some(figures) = lay_figures(&setup.blank.wall, lay, &subject.sampled()) else {
            continue;
        };
        let piece = PieceAsLaid {
            id: subject.id.clone(),
            lay: lay.setting().kind,
            figures: LayRow::from(&figures),
        };
        findings.extend(distortion(&piece, &figures).map(|f| f.of_piece(&piece.id)));
        pieces.push(piece);
    }
    findings.extend(overlaps_as_laid(layout, &subjects, setup));
    AsLaid { pieces, findings }
}

fn overlaps_as_laid(layout: &Layout, subjects: &[Subject], setup: &Setup) -> Vec<Finding> {
    let wall = &setup.blank.wall;
    let laid: Vec<LaidPiece> = subjects
        .iter()
        .map(|subject| {
            let lay = layout.lays.get(subject.lay);
            let mut hint = 0;
            let mut place = |lay: &Lay, &(u, v): &(f64, f64)| {
                let at = lay.map(wall, u, v, &mut hint);
                (at.s_mm, at.turn_rad)
            };
            let outlines = lay.map_or_else(Vec::new, |lay| {
                subject
                    .lines
                    .iter()
                    .map(|line| line.iter().map(|p| place(lay, p)).collect())
                    .collect()
            });
            LaidPiece { outlines, drawn: (subject.from, subject.to) }
        })
        .collect();
    let finding = |found: &stave_check::Overlap| {
        let name = |index: usize| subjects.get(index).map_or("", |subject| subject.id.as_str());
        let at_mm = wall.at_of_s(found.s_mm);
        let message = format!(
            "pieces \"{}\" and \"{}\" were drawn apart and come to lie over each other; set them \
             farther apart, or lay them as one piece",
            name(found.pieces.0),
            name(found.pieces.1)
        );
        Finding::new(Code::Overlap, message)
            .at(at_mm, found.turn_rad)
            .of_piece(name(found.pieces.0))
    };
    overlaps(&laid).iter().map(finding).collect()
}
