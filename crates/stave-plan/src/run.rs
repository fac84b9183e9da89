//! A run of moves that is ramped over as one; see `runs`.

use super::ramp::Push;
use super::trapezoid::Label;

/// How much the speed limits of neighbours in a run may differ.
pub const SPEED_STEP: f64 = 0.01;
/// How far apart the accelerations, and the jerks, of a run may lie.
pub const PUSH_RANGE: f64 = 2.0;

/// A cap is the root of a square.
const ROUNDING: f64 = 1.0 - 1e-12;

/// A move waiting in a run.
#[derive(Clone, Copy, Debug)]
pub(super) struct Member {
    pub(super) length: f64,
    pub(super) limit_s: f64,
    /// Acceleration and jerk in the run's measure.
    pub(super) push: Push,
    pub(super) wall_mm: f64,
    pub(super) label: Label,
}

impl Member {
    pub(super) fn limit(&self) -> f64 {
        self.length / self.limit_s
    }
}

/// Moves that are ramped over together; also a straight.
#[derive(Clone, Copy, Debug)]
pub(super) struct Run {
    pub(super) count: usize,
    pub(super) sigma: f64,
    /// The least of its members', and the greatest.
    pub(super) push: Push,
    pub(super) most: Push,
    /// Speed limits of its first and last member, axis units per second.
    pub(super) first: f64,
    pub(super) last: f64,
    /// Speed limit at its start, and what can be reached there; axis units per second.
    pub(super) cap: f64,
    pub(super) reach: f64,
}

impl Run {
    pub(super) fn of(member: &Member, cap: f64) -> Self {
        Self {
            count: 1,
            sigma: member.limit_s,
            push: member.push,
            most: member.push,
            first: member.limit(),
            last: member.limit(),
            cap,
            reach: 0.0,
        }
    }

    pub(super) fn add(&mut self, member: &Member) {
        self.count += 1;
        self.sigma += member.limit_s;
        self.push = least(self.push, member.push);
        self.most = greatest(self.most, member.push);
        self.last = member.limit();
    }

    /// The run that is this one and then `other`.
    pub(super) fn and(mut self, other: &Self) -> Self {
        self.count += other.count;
        self.sigma += other.sigma;
        self.push = least(self.push, other.push);
        self.most = greatest(self.most, other.most);
        self.last = other.last;
        self
    }

    pub(super) fn takes(&self, straight: &Self) -> bool {
        let (low, high) = (least(self.push, straight.push), greatest(self.most, straight.most));
        straight.cap >= self.last.min(straight.first) * ROUNDING
            && (straight.first - self.last).abs() <= SPEED_STEP * self.last.max(straight.first)
            && high.a <= PUSH_RANGE * low.a
            && high.j <= PUSH_RANGE * low.j
    }

    /// The time of the ramp from a stop to the limit; no ramp is longer than what is gone in that
    /// time at the limit.
    pub(super) fn ramp(&self) -> f64 {
        self.push.time(1.0)
    }

    pub(super) fn exit_from(&self, entry: f64) -> f64 {
        self.push.reachable((entry / self.first).min(1.0), self.sigma).min(1.0) * self.last
    }

    pub(super) fn entry_for(&self, exit: f64) -> f64 {
        self.push.reachable((exit / self.last).min(1.0), self.sigma).min(1.0) * self.first
    }

    pub(super) fn entry_for_at_least(&self, exit: f64) -> f64 {
        self.push.reachable_at_least((exit / self.last).min(1.0), self.sigma).min(1.0) * self.first
    }
}

fn least(one: Push, other: Push) -> Push {
    Push { a: one.a.min(other.a), j: one.j.min(other.j) }
}

fn greatest(one: Push, other: Push) -> Push {
    Push { a: one.a.max(other.a), j: one.j.max(other.j) }
}
