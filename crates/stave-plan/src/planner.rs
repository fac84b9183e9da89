//! The planner itself: moves in, settled moves out.

use super::again::Again;
use super::corner::{self, Bend, Corner, Turn};
use super::limits::{AxisLimit, LIMIT_RANGE, PlanError, Reciprocals};
use super::line::{self, Line, least_s3};
use super::ramp::Push;
use super::run::Member;
use super::runs::Runs;
use super::settled::{ASKED, MoveKind, Settle};
use super::trapezoid::{Label, Slot};
use super::window::Window;

/// How many moves may wait by default.
pub const WINDOW: usize = 1 << 16;

/// So many collinear moves are waited for after a bend; what comes then is taken for the next run.
const MOST_HELD: usize = 4096;

/// Squares of what is kept must not leave `f64`.
const MOST: f64 = 1e100;

/// How fast a move is asked to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked {
    /// As fast as the axes can: G0.
    Limits,
    /// To take this long, seconds: G93, or G94 where F counts only some of the axes.
    Duration(f64),
    /// This speed along the path in axis space, units per second: G94 where F counts all axes.
    Speed(f64),
}

/// A straight move in axis space.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move<const N: usize> {
    /// How far each axis goes, in its units.
    pub delta: [f64; N],
    /// How fast.
    pub asked: Asked,
    /// What for.
    pub kind: MoveKind,
    /// Length on the wall, mm; `None` takes the length in axis space.
    pub wall_mm: Option<f64>,
    /// Comes back with the move.
    pub tag: u32,
}

/// What is known of a move as soon as it is pushed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pushed {
    /// Length in axis space; zero for a move that moves nothing.
    pub length: f64,
    /// How long it would take at the speed asked if the axes had no limits, seconds; zero for
    /// [`Asked::Limits`].
    pub nominal_s: f64,
}

/// What corners do.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Corners {
    /// G64: as fast as the corner tolerance allows.
    #[default]
    Tolerance,
    /// G61: the path exactly, so a stop wherever the direction changes.
    Exact,
    /// G61.1: a stop at the end of every move.
    Stop,
}

/// Plans moves of `N` axes with full look-ahead. See [the module](super) for the model.
///
/// ```
/// use stave_plan::{Asked, AxisLimit, Move, MoveKind, Planner, Totals};
///
/// let axis = AxisLimit { speed_per_s: 100.0, acceleration_per_s2: 1000.0, jerk_per_s3: None };
/// let mut planner = Planner::new([axis; 2], 0.02)?;
/// let mut totals = Totals::<2>::default();
/// let burn = Move { delta: [30.0, 40.0], asked: Asked::Speed(50.0), kind: MoveKind::Burn, wall_mm: None, tag: 0 };
/// planner.push(&burn, &mut totals)?;
/// planner.stop(&mut totals);
/// // 50 mm at 50 mm/s, and a ramp of 50/1250 s whose two halves cost half each.
/// assert!((totals.duration_s() - (1.0 + 50.0 / 1250.0)).abs() < 1e-12);
/// # Ok::<(), stave_plan::PlanError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Planner<const N: usize> {
    limits: Reciprocals<N>,
    tolerance: f64,
    corners: Corners,
    /// Direction and squared speed limit of the last move, and what its end does; `None` at a stop.
    last: Option<([f64; N], f64, Corners)>,
    again: Option<Again>,
    ahead: Ahead,
    /// Whether curves written as chords are held to the speed of the curve.
    curves: bool,
    /// The length of the collinear moves so far.
    run: f64,
    /// A bend that still binds, and the moves of the run after it.
    bend: Option<Bend>,
    held: Vec<Held>,
}

/// A move that waits for the run it belongs to.
#[derive(Clone, Copy, Debug)]
enum Held {
    Plain(Slot),
    Jerk { member: Member, cap: f64, straight_on: bool },
}

#[derive(Clone, Debug)]
enum Ahead {
    Plain(Window),
    Jerk(Box<Runs>),
}

impl<const N: usize> Planner<N> {
    /// A machine at rest.
    ///
    /// `corner_tolerance` is the sagitta `δ` of the corner rule, in axis units; zero stops at every
    /// corner.
    ///
    /// # Errors
    /// A limit or a tolerance that is out of range.
    pub fn new(axes: [AxisLimit; N], corner_tolerance: f64) -> Result<Self, PlanError> {
        Self::with_window(axes, corner_tolerance, WINDOW)
    }

