//! Power that follows the speed, for controllers that do not see to it themselves: under M3 the
//! beam burns with its S however slow a corner is taken, so S is stepped along the ramps as the
//! plan has them.
//!
//! Each part of a burn has the power asked times its mean speed over the speed asked, and so, over
//! its length, the very energy that was asked, where an axis's limit slows it too. Parts are so
//! short that within one the speed changes little, or that it lies under one spot. The machine's
//! motion stays as it was: a straight move is parted only where its parts are planned as it was
//! (`parts`).

mod parts;

use std::collections::VecDeque;

use stave_plan::{PlanError, TimedStep, Timer, Turns};
use stave_rig::{FeedRule, SAME_FEED};
use stave_setup::{PowerRule, Setup};
use stave_toolpath::{BeamWord, LinePart, Place, Stand, Step, StepKind, StepSink};
use stave_write::gcode::Forgotten;

use self::parts::{Cut, Parts};
use super::RunOut;
use crate::error::Refusal;

/// No S is written for less of a change than this share.
const SAME_POWER: f64 = 0.002;

/// What waits until the plan of what came before it is settled.
#[derive(Debug)]
enum Waiting {
    Move(LinePart),
    Comment(Vec<u8>),
    Line(Vec<u8>),
    /// A travel to where the machine should stand already.
    InPlace(Box<Step>),
    Forget(Forgotten),
}

/// The plan on which power hangs.
#[derive(Debug)]
struct Plan {
    parts: Parts,
    timer: Timer<Settled>,
    waiting: VecDeque<Waiting>,
    least_s: f64,
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
                parts: Parts::of(machine, Turns::of(machine, true)?, FeedRule::of(machine)),
                timer: Timer::new(machine, true, Settled::default())?,
                waiting: VecDeque::new(),
                least_s: controller.least_power_percent / 100.0 * controller.full_power_s,
                last_s: f64::NAN,
            })),
        };
        Ok(Self { out, plan, parted: 0 })
    }

    /// Hands on what is settled, and what stands between: of moves those whose next one is settled
    /// too, and where the machine comes to rest all.
    fn hand_on(&mut self, rests: bool) -> Result<(), Refusal> {
        let Some(plan) = &mut self.plan else { return Ok(()) };
        while let Some(next) = plan.waiting.front() {
            match next {
                Waiting::Comment(text) => self.out.comment(text)?,
                Waiting::Line(text) => self.out.line(text)?,
                Waiting::InPlace(step) => self.out.step(step)?,
                Waiting::Forget(what) => self.out.forget(*what),
                Waiting::Move(part) => {
                    let settled = &mut plan.timer.follow_mut().0;
                    let next = settled.get(1).map(|timed| timed.step);
                    if next.is_none() && !rests {
                        break;
                    }
                    let Some(timed) = settled.pop_front() else { break };
                    let part = *part;
                    let cuts = plan.cuts(&timed, next.as_ref());
                    self.parted += cuts.len() as u64 - 1;
                    if cuts.len() == 1 {
                        self.out.on_line(part);
                    }
                    let mut from = (0.0, timed.step.from);
                    for (cut, power_s) in cuts {
                        let to = (cut.share, Plan::stand(&timed.step, &cut));
                        let step = plan.part(&timed.step, from, to, power_s);
                        from = to;
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
    /// Where a move is parted, the end included, and the power up to there.
    fn cuts(&mut self, timed: &TimedStep, next: Option<&Step>) -> Vec<(Cut, Option<f64>)> {
        let step = &timed.step;
        let asked_s = step.power_s.filter(|s| *s > 0.0);
        let burns = step.kind == StepKind::Burn && step.beam == Some(BeamWord::M3);
        let Some(asked_s) = asked_s.filter(|_| burns && timed.duration_s > 0.0) else {
            if step.kind == StepKind::Burn {
                self.last_s = f64::NAN;
            }
            self.parts.whole(timed);
            let end = Cut { share: 1.0, end_s: timed.duration_s, words: step.to.words };
            return vec![(end, step.power_s)];
        };
        let meant_s = meant_s(step);
        let mut cuts: Vec<(Cut, Option<f64>)> = Vec::new();
        let (mut share, mut before_s) = (0.0, 0.0);
        for cut in self.parts.cut(timed, next) {
            // The speed over the one that was asked.
            let speed = (cut.share - share) * meant_s / (cut.end_s - before_s);
            let s = (asked_s * speed).clamp(self.least_s.min(asked_s), asked_s);
            let is_same = (s - self.last_s).abs() <= SAME_POWER * self.last_s;
            let s = if is_same { self.last_s } else { s };
            match cuts.last_mut() {
                Some(last) if last.1 == Some(s) => last.0 = cut,
                _ => cuts.push((cut, Some(s))),
            }
            (share, before_s, self.last_s) = (cut.share, cut.end_s, s);
        }
        cuts
    }

    /// Where the machine stands at a cut.
    fn stand(step: &Step, cut: &Cut) -> Stand {
        if cut.share >= 1.0 {
            return step.to;
        }
        let between = |a: f64, b: f64| a + (b - a) * cut.share;
        let place = step.from.place.zip(step.to.place).map(|(a, b)| Place {
            s_mm: between(a.s_mm, b.s_mm),
            turn_rad: between(a.turn_rad, b.turn_rad),
            at_mm: between(a.at_mm, b.at_mm),
            radius_mm: between(a.radius_mm, b.radius_mm),
        });
        Stand { words: cut.words, place }
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
        let mut part = Step {
            from: from.1,
            to: to.1,
            power_s,
            time_s: step.time_s * share,
            asked_s: step.asked_s * share,
            length_mm: step.length_mm * share,
            joined: step.joined || from.0 > 0.0,
            ..*step
        };
        if self.parts.feed.stands() {
            let f = self.parts.f(&step.delta(), step.time_s);
            part.time_s = self.parts.time_s(&part.delta(), f);
        }
        part
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
                // It takes no time, but may say anew where the machine is to stand.
                if step.kind == StepKind::Travel {
                    plan.waiting.push_back(Waiting::InPlace(Box::new(*step)));
                    self.hand_on(false)?;
                }
                return Ok(());
            }
            plan.waiting.push_back(Waiting::Move(LinePart::default()));
        }
        match plan.timer.step(step) {
            Ok(()) => {}
            Err(never) => match never {},
        }
        self.hand_on(!moves)?;
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

    fn forget(&mut self, what: Forgotten) {
        match &mut self.plan {
            Some(plan) if !plan.waiting.is_empty() => {
                plan.waiting.push_back(Waiting::Forget(what));
            }
            _ => self.out.forget(what),
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
        self.hand_on(true)?;
        self.out.settle()
    }
}
