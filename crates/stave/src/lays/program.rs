//! A flat program as one piece: where it burns.

use std::collections::HashSet;
use std::io::Read;

use kurbo::{BezPath, Point, Rect};
use stave_parse::gcode::{self, ReadOptions, Sink};
use stave_rig::{Beam, FIRST_WORDS};
use stave_setup::{Along, JobAnchor, Setup};
use stave_toolpath::{Event, Position};
use stave_transform::{Curve, FlatPoint};
use stave_wall::LayKind;

use super::{Subject, lay_setting};
use crate::error::{Error, ProgramFault, Refusal};
use crate::run::{Footprint, program_anchor};
use crate::wrap::told;

/// Of the burns in one cell of this size, mm, one is kept: a program may be endless, what is looked
/// at of it is not.
const CELL_MM: f64 = 0.5;
/// Steps along an arc.
const ARC_STEPS: u32 = 24;

/// The one piece of a program, if it burns anything, and what the reader has to say.
pub(super) fn subject(
    reader: impl Read,
    setup: &Setup,
    read: &ReadOptions,
    name: &str,
) -> Result<(Vec<Subject>, Vec<String>), Error> {
    let mut burns = Burns {
        along_y: setup.machine.rotary.along == Along::Y,
        beam: Beam::new(read.strict),
        here: Point::ORIGIN,
        footprint: Footprint::default(),
        cells: HashSet::new(),
        path: BezPath::new(),
        at: None,
        bounds: None,
    };
    program_anchor(setup)?;
    let summary =
        gcode::read(reader, read, &mut burns).map_err(|error| Error::of_reading(error, name))?;
    let Some(bounds) = burns.bounds else { return Ok((Vec::new(), told(&summary))) };
    let centre = bounds.center();
    let anchor = setup.job.anchor.unwrap_or(JobAnchor::Drawing);
    let settings = LayKind::ALL.map(|kind| lay_setting(setup, kind, anchor, centre)).to_vec();
    let mut subject =
        Subject::new(1, "program".into(), 0, bounds, vec![(burns.path, None, bounds)], settings);
    // The same points as for what `wrap` and `check` say of it.
    (subject.outline, subject.inside) = burns.footprint.points();
    Ok((vec![subject], told(&summary)))
}

struct Burns {
    along_y: bool,
    beam: Beam,
    /// Where the program has come to.
    here: Point,
    footprint: Footprint,
    cells: HashSet<(i64, i64)>,
    path: BezPath,
    /// Where the line that is being kept has come to.
    at: Option<Point>,
    bounds: Option<Rect>,
}

impl Burns {
    fn add(&mut self, curve: &Curve<'_>, steps: u32) {
        let end = curve.point(1.0);
        self.here = Point::new(end.u, end.v);
        if !self.beam.burns() {
            return;
        }
        self.footprint.burn(curve);
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

impl Burns {
    /// A dwell that burns where the program stands.
    fn dot(&mut self) {
        let dot = Rect::from_points(self.here, self.here);
        self.bounds = Some(self.bounds.map_or(dot, |bounds| bounds.union(dot)));
        self.footprint.dot(self.here.x, self.here.y);
        self.path.move_to(self.here);
        self.path.line_to(self.here);
        self.at = None;
    }
}

impl Sink for Burns {
    type Error = Refusal;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        let flat = |position: &Position| FlatPoint::of(position, self.along_y);
        match *event {
            Event::Straight { from, to, feed } => {
                self.beam.burns_at(feed)?;
                let (from, to) = (flat(from), flat(to));
                self.add(&Curve::Line { from, to }, 1);
            }
            Event::Arc { from, to, arc, feed } => {
                self.beam.burns_at(feed)?;
                self.add(&Curve::Arc { from, to, arc, along_y: self.along_y }, ARC_STEPS);
            }
            Event::Travel { to, .. } => {
                let to = flat(to);
                self.here = Point::new(to.u, to.v);
            }
            Event::FirstWord { letter } if letter != b'Z' => return Err(ProgramFault::Turns.into()),
            Event::Dwell { .. } if self.beam.dwell_burns() => self.dot(),
            Event::Power { s } => self.beam.power_s = Some(s),
            Event::Beam { word } => self.beam.word = word,
            Event::Comment { text }
                if text.trim_ascii_start().starts_with(FIRST_WORDS.as_bytes()) =>
            {
                return Err(ProgramFault::Wrapped.into());
            }
            _ => {}
        }
        Ok(())
    }
}