    /// As [`new`](Self::new), with at most `window` moves waiting; fewer than 16 are taken as 16.
    ///
    /// # Errors
    /// A limit or a tolerance that is out of range.
    pub fn with_window(
        axes: [AxisLimit; N],
        corner_tolerance: f64,
        window: usize,
    ) -> Result<Self, PlanError> {
        if !(0.0..=LIMIT_RANGE.1).contains(&corner_tolerance) {
            return Err(PlanError::CornerTolerance { value: corner_tolerance });
        }
        let limits = Reciprocals::new(&axes)?;
        let window = window.max(16);
        let ahead = if limits.jerk.is_some() {
            Ahead::Jerk(Box::new(Runs::new(window)))
        } else {
            Ahead::Plain(Window::new(window))
        };
        Ok(Self {
            limits,
            tolerance: corner_tolerance,
            corners: Corners::Tolerance,
            last: None,
            again: None,
            ahead,
            curves: false,
            run: 0.0,
            bend: None,
            held: Vec::new(),
        })
    }

    /// Whether curves written as chords are held to `v² ≤ a R` from here on; without that the
    /// corners alone count.
    pub fn set_curves(&mut self, curves: bool) {
        self.curves = curves;
    }

    /// Whether the move that was pushed last waits behind a bend that binds: from here on corners
    /// alone would give another plan.
    pub(crate) fn is_bent(&self) -> bool {
        self.bend.is_some()
    }

    /// A planner that took the same moves where corners alone count, up to and with the first bend.
    pub(crate) fn by_corners<S: Settle>(&self, sink: &mut S) -> Self {
        let mut by_corners = self.clone();
        by_corners.curves = false;
        if let Some(bend) = by_corners.bend.take() {
            by_corners.let_go(bend.bound, sink);
        }
        by_corners
    }

    /// What the ends of the moves pushed from here on do.
    pub fn set_corners(&mut self, corners: Corners) {
        self.corners = corners;
        self.again = None;
    }

    /// How often the window was full and a stop had to be planned at its end. Zero means the plan
    /// is exact.
    #[must_use]
    pub fn times_full(&self) -> u64 {
        match &self.ahead {
            Ahead::Plain(window) => window.full,
            Ahead::Jerk(runs) => runs.full,
        }
    }

    /// Moves waiting to be settled.
    #[must_use]
    pub fn waiting(&self) -> usize {
        let ahead = match &self.ahead {
            Ahead::Plain(window) => window.len(),
            Ahead::Jerk(runs) => runs.len(),
        };
        ahead + self.held.len()
    }

    /// Adds a move. A move that moves nothing adds nothing, whatever it asks.
    ///
    /// # Errors
    /// [`PlanError::Move`]; the planner is then as it was before.
    #[inline]
    pub fn push<S: Settle>(&mut self, one: &Move<N>, sink: &mut S) -> Result<Pushed, PlanError> {
        if self.bend.is_none()
            && let (Some(again), Ahead::Plain(window)) = (&self.again, &mut self.ahead)
            && let Some(length) = again.length(one)
        {
            self.run += length;
            let slot = Slot {
                gain: length * again.gain,
                top: again.top,
                cap: again.top,
                reach: 0.0,
                length,
                limit_s: length * again.limit_s,
                wall_mm: one.wall_mm.unwrap_or(length),
                label: Label { tag: one.tag, kind: one.kind, ..again.label },
            };
            window.push(slot, sink);
            return Ok(Pushed { length, nominal_s: length * again.nominal_s });
        }
        self.push_any(one, sink)
    }

