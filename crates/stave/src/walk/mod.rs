//! `walk`: round what will burn, in the dark, before anything burns.

mod read;
mod steps;

use std::collections::BTreeMap;
use std::io::{Read, Write};

use serde::{Deserialize, Serialize};
use stave_check::{Code, Finding, Judge, Made, focus_at_mid_strip};
use stave_parse::gcode::{self, ReadOptions};
use stave_rig::{MadeFor, Rig};
use stave_setup::Setup;
use stave_toolpath::number::fixed;
use stave_transform::{Around, lay_of};
use stave_wall::{Anchor, LayKind};

use crate::check::judged;
use crate::error::Error;
use crate::layout::{ArtOptions, ArtSource, Layout, Purpose};
use crate::run::{Finished, Known, name_of, open, program_anchor};
use crate::wrap::{refused, told};
use steps::Walker;

/// How close outlines are followed, mm.
const LOOK_MM: f64 = 0.05;

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
#[derive(Clone, Debug)]
pub struct WalkOptions {
    /// How a program is read.
    pub read: ReadOptions,
    /// The input's name in messages; "standard input" where empty.
    pub name: String,
    /// What is gone round.
    pub around: WalkAround,
    /// Speed on the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// How long to stand at each corner, s.
    pub dwell_s: f64,
    /// Power to point with while moving, percent; dark where not given.
    pub pointer_percent: Option<f64>,
    /// Findings that are errors and are accepted.
    pub allow: Vec<Code>,
}

impl Default for WalkOptions {
    fn default() -> Self {
        Self {
            read: ReadOptions::default(),
            name: String::new(),
            around: WalkAround::Box,
            speed_mm_per_s: 20.0,
            dwell_s: 0.5,
            pointer_percent: None,
            allow: Vec::new(),
        }
    }
}

/// What was gone round.
#[derive(Clone, Debug, Default, Deserialize, Serialize)]
pub struct WalkReport {
    /// The ways round, in order.
    pub loops: Vec<LoopReport>,
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
}

/// A way round in the flat plane, and how it is laid.
struct Way {
    piece: String,
    outline: Vec<(f64, f64)>,
    kind: LayKind,
    anchor: Anchor,
}

/// Walks round all that a flat program burns, taken in the flat plane and laid on the wall.
///
/// # Errors
/// [`Error::Program`] where the program is wrong; settings that cannot be meant; errors of reading
/// and writing.
pub fn walk_gcode<R: Read, W: Write>(
    input: R,
    output: W,
    setup: &Setup,
    options: &WalkOptions,
) -> Result<WalkReport, Error> {
    let anchor = program_anchor(setup)?;
    let mut burned = read::BurnedFlat::new(setup, options.read.strict);
    let summary = gcode::read(input, &options.read, &mut burned)
        .map_err(|error| Error::of_reading(error, name_of(&options.name)))?;
    let way = Way {
        piece: "the program".into(),
        outline: outline(burned.points, options),
        kind: setup.job.lay,
        anchor,
    };
    let focus_height_mm = focus_of_ways(setup, std::slice::from_ref(&way));
    let made_for = MadeFor { focus_height_mm, ..MadeFor::of_setup(setup) };
    walk(output, setup, options, &[way], &made_for, told(&summary))
}

/// Walks round each piece of a drawing.
///
/// # Errors
/// A drawing that cannot be read; settings that cannot be meant; errors of writing.
pub fn walk_art<W: Write>(
    source: ArtSource<'_>,
    output: W,
    setup: &Setup,
    art: &ArtOptions,
    options: &WalkOptions,
) -> Result<WalkReport, Error> {
    let layout = Layout::read(source, setup, art, Purpose::Show)?;
    let unfit = refused(layout.findings.clone(), &art.allow);
    if !unfit.is_empty() {
        return Err(Error::NotFit(unfit));
    }
    let mut pieces: BTreeMap<(usize, usize), Around> = BTreeMap::new();
    for part in layout.parts() {
        let around = pieces.entry((part.piece, part.lay)).or_default();
        kurbo::flatten(layout.outline_flat(&part, LOOK_MM), LOOK_MM, |element| {
            if let Some(point) = element.end_point() {
                around.add((point.x, point.y));
            }
        });
    }
    let ways: Vec<Way> = pieces
        .into_iter()
        .filter_map(|((piece, lay), around)| {
            let setting = layout.lays.get(lay)?.setting();
            let piece =
                layout.pieces.get(piece).map_or_else(|| "art".to_owned(), |piece| piece.id.clone());
            Some(Way {
                piece,
                outline: outline(around, options),
                kind: setting.kind,
                anchor: setting.anchor,
            })
        })
        .collect();
    let focus_height_mm = focus_of_ways(setup, &ways);
    let found = layout.findings.iter().map(|finding| finding.message.clone());
    let warnings = found.chain(layout.warnings.iter().cloned()).collect();
    let made_for = MadeFor { focus_height_mm, ..MadeFor::of_setup(setup) };
    walk(output, setup, options, &ways, &made_for, warnings)
}

