//! `walk`: round what will burn, in the dark, before anything burns.

#[cfg(feature = "svg")]
mod drawn;
#[cfg(feature = "pictures")]
mod frames;
mod read;
mod steps;

use std::io::{Read, Write};

use serde::{Deserialize, Serialize};
use stave_check::{Code, Finding, Judge, Made, focus_at_mid_strip};
use stave_parse::gcode;
use stave_rig::{FocusAt, MadeFor, Rig};
use stave_setup::Setup;
use stave_toolpath::number::fixed;
use stave_transform::{Around, lay_of};
use stave_wall::{Anchor, LayKind};

use crate::changed::Changed;
use crate::check::{check_flat, judged};
use crate::error::{Error, SourceFault};
use crate::flat_place::for_program;
use crate::run::{Finished, FlatBurns, Known, open, program_anchor};
use crate::set_up::focus_known;
use crate::source::{Options, Source};
use crate::wrap::{refused, told};
#[cfg(feature = "pictures")]
pub(crate) use frames::{Frame, frames};
use steps::Walker;

/// What is gone round.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum WalkAround {
    /// The box around each piece, in the flat plane.
    #[default]
    Box,
    /// Its convex outline there.
    Hull,
}

/// How to walk.
#[derive(Clone, Copy, Debug)]
pub struct WalkOptions {
    /// What is gone round.
    pub around: WalkAround,
    /// Speed on the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// How long to stand at each corner, s.
    pub dwell_s: f64,
    /// Power to point with while moving, percent; dark where not given.
    pub pointer_percent: Option<f64>,
}

impl Default for WalkOptions {
    fn default() -> Self {
        Self { around: WalkAround::Box, speed_mm_per_s: 20.0, dwell_s: 0.5, pointer_percent: None }
    }
}

/// What was gone round.
#[derive(Clone, Debug, Default, Deserialize, Serialize)]
pub struct WalkReport {
    /// The ways round, in order.
    pub loops: Vec<LoopReport>,
    /// What is to be set before the run, as the program's head has it.
    pub set_up: String,
    /// What the judge found.
    pub findings: Vec<Finding>,
    /// What a person should know besides, a sentence each.
    pub warnings: Vec<String>,
}

/// One way round.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct LoopReport {
    /// The piece; a program is one.
    pub piece: String,
    /// How many corners it stands at.
    pub corners: usize,
    /// From, to along the axis, mm.
    pub at: (f64, f64),
    /// From, to about the axis, degrees.
    pub turn_deg: (f64, f64),
    /// From, to across a flat place from its middle, mm: the rotary stands still there, and turns
    /// are none of the ware. `None` on the wall.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub across: Option<(f64, f64)>,
}

/// A way round in the flat plane, and how it is laid.
struct Way {
    piece: String,
    outline: Vec<(f64, f64)>,
    kind: LayKind,
    anchor: Anchor,
}

/// Writes a program that goes round all that a source burns without burning it: round each piece of
/// a drawing, or round a program, taken in the flat plane and laid on the wall. Of a wrapped
/// program it is the places of the wall, in length along the meridian and turn.
///
/// # Errors
/// [`Error::Program`] where a program is wrong or made for another machine; a drawing that cannot
/// be read; settings that cannot be meant; errors of reading and writing.
pub fn walk<W: Write>(
    source: Source<'_>,
    output: W,
    setup: &Setup,
    options: &Options,
    how: &WalkOptions,
) -> Result<WalkReport, Error> {
    look_at(how, setup)?;
    let tour = tour(source, setup, options, (how, true))?;
    let setup = tour.setup.as_ref().unwrap_or(setup);
    go(output, setup, options, how, &tour)
}

/// What of a source is gone round; `judges` where what is found of a drawing is to refuse it.
#[cfg_attr(not(feature = "svg"), expect(unused_variables, reason = "drawings are judged"))]
fn tour(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
    (how, judges): (&WalkOptions, bool),
) -> Result<Tour, Error> {
    match source {
        Source::Program { input, name } => {
            let (made_for, input) = open(input, &name)?;
            match made_for {
                Some(made_for) => {
                    let setup = for_program(setup, &made_for, &name)?;
                    of_wrapped(input, &setup, &made_for, options, how, &name)
                }
                None => of_flat(input, setup, options, how, &name),
            }
        }
        #[cfg(feature = "svg")]
        drawn => drawn::of_drawn(&drawn, setup, options, (how, judges)),
    }
}

/// What is to be gone round, and how the program is to be made.
struct Tour {
    ways: Vec<Way>,
    made_for: MadeFor,
    /// Where what it goes round is focused, where that is known: of several places as high as the
    /// focus the same.
    focus_at: Option<FocusAt>,
    /// Where it is not the one that was given.
    setup: Option<Setup>,
    findings: Vec<Finding>,
    warnings: Vec<String>,
}

