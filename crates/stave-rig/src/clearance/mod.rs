//! How far the head stays above the work, along the whole of a job.
//!
//! The nozzle is an upright cylinder with a flat tip, or a stack of them, under a carriage that is
//! a box; the work the wall out to each zone's rise, turned and tilted as the program has it, with
//! what of the rotary stands beside it. The gap is the least height of a part's underside above
//! what lies inside its circle or box; as a gap of the tip, where that is the part.
//!
//! Two facts make it exact. Shifting a point of a solid of revolution straight sideways to the
//! middle plane, at the same height and the same place along the rail, keeps it inside the solid,
//! so the highest point of the wall under the circle lies on its crest: the wall asks for the
//! crest's greatest height between two places along the rail, and no more. A zone's highest point
//! lies, by the same shift, on the edge of it that is turned nearest to the top (or on the crest,
//! while it passes there): see [`boss`], and [`sector`] for a box. What is left to search is the
//! motion, one dimension, by branch and bound.

mod boss;
mod crest_line;
mod head;
mod over;
mod plane;
mod sector;

use std::collections::HashMap;

use crest_line::BEYOND_MM;
pub use crest_line::CrestLine;
pub use head::{Head, HeadPart, PartBeside};
pub use over::{HeadOverWork, Nearest, obstacle_across_mm, obstacle_along_mm};
pub use plane::OverFacet;

/// How far what is proven may lie below what was found, mm.
const TOLERANCE_MM: f64 = 0.02;
/// A stretch of motion so short that it is not taken apart any more, mm.
const SHORT_MM: f64 = 0.004;
/// Cells within which a move is not looked at if all of the cell is far from every boss.
const CELL_MM: f64 = 2.0;
const CELL_RAD: f64 = 2.0 * std::f64::consts::PI / 180.0;
const MOST_CELLS: usize = 1 << 20;
/// Halvings of one move at the most: far more than a move of a kilometre needs.
const MOST_HALVINGS: u32 = 48;

/// Where the nozzle stands over the work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Place along the beam's rail, mm, as [`stave_wall::Crest::along_mm`] has it.
    pub along_mm: f64,
    /// The turn of the wall that is uppermost, rad.
    pub turn_rad: f64,
    /// How far the head is lifted from where it stands when focused, mm.
    pub lift_mm: f64,
}

impl Pose {
    fn between(&self, to: &Pose, t: f64) -> Pose {
        let mix = |a: f64, b: f64| a + (b - a) * t;
        Pose {
            along_mm: mix(self.along_mm, to.along_mm),
            turn_rad: mix(self.turn_rad, to.turn_rad),
            lift_mm: mix(self.lift_mm, to.lift_mm),
        }
    }

    fn is_finite(&self) -> bool {
        self.along_mm.is_finite() && self.turn_rad.is_finite() && self.lift_mm.is_finite()
    }
}

/// The least gap of a motion, and where and when it comes about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeastGap<M> {
    /// The gap, mm, negative where the head strikes; at most 0.02 mm less than it is, and a
    /// thousandth more.
    pub gap_mm: f64,
    /// Where the nozzle stands along the axis of the work, mm.
    pub at_mm: f64,
    /// The turn that is uppermost then, rad.
    pub turn_rad: f64,
    /// What it comes nearest to.
    pub nearest: Nearest,
    /// And with which part.
    pub part: HeadPart,
    /// The mark of the move in which it does.
    pub mark: M,
}

/// One part and one thing: the wall on its crest, or what else meets what, by its place.
#[derive(Clone, Copy, Debug)]
enum Met {
    Crest(usize),
    Other(usize),
}

#[derive(Clone, Copy, Debug)]
struct Found<M> {
    height_mm: f64,
    pose: Pose,
    nearest: Nearest,
    part: HeadPart,
    mark: M,
}

