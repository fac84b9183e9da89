//! What a move comes to by itself, whatever comes before or after it.

use super::limits::{PlanError, Reciprocals};
use super::line::{self, Line};
use super::planner::{Asked, Move, Pushed};
use super::settled::ASKED;

/// Squares of what is kept must not leave `f64`.
const MOST: f64 = 1e100;

/// A move measured, and how fast it may go.
#[derive(Clone, Copy, Debug)]
pub(super) struct Measured<const N: usize> {
    pub(super) line: Line<N>,
    pub(super) nominal_s: f64,
    /// Time at the speed limit.
    pub(super) limit_s: f64,
    /// The square of that speed.
    pub(super) top: f64,
    /// The axis that sets it.
    pub(super) speed_axis: u8,
}

impl<const N: usize> Measured<N> {
    /// `None` for a move that moves nothing.
    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    pub(super) fn of(one: &Move<N>, limits: &Reciprocals<N>) -> Result<Option<Self>, PlanError> {
        let Some(line) = Line::measure(&one.delta, limits) else { return Ok(None) };
        let nominal_s = match one.asked {
            Asked::Limits => 0.0,
            Asked::Duration(seconds) => seconds,
            Asked::Speed(speed) => line.length / speed,
        };
        let (limit_s, speed_axis) = if nominal_s > line.least_s {
            (nominal_s, ASKED)
        } else {
            (line.least_s, line::speed_axis(&one.delta, limits, line.least_s))
        };
        if !(line.length < MOST && limit_s < MOST && nominal_s >= 0.0) {
            return Err(PlanError::Move { length: line.length, seconds: nominal_s });
        }
        let limit = match one.asked {
            Asked::Speed(speed) if speed_axis == ASKED => speed,
            _ => line.length / limit_s,
        };
        Ok(Some(Self { line, nominal_s, limit_s, top: limit * limit, speed_axis }))
    }

    pub(super) fn pushed(&self) -> Pushed {
        Pushed { length: self.line.length, nominal_s: self.nominal_s }
    }
}
