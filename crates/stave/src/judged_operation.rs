//! What is to be said of an operation of a drawing as it burns.

use stave_check::{Code, Finding, spacing_against_spot};
use stave_setup::{Dose, Setup};
use stave_toolpath::art;
use stave_toolpath::number::{change_percent, fixed};
use stave_transform::{HatchFigures, OperationFigures};

use crate::layout::{Layout, PlacedOperation};
use crate::narrow;

/// Lines closer than this share of a picture's pixels show nothing more.
const FINER: f64 = 0.7;
/// Lines this share farther apart or closer than asked are told.
const ASKED_SPACING: f64 = 0.1;

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
    let off = hatch.spacing_mm / hatch.asked_mm - 1.0;
    if off.abs() > ASKED_SPACING {
        // An even dose makes up for it by its power.
        let dose = match operation.dose {
            Dose::Even => String::new(),
            Dose::AsGiven => format!(
                ", which changes the energy on each mm² by {}: dose = \"even\" holds it",
                change_percent(hatch.asked_mm / hatch.spacing_mm)
            ),
        };
        let message = format!(
            "the lines of {name} lie {} mm apart where {} mm were asked: that is the nearest whole \
             number of motor steps{dose}; ask for a multiple of it",
            fixed(hatch.spacing_mm, 4),
            fixed(hatch.asked_mm, 4)
        );
        let finding = Finding::new(Code::SpacingSteps, message);
        findings.push(finding.figures(hatch.spacing_mm, hatch.asked_mm));
    }
}