/// Follows one head over the work.
///
/// ```
/// use stave_rig::{Clearance, Head, HeadOverWork, Pose};
/// // A can of radius 40 with a boss 9 high at the back, and a nozzle of radius 9 whose tip is 6 above the wall.
/// let blank = stave_setup::read_blank(
///     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n\
///      [[zone]]\nname = \"boss\"\nat = [40, 60]\nturn = [170, 190]\nrise = 9\n",
///     "can.toml",
/// )?;
/// let over = HeadOverWork::new(&blank.wall, &blank.zones, 0.0, Head::cylinder(9.0));
/// let mut clearance = Clearance::new(over);
/// let pose = |along_mm, turn_deg: f64| Pose { along_mm, turn_rad: turn_deg.to_radians(), lift_mm: 0.0 };
/// clearance.go(&pose(10.0, 0.0), &pose(90.0, 0.0), 1);
/// let front = clearance.least(40.0, 6.0).unwrap();
/// assert!((front.gap_mm - 6.0).abs() < 0.02);
/// // Turned until the boss's edge stands 10 degrees off the top, that edge is 49 cos 10° high, and 8.5 mm aside.
/// clearance.go(&pose(50.0, 0.0), &pose(50.0, 160.0), 2);
/// let back = clearance.least(40.0, 6.0).unwrap();
/// assert!((back.gap_mm - (46.0 - 49.0 * 10_f64.to_radians().cos())).abs() < 0.02 && back.mark == 2);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[derive(Clone, Debug)]
pub struct Clearance<M> {
    over: HeadOverWork,
    /// The greatest height of anything but the wall, less that of the part above the tip, mm.
    ceiling_mm: f64,
    /// The least of lift less height that was come upon.
    found: Option<Found<M>>,
    /// The least of lift less height that there can be.
    proven_mm: f64,
    /// What of the rail has been gone over without a break, and at what lift: the wall there is
    /// known.
    swept: Option<(f64, f64, f64)>,
    /// For cells of the rail and the turn, the least of lift less height there can be at no lift,
    /// but for the wall: most moves of a long program stay within one that is far from everything.
    cells: HashMap<(i64, i64), f64>,
}

impl<M: Copy> Clearance<M> {
    /// A head that has not moved yet.
    #[must_use]
    pub fn new(over: HeadOverWork) -> Self {
        let ceilings = over.meetings.iter().map(over::Meeting::ceiling_mm);
        Self {
            ceiling_mm: ceilings.fold(f64::NEG_INFINITY, f64::max),
            over,
            found: None,
            proven_mm: f64::INFINITY,
            swept: None,
            cells: HashMap::new(),
        }
    }

    /// Takes a straight move of the machine, from where it stands to where it goes. `mark` comes
    /// back with the least gap.
    ///
    /// Moves must follow one another; a pose that is not finite is left out.
    #[inline]
    pub fn go(&mut self, from: &Pose, to: &Pose, mark: M) {
        // Over nothing but wall that is known already: nearly every move of a long program.
        if self.over.meetings.is_empty()
            && let Some((low, high, lift)) = self.swept
            && [from, to]
                .iter()
                .all(|pose| pose.along_mm >= low && pose.along_mm <= high && pose.lift_mm >= lift)
            // What is not finite in a sum makes the sum so.
            && (from.turn_rad + to.turn_rad + from.lift_mm + to.lift_mm).is_finite()
        {
            return;
        }
        self.look(from, to, mark);
    }

    fn look(&mut self, from: &Pose, to: &Pose, mark: M) {
        if !(from.is_finite() && to.is_finite()) {
            return;
        }
        self.go_over_wall(from, to, mark);
        let low = from.lift_mm.min(to.lift_mm);
        if self.over.meetings.is_empty() || low - self.ceiling_mm >= self.enough_mm() {
            self.note_proven(if self.over.meetings.is_empty() {
                f64::INFINITY
            } else {
                low - self.ceiling_mm
            });
            return;
        }
        if let Some(bound_mm) = self.cell_mm(from, to)
            && low + bound_mm >= self.enough_mm()
        {
            return self.note_proven(low + bound_mm);
        }
        for k in 0..self.over.meetings.len() {
            self.search(from, to, mark, Met::Other(k));
        }
    }

