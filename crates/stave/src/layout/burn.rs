//! What the operations burn, and how.

use stave_setup::{AirLevel, Colour, Dose, Job, OperationRule, Pick as JobPick, Setup};
use stave_toolpath::art::{Art, Choice, Chosen, Pick, Rgb, Work};

use super::{PlacedPart, Purpose};
use crate::error::{Error, SourceFault};

/// An operation with what it burns.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PlacedOperation {
    /// Its name; "areas" or "lines" where the job names none.
    pub(crate) name: String,
    /// Areas or lines.
    pub(crate) work: Work,
    /// Speed on the wall, mm/s.
    pub(crate) speed_mm_per_s: f64,
    /// Power, percent, more than 0.
    pub(crate) power_percent: f64,
    /// Spacing of the scan lines on the wall, mm, as asked; there for areas.
    pub(crate) line_spacing_mm: Option<f64>,
    /// How often it is burned, at least 1.
    pub(crate) passes: u32,
    /// Its air assist.
    pub(crate) air: AirLevel,
    /// Its dose: its own, else the job's, else even.
    pub(crate) dose: Dose,
    /// What it burns, in the order of the drawing.
    pub(crate) parts: Vec<PlacedPart>,
}

pub(super) fn choose(art: &Art, job: &Job, outlines: bool) -> Choice {
    if job.operations.is_empty() {
        return if outlines { art.choose_outlines() } else { art.choose_by_default() };
    }
    let rgb = |colour: Colour| Rgb::new(colour.red, colour.green, colour.blue);
    let picks: Vec<(Pick, Work)> = job
        .operations
        .iter()
        .map(|operation| {
            let pick = match &operation.pick.value {
                JobPick::Fill(colour) => Pick::Fill(rgb(*colour)),
                JobPick::Stroke(colour) => Pick::Stroke(rgb(*colour)),
                JobPick::Id(id) => Pick::Id(id.clone()),
            };
            (pick, operation.work)
        })
        .collect();
    art.choose(&picks)
}

/// The operations with their parts, which `place` places; where the job names none, those that the
/// machine file's `[area]` and `[line]` make.
pub(super) fn operations(
    art: &Art,
    setup: &Setup,
    choice: &Choice,
    (name, purpose): (&str, Purpose),
    mut place: impl FnMut(Option<&OperationRule>, &Chosen) -> Result<PlacedPart, Error>,
) -> Result<Vec<PlacedOperation>, Error> {
    let job = &setup.job;
    let dose = |own: Option<Dose>| own.or(job.dose).unwrap_or(Dose::Even);
    let mut operations = Vec::new();
    for (rule, chosen) in job.operations.iter().zip(&choice.operations) {
        operations.push(PlacedOperation {
            name: rule.name.clone(),
            work: rule.work,
            speed_mm_per_s: rule.speed_mm_per_s,
            power_percent: rule.power_percent,
            line_spacing_mm: rule.line_spacing_mm,
            passes: rule.passes,
            air: rule.air.as_ref().map_or(AirLevel::Off, |air| air.value),
            dose: dose(rule.dose),
            parts: chosen.iter().map(|one| place(Some(rule), one)).collect::<Result<_, _>>()?,
        });
    }
    if !job.operations.is_empty() {
        return Ok(operations);
    }
    let mut default =
        |called: &str, work: Work, chosen: &[Chosen], how: Option<(f64, f64, Option<f64>)>| {
            let Some(first) = chosen.first() else { return Ok(()) };
            let Some((speed_mm_per_s, power_percent, line_spacing_mm)) = how else {
                return if purpose == Purpose::Burn {
                    Err(unsettled(name, art, setup, work, first))
                } else {
                    Ok(())
                };
            };
            operations.push(PlacedOperation {
                name: called.to_owned(),
                work,
                speed_mm_per_s,
                power_percent,
                line_spacing_mm,
                passes: 1,
                air: AirLevel::Off,
                dose: dose(None),
                parts: chosen.iter().map(|one| place(None, one)).collect::<Result<_, _>>()?,
            });
            Ok(())
        };
    let [areas, lines] = choice.operations.as_slice() else { return Ok(operations) };
    let area =
        setup.machine.area.map(|a| (a.speed_mm_per_s, a.power_percent, Some(a.line_spacing_mm)));
    let line = setup.machine.line.map(|l| (l.speed_mm_per_s, l.power_percent, None));
    default("areas", Work::Area, areas, area)?;
    default("lines", Work::Line, lines, line)?;
    Ok(operations)
}

/// Art for which neither job nor machine says how it is burned.
fn unsettled(name: &str, art: &Art, setup: &Setup, work: Work, first: &Chosen) -> Error {
    let element = art.shapes.get(first.shape).and_then(|shape| art.elements.get(shape.element));
    let element = element.map_or("art", |element| element.name.as_str()).to_owned();
    let machine = setup.machine.name.clone();
    Error::of_source(name, SourceFault::Unsettled { work, element, machine })
}