/// Walks round all that a wrapped program burns: the box or outline of the places of the wall, in
/// length along the meridian and turn.
///
/// # Errors
/// [`Error::Program`] where the program is wrong or made for another machine; errors of reading and
/// writing.
pub fn walk_wrapped<W: Write>(
    program: &[u8],
    output: W,
    setup: &Setup,
    options: &WalkOptions,
) -> Result<WalkReport, Error> {
    let name = name_of(&options.name);
    let (made_for, input) = open(program, name)?;
    let made_for = made_for.unwrap_or_else(|| MadeFor::assumed(&setup.blank, &setup.machine));
    let judge = Judge::new(setup, &made_for, Made::Before);
    let rig = Rig::new(&setup.blank, &setup.machine, &made_for);
    let radius_mm = setup.blank.wall.largest_radius_mm();
    let sink = (judge, read::BurnedWall::new(rig.clone(), radius_mm));
    let known = Known::Wrapped(rig);
    let mut run = Finished::new(&setup.machine, known, true, options.read.strict, sink);
    let summary = gcode::read(input, &options.read, &mut run)
        .map_err(|error| Error::of_reading(error, name))?;
    run.refuse_unfinished(true, name)?;
    let (judge, burned) = run.sink;
    let mut warnings = made_for.differences(Some(&setup.blank), &setup.machine);
    warnings.extend(told(&summary));
    // The places are laid by a lay that keeps them: mm of meridian along, turn on the largest
    // radius around.
    let mut walked = as_made_for(setup, &made_for);
    walked.job.lay = LayKind::EvenAngle;
    walked.job.reference_radius_mm = radius_mm;
    walked.job.place.at_mm = setup.blank.wall.at_range_mm().0;
    walked.job.place.turn_rad = 0.0;
    let way = Way {
        piece: "the program".into(),
        outline: outline(burned.points, options),
        kind: LayKind::EvenAngle,
        anchor: Anchor::Drawing,
    };
    let focus_height_mm = judge.burned().then(|| judge.focus().height_mm);
    // Line 1 says what the program says, so that the walk is seen to be its own.
    let of_program = MadeFor {
        focus_height_mm,
        lay: made_for.lay,
        place: made_for.place,
        ..MadeFor::of_setup(&walked)
    };
    walk(output, &walked, options, &[way], &of_program, warnings)
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
    setup
}

/// The height, mm, of the focus of what ways go round: the middle of the narrowest strip that holds
/// the stretch of wall between them, unless the job says where.
fn focus_of_ways(setup: &Setup, ways: &[Way]) -> Option<f64> {
    if setup.job.focus_at_mm.is_some() {
        return None;
    }
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

fn outline(points: Around, options: &WalkOptions) -> Vec<(f64, f64)> {
    match options.around {
        WalkAround::Box => points.corners().map_or(Vec::new(), Vec::from),
        WalkAround::Hull => points.hull(),
    }
}

fn check(setup: &Setup, options: &WalkOptions) -> Result<(), Error> {
    let speed = options.speed_mm_per_s;
    if !(speed > 0.0 && speed <= 1000.0) {
        return Err(Error::Setting("--speed: must be more than 0 and at most 1000 mm/s".into()));
    }
    if !(0.0..=60.0).contains(&options.dwell_s) {
        return Err(Error::Setting("--dwell: must be from 0 to 60 seconds".into()));
    }
    let full = setup.machine.controller.full_power_s;
    match options.pointer_percent {
        Some(power) if !(power > 0.0 && power <= 100.0 && full > 0.0) => Err(Error::Setting(
            "--pointer: must be a percentage, more than 0 and at most 100".into(),
        )),
        _ => Ok(()),
    }
}

fn walk<W: Write>(
    output: W,
    setup: &Setup,
    options: &WalkOptions,
    ways: &[Way],
    made_for: &MadeFor,
    warnings: Vec<String>,
) -> Result<WalkReport, Error> {
    check(setup, options)?;
    let mut program = Vec::new();
    let mut walker = Walker::new(&mut program, setup, options, made_for)?;
    let mut report = WalkReport { warnings, ..WalkReport::default() };
    for way in ways.iter().filter(|way| !way.outline.is_empty()) {
        report.loops.push(walker.round(way)?);
    }
    walker.end()?;
    drop(walker);
    report.findings = judged(&program, setup, &options.allow)?;
    let mut output = output;
    output.write_all(&program).and_then(|()| output.flush()).map_err(Error::Output)?;
    note(&mut report, setup, options);
    Ok(report)
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
