//! Whether a turn of a path holds a machine back: what the planner asks at every end of a move, for
//! whoever is to part moves without making them slower.

use stave_rig::{AXES, axis_limits};
use stave_setup::{Curves, Machine};

use crate::corner::{self, Bend, Turn};
use crate::limits::{PlanError, Reciprocals};
use crate::timer::limits_of;

/// What a machine does at the turns of its path.
///
/// ```
/// # use stave_plan::Turns;
/// # let machine = stave_setup::read_machine(
/// #     "[x]\nspeed = 500\nacceleration = 1000\n[y]\nspeed = 500\nacceleration = 1000\n\
/// #      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
/// #      "bench.toml")?;
/// let turns = Turns::of(&machine, true)?;
/// let (along, aslant) = ([10.0, 0.0, 0.0, 0.0], [10.0, 0.0, 0.0, 0.1]);
/// assert!(turns.goes_straight_on(&along, &along) && !turns.goes_straight_on(&along, &aslant));
/// // A hundredth of a rad is nothing to long moves; to short ones it is a curve.
/// assert!(turns.lets_pass(&along, &aslant, (10.0, 10.0), 50.0));
/// assert!(!turns.lets_pass(&along, &aslant, (0.01, 0.01), 50.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Turns {
    limits: Reciprocals<AXES>,
    tolerance: f64,
    curves: bool,
}

impl Turns {
    /// Of a machine; `turns` says that the run is one for the rotary.
    ///
    /// # Errors
    /// Limits that cannot be planned with.
    pub fn of(machine: &Machine, turns: bool) -> Result<Self, PlanError> {
        let limits = axis_limits(machine, turns).map(|limits| limits_of(&limits));
        let controller = &machine.controller;
        Ok(Self {
            limits: Reciprocals::new(&limits)?,
            tolerance: controller.corner_tolerance,
            curves: controller.curves == Curves::Arcs,
        })
    }

    /// Whether a move goes on as the one before it went, and both are one to the planner.
    #[must_use]
    pub fn goes_straight_on(&self, before: &[f64; AXES], after: &[f64; AXES]) -> bool {
        let Some(turn) = self.turn(before, after) else { return false };
        corner::bounded(turn, 0.0, 1.0).straight_on
    }

    /// Whether the end of a move is passed at a speed, axis units per second, where the path turns
    /// there, and the runs of straight moves that meet have these lengths.
    #[must_use]
    pub fn lets_pass(
        &self,
        before: &[f64; AXES],
        after: &[f64; AXES],
        runs: (f64, f64),
        speed_per_s: f64,
    ) -> bool {
        let bound = speed_per_s * speed_per_s;
        let Some(turn) = self.turn(before, after) else { return bound == 0.0 };
        let corner = corner::bounded(turn, self.tolerance, bound);
        if corner.straight_on || bound == 0.0 {
            return true;
        }
        let bend = Bend::of(turn, runs.0, bound).filter(|_| self.curves);
        corner.squared >= bound && !bend.is_some_and(|bend| bend.binds(runs.1))
    }

    /// `None` where one of the two moves nothing.
    fn turn(&self, before: &[f64; AXES], after: &[f64; AXES]) -> Option<Turn> {
        let unit = |way: &[f64; AXES]| {
            let length = way.iter().map(|part| part * part).sum::<f64>().sqrt();
            (length > 0.0).then(|| way.map(|part| part / length))
        };
        Some(Turn::between(&unit(before)?, &unit(after)?, &self.limits.acceleration))
    }
}
