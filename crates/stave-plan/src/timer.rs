//! How long a run of steps takes, section by section, while it goes by.

use std::collections::VecDeque;
use std::convert::Infallible;

use stave_rig::{AXES, axis_limits};
use stave_setup::{AxisLimits, Curves, Machine};
use stave_toolpath::{Corner, LinePart, Step, StepKind, StepSink};

use crate::limits::{AxisLimit, PlanError};
use crate::planner::{Asked, Corners, Move, Planner, Pushed};
use crate::settled::{ASKED, MoveKind, Settle, Settled};
use crate::starved::{Lines, Starved};
use crate::totals::Totals;

/// The most sections that are kept apart; what follows is one more.
const MOST_SECTIONS: usize = 1000;

/// The tolerance within arcs where the machine's is 0, axis units: any would do that is far below
/// what is burned.
pub const ARC_TOLERANCE: f64 = 1e-3;

/// A step that moves, with its time.
#[derive(Clone, Copy, Debug)]
pub struct TimedStep {
    /// The step.
    pub step: Step,
    /// When it starts, seconds from the beginning, dwells counted, pauses not.
    pub start_s: f64,
    /// How long it takes, seconds.
    pub duration_s: f64,
    /// The axis whose speed limit holds it below the speed asked; `None` where it is not held.
    pub held_by: Option<usize>,
    /// Speed at its start, the greatest within it, and at its end, axis units per second.
    pub speeds_per_s: [f64; 3],
    /// The part of [`duration_s`](Self::duration_s) spent gaining or losing speed.
    pub ramp_s: f64,
}

impl TimedStep {
    /// Which share of its way is done so long after its start, 0 to 1. Ramps are taken as even;
    /// one with a jerk limit is at the same share at its ends.
    ///
    /// ```
    /// # use stave_plan::{TimedStep, Timer};
    /// # use stave_toolpath::{Stand, Step, StepKind, StepSink};
    /// # let machine = stave_setup::read_machine(
    /// #     "[x]\nspeed = 500\nacceleration = 1000\n[y]\nspeed = 500\nacceleration = 1000\n\
    /// #      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
    /// #      "bench.toml")?;
    /// # let at = |x| Stand { words: [x, 0.0, 0.0, 0.0], place: None };
    /// # let step = Step {
    /// #     kind: StepKind::Burn, from: at(0.0), to: at(50.0), drives_z: false, beam: None, power_s: None,
    /// #     time_s: 1.0, asked_s: 1.0, even_dose: false,
    /// #     length_mm: 50.0, corner: Default::default(), joined: false, line: 1, section: 0,
    /// # };
    /// let mut shares = [0.0; 3];
    /// let mut timer = Timer::new(&machine, true, |timed: &TimedStep| {
    ///     shares = [0.05, 0.525, 2.0].map(|seconds| timed.share_done(seconds));
    /// })?;
    /// timer.step(&step).unwrap();
    /// timer.finish()?;
    /// // 50 mm at 50 mm/s, a ramp of 0.05 s at either end: 1.25 mm, and half of it half way through.
    /// assert!(shares.iter().zip([0.025, 0.5, 1.0]).all(|(share, by_hand)| (share - by_hand).abs() < 1e-12));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn share_done(&self, seconds: f64) -> f64 {
        let seconds = seconds.min(self.duration_s).max(0.0);
        let [entry, peak, exit] = self.speeds_per_s;
        let gained = 2.0 * peak - entry - exit;
        let (up_s, down_s) = if gained > 0.0 {
            (self.ramp_s * (peak - entry) / gained, self.ramp_s * (peak - exit) / gained)
        } else {
            (0.0, 0.0)
        };
        // Rounding must not make it less than nothing.
        let cruise_s = (self.duration_s - up_s - down_s).max(0.0);
        let way = |up: f64, at_peak: f64, down: f64| {
            let braked = if down_s > 0.0 { (peak - exit) * down / down_s } else { 0.0 };
            let risen = if up_s > 0.0 { (peak - entry) * up / up_s } else { 0.0 };
            (entry + 0.5 * risen) * up + peak * at_peak + (peak - 0.5 * braked) * down
        };
        let whole = way(up_s, cruise_s, down_s);
        if whole > 0.0 {
            let done = way(
                seconds.min(up_s),
                (seconds - up_s).clamp(0.0, cruise_s),
                (seconds - up_s - cruise_s).max(0.0),
            );
            (done / whole).clamp(0.0, 1.0)
        } else if self.duration_s > 0.0 {
            seconds / self.duration_s
        } else {
            1.0
        }
    }
}

