//! The longest stretch of wall that stays sharp.

use std::collections::VecDeque;

use stave_wall::{Section, Strip, Wall, WallShape};

use crate::level::{Stretch, tilts_in_reach};

/// How much longer than what was found a stretch may still be when starts are no longer parted, mm;
/// what is found is then refined.
const CLOSE_ENOUGH_MM: f64 = 0.02;
/// More set-ups than anyone makes for one piece.
const MOST_PARTS: usize = 200;
/// How closely the end of a stretch is found, mm.
const END_MM: f64 = 1e-4;
/// Starts looked at before the search ends with what it has: some hundreds of times what a wall
/// asks for that does not repeat itself.
const MOST_STARTS: u32 = 4000;
/// Stretches whose lengths lie within this of the longest, mm, are as long as it.
const AS_LONG_MM: f64 = 0.05;
/// Tilts looked at either way between none and that of the longest stretch.
const TILTS: u32 = 256;
/// Points of a curved meridian are taken no further apart than this, mm: on a curve of radius 10 mm
/// a chord then strays by 1e-4 mm.
const LOOK_MM: f64 = 0.1;
/// What a curved meridian may bulge beyond its points, mm either way.
const BULGE_MM: f64 = 2e-4;

/// The longest stretch, measured along the axis, between two places of the meridian (`s`, mm) that
/// some tilt keeps within a strip `width_mm` wide and within reach; of those as long, the one that
/// asks for the least tilt. The tilt is in rad.
///
/// A part of a stretch fits wherever the whole does, so that for every start the furthest end is
/// found by halving, and the end goes on with the start: no start between two others makes a
/// longer stretch than from the first of them to the end of the second. Starts are parted by that
/// bound until none can beat the best.
pub(crate) fn longest(
    wall: &Wall,
    within: (f64, f64),
    width_mm: f64,
    reach: (f64, f64),
) -> Option<(Stretch, f64)> {
    let ground = Ground::new(wall, within, width_mm, reach);
    let (start, end) = longest_at_any_tilt(&ground, within);
    let stretch = Stretch::between(wall, start, end);
    let length_mm = stretch.to_at_mm - stretch.from_at_mm;
    if length_mm <= 1e-6 {
        return None;
    }
    let tilt_rad = ground.strip(start, end)?.tilt_rad;
    let less = ground.under_less_tilt(tilt_rad, length_mm - AS_LONG_MM);
    Some(less.unwrap_or((stretch, tilt_rad)))
}

/// The longest stretch between two places of the meridian (`s`, mm) that a tilt, rad, keeps within
/// a strip `width_mm` wide and within reach.
pub(crate) fn longest_under(
    wall: &Wall,
    within: (f64, f64),
    width_mm: f64,
    reach: (f64, f64),
    tilt_rad: f64,
) -> Option<Stretch> {
    let stretch = Ground::new(wall, within, width_mm, reach).longest_under(tilt_rad)?;
    (stretch.to_at_mm - stretch.from_at_mm > 1e-6).then_some(stretch)
}

/// A start, the furthest end from it, and where both lie along the axis, mm.
#[derive(Clone, Copy)]
struct Reached {
    start: f64,
    end: f64,
    start_at: f64,
    end_at: f64,
}

/// One of several stretches: from and to along the meridian (`s`, mm), and its strip's tilt.
pub(crate) struct SharpPart {
    pub(crate) from: f64,
    pub(crate) to: f64,
    pub(crate) tilt_rad: f64,
}

/// The fewest stretches, one after the other without a gap, that cover the meridian between two of
/// its places (`s`, mm), each within a strip `width_mm` wide under some tilt within reach; with the
/// strip's tilt, rad. The place that no stretch goes on from where there is one, or where they
/// would be more than [`MOST_PARTS`].
///
/// Whatever holds a stretch holds any part of it: taking the furthest end every time is therefore
/// never more stretches than need be.
pub(crate) fn fewest(
    wall: &Wall,
    (from, to): (f64, f64),
    width_mm: f64,
    reach: (f64, f64),
) -> Result<Vec<SharpPart>, f64> {
    let ground = Ground::new(wall, (from, to), width_mm, reach);
    let mut parts: Vec<SharpPart> = Vec::new();
    let mut start = from;
    while start < to {
        let end = ground.furthest(start, start, to);
        let strip = ground.strip(start, end).filter(|_| end > start);
        let Some(strip) = strip.filter(|_| parts.len() < MOST_PARTS) else { return Err(start) };
        let end = if to - end < END_MM { to } else { end };
        parts.push(SharpPart { from: start, to: end, tilt_rad: strip.tilt_rad });
        start = end;
    }
    Ok(parts)
}

