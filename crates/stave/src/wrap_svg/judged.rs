//! What the judge says of a drawing that a controller turns into moves of its own. How it fills is
//! not known; the outlines that it burns, or fills, say how high and how far around the head goes.

use kurbo::{BezPath, PathEl, Point};
use stave_check::{Code, Finding, Judge, Made, RunFacts};
use stave_rig::{MadeFor, Rig, Zones};
use stave_setup::Setup;
use stave_toolpath::{Corner, Place, Stand, Step, StepKind, StepSink};
use stave_wall::Lay;

use super::{Planned, burns};
use crate::layout::Layout;

/// How close outlines are followed, mm.
const LOOK_MM: f64 = 0.05;
/// No move is longer, mm: what is straight in the drawing may bulge on the wall.
const MOVE_MM: f64 = 1.0;
/// The most moves of one line.
const MOST_MOVES: f64 = 4096.0;
/// What does not hang on how a controller fills, or where its zero is.
const TOLD: [Code; 5] =
    [Code::Clearance, Code::Overlap, Code::Defocus, Code::DefocusFar, Code::Plausible];

/// The findings of burns along the outlines, in the order of the drawing.
pub(super) fn judged(layout: &Layout, setup: &Setup, shapes: &[Planned<'_>]) -> Vec<Finding> {
    let mut follower = Follower {
        judge: Judge::new(setup, &MadeFor::of_setup(setup), Made::Here),
        rig: Rig::of_setup(setup),
        zones: Zones::new(setup),
        here: None,
        hint: 0,
    };
    for planned in shapes.iter().filter(|shape| shape.burned) {
        let (Some(lay), Some(seen)) = (layout.lays.get(planned.lay), planned.seen) else {
            continue;
        };
        for (flat, _) in burns(layout, planned) {
            let clipped = !planned.shape.clips.is_empty();
            follower.follow(lay, &flat, |p| !clipped || seen.contains(p));
        }
    }
    if !follower.judge.burned() {
        return Vec::new();
    }
    let facts = RunFacts { spacing_known: true, ..RunFacts::default() };
    let mut findings = follower.judge.verdict(&facts).findings;
    findings.retain(|finding| TOLD.contains(&finding.code));
    findings
}

/// The head along outlines.
struct Follower<'a> {
    judge: Judge<'a>,
    rig: Rig<'a>,
    zones: Zones,
    here: Option<Stand>,
    hint: usize,
}

impl Follower<'_> {
    fn follow(&mut self, lay: &Lay, path: &BezPath, is_seen: impl Fn(Point) -> bool) {
        let (mut start, mut at) = (Point::ORIGIN, Point::ORIGIN);
        kurbo::flatten(path, LOOK_MM, |element| {
            let to = match element {
                PathEl::MoveTo(to) => {
                    (start, at) = (to, to);
                    self.go(lay, to, false);
                    return;
                }
                PathEl::ClosePath => start,
                other => other.end_point().unwrap_or(at),
            };
            let moves = (at.distance(to) / MOVE_MM).ceil().clamp(1.0, MOST_MOVES);
            let mut k = 1.0;
            while k <= moves {
                let next = at.lerp(to, k / moves);
                let middle = at.lerp(to, (k - 0.5) / moves);
                self.go(lay, next, is_seen(middle));
                k += 1.0;
            }
            at = to;
        });
    }

    /// Goes to a point of the flat plane, burning unless it lies in a zone that stays dark.
    fn go(&mut self, lay: &Lay, point: Point, burns: bool) {
        let laid = lay.map(self.rig.wall, point.x, point.y, &mut self.hint);
        let (along, rotary) = self.rig.to_words(self.rig.along_mm(&laid.section), laid.turn_rad);
        let words = match self.rig.along_y() {
            true => [0.0, along, 0.0, rotary],
            false => [along, 0.0, 0.0, rotary],
        };
        let place = Place {
            s_mm: laid.s_mm,
            turn_rad: laid.turn_rad,
            at_mm: laid.section.at_mm,
            radius_mm: laid.section.radius_mm,
        };
        let to = Stand { words, place: Some(place) };
        if !words.iter().all(|word| word.is_finite()) {
            return;
        }
        let from = self.here.replace(to).unwrap_or(to);
        let burns = burns && self.zones.holds(&laid).is_none();
        let kind = if burns { StepKind::Burn } else { StepKind::Travel };
        let step = Step {
            kind,
            from,
            to,
            drives_z: false,
            beam: None,
            power_s: None,
            time_s: 0.0,
            asked_s: f64::INFINITY,
            length_mm: 0.0,
            corner: Corner::Tolerance,
            joined: false,
            even_dose: false,
            line: 0,
            section: 0,
        };
        let Ok(()) = self.judge.step(&step);
    }
}