/// Takes moves with their times, once nothing later can change them, and dots as they come.
pub trait Follow {
    /// False where nobody listens, so that nothing need be kept for them.
    const LISTENS: bool = true;

    /// One move or dot.
    fn timed(&mut self, timed: &TimedStep);

    /// The work lies under another tilt, rad, from here on; the words stay as they are.
    fn set_up(&mut self, _tilt_rad: f64) {}
}

/// Nobody listens.
#[derive(Clone, Copy, Debug, Default)]
pub struct Nobody;

impl Follow for Nobody {
    const LISTENS: bool = false;

    fn timed(&mut self, _: &TimedStep) {}
}

impl<F: FnMut(&TimedStep)> Follow for F {
    fn timed(&mut self, timed: &TimedStep) {
        self(timed);
    }
}

/// What one section came to.
#[derive(Clone, Debug, Default)]
pub struct SectionTime {
    /// The section, as the steps name it.
    pub section: u32,
    /// The line on which its first move or dwell stands.
    pub line: u64,
    /// It holds all that follows, sections of other names too: so many are kept and no more.
    pub and_others: bool,
    /// Dwells, seconds.
    pub dwell_s: f64,
    /// Those of them that burn a dot, seconds.
    pub dot_s: f64,
    /// Moves of the program; the chords of an arc are one.
    pub moves: u64,
    /// Its moves.
    pub totals: Totals<AXES>,
}

/// The limits of an axis as the planner has them.
#[must_use]
pub fn limits_of(limits: &AxisLimits) -> AxisLimit {
    AxisLimit {
        speed_per_s: limits.speed,
        acceleration_per_s2: limits.acceleration,
        jerk_per_s3: limits.jerk,
    }
}

/// How long a run takes by either rule for curves, dwells and all, seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ByCurves {
    /// Where curves written as chords are held to the speed of the curve.
    pub arcs_s: f64,
    /// Where the corners alone count.
    pub corners_s: f64,
}

/// What is kept of settled moves.
#[derive(Debug)]
struct Kept<F> {
    sections: Vec<SectionTime>,
    clock_s: f64,
    waiting: VecDeque<Step>,
    follow: F,
}

impl<F> Kept<F> {
    /// All moves that are settled, seconds.
    fn moves_s(&self) -> f64 {
        self.sections.iter().map(|section| section.totals.duration_s()).sum()
    }
}

impl<F: Follow> Settle for Kept<F> {
    #[inline]
    fn settled(&mut self, settled: &Settled) {
        if let Some(section) = self.sections.get_mut(settled.tag as usize) {
            section.totals.settled(settled);
        }
        if F::LISTENS
            && let Some(step) = self.waiting.pop_front()
        {
            let held = settled.speed_axis != ASKED && settled.kind != MoveKind::Travel;
            self.follow.timed(&TimedStep {
                step,
                start_s: self.clock_s,
                duration_s: settled.duration_s,
                held_by: held.then_some(usize::from(settled.speed_axis)),
                speeds_per_s: [
                    settled.entry_squared.sqrt(),
                    settled.peak_squared.sqrt(),
                    settled.exit_squared.sqrt(),
                ],
                ramp_s: settled.ramp_s,
            });
            self.clock_s += settled.duration_s;
        }
    }
}

/// Times a run of steps; memory does not grow with it, but for up to a thousand sections.
///
/// ```
/// use stave_plan::{Nobody, Timer};
/// use stave_toolpath::{Stand, Step, StepKind, StepSink};
/// let machine = stave_setup::read_machine(
///     "[x]\nspeed = 500\nacceleration = 1000\n[y]\nspeed = 500\nacceleration = 1000\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
///      "bench.toml")?;
/// let mut timer = Timer::new(&machine, true, Nobody)?;
/// let at = |x| Stand { words: [x, 0.0, 0.0, 0.0], place: None };
/// let step = Step {
///     kind: StepKind::Burn, from: at(0.0), to: at(50.0), drives_z: false, beam: None, power_s: None,
///     time_s: 1.0, asked_s: 1.0, even_dose: false,
///     length_mm: 50.0, corner: Default::default(), joined: false, line: 1, section: 0,
/// };
/// timer.step(&step).unwrap();
/// let (sections, _) = timer.finish()?;
/// // 50 mm at 50 mm/s; half of each ramp of 0.05 s comes on top.
/// assert!((sections[0].totals.duration_s() - 1.05).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Timer<F> {
    planner: Planner<AXES>,
    kept: Kept<F>,
    /// The section of the steps that come, and where it is kept.
    now: Option<(u32, u32)>,
    /// The same by the other rule for curves, of which the time alone is kept; `None` up to the
    /// first bend where the rules differ.
    other: Option<Box<Planner<AXES>>>,
    other_s: f64,
    curves: Curves,
    lines: Lines,
    /// How the corner at the end of the last move is taken; and of one by tolerance.
    corner: Corner,
    tolerance: Corners,
    pauses: u64,
    at_feeds_s: f64,
    broken: Option<PlanError>,
}

