//! What is to be said of an operation of a drawing as it burns.

use stave_check::spacing_against_spot;
use stave_setup::{Dose, Setup};
use stave_toolpath::art;
use stave_toolpath::number::fixed;
use stave_transform::{HatchFigures, OperationFigures};

use crate::asked_spacing::{CHANGED, GotSpacing};
use crate::layout::{Layout, PlacedOperation};
use crate::narrow;

/// Lines closer than this share of a picture's pixels show nothing more.
const FINER: f64 = 0.7;

/// What is to be said of an operation as it burns.
pub(crate) fn judge_operation(
    operation: &PlacedOperation,
    figures: &OperationFigures,
    layout: &Layout,
    setup: &Setup,
    verdict: &mut stave_check::Verdict,
) {
    for hatch in [&figures.hatch, &figures.cross].into_iter().flatten() {
        spacing(operation, hatch, layout, setup, verdict);
    }
    narrow::thin(operation, figures, layout, setup, &mut verdict.findings);
    narrow::quicker(operation, figures, &mut verdict.findings);
}

/// An operation's scan lines against the spot and what was asked.
fn spacing(
    operation: &PlacedOperation,
    hatch: &HatchFigures,
    layout: &Layout,
    setup: &Setup,
    verdict: &mut stave_check::Verdict,
) {
    let (findings, told) = (&mut verdict.findings, &mut verdict.told);
    let name = format!("operation \"{}\"", operation.name);
    if let (Some(lens), Some(spot_mm)) = (&setup.job.lens, operation.spot_mm) {
        spacing_against_spot(&name, hatch.spacing_mm, &lens.name, spot_mm, findings, told);
    }
    if operation.work == art::Work::Picture
        && let Some((x, y)) = layout.pixel_mm()
        && hatch.spacing_mm < FINER * x.min(y)
    {
        told.push(format!(
            "the lines of {name} lie {} mm apart, finer than the picture, whose pixels are {} mm: \
             they show no more than lines as far apart as its pixels, and take longer",
            fixed(hatch.spacing_mm, 4),
            fixed(x.min(y), 4)
        ));
    }
    let got = GotSpacing::of_hatch(hatch);
    // An even dose makes up for it by its power.
    let changed = match operation.dose {
        Dose::Even => None,
        Dose::AsGiven => Some(": dose = \"even\" holds it"),
    };
    match got.finding(&name, changed) {
        Some(finding) => findings.push(finding),
        None => {
            let changed = changed.filter(|_| got.most_off() > CHANGED);
            told.extend(changed.map(|says| got.at_one_power(&name, says)));
        }
    }
}