fn longest_at_any_tilt(ground: &Ground<'_>, (from, to): (f64, f64)) -> (f64, f64) {
    let reached = |start: f64, at_least: f64, at_most: f64| {
        let end = ground.furthest(start, at_least, at_most);
        let at = |s: f64| ground.wall.at_of_s(s);
        Reached { start, end, start_at: at(start), end_at: at(end) }
    };
    let length = |one: &Reached| one.end_at - one.start_at;
    let first = reached(from, from, to);
    let last = Reached { start: to, end: to, start_at: ground.wall.at_of_s(to), ..first };
    let last = Reached { end_at: last.start_at, ..last };
    let mut best = first;
    let mut open = vec![(first, last)];
    for _ in 0..MOST_STARTS {
        // The pair that promises most.
        let promise = |(one, other): &(Reached, Reached)| other.end_at - one.start_at;
        let most = (0..open.len()).max_by(|a, b| promise(&open[*a]).total_cmp(&promise(&open[*b])));
        let Some(pair) = most.map(|most| open.swap_remove(most)) else { break };
        if promise(&pair) + END_MM <= length(&best) + CLOSE_ENOUGH_MM {
            break;
        }
        let middle = 0.5 * (pair.0.start + pair.1.start);
        let between = reached(middle, pair.0.end, pair.1.end);
        if length(&between) > length(&best) {
            best = between;
        }
        open.push((pair.0, between));
        open.push((between, pair.1));
    }
    let mut step = CLOSE_ENOUGH_MM;
    while step > END_MM {
        for start in [best.start - step, best.start + step] {
            if (from..to).contains(&start) {
                let other = reached(start, start, (best.end + 2.0 * step).min(to));
                best = if length(&other) > length(&best) { other } else { best };
            }
        }
        step *= 0.5;
    }
    (best.start, best.end)
}

/// The meridian as points, taken once.
struct Ground<'a> {
    wall: &'a Wall,
    sections: Vec<(f64, Section)>,
    width_mm: f64,
    reach: (f64, f64),
}

impl<'a> Ground<'a> {
    fn new(wall: &'a Wall, (from, to): (f64, f64), width_mm: f64, reach: (f64, f64)) -> Self {
        let all = wall.sections_between(from, to);
        let mut sections: Vec<(f64, Section)> = Vec::new();
        for (i, one) in all.iter().enumerate() {
            let is_station = wall.span_ends_mm().contains(&one.0);
            let next_s = all.get(i + 1).map_or(f64::INFINITY, |next| next.0);
            if is_station || sections.last().is_none_or(|last| next_s - last.0 > LOOK_MM) {
                sections.push(*one);
            }
        }
        let curved = wall.shape() == WallShape::Smooth;
        Self {
            wall,
            sections,
            width_mm: width_mm - if curved { 2.0 * BULGE_MM } else { 0.0 },
            reach,
        }
    }

    /// The furthest end, of those between two places, of a stretch from `start` that is held.
    fn furthest(&self, start: f64, at_least: f64, at_most: f64) -> f64 {
        let (mut low, mut high) = (at_least.max(start), at_most);
        if self.strip(start, high).is_some() {
            low = high;
        }
        while high - low > END_MM {
            let middle = 0.5 * (low + high);
            if self.strip(start, middle).is_some() { low = middle } else { high = middle }
        }
        low
    }

    /// The strip that holds the stretch from `from` to `to`, if one is narrow enough.
    fn strip(&self, from: f64, to: f64) -> Option<Strip> {
        let inside = |s: f64| self.sections.partition_point(|one| one.0 <= s);
        let (first, last) = (inside(from), self.sections.partition_point(|one| one.0 < to));
        // The slopes at the ends are those on the inner side: a station may be just passed.
        let ends = [(from, self.wall.span_of(from, 0)), (to, self.span_before(to))];
        let mut sections: Vec<(f64, Section)> = Vec::with_capacity(last.saturating_sub(first) + 2);
        sections.push((from, self.wall.section_in(ends[0].1, from)));
        sections.extend_from_slice(self.sections.get(first..last).unwrap_or(&[]));
        sections.push((to, self.wall.section_in(ends[1].1, to)));
        let tilts = tilts_in_reach(&sections, self.reach)?;
        let points: Vec<(f64, f64)> =
            sections.iter().map(|(_, s)| (s.at_mm, s.radius_mm)).collect();
        Strip::narrowest(&points, tilts).filter(|strip| strip.width_mm() <= self.width_mm)
    }

    /// The longest stretch under the least tilt, short of a given one, that makes it as long as
    /// asked.
    fn under_less_tilt(&self, than_rad: f64, least_mm: f64) -> Option<(Stretch, f64)> {
        let found = |tilt: f64| {
            let stretch = self.longest_under(tilt)?;
            (stretch.to_at_mm - stretch.from_at_mm >= least_mm).then_some((stretch, tilt))
        };
        let tilt = |share: f64, sign: f64| sign * share * than_rad.abs();
        let signs = [than_rad.signum(), -than_rad.signum()];
        for k in 0..TILTS {
            let share = |k: f64| k / f64::from(TILTS);
            let here =
                |sign: f64| found(tilt(share(f64::from(k)), sign)).map(|found| (found, sign));
            let Some((mut best, sign)) = signs.into_iter().find_map(here) else { continue };
            let (mut low, mut high) = (share(f64::from(k) - 1.0).max(0.0), share(f64::from(k)));
            for _ in 0..10 {
                let middle = 0.5 * (low + high);
                match found(tilt(middle, sign)) {
                    Some(less) => (best, high) = (less, middle),
                    None => low = middle,
                }
            }
            return Some(best);
        }
        None
    }

