//! The planner itself: moves in, settled moves out.

use super::again::Again;
use super::corner::{self, Bend, Corner, Turn};
use super::limits::{AxisLimit, LIMIT_RANGE, PlanError, Reciprocals};
use super::line::least_s3;
use super::measured::Measured;
use super::ramp::Push;
use super::run::Member;
use super::runs::Runs;
use super::settled::{MoveKind, Settle};
use super::trapezoid::{Label, Slot};
use super::window::Window;

/// How many moves may wait by default.
pub const WINDOW: usize = 1 << 16;

/// So many collinear moves are waited for after a bend; what comes then is taken for the next run.
const MOST_HELD: usize = 4096;

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
        match self.push_again(one, sink) {
            Some(pushed) => Ok(pushed),
            None => self.push_any(one, sink),
        }
    }

    /// As [`push`](Self::push), where the move goes on as the last one went; `None` where it does
    /// not, and nothing is done.
    #[inline]
    fn push_again<S: Settle>(&mut self, one: &Move<N>, sink: &mut S) -> Option<Pushed> {
        let (None, Some(again), Ahead::Plain(window)) = (&self.bend, &self.again, &mut self.ahead)
        else {
            return None;
        };
        let length = again.length(one)?;
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
        Some(Pushed { length, nominal_s: length * again.nominal_s })
    }

    #[inline(never)]
    fn push_any<S: Settle>(&mut self, one: &Move<N>, sink: &mut S) -> Result<Pushed, PlanError> {
        let Some(measured) = Measured::of(one, &self.limits)? else { return Ok(Pushed::default()) };
        let meets = self.meets(&measured);
        self.take(one, &measured, meets, sink);
        Ok(measured.pushed())
    }

    /// Two planners that have been given the same moves, and differ in their rule for curves alone,
    /// take one more: what hangs on the move and the one before it is found out once.
    ///
    /// # Errors
    /// As [`push`](Self::push).
    #[inline(never)]
    pub(crate) fn push_both(
        &mut self,
        other: &mut Self,
        one: &Move<N>,
        sink: &mut impl Settle,
        other_sink: &mut impl Settle,
    ) -> Result<Pushed, PlanError> {
        if let Some(pushed) = self.push_again(one, sink) {
            // What one takes the other does.
            let _ = other.push(one, other_sink);
            return Ok(pushed);
        }
        let Some(measured) = Measured::of(one, &self.limits)? else { return Ok(Pushed::default()) };
        let meets = self.meets(&measured);
        // One may have gone on as before where the other did not, and know the last move's speed to
        // another rounding.
        let alike = self.last == other.last;
        self.take(one, &measured, meets, sink);
        if other.push_again(one, other_sink).is_none() {
            let meets = if alike { meets } else { other.meets(&measured) };
            other.take(one, &measured, meets, other_sink);
        }
        Ok(measured.pushed())
    }

    /// How a move meets the last one: what the corner allows, and how the path turns there if it
    /// has not stopped.
    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    fn meets(&self, measured: &Measured<N>) -> (Corner, Option<Turn>) {
        let top = measured.top;
        match &self.last {
            Some((before, last_top, corners)) if *corners != Corners::Stop => {
                let bound = if *last_top < top { *last_top } else { top };
                let tolerance = if *corners == Corners::Tolerance { self.tolerance } else { 0.0 };
                let turn = Turn::between(before, &measured.line.unit, &self.limits.acceleration);
                (corner::bounded(turn, tolerance, bound), Some(turn))
            }
            _ => (Corner { squared: 0.0, straight_on: false }, None),
        }
    }

    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    fn take<S: Settle>(
        &mut self,
        one: &Move<N>,
        measured: &Measured<N>,
        (corner, turn): (Corner, Option<Turn>),
        sink: &mut S,
    ) {
        let Measured { line, nominal_s, limit_s, top, speed_axis } = measured;
        let (nominal_s, limit_s, top) = (*nominal_s, *limit_s, *top);
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
            speed_axis: *speed_axis,
            acceleration_axis: line.acceleration_axis,
        };
        let wall_mm = one.wall_mm.unwrap_or(line.length);
        match &mut self.ahead {
            Ahead::Plain(window) => {
                let gain = 2.0 * line.length * line.length / line.least_s2;
                self.again =
                    Again::of(one, line, self.corners, (limit_s, nominal_s, gain, top), label);
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::settled::Settled;

    /// Moves as programs have them: curves in chords, straight lines in parts, turns back, stops.
    fn moves() -> impl Strategy<Value = Vec<Option<([f64; 2], f64)>>> {
        let chord = (0.01..2.0_f64, -0.4..0.4_f64, 1.0..80.0_f64);
        let part = (prop_oneof![Just(0.1), Just(0.25)], Just(0.0), Just(20.0));
        let back = (0.1..5.0_f64, 1.0..6.0_f64, 1.0..80.0_f64);
        let one = prop_oneof![6 => chord, 6 => part, 1 => back];
        prop::collection::vec(prop::option::weighted(0.97, one), 1..300).prop_map(|all| {
            let mut heading = 0.0_f64;
            all.into_iter()
                .map(|one| {
                    one.map(|(length, turn, speed)| {
                        heading += turn;
                        // Along one axis where it never turned.
                        ([length * heading.cos(), length * heading.sin()], length / speed)
                    })
                })
                .collect()
        })
    }

    proptest! {
        // What is found out once for two planners is what each finds out alone, to the last bit.
        #[test]
        fn both_at_once_as_one_by_one(all in moves(), jerk: bool) {
            let axis = AxisLimit {
                speed_per_s: 60.0,
                acceleration_per_s2: 500.0,
                jerk_per_s3: jerk.then_some(20_000.0),
            };
            let made = |curves: bool| {
                let mut planner = Planner::new([axis; 2], 0.02).unwrap();
                planner.set_curves(curves);
                planner
            };
            let mut kept: [Vec<Settled>; 4] = Default::default();
            let [alone, other_alone, both, other_both] = &mut kept;
            let made_both = || (made(true), made(false));
            let (mut one_by_one, mut at_once) = (made_both(), made_both());
            let (alone, other_alone, both, other_both) = (
                &mut |settled: &Settled| alone.push(*settled),
                &mut |settled: &Settled| other_alone.push(*settled),
                &mut |settled: &Settled| both.push(*settled),
                &mut |settled: &Settled| other_both.push(*settled),
            );
            for step in all {
                let Some((delta, seconds)) = step else {
                    one_by_one.0.stop(alone);
                    one_by_one.1.stop(other_alone);
                    at_once.0.stop(both);
                    at_once.1.stop(other_both);
                    continue;
                };
                let one = Move {
                    delta,
                    asked: Asked::Duration(seconds),
                    kind: MoveKind::Burn,
                    wall_mm: None,
                    tag: 0,
                };
                let pushed = one_by_one.0.push(&one, alone).unwrap();
                let _ = one_by_one.1.push(&one, other_alone).unwrap();
                let again = at_once.0.push_both(&mut at_once.1, &one, both, other_both).unwrap();
                prop_assert_eq!(pushed, again);
            }
            one_by_one.0.stop(alone);
            one_by_one.1.stop(other_alone);
            at_once.0.stop(both);
            at_once.1.stop(other_both);
            prop_assert_eq!(&kept[0], &kept[2]);
            prop_assert_eq!(&kept[1], &kept[3]);
        }
    }
}
