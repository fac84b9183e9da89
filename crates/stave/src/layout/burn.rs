//! What the operations burn, and how.

use std::sync::Arc;

use stave_setup::{
    AirLevel, Colour, Dose, Job, Operation, OperationRule, Pick as JobPick, Scan, Setup, Shading,
};
use stave_toolpath::art::{Art, Asked as Ask, Choice, Chosen, Pick, Rgb, Work};

use stave_toolpath::Picture;

use super::{Kind, PlacedPart, Purpose};
use crate::error::{Error, SourceFault};

/// An operation with what it burns.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PlacedOperation {
    /// Its name; "areas", "lines" or "pictures" where the job names none.
    pub(crate) name: String,
    /// Areas, lines or pictures.
    pub(crate) work: Work,
    /// Speed on the wall, mm/s.
    pub(crate) speed_mm_per_s: f64,
    /// Power, percent, more than 0.
    pub(crate) power_percent: f64,
    /// Spacing of the scan lines on the wall, mm, as asked; there for areas and pictures.
    pub(crate) line_spacing_mm: Option<f64>,
    /// How often it is burned, at least 1.
    pub(crate) passes: u32,
    /// Whether each pass is burned once more across.
    pub(crate) cross: bool,
    /// Its air assist.
    pub(crate) air: AirLevel,
    /// Its dose: its own, else the job's, else even.
    pub(crate) dose: Dose,
    /// How greys become burns.
    pub(crate) shading: Shading,
    /// Which way its scan lines run.
    pub(crate) scan: Scan,
    /// Whether every scan line goes the same way.
    pub(crate) one_way: bool,
    /// Over how much of the wall the seam of a full wrap fades, mm.
    pub(crate) fade_mm: f64,
    /// How much farther the head is than in focus, mm.
    pub(crate) defocus_mm: f64,
    /// The width of what it marks, mm, where a lens is known.
    pub(crate) spot_mm: Option<f64>,
    /// What it burns, in the order of the drawing.
    pub(crate) parts: Vec<PlacedPart>,
    /// What of a drawing it burns as a picture: for each of its pieces what is seen of it.
    pub(crate) pictures: Vec<(usize, Arc<Picture>)>,
}

/// What decides what burns how.
pub(super) struct Asked<'a> {
    /// What messages call the input.
    pub(super) name: &'a str,
    pub(super) art: &'a Art,
    pub(super) setup: &'a Setup,
    pub(super) rules: &'a [Operation],
    pub(super) kind: Kind,
    pub(super) purpose: Purpose,
}

/// The operations that a job has for such an input. A picture is burned by those that pick nothing:
/// where there is none, the machine file says how.
pub(super) fn rules(job: &Job, kind: Kind) -> &[Operation] {
    let takes = |operation: &Operation| operation.rule.pick.value == JobPick::Input;
    match kind {
        Kind::Picture if !job.operations.iter().any(takes) => &[],
        _ => &job.operations,
    }
}

pub(super) fn choose(art: &Art, rules: &[Operation], kind: Kind) -> Choice {
    if rules.is_empty() {
        let outlines = kind == Kind::Path;
        return if outlines { art.choose_outlines() } else { art.choose_by_default() };
    }
    let asked: Vec<Ask> = rules.iter().map(|operation| asked(&operation.rule)).collect();
    art.choose(&asked)
}

/// What an operation asks for.
pub(super) fn asked(operation: &OperationRule) -> Ask {
    let rgb = |colour: Colour| Rgb::new(colour.red, colour.green, colour.blue);
    let pick = match &operation.pick.value {
        JobPick::Fill(colour) => Pick::Fill(rgb(*colour)),
        JobPick::Stroke(colour) => Pick::Stroke(rgb(*colour)),
        JobPick::Id(id) => Pick::Id(id.clone()),
        JobPick::Input => Pick::Shaded,
    };
    let shading = &operation.shading;
    Ask {
        pick,
        work: operation.work,
        cuts_shades: shading.has_threshold,
        burns_light: shading.invert,
    }
}

