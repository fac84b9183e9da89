//! Power that follows the speed, for controllers that do not see to it themselves: under M3 the
//! beam burns with its S however slow a corner is taken, so S is stepped along the ramps as the
//! plan has them.
//!
//! Each part of a burn has the power asked times its mean speed over the speed asked, and so, over
//! its length, the very energy that was asked, where an axis's limit slows it too. Parts are so short that within one the speed changes
//! little, or that it lies under one spot. The machine's motion stays as it was: a straight move
//! that is parted is planned as one.

use std::collections::VecDeque;

use stave_plan::{PlanError, TimedStep, Timer};
use stave_rig::{AXES, FeedRule, SAME_FEED};
use stave_setup::{PowerRule, Setup};
use stave_toolpath::{BeamWord, LinePart, Place, Stand, Step, StepKind, StepSink};

use super::RunOut;
use crate::error::Refusal;

/// Within a part the speed changes by no more than this share.
const SPEED_STEP: f64 = 0.04;
/// No part is shorter, in axis units: well under any spot, and far above the words' rounding.
const SHORTEST: f64 = 0.03;
/// The same where several axes move: its ends are rounded on each, and must not make a corner.
const SHORTEST_ASLANT: f64 = 0.1;
/// No S is written for less of a change than this share.
const SAME_POWER: f64 = 0.002;

/// What waits until the plan of what came before it is settled.
#[derive(Debug)]
enum Waiting {
    Move(LinePart),
    Comment(Vec<u8>),
    Line(Vec<u8>),
    Forget,
}

/// The plan on which power hangs.
#[derive(Debug)]
struct Plan {
    feed: FeedRule,
    timer: Timer<Settled>,
    waiting: VecDeque<Waiting>,
    least_s: f64,
    count: f64,
    /// The S of the part before, if it burned.
    last_s: f64,
}

/// Moves with their times, until they are taken.
#[derive(Debug, Default)]
struct Settled(VecDeque<TimedStep>);

impl stave_plan::Follow for Settled {
    fn timed(&mut self, timed: &TimedStep) {
        if timed.step.kind.moves() {
            self.0.push_back(*timed);
        }
    }
}

/// Hands steps on, their power by their speed where the machine asks for it.
#[derive(Debug)]
pub(crate) struct Paced<O> {
    pub(crate) out: O,
    plan: Option<Box<Plan>>,
    /// Moves more than there were.
    pub(crate) parted: u64,
}

impl<O: RunOut> Paced<O> {
    pub(crate) fn new(setup: &Setup, out: O) -> Result<Self, PlanError> {
        let machine = &setup.machine;
        let controller = &machine.controller;
        let plan = match controller.power {
            PowerRule::Constant => None,
            PowerRule::FollowsSpeed => Some(Box::new(Plan {
                feed: FeedRule::of(machine),
                timer: Timer::new(machine, true, Settled::default())?,
                waiting: VecDeque::new(),
                least_s: controller.least_power_percent / 100.0 * controller.full_power_s,
                count: controller.count(),
                last_s: f64::NAN,
            })),
        };
        Ok(Self { out, plan, parted: 0 })
    }

    /// Hands on what is settled, and what stands between.
    fn hand_on(&mut self) -> Result<(), Refusal> {
        let Some(plan) = &mut self.plan else { return Ok(()) };
        while let Some(next) = plan.waiting.front() {
            match next {
                Waiting::Comment(text) => self.out.comment(text)?,
                Waiting::Line(text) => self.out.line(text)?,
                Waiting::Forget => self.out.forget(),
                Waiting::Move(part) => {
                    let Some(timed) = plan.timer.follow_mut().0.pop_front() else { break };
                    let part = *part;
                    let cuts = plan.cuts(&timed);
                    self.parted += cuts.len() as u64 - 1;
                    if cuts.len() == 1 {
                        self.out.on_line(part);
                    }
                    let mut from = (0.0, timed.step.from);
                    for (share, power_s) in cuts {
                        let to = plan.stand(&timed.step, share);
                        let step = plan.part(&timed.step, from, (share, to), power_s);
                        from = (share, to);
                        self.out.step(&step)?;
                    }
                }
            }
            plan.waiting.pop_front();
        }
        Ok(())
    }
}

