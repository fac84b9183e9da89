//! The look-ahead window with jerk limits.
//!
//! # Runs
//!
//! A ramp with a jerk limit is longer than the sum of its parts if each part must begin and end
//! with no acceleration, so the planner ramps over *runs* of moves.
//!
//! First, collinear moves with the same limit are one *straight*, so that a split line is exactly
//! as if it had not been split. A straight then joins the run before it if the corner between them
//! holds neither of them back, if its speed limit is within [`SPEED_STEP`](super::SPEED_STEP) of
//! its neighbour's, and if the accelerations and jerks of the run stay within
//! [`PUSH_RANGE`](super::PUSH_RANGE) of each other; the run takes the least of them. Between runs
//! the acceleration is zero.
//!
//! # The run's measure
//!
//! Limits are almost but not quite alike along a run, so its length is counted in seconds at the
//! limit, `σ = Σ T_i`, and its speed as a share of the limit, at most 1. A move of length `L` with
//! limit `L/T`, acceleration `L/A` and jerk `L/J` (see `line`) has in this measure the acceleration
//! `T/A` and the jerk `T/J`.
//!
//! # Cutting endless runs
//!
//! With `S` the time of a ramp from a stop to the limit, a point that is `S` or more from both ends
//! of a run is passed at the limit, with no acceleration. Cutting the run there changes nothing,
//! and lets the first part be settled. A straight of `2S` or more is always a run by itself, and is
//! cut at any move's end; a run of shorter straights is cut only between straights, so that neither
//! depends on how straights are split.
//!
//! # Passes
//!
//! As in `window`, with `Push::reachable` for the sum of gains. It is not monotone in the speed it
//! starts from, so what is settled is decided by the bound `Push::reachable_at_least`, and what is
//! planned by the thing itself.

use std::collections::VecDeque;

use super::profile::{Passing, Profile};
use super::run::{Member, Run};
use super::settled::{Settle, Settled};

const BATCH: usize = 16;

/// Collinear moves whose speed limits differ by less than this share are one straight: F words have
/// six digits.
const SAME: f64 = 2e-6;

#[derive(Clone, Debug)]
pub(super) struct Runs {
    members: VecDeque<Member>,
    closed: VecDeque<Run>,
    /// The run that may still grow, and the straights it is made of.
    current: Option<Run>,
    straights: VecDeque<Run>,
    /// The straight that may still grow, whether it is a run by itself, and where it, or else the
    /// current run, may be cut: so many of its members (straights), so long.
    straight: Option<Run>,
    long: bool,
    mark: Option<(usize, f64)>,
    run_mark: Option<(usize, f64)>,
    /// Speed that can be had at the end of the closed runs.
    reach: f64,
    try_at: usize,
    most: usize,
    pub(super) full: u64,
}

