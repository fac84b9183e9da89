//! The machine's axes as the planner has them.

use stave_setup::{AxisLimits, Machine, RotaryWord};
use stave_plan::AxisLimit;

/// X, Y, Z and the rotary.
pub(super) const AXES: usize = 4;

/// A limit that never binds, for an axis the machine file says nothing of.
const NO_LIMIT: AxisLimit =
    AxisLimit { speed_per_s: 1e12, acceleration_per_s2: 1e12, jerk_per_s3: None };

fn limit(limits: &AxisLimits) -> AxisLimit {
    AxisLimit {
        speed_per_s: limits.speed,
        acceleration_per_s2: limits.acceleration,
        jerk_per_s3: limits.jerk,
    }
}

/// The limits of X, Y, Z and the rotary. `turns`: the program is one for the rotary, so that Y,
/// where that is its word, has its limits.
pub(super) fn limits(machine: &Machine, turns: bool) -> [AxisLimit; AXES] {
    let rotary = limit(&machine.rotary.limits);
    let y = if turns && machine.rotary.word == RotaryWord::Y { rotary } else { limit(&machine.y) };
    [limit(&machine.x), y, machine.z.as_ref().map_or(NO_LIMIT, |z| limit(&z.limits)), rotary]
}

/// The letters of the axes' words.
pub(super) fn letter(machine: &Machine, axis: usize) -> char {
    match (axis, machine.rotary.word) {
        (0, _) => 'X',
        (1, _) => 'Y',
        (2, _) => 'Z',
        (_, RotaryWord::Y) => 'Y',
        (_, RotaryWord::A) => 'A',
        (_, RotaryWord::B) => 'B',
        (_, RotaryWord::C) => 'C',
    }
}