    /// The longest stretch under one tilt: the windows of points within the strip's width, each
    /// with what the lines before and after it add.
    fn longest_under(&self, tilt_rad: f64) -> Option<Stretch> {
        // Of a strip of no width no point is held.
        if self.width_mm.is_nan() || self.width_mm < 0.0 {
            return None;
        }
        let (sin, cos) = tilt_rad.sin_cos();
        let curved = self.wall.shape() == WallShape::Smooth;
        let in_reach = |slope: f64| (slope + tilt_rad).abs() <= self.reach.0;
        let points: Vec<(f64, f64)> = self
            .sections
            .iter()
            .map(|(_, s)| (s.at_mm, s.at_mm * sin + s.radius_mm * cos))
            .collect();
        let joined: Vec<bool> = self
            .sections
            .windows(2)
            .map(|pair| {
                let (one, other) = (&pair[0].1, &pair[1].1);
                let chord = (other.radius_mm - one.radius_mm).atan2(other.at_mm - one.at_mm);
                let ends = [one.slope_rad(), other.slope_rad()];
                if curved { ends.into_iter().all(in_reach) } else { in_reach(chord) }
            })
            .collect();
        let (mut lows, mut highs) = (VecDeque::new(), VecDeque::new());
        let mut first = 0;
        let mut best: Option<Stretch> = None;
        for last in 0..points.len() {
            let height = |k: usize| points[k].1;
            if last > 0 && !joined[last - 1] {
                (first, lows, highs) = (last, VecDeque::new(), VecDeque::new());
            }
            while lows.back().is_some_and(|&k| height(k) >= height(last)) {
                lows.pop_back();
            }
            while highs.back().is_some_and(|&k| height(k) <= height(last)) {
                highs.pop_back();
            }
            lows.push_back(last);
            highs.push_back(last);
            while height(highs[0]) - height(lows[0]) > self.width_mm {
                first += 1;
                lows.retain(|&k| k >= first);
                highs.retain(|&k| k >= first);
            }
            let before = (first > 0 && joined[first - 1]).then(|| points[first - 1]);
            let after = joined.get(last).is_some_and(|joined| *joined).then(|| points[last + 1]);
            let band = (height(highs[0]) - self.width_mm, height(lows[0]));
            let stretch =
                extended((points[first], before), (points[last], after), band, self.width_mm);
            let length = |one: &Stretch| one.to_at_mm - one.from_at_mm;
            if best.as_ref().is_none_or(|best| length(&stretch) > length(best)) {
                best = Some(stretch);
            }
        }
        best
    }

    fn span_before(&self, s: f64) -> usize {
        let span = self.wall.span_of(s, 0);
        if self.wall.span_ends_mm().get(span).is_some_and(|end| *end >= s) {
            span.saturating_sub(1)
        } else {
            span
        }
    }
}

/// A window of points, each end with the point beyond it if there is one in reach, drawn out along
/// the lines to those as far as a band goes whose lower edge may lie anywhere in `edges`, mm.
fn extended(first: End, last: End, edges: (f64, f64), width_mm: f64) -> Stretch {
    let share = |(point, beyond): End, edge: f64| {
        let rise = beyond.map_or(0.0, |beyond| beyond.1 - point.1);
        let room = if rise > 0.0 { edge + width_mm - point.1 } else { point.1 - edge };
        if rise == 0.0 { 1.0 } else { (room / rise.abs()).clamp(0.0, 1.0) }
    };
    let out = |end: End, edge: f64| {
        end.0.0 + end.1.map_or(0.0, |beyond| share(end, edge) * (beyond.0 - end.0.0))
    };
    // What both lines add is greatest with an edge at an end of its room or where a line is
    // used up.
    let used_up = [first, last].map(|(point, beyond)| match beyond {
        Some(beyond) if beyond.1 > point.1 => beyond.1 - width_mm,
        Some(beyond) => beyond.1,
        None => edges.0,
    });
    let stretch = |edge: f64| {
        let edge = edge.min(edges.1).max(edges.0);
        Stretch { from_at_mm: out(first, edge), to_at_mm: out(last, edge) }
    };
    let length = |one: &Stretch| one.to_at_mm - one.from_at_mm;
    [edges.1, used_up[0], used_up[1]].map(stretch).into_iter().fold(
        stretch(edges.0),
        |best, one| {
            if length(&one) > length(&best) { one } else { best }
        },
    )
}

/// A point, at and height in mm, and the one beyond it.
type End = ((f64, f64), Option<(f64, f64)>);
