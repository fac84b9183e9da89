//! The speed at which scan lines are soonest done at the same dose.
//!
//! A line takes `length/v` to burn and `2v/a` to reach its speed and to lose it again, so lines
//! that are short against their run-ups are sooner done slowly, and long ones fast. Power goes in
//! proportion with the speed, so that the energy stays; that is what bounds the speed, beside the
//! axis.

use crate::area::{Block, Grid, Runner, Way};
use crate::drive::Drive;

/// What is saved must be worth a word: this share of the time.
const WORTH: f64 = 0.05;
/// So many gaps tell enough of all of them.
const MOST_GAPS: usize = 20_000;

/// A speed that is sooner done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quicker {
    /// On the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// The power that keeps the dose, percent.
    pub power_percent: f64,
    /// How long the scan lines take at that, all passes, s, near enough.
    pub takes_s: f64,
    /// How long they take as asked.
    pub asked_s: f64,
}

/// What the time of scan lines hangs on. Lengths along lines are in the units of the axis under
/// them but for what burns.
#[derive(Clone, Debug)]
pub(crate) struct Scanned {
    runner: Runner,
    lines: f64,
    /// Length burned, mm on the wall.
    burn_mm: f64,
    /// Lengths of gaps, each standing for `each_gap` of them.
    gaps: Vec<f64>,
    each_gap: f64,
    /// Length of the lines with their gaps, all of them.
    whole: f64,
    /// What the step to the next line takes, s, and from which speed on it is made on the way out.
    turn_s: f64,
    steps_from: Option<f64>,
    /// How fast the axis goes for 1 mm/s on the wall.
    rate: f64,
    one_way: bool,
}

impl Scanned {
    /// Of blocks on the lines of a grid. Runs nearer than `least_mm` are one.
    pub(crate) fn of(
        drive: &Drive<'_>,
        blocks: &[&Block],
        (grid, runner): (&Grid, Runner),
        least_mm: f64,
        one_way: bool,
    ) -> Self {
        let rig = &drive.emit.rig;
        let mut scanned = Self {
            runner,
            lines: 0.0,
            burn_mm: 0.0,
            gaps: Vec::new(),
            each_gap: 1.0,
            whole: 0.0,
            turn_s: 0.0,
            steps_from: None,
            rate: 1.0,
            one_way,
        };
        let (mut burn_units, mut all, mut hint) = (0.0, 0_usize, 0);
        for line in blocks.iter().flat_map(|block| &block.lines) {
            let mut radius_mm = rig.wall.largest_radius_mm();
            let mut place = |at_mm: f64| {
                let (s_mm, turn_rad) = grid.way.to_wall(grid.across(line.line), at_mm);
                let section = rig.wall.section(s_mm, &mut hint);
                radius_mm = section.radius_mm;
                match grid.way {
                    Way::Along => rig.along_mm(&section),
                    Way::Around { .. } => runner.turned(turn_rad),
                }
            };
            scanned.lines += 1.0;
            let mut last: Option<(f64, f64)> = None;
            let mut burned_mm = 0.0;
            for run in &line.runs {
                let (from, to) = (place(run.from_mm), place(run.to_mm));
                burned_mm += run.to_mm - run.from_mm;
                burn_units += (to - from).abs();
                if let Some((at_mm, at)) = last
                    && run.from_mm - at_mm >= least_mm
                {
                    all += 1;
                    // Every so many of the first, then of those that come.
                    if all % (1 + all / MOST_GAPS) == 0 {
                        scanned.gaps.push((from - at).abs());
                    }
                }
                last = Some((run.to_mm, to));
            }
            if let (Some(first), Some(last)) = (line.runs.first(), line.runs.last()) {
                scanned.whole += (place(last.to_mm) - place(first.from_mm)).abs();
            }
            scanned.burn_mm += burned_mm * grid.way.wall_mm(radius_mm);
        }
        #[allow(clippy::cast_precision_loss)]
        if !scanned.gaps.is_empty() {
            scanned.each_gap = all as f64 / scanned.gaps.len() as f64;
        }
        // From line to line the other axis goes, from a standstill to a standstill; where that is
        // done on the way out it takes no time of its own.
        let step = runner.step(rig, grid.step);
        scanned.turn_s = step.takes_s();
        let corner_tolerance = drive.emit.setup.machine.controller.corner_tolerance;
        scanned.steps_from = (!one_way && drive.turns_on_the_way(grid.way))
            .then(|| runner.least_speed(&step, corner_tolerance));
        if scanned.burn_mm > 0.0 {
            scanned.rate = burn_units / scanned.burn_mm;
        }
        scanned
    }

    /// How long they take at a speed on the wall, s.
    fn takes_s(&self, speed_mm_per_s: f64) -> f64 {
        let runner = &self.runner;
        let speed = (speed_mm_per_s * self.rate).min(runner.limit);
        let run_up = runner.run_up(speed);
        // Twice the run-up at its mean speed, half of that reached.
        let ramp_s = 2.0 * run_up / speed;
        let gap_s = |gap: &f64| {
            let between = gap - 2.0 * run_up;
            let cross_s = runner.cross_s(*gap, (speed, speed));
            if between > 0.0 { cross_s.min(2.0 * ramp_s + runner.jump_s(between)) } else { cross_s }
        };
        let on_the_way = self.steps_from.is_some_and(|least| speed >= least);
        let step_s = if on_the_way && self.turn_s <= ramp_s { 0.0 } else { self.turn_s };
        let mut line_s = 2.0 * ramp_s + step_s;
        if self.one_way {
            line_s += runner.jump_s(self.whole / self.lines.max(1.0) + 2.0 * run_up);
        }
        let burn_s = self.burn_mm * self.rate / speed;
        burn_s + self.each_gap * self.gaps.iter().map(gap_s).sum::<f64>() + self.lines * line_s
    }

    /// The speed that is soonest between two, if it saves enough against `asked`; `percent` is the
    /// power for 1 mm/s.
    pub(crate) fn quicker(
        &self,
        asked_mm_per_s: f64,
        (least, most): (f64, f64),
        percent: f64,
        passes: u32,
    ) -> Option<Quicker> {
        const TRIES: u32 = 40;
        if !(self.burn_mm > 0.0 && self.rate > 0.0 && asked_mm_per_s > 0.0) {
            return None;
        }
        // What is asked of the beam must be there, though an even dose may need less of it.
        let most = most.min(self.runner.limit / self.rate).min(100.0 / percent);
        let least = least.max(0.05 * asked_mm_per_s);
        if !(least > 0.0 && least < most && most.is_finite()) {
            return None;
        }
        let passes = f64::from(passes);
        let asked_s = self.takes_s(asked_mm_per_s);
        let round = |speed: f64| {
            let step = match speed {
                s if s < 20.0 => 1.0,
                s if s < 100.0 => 5.0,
                _ => 10.0,
            };
            (speed / step).round() * step
        };
        let tried = |k: u32| round(least * (most / least).powf(f64::from(k) / f64::from(TRIES)));
        let (speed, takes_s) = (0..=TRIES)
            .map(tried)
            .filter(|speed| *speed >= least && *speed <= most)
            .map(|speed| (speed, self.takes_s(speed)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        (takes_s < (1.0 - WORTH) * asked_s).then_some(Quicker {
            speed_mm_per_s: speed,
            power_percent: percent * speed,
            takes_s: takes_s * passes,
            asked_s: asked_s * passes,
        })
    }
}
