//! How far the nozzle stays above the work, along the whole of a job.
//!
//! The nozzle is an upright cylinder with a flat tip, the work the wall out to each zone's rise,
//! turned and tilted as the program has it. The gap is the least height of tip above work inside
//! the nozzle's circle.
//!
//! Two facts make it exact. Shifting a point of a solid of revolution straight sideways to the
//! middle plane, at the same height and the same place along the rail, keeps it inside the solid,
//! so the highest point of the wall under the circle lies on its crest: the wall asks for the
//! crest's greatest height between two places along the rail, and no more. A zone's highest point
//! lies, by the same shift, on the edge of it that is turned nearest to the top (or on the crest,
//! while it passes there): see [`boss`]. What is left to search is the motion, one dimension, by
//! branch and bound.

mod boss;
mod crest_line;

use std::collections::HashMap;

use stave_setup::Zone;
use stave_wall::Wall;

use boss::Boss;
pub use crest_line::CrestLine;

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

/// What of the work comes nearest to the nozzle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Nearest {
    /// The wall itself.
    Wall,
    /// A zone that rises above the wall, by its place in the list.
    Zone(usize),
}

/// The least gap of a motion, and where and when it comes about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeastGap<M> {
    /// The gap, mm, negative where the nozzle strikes the work; at most 0.02 mm less than it is,
    /// never more.
    pub gap_mm: f64,
    /// Where the nozzle stands along the axis of the work, mm.
    pub at_mm: f64,
    /// The turn that is uppermost then, rad.
    pub turn_rad: f64,
    /// What it comes nearest to.
    pub nearest: Nearest,
    /// The mark of the move in which it does.
    pub mark: M,
}

#[derive(Clone, Copy, Debug)]
struct Found<M> {
    height_mm: f64,
    pose: Pose,
    nearest: Nearest,
    mark: M,
}

/// Follows one nozzle over the work.
///
/// ```
/// use stave_rig::{Clearance, Pose};
/// // A can of radius 40 with a boss 9 high at the back, and a nozzle of radius 9 whose tip is 6 above the wall.
/// let blank = stave_setup::read_blank(
///     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n\
///      [[zone]]\nname = \"boss\"\nat = [40, 60]\nturn = [170, 190]\nrise = 9\n",
///     "can.toml",
/// )?;
/// let mut clearance = Clearance::new(&blank.wall, &blank.zones, 0.0, 9.0);
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
    crest: CrestLine,
    bosses: Vec<(usize, Boss)>,
    radius_mm: f64,
    /// Greatest height of anything, mm.
    ceiling_mm: f64,
    /// The least of lift less height that was come upon.
    found: Option<Found<M>>,
    /// The least of lift less height that there can be.
    proven_mm: f64,
    /// What of the rail has been gone over without a break, and at what lift: the wall there is
    /// known.
    swept: Option<(f64, f64, f64)>,
    /// For cells of the rail and the turn, the least of lift less height of the bosses there can be
    /// at no lift: most moves of a long program stay within one that is far from everything.
    cells: HashMap<(i64, i64), f64>,
}

impl<M: Copy> Clearance<M> {
    /// A nozzle of `radius_mm` over a wall and its zones under a tilt. Only zones that rise count.
    #[must_use]
    pub fn new(wall: &Wall, zones: &[Zone], tilt_rad: f64, radius_mm: f64) -> Self {
        let crest = CrestLine::new(wall, tilt_rad);
        let rising = zones.iter().enumerate().filter(|(_, zone)| zone.rise_mm > 0.0);
        let bosses: Vec<(usize, Boss)> =
            rising.map(|(i, zone)| (i, Boss::new(wall, zone, tilt_rad))).collect();
        let ceiling_mm =
            bosses.iter().map(|(_, boss)| boss.top_mm()).fold(f64::NEG_INFINITY, f64::max);
        Self {
            crest,
            bosses,
            radius_mm,
            ceiling_mm,
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
        if self.bosses.is_empty()
            && let Some((low, high, lift)) = self.swept
            && [from, to]
                .iter()
                .all(|pose| pose.along_mm >= low && pose.along_mm <= high && pose.lift_mm >= lift)
            && from.turn_rad.is_finite()
            && to.turn_rad.is_finite()
            && from.lift_mm.max(to.lift_mm) < f64::INFINITY
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
        if self.bosses.is_empty() || low - self.ceiling_mm >= self.enough_mm() {
            self.note_proven(if self.bosses.is_empty() {
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
        for k in 0..self.bosses.len() {
            self.search(from, to, mark, Some(k));
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
        let bounds = (0..self.bosses.len()).filter_map(|k| self.bound_mm(&ends, Some(k)));
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
            at_mm: self.crest.at_mm(found.pose.along_mm),
            turn_rad: found.pose.turn_rad,
            nearest: found.nearest,
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
        self.search(from, to, mark, None);
    }

    /// Branch and bound over a move, against the wall (`None`) or one boss.
    fn search(&mut self, from: &Pose, to: &Pose, mark: M, boss: Option<usize>) {
        let nearest = boss.map_or(Nearest::Wall, |k| Nearest::Zone(self.bosses[k].0));
        let mut stack = vec![(0.0, 1.0, 0_u32)];
        while let Some((t0, t1, halvings)) = stack.pop() {
            let ends = [from.between(to, t0), from.between(to, t1)];
            let Some(bound_mm) = self.bound_mm(&ends, boss) else { continue };
            if bound_mm >= self.enough_mm() {
                self.note_proven(bound_mm);
                continue;
            }
            let t = 0.5 * (t0 + t1);
            let pose = from.between(to, t);
            if let Some(height_mm) = self.bound_mm(&[pose, pose], boss)
                && self.found.as_ref().is_none_or(|found| height_mm < found.height_mm)
            {
                self.found = Some(Found { height_mm, pose, nearest, mark });
            }
            if bound_mm >= self.enough_mm() || halvings >= MOST_HALVINGS || self.is_short(&ends) {
                self.note_proven(bound_mm);
                if self.found.as_ref().is_none_or(|found| bound_mm < found.height_mm - TOLERANCE_MM)
                {
                    self.found = Some(Found { height_mm: bound_mm, pose, nearest, mark });
                }
                continue;
            }
            stack.push((t0, t, halvings + 1));
            stack.push((t, t1, halvings + 1));
        }
    }

    /// The least that lift less height of work can be between two poses; exact where they are one.
    /// `None` where there is nothing under the circle.
    fn bound_mm(&self, ends: &[Pose; 2], boss: Option<usize>) -> Option<f64> {
        let low = ends[0].along_mm.min(ends[1].along_mm);
        let high = ends[0].along_mm.max(ends[1].along_mm);
        let lift = ends[0].lift_mm.min(ends[1].lift_mm);
        let height_mm = match boss {
            None => self.crest.heights_mm(low - self.radius_mm, high + self.radius_mm)?.1,
            Some(k) => {
                let turns = (ends[0].turn_rad, ends[1].turn_rad);
                self.bosses[k].1.highest_mm((low, high), turns, self.radius_mm)?
            }
        };
        Some(lift - height_mm)
    }

    fn is_short(&self, ends: &[Pose; 2]) -> bool {
        let along = (ends[1].along_mm - ends[0].along_mm).abs();
        let around = (ends[1].turn_rad - ends[0].turn_rad).abs() * self.crest.largest_radius_mm();
        let lift = (ends[1].lift_mm - ends[0].lift_mm).abs();
        along.max(around).max(lift) <= SHORT_MM
    }
}
