//! Where the box of each piece comes to lie, to be drawn.

use stave_check::Finding;
use stave_setup::Setup;
use stave_transform::lay_of;

use super::steps::laid;
use super::{LoopReport, Tour, WalkOptions, Way, off_wall, tour};
use crate::error::Error;
use crate::source::{Options, Source};

/// The box of a piece, laid.
pub(crate) struct Frame {
    pub(crate) piece: String,
    /// How large it was drawn, mm: around and along; of a finished program that is not known.
    pub(crate) drawn_mm: Option<(f64, f64)>,
    /// Its outline: mm of meridian and turn, rad.
    pub(crate) outline: Vec<(f64, f64)>,
}

/// Those of a source, and what there is to say of it.
pub(crate) struct Frames {
    pub(crate) frames: Vec<Frame>,
    /// The flat place that it burns, and how its turns count; `None` for the wall.
    pub(crate) facet: Option<String>,
    pub(crate) findings: Vec<Finding>,
    pub(crate) warnings: Vec<String>,
}

/// The box of each piece of a drawing, or of a program, as `walk` goes round it.
///
/// # Errors
/// As those of `walk`, but that what is found of a drawing refuses nothing.
pub(crate) fn frames(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
) -> Result<Frames, Error> {
    let tour = tour(source, setup, options, (&WalkOptions::default(), false))?;
    let Tour { ways, mut findings, warnings, setup: of_program, .. } = tour;
    // The places of a finished program are laid as they are: nothing was drawn.
    let was_drawn = of_program.is_none();
    let setup = of_program.as_ref().unwrap_or(setup);
    let mut frames = Vec::with_capacity(ways.len());
    for way in ways.iter().filter(|way| !way.outline.is_empty()) {
        let (frame, ring) = frame(way, setup, was_drawn)?;
        findings.extend(off_wall("the frame of", &ring, setup));
        frames.push(frame);
    }
    let facet = setup.facet.as_ref().map(|on| on.facet.name.clone());
    Ok(Frames { frames, facet, findings, warnings })
}

fn frame(way: &Way, setup: &Setup, was_drawn: bool) -> Result<(Frame, LoopReport), Error> {
    let wall = &setup.blank.wall;
    let mut of_way = setup.clone();
    of_way.job.lay = way.kind;
    let lay = lay_of(&of_way, way.anchor)?;
    let mut ring = LoopReport::of_none(&way.piece);
    let mut outline = Vec::new();
    let ends = way.outline.iter().cycle().skip(1);
    for (&from, &to) in way.outline.iter().zip(ends) {
        for place in laid(wall, &lay, (from, to)) {
            ring.reaches(&place);
            outline.push((place.s_mm, place.turn_rad));
        }
    }
    let reach = |of: fn(&(f64, f64)) -> f64| {
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let (low, high) = way.outline.iter().map(of).fold(ends, |(a, b), c| (a.min(c), b.max(c)));
        high - low
    };
    let drawn_mm = was_drawn.then(|| (reach(|point| point.1), reach(|point| point.0)));
    Ok((Frame { piece: way.piece.clone(), drawn_mm, outline }, ring))
}