    #[inline(never)]
    fn push_any<S: Settle>(&mut self, one: &Move<N>, sink: &mut S) -> Result<Pushed, PlanError> {
        let Some(line) = Line::measure(&one.delta, &self.limits) else {
            return Ok(Pushed::default());
        };
        let nominal_s = match one.asked {
            Asked::Limits => 0.0,
            Asked::Duration(seconds) => seconds,
            Asked::Speed(speed) => line.length / speed,
        };
        let (limit_s, speed_axis) = if nominal_s > line.least_s {
            (nominal_s, ASKED)
        } else {
            (line.least_s, line::speed_axis(&one.delta, &self.limits, line.least_s))
        };
        if !(line.length < MOST && limit_s < MOST && nominal_s >= 0.0) {
            return Err(PlanError::Move { length: line.length, seconds: nominal_s });
        }
        let limit = match one.asked {
            Asked::Speed(speed) if speed_axis == ASKED => speed,
            _ => line.length / limit_s,
        };
        let top = limit * limit;
        let mut turn = None;
        let corner = match &self.last {
            Some((before, last_top, corners)) if *corners != Corners::Stop => {
                let bound = if *last_top < top { *last_top } else { top };
                let tolerance = if *corners == Corners::Tolerance { self.tolerance } else { 0.0 };
                let here = Turn::between(before, &line.unit, &self.limits.acceleration);
                turn = Some(here);
                corner::bounded(here, tolerance, bound)
            }
            _ => Corner { squared: 0.0, straight_on: false },
        };
        if corner.straight_on {
            self.run += line.length;
        } else {
            self.end_run(sink);
            let before = std::mem::replace(&mut self.run, line.length);
            if self.curves
                && corner.squared > 0.0
                && let Some(turn) = turn
            {
                let bend = Bend::of(turn, before, corner.squared);
                self.bend = bend.filter(|bend| bend.binds(self.run));
            }
        }
        self.last = Some((line.unit, top, self.corners));
        let label = Label {
            tag: one.tag,
            kind: one.kind,
            speed_axis,
            acceleration_axis: line.acceleration_axis,
        };
        let wall_mm = one.wall_mm.unwrap_or(line.length);
        match &mut self.ahead {
            Ahead::Plain(window) => {
                let gain = 2.0 * line.length * line.length / line.least_s2;
                self.again =
                    Again::of(one, &line, self.corners, (limit_s, nominal_s, gain, top), label);
                let slot = Slot {
                    gain,
                    top,
                    cap: corner.squared,
                    reach: 0.0,
                    length: line.length,
                    limit_s,
                    wall_mm,
                    label,
                };
                if self.bend.is_some() {
                    self.held.push(Held::Plain(slot));
                } else {
                    window.push(slot, sink);
                }
            }
            Ahead::Jerk(runs) => {
                let s3 = self.limits.jerk.as_ref().map_or(0.0, |jerk| least_s3(&one.delta, jerk));
                let push = Push { a: limit_s / line.least_s2, j: limit_s / s3 };
                let member = Member { length: line.length, limit_s, push, wall_mm, label };
                let (cap, straight_on) = (corner.squared.sqrt(), corner.straight_on);
                if self.bend.is_some() {
                    self.held.push(Held::Jerk { member, cap, straight_on });
                } else {
                    runs.push(member, cap, straight_on, sink);
                }
            }
        }
        if self.bend.is_some_and(|bend| !bend.binds(self.run)) || self.held.len() >= MOST_HELD {
            self.end_run(sink);
        }
        Ok(Pushed { length: line.length, nominal_s })
    }

    /// The run after a bend is as long as it is: its moves go on with the speed that allows.
    #[inline]
    fn end_run<S: Settle>(&mut self, sink: &mut S) {
        if let Some(bend) = self.bend.take() {
            self.let_go(bend.squared(self.run), sink);
        }
    }

    fn let_go<S: Settle>(&mut self, squared: f64, sink: &mut S) {
        let mut first = true;
        for held in self.held.drain(..) {
            match (held, &mut self.ahead) {
                (Held::Plain(mut slot), Ahead::Plain(window)) => {
                    slot.cap = if first { squared } else { slot.cap };
                    window.push(slot, sink);
                }
                (Held::Jerk { member, cap, straight_on }, Ahead::Jerk(runs)) => {
                    let cap = if first { squared.sqrt() } else { cap };
                    runs.push(member, cap, straight_on, sink);
                }
                // What is held is of the kind that the planner is.
                _ => {}
            }
            first = false;
        }
    }

    /// The machine comes to rest at the end of the last move: an M word, a dwell, the end of the
    /// program. Settles all that waits.
    pub fn stop<S: Settle>(&mut self, sink: &mut S) {
        self.end_run(sink);
        self.last = None;
        self.again = None;
        match &mut self.ahead {
            Ahead::Plain(window) => window.stop(sink),
            Ahead::Jerk(runs) => runs.stop(sink),
        }
    }
}