impl<F: Follow> Timer<F> {
    /// For a machine; `turns` says that the run is one for the rotary, so that a rotary on Y has
    /// its own limits.
    ///
    /// # Errors
    /// Limits that cannot be planned with.
    pub fn new(machine: &Machine, turns: bool, follow: F) -> Result<Self, PlanError> {
        let limits = axis_limits(machine, turns).map(|limits| limits_of(&limits));
        let tolerance = machine.controller.corner_tolerance;
        let tolerated = if tolerance > 0.0 { Corners::Tolerance } else { Corners::Exact };
        let within = if tolerance > 0.0 { tolerance } else { ARC_TOLERANCE };
        let mut planner = Planner::new(limits, within)?;
        planner.set_corners(tolerated);
        // Whatever the rule: where it binds nowhere, the other's plan is the same.
        planner.set_curves(true);
        Ok(Self {
            planner,
            other: None,
            other_s: 0.0,
            curves: machine.controller.curves,
            lines: Lines::of(machine, &limits),
            kept: Kept { sections: Vec::new(), clock_s: 0.0, waiting: VecDeque::new(), follow },
            now: None,
            corner: Corner::Tolerance,
            tolerance: tolerated,
            pauses: 0,
            at_feeds_s: 0.0,
            broken: None,
        })
    }

    /// M0, M1 and M60 so far.
    #[must_use]
    pub fn pauses(&self) -> u64 {
        self.pauses
    }

    /// Seconds at the feeds alone so far: burns and dark moves, no travels, no dwells.
    #[must_use]
    pub fn at_feeds_s(&self) -> f64 {
        self.at_feeds_s
    }

    /// The moves that need more of the line than it takes, at their worst.
    #[must_use]
    pub fn starved(&self) -> Option<Starved> {
        self.lines.starved
    }

    /// How often the look-ahead was full and a stop was planned.
    #[must_use]
    pub fn times_full(&self) -> u64 {
        self.planner.times_full()
    }

    /// All that went by, by section, and who listened.
    ///
    /// # Errors
    /// A move that cannot be planned: too long, or to last for ever.
    pub fn finish(self) -> Result<(Vec<SectionTime>, F), PlanError> {
        self.finish_both().map(|(sections, _, follow)| (sections, follow))
    }

    /// As [`Self::finish`], and how long all takes by either rule for curves.
    ///
    /// # Errors
    /// As [`Self::finish`].
    pub fn finish_both(mut self) -> Result<(Vec<SectionTime>, ByCurves, F), PlanError> {
        self.stop();
        if let Some(error) = self.broken {
            return Err(error);
        }
        let moves_s = self.kept.moves_s();
        let Kept { sections, follow, .. } = self.kept;
        let dwells_s = sections.iter().map(|section| section.dwell_s).sum::<f64>();
        let own_s = moves_s + dwells_s;
        let other_s = if self.other.is_some() { self.other_s + dwells_s } else { own_s };
        let both = match self.curves {
            Curves::Arcs => ByCurves { arcs_s: own_s, corners_s: other_s },
            Curves::Corners => ByCurves { arcs_s: other_s, corners_s: own_s },
        };
        Ok((sections, both, follow))
    }

    /// Settles all that went by, as if the machine stopped here.
    pub fn settle(&mut self) {
        self.stop();
    }

    /// Who listens.
    pub fn follow_mut(&mut self) -> &mut F {
        &mut self.kept.follow
    }

    fn stop(&mut self) {
        self.planner.stop(&mut self.kept);
        if let Some(other) = &mut self.other {
            other.stop(&mut |settled: &Settled| self.other_s += settled.duration_s);
        }
    }

    /// The planner takes a move, and the other with it.
    #[inline]
    fn push(&mut self, one: &Move<AXES>) -> Result<Pushed, PlanError> {
        let Some(other) = &mut self.other else { return self.planner.push(one, &mut self.kept) };
        let other_s = &mut self.other_s;
        let mut other_sink = |settled: &Settled| *other_s += settled.duration_s;
        self.planner.push_both(other, one, &mut self.kept, &mut other_sink)
    }

