//! Where a burn is parted for its power, so that no plan of the parts is slower than the burn's.
//!
//! A part's ends are rounded on each axis, so that parts of a move aslant do not go quite straight
//! on. To a controller each is a move of its own: it stops between them where it rounds no corner,
//! and takes a short part beside a bend for a tighter curve. So a cut is left out where the plan
//! could not pass it, or what it makes of the bends beside it, at the speed that it has there; and
//! where each axis goes by a whole number of counts to the same share, cuts lie on those shares,
//! and go straight on exactly.

use stave_plan::{TimedStep, Turns};
use stave_rig::{AXES, FeedRule};
use stave_toolpath::Step;

/// Within a part the speed changes by no more than this share.
const SPEED_STEP: f64 = 0.04;
/// No part is shorter, in axis units: well under any spot, and far above the words' rounding.
const SHORTEST: f64 = 0.03;
/// The same where several axes move: its ends are rounded on each, and must not make a corner.
const SHORTEST_ASLANT: f64 = 0.1;
/// So much less speed, as a share, is no slower plan.
const SLOWER: f64 = 0.005;
/// A part's own time by its F strays from its share of the move's by no more than this: where F
/// counts only an axis that hardly moves, rounding would change it by far more.
const SAME_TIME: f64 = 0.01;
/// About so many bytes has the line of a part.
const LINE_BYTES: f64 = 28.0;

/// The end of a part.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cut {
    /// The share of the move done there.
    pub(super) share: f64,
    /// When that is, seconds from the move's start.
    pub(super) end_s: f64,
    pub(super) words: [f64; AXES],
}

/// A turn that was passed.
#[derive(Clone, Copy, Debug)]
struct Bend {
    before: [f64; AXES],
    after: [f64; AXES],
    /// The length of the run before it.
    run: f64,
    speed_per_s: f64,
}

/// The way of what came last: its last straight run, and the turn at which that began, if its whole
/// length may have been needed to pass it.
#[derive(Clone, Copy, Debug)]
struct Gone {
    way: [f64; AXES],
    run: f64,
    bend: Option<Bend>,
}

/// Parts burns.
#[derive(Debug)]
pub(super) struct Parts {
    pub(super) turns: Turns,
    pub(super) feed: FeedRule,
    pub(super) count: f64,
    /// No corner is rounded.
    pub(super) exact: bool,
    /// What the line to the controller takes for a part, seconds.
    least_s: f64,
    gone: Option<Gone>,
}

fn length(way: &[f64; AXES]) -> f64 {
    way.iter().map(|part| part * part).sum::<f64>().sqrt()
}

fn between(from: &[f64; AXES], to: &[f64; AXES]) -> [f64; AXES] {
    let mut way = *to;
    way.iter_mut().zip(from).for_each(|(way, from)| *way -= from);
    way
}

/// The greatest number that divides all.
fn common(counts: &[u64; AXES]) -> u64 {
    counts.iter().fold(0, |a, b| {
        let (mut a, mut b) = (a, *b);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        a
    })
}

/// How long a move rises to its peak, and how long it falls from it, seconds.
fn ramps_s(timed: &TimedStep) -> (f64, f64) {
    let [entry, peak, exit] = timed.speeds_per_s;
    let gained = 2.0 * peak - entry - exit;
    if gained > 0.0 {
        (timed.ramp_s * (peak - entry) / gained, timed.ramp_s * (peak - exit) / gained)
    } else {
        (0.0, 0.0)
    }
}

/// The speed after so long, axis units per second.
fn speed_at(timed: &TimedStep, seconds: f64) -> f64 {
    let [entry, peak, exit] = timed.speeds_per_s;
    let (up_s, down_s) = ramps_s(timed);
    let left_s = timed.duration_s - seconds;
    if seconds < up_s {
        entry + (peak - entry) * seconds / up_s
    } else if left_s < down_s {
        exit + (peak - exit) * left_s / down_s
    } else {
        peak
    }
}

/// When a share of a move is done, seconds.
fn done_at_s(timed: &TimedStep, share: f64) -> f64 {
    let (mut before_s, mut after_s) = (0.0, timed.duration_s);
    for _ in 0..40 {
        let middle_s = 0.5 * (before_s + after_s);
        if timed.share_done(middle_s) < share { before_s = middle_s } else { after_s = middle_s }
    }
    0.5 * (before_s + after_s)
}