/// Round all that a flat program burns.
fn of_flat(
    input: impl Read,
    setup: &Setup,
    options: &Options,
    how: &WalkOptions,
    name: &str,
) -> Result<Tour, Error> {
    let anchor = program_anchor(setup)?;
    let mut burned = FlatBurns::new(setup, options.read.strict, read::FlatPoints::default());
    // Focused as the program would be: by what burns, not by all of the wall in between.
    let (checked, summary) = check_flat(input, setup, options, name, &mut burned)?;
    let points = burned.taken(&summary).map_err(|cut| Error::of_source(name, cut))?.0;
    let way = Way {
        piece: "the program".into(),
        outline: outline(points, how),
        kind: setup.job.lay,
        anchor,
    };
    let laid = Tour::laid(vec![way], setup, checked.focus());
    let findings = on_itself(checked.findings).collect();
    Ok(Tour { findings, warnings: told(&summary), ..laid })
}

/// What the way round does not show: that what is inside burns on itself.
fn on_itself(findings: Vec<Finding>) -> impl Iterator<Item = Finding> {
    findings.into_iter().filter(|finding| finding.code == Code::Overlap)
}

/// Round all that a wrapped program burns.
fn of_wrapped(
    input: impl Read,
    setup: &Setup,
    made_for: &MadeFor,
    options: &Options,
    how: &WalkOptions,
    name: &str,
) -> Result<Tour, Error> {
    if made_for.set_ups.is_some() {
        return Err(Error::of_source(name, SourceFault::SetUps));
    }
    let judge = Judge::new(setup, made_for, Made::Before);
    let rig = Rig::new(&setup.blank, &setup.machine, made_for);
    let radius_mm = setup.blank.wall.largest_radius_mm();
    let sink = (judge, read::BurnedWall::new(rig.clone(), radius_mm));
    let known = Known::Wrapped(rig);
    let mut run = Finished::new(&setup.machine, known, true, options.read.strict, sink)
        .made_for(setup.whole().1, made_for);
    let summary = gcode::read(input, &options.read, &mut run)
        .map_err(|error| Error::of_reading(error, name))?;
    run.refuse_unfinished(true, &summary, name)?;
    let (judge, burned) = run.sink;
    let changed = Changed::of_setup(made_for, setup);
    let mut warnings = made_for.differences(Some(&setup.blank), &setup.machine);
    warnings.extend(changed.told);
    warnings.extend(told(&summary));
    // The places are laid by a lay that keeps them: mm of meridian along, turn on the largest
    // radius around.
    let mut walked = as_made_for(setup, made_for);
    walked.job.lay = LayKind::EvenAngle;
    walked.job.reference_radius_mm = radius_mm;
    walked.job.place.at_mm = setup.blank.wall.at_range_mm().0;
    walked.job.place.turn_rad = 0.0;
    let way = Way {
        piece: "the program".into(),
        outline: outline(burned.points, how),
        kind: LayKind::EvenAngle,
        anchor: Anchor::Drawing,
    };
    // Line 1 says what the program says, so that the walk is seen to be its own.
    let focus = judge.burned().then(|| judge.focus());
    let of_program = MadeFor {
        focus_height_mm: focus.map(|focus| focus.height_mm),
        focus_at: focus.map(|focus| focus.place),
        lay: made_for.lay,
        place: made_for.place,
        facet: made_for.facet.clone(),
        ..MadeFor::of_setup(&walked)
    };
    Ok(Tour {
        ways: vec![way],
        made_for: of_program,
        focus_at: focus.map(|focus| focus.place),
        setup: Some(walked),
        findings: changed.findings,
        warnings,
    })
}

impl Tour {
    /// Round ways of the flat plane, under the setup as it was given; with the height of the focus
    /// of what burns, and where that is, where they are known.
    fn laid(ways: Vec<Way>, setup: &Setup, focus: Option<(f64, FocusAt)>) -> Self {
        let of_setup = MadeFor::of_setup(setup);
        let focus_height_mm = of_setup
            .focus_height_mm
            .or(focus.map(|(height_mm, _)| height_mm))
            .or_else(|| focus_of_ways(setup, &ways));
        let focus_at = focus.map(|(_, place)| place);
        // The height alone would be found at whichever place comes first.
        let said = of_setup.focus_at.or(focus_at);
        let made_for = MadeFor { focus_height_mm, focus_at: said, ..of_setup };
        let (findings, warnings) = (Vec::new(), Vec::new());
        Self { ways, made_for, focus_at, setup: None, findings, warnings }
    }
}

/// A setup as a program's line 1 says that it was made for.
fn as_made_for(setup: &Setup, made_for: &MadeFor) -> Setup {
    let mut setup = setup.clone();
    let job = &mut setup.job;
    job.tilt_rad = made_for.tilt_rad;
    (job.zero.at_mm, job.zero.turn_rad) = made_for.zero;
    job.toward = made_for.toward;
    job.focus = made_for.focus;
    if let Some(at_mm) = made_for.contact_at_mm {
        job.contact_at_mm = at_mm;
    }
    if let Some(at_mm) = made_for.held_at_mm {
        job.held_at_mm = at_mm;
    }
    setup
}

