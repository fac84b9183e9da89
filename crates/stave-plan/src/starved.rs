//! Moves that wait for their lines: what the line to the controller takes.

use stave_rig::AXES;
use stave_setup::Machine;
use stave_toolpath::{LinePart, Step, StepKind};

use crate::limits::AxisLimit;

/// A line that is needed sooner by this much is waited for; less is rounding.
const WAITS: f64 = 1.0 + 1e-6;

/// A move that needs more lines or bytes a second than the controller takes: it waits for them.
#[derive(Clone, Copy, Debug)]
pub struct Starved {
    /// The move that needs most.
    pub step: Step,
    /// Whether it is bytes that are short, or lines.
    pub bytes: bool,
    /// What it needs, per second.
    pub needed_per_s: f64,
    /// What there is, per second.
    pub limit_per_s: f64,
    /// How many moves need more than there is.
    pub moves: u64,
}

/// What the line to the controller takes.
#[derive(Debug)]
pub(crate) struct Lines {
    per_second: Option<f64>,
    bytes_per_second: Option<f64>,
    /// Seconds an axis needs for a unit at its greatest speed.
    per_unit_s: [f64; AXES],
    /// What the next step takes.
    pub(crate) part: LinePart,
    pub(crate) starved: Option<Starved>,
}

impl Lines {
    pub(crate) fn of(machine: &Machine, limits: &[AxisLimit; AXES]) -> Self {
        Self {
            per_second: machine.controller.lines_per_second,
            bytes_per_second: machine.controller.bytes_per_second,
            per_unit_s: limits.map(|limit| 1.0 / limit.speed_per_s),
            part: LinePart::default(),
            starved: None,
        }
    }

    /// The least time a move takes because of its line, seconds.
    #[inline]
    pub(crate) fn least_s(&mut self, step: &Step) -> f64 {
        if self.per_second.is_none() && self.bytes_per_second.is_none() {
            return 0.0;
        }
        self.looked_at(step)
    }

    fn looked_at(&mut self, step: &Step) -> f64 {
        let rates = [
            (false, self.part.lines, self.per_second),
            (true, self.part.bytes, self.bytes_per_second),
        ];
        let mut least_s = 0.0_f64;
        for (bytes, takes, limit_per_s) in rates {
            let Some(limit_per_s) = limit_per_s.filter(|_| takes > 0.0) else { continue };
            least_s = least_s.max(takes / limit_per_s);
            if step.kind != StepKind::Travel {
                self.look_at(step, (bytes, takes, limit_per_s));
            }
        }
        least_s
    }

    /// Whether a move at a feed waits for its line.
    fn look_at(&mut self, step: &Step, (bytes, takes, limit_per_s): (bool, f64, f64)) {
        let delta = step.delta();
        let axes_s = delta.iter().zip(&self.per_unit_s).map(|(way, per)| way.abs() * per);
        let takes_s = axes_s.fold(step.time_s, f64::max);
        let moves = delta.iter().any(|way| *way != 0.0) && takes_s > 0.0;
        let needed_per_s = takes / takes_s;
        if !moves || needed_per_s <= limit_per_s * WAITS {
            return;
        }
        let one = Starved { step: *step, bytes, needed_per_s, limit_per_s, moves: 1 };
        self.starved = Some(match self.starved {
            Some(worst) => {
                let moves = worst.moves + 1;
                let is_worse = needed_per_s * worst.limit_per_s > worst.needed_per_s * limit_per_s;
                Starved { moves, ..if is_worse { one } else { worst } }
            }
            None => one,
        });
    }
}
