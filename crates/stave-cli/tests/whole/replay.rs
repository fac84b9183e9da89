//! Walks a flat program and its wrapped program side by side, and says where they part.
//!
//! Order is part of it: each flat move must be met by its own machine moves, in turn, with nothing
//! left out or put in. That is stricter than asking that all burned points lie near the image
//! somewhere.

use crate::case::Bench;
use crate::cutting::{Cut, STEPS, apart, compare};
use crate::greedy::{self, SPEED_STRAY};
use crate::program::{Kind, Move, Program, Rate};

/// What is allowed over the tolerance, mm: the words' rounding and what ten samples of a move miss.
pub const SLACK_MM: f64 = 0.002;

/// What a walk found.
#[derive(Debug, Default)]
pub struct Report {
    pub flat_burns: usize,
    pub burns: usize,
    /// Burns that an axis's limit slowed.
    pub slowed: usize,
    pub worst_stray: f64,
    pub worst_speed: f64,
    /// The first faults, and how many there were.
    pub faults: Vec<String>,
    pub fault_count: usize,
}

impl Report {
    #[expect(clippy::needless_pass_by_value, reason = "its callers make the text for it alone")]
    fn fault(&mut self, flat: &Move, wrapped: Option<&Move>, what: String) {
        self.fault_count += 1;
        if self.faults.len() < 6 {
            let wrapped = wrapped.map_or(String::new(), |w| format!(", wrapped line {}", w.line));
            self.faults.push(format!("flat line {}{wrapped}: {what}", flat.line));
        }
    }
}

/// What else the walk checks.
#[derive(Clone, Copy, Debug, Default)]
pub struct Also {
    /// S is carried along unchanged.
    pub power: bool,
    /// Z follows the crest.
    pub focus: bool,
}

struct Walk<'a> {
    bench: &'a Bench,
    also: Also,
    stations: Vec<f64>,
    wrapped: &'a [Move],
    next: usize,
    report: Report,
}

/// Compares `wrapped` with what `flat` should become.
pub fn replay(bench: &Bench, flat: &Program, wrapped: &Program, also: Also) -> Report {
    let stations = if bench.wall.straight { bench.wall.station_s() } else { Vec::new() };
    let mut walk =
        Walk { bench, also, stations, wrapped: &wrapped.moves, next: 0, report: Report::default() };
    for m in &flat.moves {
        match m.kind {
            Kind::Travel => walk.travel(m),
            Kind::Dark => walk.dark(m),
            Kind::Burn => walk.burn(m),
        }
        if walk.report.fault_count > 200 {
            break;
        }
    }
    if let (Some(left), Some(last)) =
        (wrapped.moves[walk.next..].iter().find(|m| m.kind != Kind::Travel), flat.moves.last())
    {
        walk.report.fault(last, Some(left), format!("left over: {:?}", left.kind));
    }
    walk.report
}

/// The fewest moves for all burns of `flat`, cut greedily.
pub fn fewest(bench: &Bench, flat: &Program) -> usize {
    flat.moves.iter().filter(|m| m.kind == Kind::Burn).map(|m| greedy::cuts(bench, m).len()).sum()
}

