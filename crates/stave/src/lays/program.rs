//! A flat program as one piece: where it burns.

use std::collections::HashSet;
use std::io::Read;

use kurbo::{BezPath, Point, Rect};
use stave_parse::gcode::{self, ReadOptions, Sink};
use stave_setup::{Along, JobAnchor, Setup};
use stave_toolpath::{BeamWord, Event, Position};
use stave_transform::{Curve, FlatPoint};
use stave_wall::LayKind;

use super::Subject;
use crate::error::{Error, Refusal};
use crate::layout::{PlacedPiece, lay_setting};
use crate::wrap::told;

/// Of the burns in one cell of this size, mm, one is kept: a program may be endless, what is looked
/// at of it is not.
const CELL_MM: f64 = 0.5;
/// Steps along an arc.
const ARC_STEPS: u32 = 24;

/// The one piece of a program, if it burns anything, and what the reader has to say.
pub(super) fn subject(
    reader: &mut dyn Read,
    setup: &Setup,
    read: &ReadOptions,
    name: &str,
) -> Result<(Vec<Subject>, Vec<String>), Error> {
    let mut burns = Burns {
        along_y: setup.machine.rotary.along == Along::Y,
        strict: read.strict,
        beam: None,
        power: None,
        cells: HashSet::new(),
        path: BezPath::new(),
        at: None,
        bounds: None,
    };
    let name = if name.is_empty() { "standard input" } else { name };
    let summary =
        gcode::read(reader, read, &mut burns).map_err(|error| Error::of_reading(error, name))?;
    let Some(bounds) = burns.bounds else { return Ok((Vec::new(), told(&summary))) };
    let piece = PlacedPiece {
        id: "program".into(),
        rule: None,
        shapes: Vec::new(),
        centre_flat: bounds.center(),
        bounds_flat: Some(bounds),
        lay: 0,
    };
    let anchor = setup.job.anchor.unwrap_or(JobAnchor::Drawing);
    let settings = LayKind::ALL.map(|kind| lay_setting(setup, kind, anchor, &piece)).to_vec();
    let subject = Subject::new(1, piece.id, 0, bounds, vec![(burns.path, None, bounds)], settings);
    Ok((vec![subject], told(&summary)))
}

struct Burns {
    along_y: bool,
    strict: bool,
    beam: Option<BeamWord>,
    power: Option<f64>,
    cells: HashSet<(i64, i64)>,
    path: BezPath,
    /// Where the line that is being kept has come to.
    at: Option<Point>,
    bounds: Option<Rect>,
}

impl Burns {
    fn add(&mut self, curve: &Curve<'_>, steps: u32) {
        let burning = self.beam.is_some() && self.power.map_or(!self.strict, |s| s > 0.0);
        if !burning {
            return;
        }
        let point = |t: f64| {
            let p = curve.point(t);
            Point::new(p.u, p.v)
        };
        let ends = [point(0.0), point(1.0)];
        for k in 1..=steps {
            let (from, to) = (f64::from(k - 1) / f64::from(steps), f64::from(k) / f64::from(steps));
            let (from, to) = (point(from), point(to));
            for p in [from, to] {
                let dot = Rect::from_points(p, p);
                self.bounds = Some(self.bounds.map_or(dot, |bounds| bounds.union(dot)));
            }
            #[allow(clippy::cast_possible_truncation)]
            let cell = |p: Point| ((p.x / CELL_MM).floor() as i64, (p.y / CELL_MM).floor() as i64);
            // Both ends of what is kept are marked: a raster's next line falls into the same cells.
            if !(self.cells.insert(cell(from.midpoint(to))) | self.cells.insert(cell(to))) {
                self.at = None;
                continue;
            }
            if self.at != Some(from) {
                self.path.move_to(from);
            }
            self.path.line_to(to);
            self.at = Some(to);
        }
        if ends[0] == ends[1] {
            self.at = None;
        }
    }
}

impl Sink for Burns {
    type Error = Refusal;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        let flat = |position: &Position| FlatPoint::of(position, self.along_y);
        match *event {
            Event::Straight { from, to, .. } => {
                let (from, to) = (flat(from), flat(to));
                self.add(&Curve::Line { from, to }, 1);
            }
            Event::Arc { from, to, arc, .. } => {
                self.add(&Curve::Arc { from, to, arc, along_y: self.along_y }, ARC_STEPS);
            }
            Event::Power { s } => self.power = Some(s),
            Event::Beam { word } => self.beam = word,
            Event::Comment { text }
                if text
                    .trim_ascii_start()
                    .starts_with(stave_write::gcode::FIRST_WORDS.as_bytes()) =>
            {
                return Err(Refusal::WrappedAlready);
            }
            _ => {}
        }
        Ok(())
    }
}