/// Times at which parts end, in order, if only the speed within them counted.
fn ends(timed: &TimedStep, shortest: f64) -> Vec<f64> {
    let [entry, peak, exit] = timed.speeds_per_s;
    let (up_s, down_s) = ramps_s(timed);
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
    ends
}

impl Parts {
    pub(super) fn of(machine: &stave_setup::Machine, turns: Turns, feed: FeedRule) -> Self {
        let controller = &machine.controller;
        let by_lines = controller.lines_per_second.map_or(0.0, |rate| 1.0 / rate);
        let by_bytes = controller.bytes_per_second.map_or(0.0, |rate| LINE_BYTES / rate);
        Self {
            turns,
            feed,
            count: controller.count(),
            exact: controller.corner_tolerance == 0.0,
            least_s: by_lines.max(by_bytes),
            gone: None,
        }
    }

    /// Goes on over a move that stays whole.
    pub(super) fn whole(&mut self, timed: &TimedStep) {
        let way = timed.step.delta();
        let run = length(&way);
        self.gone = Some(match self.gone {
            Some(gone) if self.turns.goes_straight_on(&gone.way, &way) => {
                Gone { run: gone.run + run, ..gone }
            }
            before => {
                let bend = before.map(|gone| Bend {
                    before: gone.way,
                    after: way,
                    run: gone.run,
                    speed_per_s: timed.speeds_per_s[0],
                });
                Gone { way, run, bend }
            }
        });
    }