/// How long a burn takes at the speed for which its power is meant: the one asked, however much an
/// axis slows it; but an even dose has made the power for how it goes.
fn meant_s(step: &Step) -> f64 {
    // An F that was in effect already may stray a little from the one asked.
    let is_slowed = step.time_s > step.asked_s * (1.0 + SAME_FEED);
    if is_slowed && !step.even_dose { step.asked_s } else { step.time_s }
}

impl Plan {
    /// Where a move is parted, as shares of its way, the end included, and the power up to there.
    fn cuts(&mut self, timed: &TimedStep) -> Vec<(f64, Option<f64>)> {
        let step = &timed.step;
        let asked_s = step.power_s.filter(|s| *s > 0.0);
        let burns = step.kind == StepKind::Burn && step.beam == Some(BeamWord::M3);
        let Some(asked_s) = asked_s.filter(|_| burns && timed.duration_s > 0.0) else {
            if step.kind == StepKind::Burn {
                self.last_s = f64::NAN;
            }
            return vec![(1.0, step.power_s)];
        };
        let delta = step.delta();
        let length = delta.iter().map(|way| way * way).sum::<f64>().sqrt();
        let axes = delta.iter().filter(|way| **way != 0.0).count();
        let shortest = if axes > 1 { SHORTEST_ASLANT } else { SHORTEST };
        let [entry, peak, exit] = timed.speeds_per_s;
        let gained = 2.0 * peak - entry - exit;
        let (up_s, down_s) = if gained > 0.0 {
            (timed.ramp_s * (peak - entry) / gained, timed.ramp_s * (peak - exit) / gained)
        } else {
            (0.0, 0.0)
        };
        // Times at which parts end.
        let mut ends: Vec<f64> = Vec::new();
        let mut ramp = |from_s: f64, takes_s: f64, (slow, fast): (f64, f64), rises: bool| {
            // From the slow end on: each part as long as its speed allows, and no shorter.
            let (mut speed, mut at) = (slow, 0.0);
            let gain = (fast - slow) / takes_s;
            while takes_s > 0.0 && at < takes_s {
                let by_speed = speed * SPEED_STEP / gain;
                // v t + a t²/2 = shortest
                let by_length = (speed * speed + 2.0 * gain * shortest).sqrt();
                let takes = by_speed.max((by_length - speed) / gain);
                at += takes;
                speed += gain * takes;
                if at < takes_s {
                    ends.push(if rises { from_s + at } else { from_s + takes_s - at });
                }
            }
            ends.push(from_s + takes_s);
        };
        ramp(0.0, up_s, (entry, peak), true);
        ramp(timed.duration_s - down_s, down_s, (exit, peak), false);
        if down_s > 0.0 {
            ends.push(timed.duration_s - down_s);
        }
        ends.push(timed.duration_s);
        ends.sort_by(f64::total_cmp);
        let speed_asked = length / meant_s(step);
        let mut cuts: Vec<(f64, Option<f64>)> = Vec::with_capacity(ends.len());
        let (mut share, mut before_s, mut last_s) = (0.0, 0.0, self.last_s);
        let count = ends.len();
        for (k, end_s) in ends.into_iter().enumerate() {
            let ends_here = k + 1 == count;
            let to = if ends_here { 1.0 } else { timed.share_done(end_s) };
            if !ends_here && ((to - share) * length < shortest || (1.0 - to) * length < shortest) {
                continue;
            }
            let speed = (to - share) * length / (end_s - before_s);
            let s = (asked_s * speed / speed_asked).clamp(self.least_s.min(asked_s), asked_s);
            let s = if (s - last_s).abs() <= SAME_POWER * last_s { last_s } else { s };
            match cuts.last_mut() {
                Some(cut) if cut.1 == Some(s) => cut.0 = to,
                _ => cuts.push((to, Some(s))),
            }
            (share, before_s, last_s) = (to, end_s, s);
        }
        self.last_s = last_s;
        cuts
    }

