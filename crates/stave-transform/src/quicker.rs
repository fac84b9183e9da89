//! The speed at which scan lines are soonest done at the same dose.
//!
//! A line takes `length/v` to burn and `2v/a` to reach its speed and to lose it again, so lines
//! that are short against their run-ups are sooner done slowly, and long ones fast. Power goes in
//! proportion with the speed, so that the energy stays; that is what bounds the speed, beside the
//! axis.

use crate::area::Block;
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

/// What the time of scan lines hangs on.
#[derive(Clone, Debug, Default)]
pub(crate) struct Scanned {
    lines: f64,
    burn_mm: f64,
    /// Lengths of gaps along the axis, mm, each standing for `each_gap` of them.
    gaps_mm: Vec<f64>,
    each_gap: f64,
    /// Length of the lines with their gaps along the axis, all of them, mm.
    along_mm: f64,
    /// What a line costs whatever its speed, s.
    turn_s: f64,
    /// How fast the axis along goes for 1 mm/s on the wall.
    along_rate: f64,
    one_way: bool,
}

impl Scanned {
    /// Of blocks whose lines lie `step_rad` apart. Runs nearer than `least_mm` are one.
    pub(crate) fn of(
        drive: &Drive<'_>,
        blocks: &[&Block],
        (step_rad, least_mm): (f64, f64),
        one_way: bool,
    ) -> Self {
        let rig = &drive.emit.rig;
        let mut hint = 0;
        let mut place = |s_mm: f64| rig.along_mm(&rig.wall.section(s_mm, &mut hint));
        let mut scanned = Self { one_way, each_gap: 1.0, ..Self::default() };
        let (mut burn_along_mm, mut all) = (0.0, 0_usize);
        for line in blocks.iter().flat_map(|block| &block.lines) {
            scanned.lines += 1.0;
            let mut last: Option<(f64, f64)> = None;
            for run in &line.runs {
                let (from, to) = (place(run.from_s_mm), place(run.to_s_mm));
                scanned.burn_mm += run.to_s_mm - run.from_s_mm;
                burn_along_mm += (to - from).abs();
                if let Some((s_mm, along)) = last
                    && run.from_s_mm - s_mm >= least_mm
                {
                    all += 1;
                    // Every so many of the first, then of those that come.
                    if all % (1 + all / MOST_GAPS) == 0 {
                        scanned.gaps_mm.push((from - along).abs());
                    }
                }
                last = Some((run.to_s_mm, to));
            }
            if let (Some(first), Some(last)) = (line.runs.first(), line.runs.last()) {
                scanned.along_mm += (place(last.to_s_mm) - place(first.from_s_mm)).abs();
            }
        }
        #[allow(clippy::cast_precision_loss)]
        if !scanned.gaps_mm.is_empty() {
            scanned.each_gap = all as f64 / scanned.gaps_mm.len() as f64;
        }
        let rotary = rig.limits(stave_rig::ROTARY);
        let step = (step_rad / rig.rad_per_count).abs() * rig.count;
        scanned.turn_s = 2.0 * (step / rotary.acceleration).sqrt();
        scanned.along_rate =
            if scanned.burn_mm > 0.0 { burn_along_mm / scanned.burn_mm } else { 1.0 };
        scanned
    }

    /// How long they take at a speed on the wall, s.
    fn takes_s(&self, drive: &Drive<'_>, speed_mm_per_s: f64) -> f64 {
        let along = (speed_mm_per_s * self.along_rate).min(drive.along_limit_mm_per_s());
        let run_up_mm = drive.run_up_mm(along);
        // Twice the run-up at its mean speed, half of that reached.
        let ramp_s = 2.0 * run_up_mm / along;
        let gap_s = |gap_mm: &f64| {
            let between = gap_mm - 2.0 * run_up_mm;
            let cross_s = gap_mm / along;
            if between > 0.0 { cross_s.min(2.0 * ramp_s + drive.jump_s(between)) } else { cross_s }
        };
        let mut line_s = 2.0 * ramp_s + self.turn_s;
        if self.one_way {
            line_s += drive.jump_s(self.along_mm / self.lines.max(1.0) + 2.0 * run_up_mm);
        }
        let burn_s = self.burn_mm * self.along_rate / along;
        burn_s + self.each_gap * self.gaps_mm.iter().map(gap_s).sum::<f64>() + self.lines * line_s
    }

    /// The speed that is soonest between two, if it saves enough against `asked`; `percent` is the
    /// power for 1 mm/s.
    pub(crate) fn quicker(
        &self,
        drive: &Drive<'_>,
        asked_mm_per_s: f64,
        (least, most): (f64, f64),
        percent: f64,
        passes: u32,
    ) -> Option<Quicker> {
        const TRIES: u32 = 40;
        if !(self.burn_mm > 0.0 && self.along_rate > 0.0 && asked_mm_per_s > 0.0) {
            return None;
        }
        let most = most.min(drive.along_limit_mm_per_s() / self.along_rate);
        let least = least.max(0.05 * asked_mm_per_s);
        if !(least > 0.0 && least < most && most.is_finite()) {
            return None;
        }
        let passes = f64::from(passes);
        let asked_s = self.takes_s(drive, asked_mm_per_s);
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
            .map(|speed| (speed, self.takes_s(drive, speed)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        (takes_s < (1.0 - WORTH) * asked_s).then_some(Quicker {
            speed_mm_per_s: speed,
            power_percent: percent * speed,
            takes_s: takes_s * passes,
            asked_s: asked_s * passes,
        })
    }
}