    /// From here on the two rules for curves give plans of their own.
    #[cold]
    fn part(&mut self) {
        self.other_s = self.kept.moves_s();
        let other_s = &mut self.other_s;
        let other = match self.curves {
            Curves::Arcs => {
                self.planner.by_corners(&mut |settled: &Settled| *other_s += settled.duration_s)
            }
            Curves::Corners => {
                let own = self.planner.by_corners(&mut self.kept);
                std::mem::replace(&mut self.planner, own)
            }
        };
        self.other = Some(Box::new(other));
    }

    /// Where the section of a step is kept.
    #[inline]
    fn tag(&mut self, step: &Step) -> u32 {
        match self.now {
            Some((section, tag)) if section == step.section => tag,
            _ => self.begin(step),
        }
    }

    #[cold]
    fn begin(&mut self, step: &Step) -> u32 {
        let sections = &mut self.kept.sections;
        if sections.len() <= MOST_SECTIONS {
            let (section, line) = (step.section, step.line);
            sections.push(SectionTime { section, line, ..SectionTime::default() });
        } else if let Some(last) = sections.last_mut() {
            last.and_others = true;
        }
        let tag = u32::try_from(sections.len().saturating_sub(1)).unwrap_or(u32::MAX);
        self.now = Some((step.section, tag));
        tag
    }

    #[inline]
    fn go(&mut self, step: &Step) {
        let tag = self.tag(step);
        if step.corner != self.corner {
            self.turn(step.corner);
        }
        let least_s = self.lines.least_s(step);
        let (kind, asked) = match step.kind {
            StepKind::Travel if least_s == 0.0 => (MoveKind::Travel, Asked::Limits),
            StepKind::Travel => (MoveKind::Travel, Asked::Duration(least_s)),
            StepKind::Dark => (MoveKind::Dark, Asked::Duration(step.time_s.max(least_s))),
            _ => (MoveKind::Burn, Asked::Duration(step.time_s.max(least_s))),
        };
        if F::LISTENS {
            self.kept.waiting.push_back(*step);
        }
        let length = step.length_mm;
        let wall_mm = if length.is_nan() { None } else { Some(length) };
        let one = Move { delta: step.delta(), asked, kind, wall_mm, tag };
        match self.push(&one) {
            Ok(pushed) => {
                if pushed.length > 0.0 {
                    self.at_feeds_s += if kind == MoveKind::Travel { 0.0 } else { step.time_s };
                    if self.other.is_none() && self.planner.is_bent() {
                        self.part();
                    }
                    if !step.joined
                        && let Some(section) = self.kept.sections.get_mut(tag as usize)
                    {
                        section.moves += 1;
                    }
                } else if F::LISTENS {
                    self.kept.waiting.pop_back();
                }
            }
            Err(error) => {
                self.broken.get_or_insert(error);
                if F::LISTENS {
                    self.kept.waiting.pop_back();
                }
            }
        }
    }

    #[cold]
    fn turn(&mut self, corner: Corner) {
        self.corner = corner;
        let corners = match corner {
            Corner::Arc => Corners::Tolerance,
            Corner::Stop => Corners::Stop,
            Corner::Exact => Corners::Exact,
            Corner::Tolerance => self.tolerance,
        };
        self.planner.set_corners(corners);
        if let Some(other) = &mut self.other {
            other.set_corners(corners);
        }
    }

    /// The work lies otherwise from here on, under a tilt of so many rad; the machine stands.
    pub fn set_up(&mut self, tilt_rad: f64) {
        self.stop();
        self.kept.follow.set_up(tilt_rad);
    }

    #[cold]
    fn still(&mut self, step: &Step) {
        self.stop();
        match step.kind {
            StepKind::Dwell | StepKind::Dot => self.dwell(step),
            StepKind::Pause(_) => self.pauses += 1,
            _ => {}
        }
    }

    fn dwell(&mut self, step: &Step) {
        let tag = self.tag(step);
        let dot = step.kind == StepKind::Dot;
        if F::LISTENS {
            if dot {
                self.kept.follow.timed(&TimedStep {
                    step: *step,
                    start_s: self.kept.clock_s,
                    duration_s: step.time_s,
                    held_by: None,
                    speeds_per_s: [0.0; 3],
                    ramp_s: 0.0,
                });
            }
            self.kept.clock_s += step.time_s;
        }
        if let Some(section) = self.kept.sections.get_mut(tag as usize) {
            section.dwell_s += step.time_s;
            section.dot_s += if dot { step.time_s } else { 0.0 };
        }
    }
}

impl<F: Follow> StepSink for Timer<F> {
    type Error = Infallible;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        if step.kind.moves() {
            self.go(step);
        } else {
            self.still(step);
        }
        self.lines.part = LinePart::default();
        Ok(())
    }

    #[inline]
    fn on_line(&mut self, part: LinePart) {
        self.lines.part = part;
    }
}
