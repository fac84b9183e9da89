//! A flat program as one piece: where it burns.

use std::collections::HashSet;
use std::io::Read;

use kurbo::{BezPath, Point, Rect};
use stave_parse::gcode::{self, ReadOptions};
use stave_setup::{JobAnchor, Setup};
use stave_transform::{Curve, FlatPoint};
use stave_wall::LayKind;

use super::{Subject, lay_setting};
use crate::error::Error;
use crate::run::{FlatBurns, Footprint, TakesBurns, program_anchor};
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
    let mut burns = FlatBurns::new(setup, read.strict, Kept::default());
    program_anchor(setup)?;
    let summary =
        gcode::read(reader, read, &mut burns).map_err(|error| Error::of_reading(error, name))?;
    let burns = burns.taken(&summary).map_err(|cut| Error::of_source(name, cut))?;
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

/// What is kept of what burns.
#[derive(Default)]
struct Kept {
    footprint: Footprint,
    cells: HashSet<(i64, i64)>,
    path: BezPath,
    /// Where the line that is being kept has come to.
    at: Option<Point>,
    bounds: Option<Rect>,
}

#[expect(clippy::cast_possible_truncation, reason = "the cast saturates")]
fn cell(p: Point) -> (i64, i64) {
    ((p.x / CELL_MM).floor() as i64, (p.y / CELL_MM).floor() as i64)
}

impl Kept {
    fn stretch(&mut self, p: Point) {
        let dot = Rect::from_points(p, p);
        self.bounds = Some(self.bounds.map_or(dot, |bounds| bounds.union(dot)));
    }
}

impl TakesBurns for Kept {
    fn burn(&mut self, curve: &Curve<'_>) {
        self.footprint.burn(curve);
        let steps = if matches!(curve, Curve::Line { .. }) { 1 } else { ARC_STEPS };
        let point = |k: u32| {
            let p = curve.point(f64::from(k) / f64::from(steps));
            Point::new(p.u, p.v)
        };
        for k in 1..=steps {
            let (from, to) = (point(k - 1), point(k));
            self.stretch(from);
            self.stretch(to);
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
        if point(0) == point(steps) {
            self.at = None;
        }
    }

    fn dot(&mut self, at: FlatPoint) {
        self.footprint.dot(at.u, at.v);
        let at = Point::new(at.u, at.v);
        self.stretch(at);
        self.path.move_to(at);
        self.path.line_to(at);
        self.at = None;
    }
}
