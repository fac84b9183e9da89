//! The time of one move between two speeds: trapezoid or triangle.
//!
//! With `u` for squared speeds, `L` the length, `a` the acceleration, `g = 2aL` the most that `u`
//! can change over the move, and `V` the limit, whose time over the whole move is `T = L/V`:
//!
//! - the peak without a limit is where the two ramps meet: `P = (u0 + u1 + g)/2`;
//! - `P ≥ V²`: a ramp from `v0` to `V` takes `(V−v0)/a` over `(V²−v0²)/(2a)`, which at `V` would
//!   have taken less by `(V−v0)²/(2aV)`. So the time is `T + ((V−v0)² + (V−v1)²)/(2aV) = T (1 +
//!   ((V−v0)² + (V−v1)²)/g)`;
//! - `P < V²`: each ramp takes twice its length over the sum of its end speeds, its length being `L
//!   (P−u)/g`.

/// What the passes need of a move, and what its report needs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slot {
    /// `2 a L`: the most the squared speed can change.
    pub(super) gain: f64,
    /// Squared speed limit.
    pub(super) top: f64,
    /// Squared speed limit at the start: corner, and the limits of both moves.
    pub(super) cap: f64,
    /// Squared speed at the start: what can be reached from behind, then what is settled.
    pub(super) reach: f64,
    pub(super) length: f64,
    /// Time at the speed limit, seconds.
    pub(super) limit_s: f64,
    pub(super) wall_mm: f64,
    pub(super) label: Label,
}

/// What is handed through.
#[derive(Clone, Copy, Debug)]
pub(super) struct Label {
    pub(super) tag: u32,
    pub(super) kind: super::settled::MoveKind,
    pub(super) speed_axis: u8,
    pub(super) acceleration_axis: u8,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Pace {
    pub(super) duration_s: f64,
    pub(super) ramp_s: f64,
    pub(super) peak: f64,
}

/// Below this share of its gain a move's end speeds differ too much for a peak between them: one
/// ramp.
const ONE_RAMP: f64 = 1.0 - 1e-8;

#[inline]
pub(super) fn pace(slot: &Slot, entry: f64, exit: f64) -> Pace {
    if entry >= slot.top && exit >= slot.top {
        return Pace { duration_s: slot.limit_s, ramp_s: 0.0, peak: slot.top };
    }
    let gain = slot.gain;
    let peak = 0.5 * (entry + exit + gain);
    let (v0, v1) = (entry.sqrt(), exit.sqrt());
    if peak >= slot.top {
        let limit = slot.top.sqrt();
        let (up, down) = (limit - v0, limit - v1);
        let share = 1.0 / gain;
        let duration_s = slot.limit_s * (1.0 + (up * up + down * down) * share);
        let ramp_s = (up + down) * 2.0 * slot.length * share;
        return Pace {
            duration_s,
            ramp_s: if ramp_s < duration_s { ramp_s } else { duration_s },
            peak: slot.top,
        };
    }
    if (exit - entry).abs() >= gain * ONE_RAMP {
        let duration_s = 2.0 * slot.length / (v0 + v1);
        return Pace { duration_s, ramp_s: duration_s, peak: entry.max(exit) };
    }
    let vp = peak.sqrt();
    let duration_s = 2.0 * slot.length / gain
        * ((peak - entry).max(0.0) / (v0 + vp) + (peak - exit).max(0.0) / (vp + v1));
    Pace { duration_s, ramp_s: duration_s, peak }
}