impl Walk<'_> {
    fn words(&self, m: &Move) -> ([f64; 2], [f64; 2]) {
        (self.bench.rotary.of_axes(&m.from), self.bench.rotary.of_axes(&m.to))
    }

    fn place(&self, words: [f64; 2]) -> [f64; 2] {
        self.bench.rotary.place(&self.bench.wall, words)
    }

    fn rounding(&self, place: [f64; 2]) -> f64 {
        self.bench.rotary.rounding(&self.bench.wall, place[0]) * 1.01 + 1e-6
    }

    /// Whether the next wrapped move is of `kind` and ends at the image of `xy`.
    fn next_ends_at(&self, kind: Kind, xy: [f64; 2]) -> bool {
        self.wrapped.get(self.next).is_some_and(|w| {
            let image = self.bench.image(xy);
            w.kind == kind
                && apart(self.bench, self.place(self.words(w).1), image) <= self.rounding(image)
        })
    }

    fn next_moves_only_focus(&self) -> bool {
        self.wrapped.get(self.next).is_some_and(|w| {
            let (from, to) = self.words(w);
            w.kind == Kind::Travel && from == to
        })
    }

    fn too_small_to_write(&self, m: &Move) -> bool {
        let (from, to) = (self.bench.image(m.point(0.0)), self.bench.image(m.point(1.0)));
        m.circle.is_none() && apart(self.bench, from, to) <= 2.0 * self.rounding(from)
    }

    fn travel(&mut self, m: &Move) {
        while self.next_moves_only_focus() {
            self.next += 1;
        }
        if self.next_ends_at(Kind::Travel, m.point(1.0)) {
            self.next += 1;
        } else if !self.too_small_to_write(m) {
            self.part(m, "no travel to its mapped end");
        }
        while self.next_moves_only_focus() {
            self.next += 1;
        }
    }

    fn part(&mut self, m: &Move, what: &str) {
        let next = self.wrapped.get(self.next);
        let found = next.map(|w| (w.kind, self.place(self.words(w).1)));
        let image = self.bench.image(m.point(1.0));
        self.report.fault(m, next, format!("{what}: image ends at {image:.5?}, found {found:.5?}"));
        // Find the place again, so that one fault is told once.
        let ahead = (self.next..(self.next + 400).min(self.wrapped.len())).find(|k| {
            apart(self.bench, self.place(self.words(&self.wrapped[*k]).1), image)
                <= self.rounding(image)
        });
        if let Some(k) = ahead {
            self.next = k + 1;
        }
    }

    /// A travel that leads to where the flat program stands, and lowering of the focus, may come
    /// before a feed move.
    fn skip_lead_in(&mut self, m: &Move) {
        while self.next_moves_only_focus() || self.next_ends_at(Kind::Travel, m.point(0.0)) {
            self.next += 1;
        }
    }

    fn dark(&mut self, m: &Move) {
        self.skip_lead_in(m);
        // A focus that follows the crest follows it in the dark as well: the way may be parted.
        let parts = if self.also.focus {
            self.wrapped[self.next..].iter().take_while(|w| w.kind == Kind::Dark).count()
        } else {
            0
        };
        let whole = (0..parts).find(|k| {
            let image = self.bench.image(m.point(1.0));
            apart(self.bench, self.place(self.words(&self.wrapped[self.next + k]).1), image)
                <= self.rounding(image)
        });
        if let Some(parts @ 1..) = whole {
            self.next += parts + 1;
            return;
        }
        if !self.next_ends_at(Kind::Dark, m.point(1.0)) {
            // A dark circle ends where it begins: straight there is no move at all.
            let ends = [0.0, 1.0].map(|t| self.bench.image(m.point(t)));
            let goes_nowhere = apart(self.bench, ends[0], ends[1]) <= self.rounding(ends[1]);
            if !goes_nowhere && !self.too_small_to_write(m) {
                self.part(m, "no dark move straight to its mapped end");
            }
            return;
        }
        let w = self.wrapped[self.next];
        self.next += 1;
        if m.circle.is_none() {
            let (from, to) = self.words(&w);
            let cut = compare(self.bench, m, (0.0, 1.0), from, to);
            self.speed(m, &w, &cut, self.rounding(self.place(to)));
        }
    }

    fn burn(&mut self, m: &Move) {
        self.report.flat_burns += 1;
        self.skip_lead_in(m);
        if self.too_small_to_write(m) && !self.next_ends_at(Kind::Burn, m.point(1.0)) {
            return;
        }
        let end = self.bench.image(m.point(1.0));
        let mut t = 0.0;
        while t < 1.0 {
            let Some(w) = self.wrapped.get(self.next).copied().filter(|w| w.kind == Kind::Burn)
            else {
                return self.part(m, &format!("burned only to {t:.4} of its way"));
            };
            let (from, to) = self.words(&w);
            let (start, place) = (self.place(from), self.place(to));
            let near = self.rounding(place);
            let mut t1 = self.parameter(m, t, start, place);
            if apart(self.bench, place, end) <= near && (t1 > 0.9 || m.circle.is_none()) {
                t1 = 1.0;
            }
            let miss = apart(self.bench, place, self.bench.image(m.point(t1)));
            if miss > near {
                return self.part(
                    m,
                    &format!("a cut point at {place:.5?} lies {miss:.5} mm off the image"),
                );
            }
            if t1 <= t {
                return self.part(m, "the burn does not go forward");
            }
            self.next += 1;
            self.report.burns += 1;
            let cut = compare(self.bench, m, (t, t1), from, to);
            self.report.worst_stray = self.report.worst_stray.max(cut.stray);
            if cut.stray > self.bench.tolerance + SLACK_MM {
                self.report.fault(
                    m,
                    Some(&w),
                    format!("strays {:.5} mm from the image", cut.stray),
                );
            }
            let by = near.max(self.rounding(start));
            let across = |s: &&f64| {
                let (before, after) = (start[0] - **s, place[0] - **s);
                before * after < 0.0 && before.abs() > by && after.abs() > by
            };
            if let Some(s) = self.stations.iter().find(across) {
                self.report.fault(m, Some(&w), format!("spans the station at s = {s}"));
            }
            self.speed(m, &w, &cut, near);
            self.carried(m, &w, place[0]);
            t = t1;
        }
    }

    /// The fraction of `m` whose image is nearest `place`, looked for a little beyond `t`.
    fn parameter(&self, m: &Move, t: f64, start: [f64; 2], place: [f64; 2]) -> f64 {
        let h = 1e-6;
        let r = self.bench.wall.at_s(place[0]).r;
        let difference = |a: [f64; 2], b: [f64; 2]| [a[0] - b[0], r * (a[1] - b[1])];
        let rate = |t: f64| {
            let d = difference(self.bench.image(m.point(t + h)), self.bench.image(m.point(t - h)));
            [d[0] / (2.0 * h), d[1] / (2.0 * h)]
        };
        let first = rate((t + 2.0 * h).min(1.0));
        let mut at = t + apart(self.bench, start, place) / first[0].hypot(first[1]);
        for _ in 0..20 {
            at = at.clamp(t, 1.0);
            let (d, miss) = (rate(at), difference(place, self.bench.image(m.point(at))));
            let step = (miss[0] * d[0] + miss[1] * d[1]) / (d[0] * d[0] + d[1] * d[1]);
            at += step;
            if step.abs() < 1e-10 {
                break;
            }
        }
        let at = at.clamp(t, 1.0);
        // Near a corner at a station the steps above leap to and fro; looking all along finds what
        // they missed.
        let miss = |t: f64| {
            let d = difference(place, self.bench.image(m.point(t)));
            d[0].hypot(d[1])
        };
        if miss(at) <= self.rounding(place) {
            return at;
        }
        let looks = 2000;
        let look = |k: i32| t + (1.0 - t) * f64::from(k.clamp(0, looks)) / f64::from(looks);
        let nearest =
            (0..=looks).min_by(|a, b| miss(look(*a)).total_cmp(&miss(look(*b)))).unwrap_or(0);
        let (mut low, mut high) = (look(nearest - 1), look(nearest + 1));
        for _ in 0..60 {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if miss(a) < miss(b) { high = b } else { low = a }
        }
        let found = f64::midpoint(low, high);
        if miss(found) < miss(at) { found } else { at }
    }

    /// Wall speed against the speed asked, and every axis against its limit.
    fn speed(&mut self, m: &Move, w: &Move, cut: &Cut, rounding: f64) {
        let Some(asked) = m.speed() else {
            return self.report.fault(m, Some(w), "the flat program asks for no speed".into());
        };
        let Some(seconds) = self.seconds(w) else {
            return self.report.fault(m, Some(w), "no F".into());
        };
        let delta: Vec<f64> = w.from.iter().zip(&w.to).map(|(a, b)| (b - a).abs()).collect();
        let limits = &self.bench.machine.speed;
        let share =
            delta.iter().zip(limits).map(|(d, limit)| d / seconds / limit).fold(0.0, f64::max);
        // Rounding of the words moves either end of a short move by as much.
        let slack = 2.0 * rounding / cut.length + 2e-5;
        // Where that end lies on a station, it may reach a little past it, and a tenth of the move
        // feels it ten times.
        let (from, to) = self.words(w);
        let at_station = [self.place(from)[0], self.place(to)[0]]
            .iter()
            .any(|end| self.stations.iter().any(|s| (end - s).abs() <= 2.0 * rounding));
        let local_slack =
            if at_station { STEPS as f64 * rounding / cut.length } else { slack } + 5e-4;
        if share > 1.0 + slack {
            self.report.fault(m, Some(w), format!("an axis goes at {share:.4} of its limit"));
        }
        let ratio = cut.length / seconds / asked;
        if share > 0.98 && ratio < 1.0 {
            self.report.slowed += 1;
            return;
        }
        self.report.worst_speed = self.report.worst_speed.max((ratio - 1.0).abs());
        if (ratio - 1.0).abs() > SPEED_STRAY + slack {
            self.report.fault(
                m,
                Some(w),
                format!("wall speed {ratio:.4} of that asked, {:.4} mm long", cut.length),
            );
        } else if m.kind == Kind::Burn {
            let (low, high) = (cut.slowest * ratio, cut.fastest * ratio);
            if low < 1.0 - SPEED_STRAY - local_slack || high > 1.0 + SPEED_STRAY + local_slack {
                self.report.fault(
                    m,
                    Some(w),
                    format!("wall speed runs from {low:.4} to {high:.4} of that asked"),
                );
            }
        }
    }

    /// How long a machine move takes by its F and the controller's rule.
    fn seconds(&self, w: &Move) -> Option<f64> {
        let square =
            |axes: std::ops::Range<usize>| axes.map(|k| (w.to[k] - w.from[k]).powi(2)).sum::<f64>();
        match w.rate? {
            Rate::Inverse(f) => self.bench.machine.inverse_time.then_some(60.0 / f),
            Rate::PerMinute(f) => {
                let linear = square(0..3);
                let counted = if self.bench.machine.counts_all_axes || linear == 0.0 {
                    square(0..6)
                } else {
                    linear
                };
                (!self.bench.machine.inverse_time).then_some(counted.sqrt() / f * 60.0)
            }
        }
    }

    fn carried(&mut self, m: &Move, w: &Move, s: f64) {
        if m.beam != w.beam {
            self.report.fault(m, Some(w), format!("beam word {:?} for {:?}", w.beam, m.beam));
        }
        if self.also.power && m.power != w.power {
            self.report.fault(m, Some(w), format!("S {:?} for {:?}", w.power, m.power));
        }
        if self.also.focus {
            let sign = if self.bench.machine.focus_away { 1.0 } else { -1.0 };
            let expected = m.to[2] + sign * self.bench.rotary.rise(&self.bench.wall, s);
            if (w.to[2] - expected).abs() > 2e-4 {
                self.report.fault(m, Some(w), format!("Z {} for {expected:.4}", w.to[2]));
            }
        }
    }
}