    /// What can be said of a whole cell in which a move begins and ends; `None` where it does not.
    fn cell_mm(&mut self, from: &Pose, to: &Pose) -> Option<f64> {
        #[expect(clippy::cast_possible_truncation, reason = "the cast saturates")]
        let cell = |pose: &Pose| {
            ((pose.along_mm / CELL_MM).floor() as i64, (pose.turn_rad / CELL_RAD).floor() as i64)
        };
        let here = cell(from);
        if here != cell(to) {
            return None;
        }
        if let Some(known) = self.cells.get(&here) {
            return Some(*known);
        }
        if self.cells.len() >= MOST_CELLS {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "cells are few")]
        let corner = |along: i64, turn: i64| Pose {
            along_mm: along as f64 * CELL_MM,
            turn_rad: turn as f64 * CELL_RAD,
            lift_mm: 0.0,
        };
        let ends = [corner(here.0, here.1), corner(here.0 + 1, here.1 + 1)];
        let bounds =
            (0..self.over.meetings.len()).filter_map(|k| self.bound_mm(&ends, Met::Other(k)));
        let bound_mm = bounds.fold(f64::INFINITY, f64::min);
        self.cells.insert(here, bound_mm);
        Some(bound_mm)
    }

    /// The least gap of all moves so far, for a focus at a height (mm, as
    /// [`stave_wall::Crest::height_mm`] has it) and a tip `gap_mm` above it; `None` where nothing
    /// moved.
    #[must_use]
    pub fn least(&self, focus_height_mm: f64, gap_mm: f64) -> Option<LeastGap<M>> {
        let found = self.found.as_ref()?;
        Some(LeastGap {
            gap_mm: self.proven_mm.min(found.height_mm) + focus_height_mm + gap_mm,
            at_mm: self.over.crest.at_mm(found.pose.along_mm),
            turn_rad: found.pose.turn_rad,
            nearest: found.nearest,
            part: found.part,
            mark: found.mark,
        })
    }

    fn enough_mm(&self) -> f64 {
        self.found.as_ref().map_or(f64::INFINITY, |found| found.height_mm - TOLERANCE_MM)
    }

    fn note_proven(&mut self, bound_mm: f64) {
        self.proven_mm = self.proven_mm.min(bound_mm);
    }

    /// The wall under a move: where the lift stays, the answer is the crest's over all of the move
    /// at once.
    fn go_over_wall(&mut self, from: &Pose, to: &Pose, mark: M) {
        let low = from.along_mm.min(to.along_mm);
        let high = from.along_mm.max(to.along_mm);
        let lift = from.lift_mm.min(to.lift_mm);
        match &mut self.swept {
            Some((swept_low, swept_high, swept_lift)) if lift >= *swept_lift => {
                if low >= *swept_low && high <= *swept_high {
                    return;
                }
                let touches = low <= *swept_high && high >= *swept_low;
                if touches && from.lift_mm == *swept_lift && to.lift_mm == *swept_lift {
                    (*swept_low, *swept_high) = (swept_low.min(low), swept_high.max(high));
                }
            }
            swept if from.lift_mm == to.lift_mm => *swept = Some((low, high, lift)),
            _ => {}
        }
        for k in 0..self.over.on_crest.len() {
            self.search(from, to, mark, Met::Crest(k));
        }
    }

    /// Branch and bound over a move, for one part and one thing.
    fn search(&mut self, from: &Pose, to: &Pose, mark: M, met: Met) {
        let (part, nearest) = match met {
            Met::Crest(k) => (self.over.on_crest[k].part, Nearest::Wall),
            Met::Other(k) => (self.over.meetings[k].part, self.over.meetings[k].thing),
        };
        let mut stack = vec![(0.0, 1.0, 0_u32)];
        while let Some((t0, t1, halvings)) = stack.pop() {
            let ends = [from.between(to, t0), from.between(to, t1)];
            let Some(bound_mm) = self.bound_mm(&ends, met) else { continue };
            if bound_mm >= self.enough_mm() {
                self.note_proven(bound_mm);
                continue;
            }
            let t = 0.5 * (t0 + t1);
            let pose = from.between(to, t);
            if let Some(height_mm) = self.bound_mm(&[pose, pose], met)
                && self.found.as_ref().is_none_or(|found| height_mm < found.height_mm)
            {
                self.found = Some(Found { height_mm, pose, nearest, part, mark });
            }
            if bound_mm >= self.enough_mm() || halvings >= MOST_HALVINGS || self.is_short(&ends) {
                self.note_proven(bound_mm);
                if self.found.as_ref().is_none_or(|found| bound_mm < found.height_mm - TOLERANCE_MM)
                {
                    self.found = Some(Found { height_mm: bound_mm, pose, nearest, part, mark });
                }
                continue;
            }
            stack.push((t0, t, halvings + 1));
            stack.push((t, t1, halvings + 1));
        }
    }

    /// The least that lift less height of work can be between two poses; exact where they are one.
    /// `None` where there is nothing under the part.
    fn bound_mm(&self, ends: &[Pose; 2], met: Met) -> Option<f64> {
        let low = ends[0].along_mm.min(ends[1].along_mm);
        let high = ends[0].along_mm.max(ends[1].along_mm);
        let lift = ends[0].lift_mm.min(ends[1].lift_mm);
        let height_mm = match met {
            Met::Crest(k) => self.over.on_crest[k].highest_mm(&self.over.crest, (low, high))?,
            Met::Other(k) => {
                let turns = (ends[0].turn_rad, ends[1].turn_rad);
                self.over.meetings[k].highest_mm((low, high), turns)?
            }
        };
        Some(lift - height_mm)
    }

    fn is_short(&self, ends: &[Pose; 2]) -> bool {
        let along = (ends[1].along_mm - ends[0].along_mm).abs();
        let around = (ends[1].turn_rad - ends[0].turn_rad).abs() * self.over.farthest_mm();
        let lift = (ends[1].lift_mm - ends[0].lift_mm).abs();
        along.max(around).max(lift) <= SHORT_MM
    }
}