/// The operations with their parts, which `place` places; where the job names none, those that the
/// machine file's `[area]`, `[line]` and `[picture]` make.
pub(super) fn operations(
    asked: &Asked<'_>,
    choice: &Choice,
    mut place: impl FnMut(Option<&OperationRule>, &Chosen) -> Result<PlacedPart, Error>,
) -> Result<Vec<PlacedOperation>, Error> {
    let (job, machine) = (&asked.setup.job, &asked.setup.machine);
    let dose = |own: Option<Dose>| own.or(job.dose).unwrap_or(Dose::Even);
    let mut operations = Vec::new();
    for (operation, chosen) in asked.rules.iter().zip(&choice.operations) {
        let rule = &operation.rule;
        operations.push(PlacedOperation {
            name: rule.name.clone(),
            work: rule.work,
            speed_mm_per_s: operation.speed_mm_per_s,
            power_percent: operation.power_percent,
            line_spacing_mm: operation.line_spacing_mm,
            passes: rule.passes,
            cross: rule.cross,
            air: rule.air.as_ref().map_or(AirLevel::Off, |air| air.value),
            dose: dose(rule.dose),
            shading: rule.shading.clone(),
            scan: rule.scan,
            one_way: rule.one_way,
            fade_mm: rule.fade_mm,
            defocus_mm: rule.defocus_mm,
            spot_mm: asked.setup.spot_at_mm(rule.defocus_mm),
            parts: chosen.iter().map(|one| place(Some(rule), one)).collect::<Result<_, _>>()?,
            pictures: Vec::new(),
        });
    }
    if !asked.rules.is_empty() {
        return Ok(operations);
    }
    let [areas, lines, pictures] = choice.operations.as_slice() else { return Ok(operations) };
    let plain = |name: &str, work: Work, speed_mm_per_s: f64, power_percent: f64| PlacedOperation {
        name: name.to_owned(),
        work,
        speed_mm_per_s,
        power_percent,
        line_spacing_mm: None,
        passes: 1,
        cross: false,
        air: AirLevel::Off,
        dose: dose(None),
        shading: Shading::default(),
        scan: Scan::Along,
        one_way: false,
        fade_mm: 0.0,
        defocus_mm: 0.0,
        spot_mm: asked.setup.spot_mm(),
        parts: Vec::new(),
        pictures: Vec::new(),
    };
    let area = machine.area.map(|area| PlacedOperation {
        line_spacing_mm: Some(area.line_spacing_mm),
        ..plain("areas", Work::Area, area.speed_mm_per_s, area.power_percent)
    });
    let line = machine
        .line
        .map(|line| plain("lines", Work::Line, line.speed_mm_per_s, line.power_percent));
    let picture = machine.picture.as_ref().map(|picture| PlacedOperation {
        line_spacing_mm: Some(picture.line_spacing_mm),
        shading: picture.shading.clone(),
        one_way: picture.one_way,
        ..plain("pictures", Work::Picture, picture.speed_mm_per_s, picture.power_percent)
    });
    let each =
        [(Work::Area, areas, area), (Work::Line, lines, line), (Work::Picture, pictures, picture)];
    for (work, chosen, operation) in each {
        let Some(first) = chosen.first() else { continue };
        match operation {
            Some(operation) => operations.push(PlacedOperation {
                parts: chosen.iter().map(|one| place(None, one)).collect::<Result<_, _>>()?,
                ..operation
            }),
            // Shades of a drawing that nothing burns are told as left out.
            None if work == Work::Picture && asked.kind == Kind::Drawing => {}
            None if asked.purpose == Purpose::Burn => {
                return Err(unsettled(asked.name, asked.art, asked.setup, work, first));
            }
            None => {}
        }
    }
    Ok(operations)
}

/// Art for which neither job nor machine says how it is burned.
fn unsettled(name: &str, art: &Art, setup: &Setup, work: Work, first: &Chosen) -> Error {
    let element = art.shapes.get(first.shape).and_then(|shape| art.elements.get(shape.element));
    let element = element.map_or("art", |element| element.name.as_str()).to_owned();
    let machine = setup.machine.name.clone();
    let fault = match work {
        Work::Picture => SourceFault::PictureUnsettled { machine },
        Work::Area | Work::Line => SourceFault::Unsettled { work, element, machine },
    };
    Error::of_source(name, fault)
}