    /// Where the machine stands after a share of a move, its words rounded.
    fn stand(&self, step: &Step, share: f64) -> Stand {
        if share >= 1.0 {
            return step.to;
        }
        let between = |a: f64, b: f64| a + (b - a) * share;
        let mut words = step.from.words;
        for (word, to) in words.iter_mut().zip(step.to.words) {
            *word = (between(*word, to) / self.count).round() * self.count;
        }
        let place = step.from.place.zip(step.to.place).map(|(a, b)| Place {
            s_mm: between(a.s_mm, b.s_mm),
            turn_rad: between(a.turn_rad, b.turn_rad),
            at_mm: between(a.at_mm, b.at_mm),
            radius_mm: between(a.radius_mm, b.radius_mm),
        });
        Stand { words, place }
    }

    /// A part of a move, at the same F.
    fn part(
        &self,
        step: &Step,
        from: (f64, Stand),
        to: (f64, Stand),
        power_s: Option<f64>,
    ) -> Step {
        let share = to.0 - from.0;
        if share >= 1.0 {
            return Step { power_s, ..*step };
        }
        let way = |a: &Stand, b: &Stand| {
            let mut counts = [0_i64; AXES];
            for (count, (a, b)) in counts.iter_mut().zip(a.words.iter().zip(&b.words)) {
                #[expect(clippy::cast_possible_truncation, reason = "words are counts")]
                let whole = ((b - a) / self.count).round() as i64;
                *count = whole;
            }
            let [x, y, z, rotary] = counts;
            // Only one of X and Y goes along the work.
            (x + y, rotary, z)
        };
        let mut time_s = step.time_s * share;
        if self.feed.stands() {
            let whole = way(&step.from, &step.to);
            let f = self.feed.word(whole.0, whole.1, whole.2, step.time_s);
            let own = way(&from.1, &to.1);
            time_s = self.feed.time_s(own.0, own.1, own.2, f);
        }
        Step {
            from: from.1,
            to: to.1,
            power_s,
            time_s,
            asked_s: step.asked_s * share,
            length_mm: step.length_mm * share,
            joined: step.joined || from.0 > 0.0,
            ..*step
        }
    }
}

impl<O: RunOut> StepSink for Paced<O> {
    type Error = Refusal;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Refusal> {
        let Some(plan) = &mut self.plan else { return self.out.step(step) };
        let moves = step.kind.moves();
        if moves {
            if step.delta().iter().all(|way| *way == 0.0) {
                return Ok(());
            }
            plan.waiting.push_back(Waiting::Move(LinePart::default()));
        }
        match plan.timer.step(step) {
            Ok(()) => {}
            Err(never) => match never {},
        }
        self.hand_on()?;
        if moves { Ok(()) } else { self.out.step(step) }
    }

    #[inline]
    fn on_line(&mut self, part: LinePart) {
        if self.plan.is_none() {
            self.out.on_line(part);
        }
    }

    fn on_comment(&mut self, text: &[u8]) {
        self.out.on_comment(text);
    }
}

impl<O: RunOut> RunOut for Paced<O> {
    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
        match &mut self.plan {
            Some(plan) if !plan.waiting.is_empty() => {
                plan.waiting.push_back(Waiting::Comment(text.to_vec()));
                Ok(())
            }
            _ => self.out.comment(text),
        }
    }

    fn line(&mut self, text: &[u8]) -> Result<(), Refusal> {
        match &mut self.plan {
            Some(plan) if !plan.waiting.is_empty() => {
                plan.waiting.push_back(Waiting::Line(text.to_vec()));
                Ok(())
            }
            _ => self.out.line(text),
        }
    }

    fn forget(&mut self) {
        match &mut self.plan {
            Some(plan) if !plan.waiting.is_empty() => plan.waiting.push_back(Waiting::Forget),
            _ => self.out.forget(),
        }
    }

    fn flush(&mut self) -> Result<(), Refusal> {
        self.out.flush()
    }

    fn steps(&mut self, steps: Vec<Step>) -> Result<Option<Vec<Step>>, Refusal> {
        if self.plan.is_none() {
            return self.out.steps(steps);
        }
        for step in &steps {
            self.step(step)?;
        }
        Ok(Some(steps))
    }

    fn settle(&mut self) -> Result<(), Refusal> {
        if let Some(plan) = &mut self.plan {
            plan.timer.settle();
        }
        self.hand_on()?;
        self.out.settle()
    }
}
