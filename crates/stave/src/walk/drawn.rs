//! What of a drawing is gone round.

use std::collections::BTreeMap;

use stave_check::{Code, Finding};
use stave_setup::Setup;
use stave_transform::Around;

use super::{Tour, WalkOptions, Way, on_itself, outline};
use crate::check::{CheckReport, check_drawn};
use crate::error::Error;
use crate::layout::{Layout, Purpose};
use crate::nothing;
use crate::source::{Options, Source};
use crate::wrap::refused;

/// How close outlines are followed, mm.
const LOOK_MM: f64 = 0.05;

/// Round each piece of a drawing. Where it is only to be looked at, what is found refuses nothing,
/// and nothing is judged as it burns.
pub(super) fn of_drawn(
    source: &Source<'_>,
    setup: &Setup,
    options: &Options,
    (how, judges): (&WalkOptions, bool),
) -> Result<Tour, Error> {
    let layout = Layout::read(source, setup, options, Purpose::Show)?;
    let ways = ways(&layout, how);
    // Focused as its program would be, where it is said how it burns.
    let checked = judges.then(|| check_drawn(source, setup, options).ok()).flatten();
    let laid = Tour::laid(ways, setup, checked.as_ref().and_then(CheckReport::focus));
    let mut findings = layout.findings.clone();
    let told = findings.iter().any(is_nothing);
    let judged = checked.map(|checked| checked.findings).unwrap_or_default();
    let nothing = judged.iter().find(|finding| is_nothing(finding)).cloned();
    let nothing = nothing
        .or_else(|| laid.ways.is_empty().then(|| nothing::of_layout(&layout, &[], source, setup)));
    findings.extend(nothing.filter(|_| !told));
    if judges {
        let unfit = refused(findings.clone(), &options.allow);
        if !unfit.is_empty() {
            return Err(Error::NotFit(unfit));
        }
    }
    findings.extend(on_itself(judged));
    Ok(Tour { findings, warnings: layout.warnings, ..laid })
}

fn is_nothing(finding: &Finding) -> bool {
    finding.code == Code::NothingBurns
}

/// The way round each piece of a layout.
fn ways(layout: &Layout, how: &WalkOptions) -> Vec<Way> {
    let mut pieces: BTreeMap<(usize, usize), Around> = BTreeMap::new();
    for part in layout.parts() {
        let around = pieces.entry((part.piece, part.lay)).or_default();
        kurbo::flatten(layout.outline_flat(&part, LOOK_MM), LOOK_MM, |element| {
            if let Some(point) = element.end_point() {
                around.add((point.x, point.y));
            }
        });
    }
    pieces
        .into_iter()
        .filter_map(|((piece, lay), around)| {
            let setting = layout.lays.get(lay)?.setting();
            let piece =
                layout.pieces.get(piece).map_or_else(|| "art".to_owned(), |piece| piece.id.clone());
            let outline = outline(around, how);
            Some(Way { piece, outline, kind: setting.kind, anchor: setting.anchor })
        })
        .collect()
}