/// The height, mm, of the focus of what ways go round: the middle of the narrowest strip that holds
/// the stretch of wall between them: what is known where nothing says yet how the art burns.
fn focus_of_ways(setup: &Setup, ways: &[Way]) -> Option<f64> {
    let wall = &setup.blank.wall;
    let mut burned: Option<(f64, f64)> = None;
    for way in ways {
        let mut laid = setup.clone();
        laid.job.lay = way.kind;
        let Ok(lay) = lay_of(&laid, way.anchor) else { continue };
        for (u, v) in &way.outline {
            let s_mm = lay.map(wall, *u, *v, &mut 0).s_mm.clamp(0.0, wall.length_mm());
            let (low, high) = burned.unwrap_or((s_mm, s_mm));
            burned = Some((low.min(s_mm), high.max(s_mm)));
        }
    }
    let (from, to) = burned?;
    Some(focus_at_mid_strip(wall, from, to, setup.job.tilt_rad).height_mm)
}

fn outline(points: Around, how: &WalkOptions) -> Vec<(f64, f64)> {
    match how.around {
        WalkAround::Box => points.corners().map_or(Vec::new(), Vec::from),
        WalkAround::Hull => points.hull(),
    }
}

fn look_at(options: &WalkOptions, setup: &Setup) -> Result<(), Error> {
    let speed = options.speed_mm_per_s;
    if !(speed > 0.0 && speed <= 1000.0) {
        return Err(value("speed", "must be more than 0 and at most 1000 mm/s"));
    }
    if !(0.0..=60.0).contains(&options.dwell_s) {
        return Err(value("dwell", "must be from 0 to 60 seconds"));
    }
    let full = setup.machine.controller.full_power_s;
    match options.pointer_percent {
        Some(power) if !(power > 0.0 && power <= 100.0 && full > 0.0) => {
            Err(value("pointer", "must be a percentage, more than 0 and at most 100"))
        }
        _ => Ok(()),
    }
}

fn value(option: &'static str, allowed: &str) -> Error {
    Error::Value { option, allowed: allowed.to_owned() }
}

fn go<W: Write>(
    mut output: W,
    setup: &Setup,
    options: &Options,
    how: &WalkOptions,
    tour: &Tour,
) -> Result<WalkReport, Error> {
    let mut program = Vec::new();
    let mut walker = Walker::new(&mut program, setup, how, &tour.made_for)?;
    let mut report = WalkReport { warnings: tour.warnings.clone(), ..WalkReport::default() };
    for way in tour.ways.iter().filter(|way| !way.outline.is_empty()) {
        report.loops.push(walker.round(way)?);
    }
    walker.end()?;
    drop(walker);
    let mut findings = tour.findings.clone();
    findings.extend(report.loops.iter().filter_map(|ring| off_wall("the way round", ring, setup)));
    let unfit = refused(findings.clone(), &options.allow);
    if !unfit.is_empty() {
        return Err(Error::NotFit(unfit));
    }
    let (judged, focus_at) = judged(&program, setup, &options.allow)?;
    findings.extend(judged);
    report.set_up = focus_known(&mut program, setup, tour.focus_at.unwrap_or(focus_at));
    report.findings = findings;
    output.write_all(&program).and_then(|()| output.flush()).map_err(Error::Output)?;
    note(&mut report, setup, how);
    Ok(report)
}

/// A way round that leaves the wall: what it shows is not there.
fn off_wall(what: &str, ring: &LoopReport, setup: &Setup) -> Option<Finding> {
    let (from, to) = setup.blank.wall.at_range_mm();
    let (below, above) = (from - ring.at.0, ring.at.1 - to);
    let (past_mm, at_mm) = if below > above { (below, ring.at.0) } else { (above, ring.at.1) };
    let message = format!(
        "{what} {} goes from {} to {} mm along, {} mm past the wall, which is measured from \
         {} to {} mm; place it elsewhere, or measure further",
        ring.piece,
        fixed(ring.at.0, 2),
        fixed(ring.at.1, 2),
        fixed(past_mm, 2),
        fixed(from, 2),
        fixed(to, 2)
    );
    let finding = Finding::new(Code::OffWall, message).along(at_mm).figures(past_mm, 0.0);
    (past_mm > setup.job.tolerance_mm).then_some(finding)
}

fn note(report: &mut WalkReport, setup: &Setup, options: &WalkOptions) {
    if report.loops.is_empty() {
        report.warnings.push("nothing burns, so there is nothing to go round".into());
    }
    if let Some(power) = options.pointer_percent {
        let least = setup.machine.controller.least_power_percent;
        report.warnings.push(if power >= least {
            format!(
                "the pointer's {} % may mark: `least_power` of \"{}\" is {} %; wear the same \
                 protection as for a burn",
                fixed(power, 3),
                setup.machine.name,
                fixed(least, 3)
            )
        } else {
            "the beam points while it moves and is dark at the corners; wear the same protection \
             as for a burn"
                .into()
        });
    }
}