impl Runs {
    pub(super) fn new(most: usize) -> Self {
        Self {
            members: VecDeque::new(),
            closed: VecDeque::new(),
            current: None,
            straights: VecDeque::new(),
            straight: None,
            long: false,
            mark: None,
            run_mark: None,
            reach: 0.0,
            try_at: BATCH,
            most,
            full: 0,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.members.len()
    }

    /// `cap`: the speed limit at the start of this move; `on`: whether it goes straight on.
    pub(super) fn push<S: Settle>(&mut self, member: Member, cap: f64, on: bool, sink: &mut S) {
        if self.members.len() >= self.most {
            self.give_way(sink);
        } else if self.closed.len() >= self.try_at {
            self.try_to_settle(sink);
        }
        self.members.push_back(member);
        match &mut self.straight {
            Some(straight)
                if on && (member.limit() - straight.last).abs() <= SAME * straight.last =>
            {
                straight.add(&member);
            }
            _ => {
                self.end_straight();
                self.straight = Some(Run::of(&member, cap));
            }
        }
        self.cut_straight();
    }

    /// Cuts the straight where it certainly goes at its limit.
    fn cut_straight(&mut self) {
        let Some(straight) = self.straight else { return };
        let ramp = straight.ramp();
        if !self.long {
            if straight.sigma < 2.0 * ramp {
                return;
            }
            self.end_run();
            self.long = true;
        }
        match self.mark {
            None if straight.sigma >= ramp => self.mark = Some((straight.count, straight.sigma)),
            Some((count, sigma)) if straight.sigma - sigma >= ramp => {
                self.close(Run { count, sigma, ..straight });
                let rest = Run {
                    count: straight.count - count,
                    sigma: straight.sigma - sigma,
                    cap: straight.first,
                    ..straight
                };
                self.straight = Some(rest);
                self.mark = None;
            }
            _ => {}
        }
    }

    fn end_straight(&mut self) {
        self.mark = None;
        let Some(straight) = self.straight.take() else { return };
        if std::mem::take(&mut self.long) {
            self.close(straight);
            return;
        }
        self.current = match self.current {
            Some(run) if run.takes(&straight) => Some(run.and(&straight)),
            _ => {
                self.end_run();
                Some(straight)
            }
        };
        self.straights.push_back(straight);
        self.cut_run();
    }

    /// Cuts the current run, between straights, where it certainly goes at its limit.
    fn cut_run(&mut self) {
        let Some(run) = self.current else { return };
        let ramp = run.ramp();
        match self.run_mark {
            Some((count, sigma)) if sigma >= ramp => {
                if run.sigma - sigma >= ramp {
                    let join = |all: &VecDeque<Run>| {
                        all.iter().copied().reduce(|run, next| run.and(&next))
                    };
                    let rest = self.straights.split_off(count);
                    if let Some(head) = join(&self.straights) {
                        self.close(head);
                    }
                    self.current = join(&rest);
                    self.straights = rest;
                    self.run_mark = None;
                }
            }
            // None yet, or the ramp has grown since.
            _ => self.run_mark = (run.sigma >= ramp).then_some((self.straights.len(), run.sigma)),
        }
    }

    fn end_run(&mut self) {
        self.run_mark = None;
        self.straights.clear();
        if let Some(run) = self.current.take() {
            self.close(run);
        }
    }

    fn close(&mut self, mut run: Run) {
        run.reach = run.cap.min(self.reach);
        self.reach = run.exit_from(run.reach);
        self.closed.push_back(run);
    }

    fn end_all(&mut self) {
        self.end_straight();
        self.end_run();
    }

    fn try_to_settle<S: Settle>(&mut self, sink: &mut S) {
        let mut bound = 0.0;
        let mut settled = 0;
        for (index, run) in self.closed.iter().enumerate().rev() {
            let entry = run.entry_for_at_least(bound);
            if run.reach <= entry {
                settled = index;
                break;
            }
            bound = entry;
        }
        if settled > 0 {
            let exit = self.closed[settled].reach;
            self.settle(settled, exit, sink);
        }
        self.try_at = (2 * self.closed.len()).max(BATCH);
    }

    /// The window is full: if nothing can be settled, plan a stop at its end and settle the first
    /// half.
    fn give_way<S: Settle>(&mut self, sink: &mut S) {
        self.try_to_settle(sink);
        if self.members.len() < self.most {
            return;
        }
        self.full += 1;
        self.end_all();
        let mut speeds: Vec<f64> = Vec::with_capacity(self.closed.len());
        let mut speed = 0.0;
        for run in self.closed.iter().rev() {
            speeds.push(speed);
            // The bound, for what comes later may still raise the speeds of the second half.
            speed = run.reach.min(run.entry_for_at_least(speed));
        }
        let mut kept = self.members.len() / 2;
        let mut count = 0;
        for run in &self.closed {
            count += 1;
            if kept <= run.count {
                break;
            }
            kept -= run.count;
        }
        let exit = speeds[speeds.len() - count];
        self.settle(count, exit, sink);
        self.reach = exit;
        for run in &mut self.closed {
            run.reach = run.cap.min(self.reach);
            self.reach = run.exit_from(run.reach);
        }
        self.try_at = (2 * self.closed.len()).max(BATCH);
    }

    fn settle<S: Settle>(&mut self, count: usize, exit: f64, sink: &mut S) {
        let mut speed = exit;
        for index in (0..count).rev() {
            let run = &mut self.closed[index];
            run.reach = run.reach.min(run.entry_for(speed));
            speed = run.reach;
        }
        for index in 0..count {
            let Some(run) = self.closed.pop_front() else { return };
            let end = if index + 1 < count { self.closed[0].reach } else { exit };
            let profile = Profile::new(
                run.push,
                run.sigma,
                run.reach / run.first,
                (end / run.last).min(1.0),
                1.0,
            );
            tell(profile, self.members.drain(..run.count), sink);
        }
    }

    pub(super) fn stop<S: Settle>(&mut self, sink: &mut S) {
        self.end_all();
        let count = self.closed.len();
        self.settle(count, 0.0, sink);
        self.reach = 0.0;
        self.try_at = BATCH;
    }
}

/// Reports the members of a run.
fn tell<S: Settle>(
    mut profile: Profile,
    members: impl ExactSizeIterator<Item = Member>,
    sink: &mut S,
) {
    let (peak_from, peak_to) = profile.peak_times();
    let mut before = profile.pass(0.0);
    let mut sigma = 0.0;
    let last = members.len();
    for (index, member) in members.enumerate() {
        sigma += member.limit_s;
        let after: Passing = if index + 1 == last { profile.end() } else { profile.pass(sigma) };
        let duration_s = (after.time - before.time).max(0.0);
        let along = (after.along - before.along).clamp(0.0, duration_s);
        let peak = if after.time >= peak_from && before.time <= peak_to {
            profile.peak
        } else {
            before.speed.max(after.speed)
        };
        // Below the limit for want of length is not at the limit.
        let at_limit = if profile.peak >= 1.0 { along } else { 0.0 };
        let limit = member.limit();
        let square = |share: f64| (share * limit) * (share * limit);
        sink.settled(&Settled {
            tag: member.label.tag,
            kind: member.label.kind,
            speed_axis: member.label.speed_axis,
            acceleration_axis: member.label.acceleration_axis,
            length: member.length,
            wall_mm: member.wall_mm,
            duration_s,
            ramp_s: duration_s - at_limit,
            entry_squared: square(before.speed),
            exit_squared: square(after.speed),
            peak_squared: square(peak),
        });
        before = after;
    }
}
