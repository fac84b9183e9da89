//! `walk`: round what will burn, in the dark, before anything burns.

mod read;
mod steps;

use std::collections::BTreeMap;
use std::io::{Read, Write};

use serde::{Deserialize, Serialize};
use stave_parse::gcode::{self, ReadOptions};
use stave_setup::{JobAnchor, Setup};
use stave_toolpath::number::fixed;
use stave_transform::Around;
use stave_wall::{Anchor, LayKind};

use crate::error::Error;
use crate::layout::{ArtOptions, ArtSource, Layout, Purpose};
use crate::wrap::told;
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
        }
    }
}

/// What was gone round.
#[derive(Clone, Debug, Default, Deserialize, Serialize)]
pub struct WalkReport {
    /// The ways round, in order.
    pub loops: Vec<LoopReport>,
    /// What a person should know, a sentence each.
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
    let anchor = match setup.job.anchor {
        Some(JobAnchor::Point { u_mm, v_mm }) => Anchor::Point { u_mm, v_mm },
        _ => Anchor::Drawing,
    };
    let (points, warnings) = read_points(input, read::Plane::flat(setup), options)?;
    let way = Way {
        piece: "the program".into(),
        outline: outline(points, options),
        kind: setup.job.lay,
        anchor,
    };
    walk(output, setup, options, &[way], warnings)
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
    walk(output, setup, options, &ways, layout.warnings.clone())
}

/// Walks round all that a wrapped program burns, by its own words: the box or outline of the
/// machine's words.
///
/// # Errors
/// [`Error::Program`] where the program is wrong; errors of reading and writing.
pub fn walk_wrapped<W: Write>(
    program: &[u8],
    output: W,
    setup: &Setup,
    options: &WalkOptions,
) -> Result<WalkReport, Error> {
    check(setup, options)?;
    let (points, warnings) = read_points(program, read::Plane::words(setup), options)?;
    let mut walker = Walker::new(output, setup, options)?;
    let first = program.split(|byte| *byte == b'\n').next().unwrap_or_default();
    walker.head_of(&String::from_utf8_lossy(first))?;
    let mut report = WalkReport { warnings, ..WalkReport::default() };
    let outline = outline(points, options);
    if !outline.is_empty() {
        report.loops.push(walker.round_words("the program, by its words", &outline)?);
    }
    walker.end()?;
    note(&mut report, setup, options);
    Ok(report)
}

fn read_points<R: Read>(
    input: R,
    plane: read::Plane,
    options: &WalkOptions,
) -> Result<(Around, Vec<String>), Error> {
    let mut burned = read::Burned::new(plane, options.read.strict);
    let name = if options.name.is_empty() { "standard input" } else { &options.name };
    let summary = gcode::read(input, &options.read, &mut burned)
        .map_err(|error| Error::of_reading(error, name))?;
    Ok((burned.points, told(&summary)))
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
    warnings: Vec<String>,
) -> Result<WalkReport, Error> {
    check(setup, options)?;
    let mut walker = Walker::new(output, setup, options)?;
    walker.head()?;
    let mut report = WalkReport { warnings, ..WalkReport::default() };
    for way in ways.iter().filter(|way| !way.outline.is_empty()) {
        report.loops.push(walker.round(way)?);
    }
    walker.end()?;
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