    /// Where a burn is parted, its end included; `next` is the move that it goes on to.
    pub(super) fn cut(&mut self, timed: &TimedStep, next: Option<&Step>) -> Vec<Cut> {
        let step = &timed.step;
        let whole = Cut { share: 1.0, end_s: timed.duration_s, words: step.to.words };
        let delta = step.delta();
        let far = length(&delta);
        let axes = delta.iter().filter(|way| **way != 0.0).count();
        let shortest = if axes > 1 { SHORTEST_ASLANT } else { SHORTEST };
        let shares = common(&self.counts(&delta));
        #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
        let shares = shares.max(1) as f64;
        // On one axis every count is such a share.
        let on_shares = axes == 1 || self.exact || far / shares <= shortest;
        let mut cuts: Vec<Cut> = Vec::new();
        let (mut share, mut before_s) = (0.0, 0.0);
        for end_s in ends(timed, shortest) {
            let (mut to, mut end_s) = (timed.share_done(end_s), end_s);
            if on_shares {
                to = (to * shares).round() / shares;
                end_s = if axes == 1 { end_s } else { done_at_s(timed, to) };
            }
            let is_short = (to - share) * far < shortest || (1.0 - to) * far < shortest;
            // Its line must be there in time where the part is fastest.
            let fastest = speed_at(timed, before_s).max(speed_at(timed, end_s));
            let is_late = (to - share) * far < self.least_s * fastest
                || (1.0 - to) * far < self.least_s * timed.speeds_per_s[1];
            if is_short || is_late {
                continue;
            }
            cuts.push(Cut { share: to, end_s, words: self.words(step, to) });
            (share, before_s) = (to, end_s);
        }
        cuts.push(whole);
        self.keep_time(step, &mut cuts);
        if on_shares {
            self.whole(timed);
            return cuts;
        }
        self.keep_pace(timed, next, &mut cuts);
        match cuts.len() {
            1 => self.whole(timed),
            _ => {
                let way = self.way(step, &cuts, cuts.len() - 1);
                self.gone = Some(Gone { way, run: length(&way), bend: None });
            }
        }
        cuts
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "words are whole counts"
    )]
    fn counts(&self, way: &[f64; AXES]) -> [u64; AXES] {
        way.map(|part| (part / self.count).round().abs() as u64)
    }

    /// Where the machine stands after a share of a move, its words rounded.
    fn words(&self, step: &Step, share: f64) -> [f64; AXES] {
        let mut words = step.from.words;
        for (word, to) in words.iter_mut().zip(step.to.words) {
            *word = ((*word + (to - *word) * share) / self.count).round() * self.count;
        }
        words
    }

    /// The way of a part.
    fn way(&self, step: &Step, cuts: &[Cut], part: usize) -> [f64; AXES] {
        let from = match part {
            0 => &step.from.words,
            _ => cuts.get(part - 1).map_or(&step.from.words, |cut| &cut.words),
        };
        between(from, cuts.get(part).map_or(&step.to.words, |cut| &cut.words))
    }

    /// How long a part takes by an F, or a whole move by its own, seconds.
    pub(super) fn time_s(&self, way: &[f64; AXES], f: f64) -> f64 {
        let [along, rotary, z] = self.counted(way);
        self.feed.time_s(along, rotary, z, f)
    }

    /// The F of a move that takes so long.
    pub(super) fn f(&self, way: &[f64; AXES], time_s: f64) -> f64 {
        let [along, rotary, z] = self.counted(way);
        self.feed.word(along, rotary, z, time_s)
    }

    fn counted(&self, way: &[f64; AXES]) -> [i64; 3] {
        let [x, y, z, rotary] = way.map(|part| {
            #[expect(clippy::cast_possible_truncation, reason = "words are counts")]
            let whole = (part / self.count).round() as i64;
            whole
        });
        // Only one of X and Y goes along the work.
        [x + y, rotary, z]
    }

    /// Leaves out cuts that would change how long a part takes by the move's F.
    fn keep_time(&self, step: &Step, cuts: &mut Vec<Cut>) {
        if !self.feed.stands() {
            return;
        }
        let f = self.f(&step.delta(), step.time_s);
        let keeps = |cuts: &[Cut], part: usize| {
            let before = part.checked_sub(1).and_then(|k| cuts.get(k)).map_or(0.0, |cut| cut.share);
            let after = cuts.get(part).map_or(1.0, |cut| cut.share);
            let meant_s = step.time_s * (after - before);
            (self.time_s(&self.way(step, cuts, part), f) - meant_s).abs() <= SAME_TIME * meant_s
        };
        let mut part = 0;
        while part + 1 < cuts.len() {
            if keeps(cuts, part) {
                part += 1;
            } else {
                cuts.remove(part);
            }
        }
        while cuts.len() > 1 && !keeps(cuts, cuts.len() - 1) {
            cuts.remove(cuts.len() - 2);
        }
    }

    /// Leaves out cuts that would make the plan slower.
    fn keep_pace(&self, timed: &TimedStep, next: Option<&Step>, cuts: &mut Vec<Cut>) {
        let step = &timed.step;
        let [entry, _, exit] = timed.speeds_per_s;
        let passes = |a: &[f64; AXES], b: &[f64; AXES], runs: (f64, f64), speed: f64| {
            self.turns.lets_pass(a, b, runs, speed * (1.0 - SLOWER))
        };
        if let Some(next) = next {
            let ahead = next.delta();
            while cuts.len() > 1 {
                let last = self.way(step, cuts, cuts.len() - 1);
                if passes(&last, &ahead, (length(&last), length(&ahead)), exit) {
                    break;
                }
                cuts.remove(cuts.len() - 2);
            }
        }
        if let Some(gone) = &self.gone {
            let bent = gone.bend.filter(|bend| {
                !passes(&bend.before, &bend.after, (bend.run, gone.run), bend.speed_per_s)
            });
            while cuts.len() > 1 {
                let first = self.way(step, cuts, 0);
                let free = self.turns.goes_straight_on(&gone.way, &first)
                    || bent.is_none()
                        && passes(&gone.way, &first, (gone.run, length(&first)), entry);
                if free {
                    break;
                }
                cuts.remove(0);
            }
        }
        let mut part = 0;
        while part + 1 < cuts.len() {
            let (a, b) = (self.way(step, cuts, part), self.way(step, cuts, part + 1));
            let at_s = cuts.get(part).map_or(0.0, |cut| cut.end_s);
            if passes(&a, &b, (length(&a), length(&b)), speed_at(timed, at_s)) {
                part += 1;
            } else {
                cuts.remove(part);
            }
        }
    }
}
