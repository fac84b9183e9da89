//! The longest stretch of wall that stays sharp.

use stave_wall::{Section, Strip, Wall, WallShape};

use crate::level::{Stretch, tilts_in_reach};

/// How many places a stretch may start from are looked at before the best is refined.
const STARTS: u32 = 64;
/// Points of a curved meridian are taken no further apart than this, mm: on a curve of radius 10 mm
/// a chord then strays by 1e-4 mm.
const LOOK_MM: f64 = 0.1;
/// What a curved meridian may bulge beyond its points, mm either way.
const BULGE_MM: f64 = 2e-4;

/// The longest stretch between two places of the meridian (`s`, mm) that some tilt keeps within a
/// strip `width_mm` wide and within reach.
///
/// A part of a stretch fits wherever the whole does, so that for every start the furthest end is
/// found by halving; the best start is found by looking along the wall and at every station, then
/// refined.
pub(crate) fn longest(
    wall: &Wall,
    within: (f64, f64),
    width_mm: f64,
    reach: (f64, f64),
) -> Option<(Stretch, Strip)> {
    let (from, to) = within;
    let ground = Ground::new(wall, within, width_mm, reach);
    let furthest = |start: f64, at_least: f64, halvings: u32| {
        let (mut low, mut high) = (at_least.max(start), to);
        for _ in 0..halvings {
            let middle = 0.5 * (low + high);
            if ground.strip(start, middle).is_some() { low = middle } else { high = middle }
        }
        low
    };
    let mut starts: Vec<f64> =
        (0..STARTS).map(|k| from + (to - from) * f64::from(k) / f64::from(STARTS)).collect();
    starts.extend(wall.span_ends_mm().iter().filter(|s| (from..to).contains(s)));
    starts.sort_by(f64::total_cmp);
    let mut best = (from, 0.0);
    let mut end = from;
    for start in starts {
        // The end goes on with the start. Sixteen halvings bring a decimetre to a micrometre or
        // two.
        end = furthest(start, end, 16);
        if end - start > best.1 {
            best = (start, end - start);
        }
    }
    let mut step = (to - from) / f64::from(STARTS);
    while step > 1e-3 {
        for start in [best.0 - step, best.0 + step] {
            let found =
                if (from..to).contains(&start) { furthest(start, start, 24) - start } else { 0.0 };
            if found > best.1 {
                best = (start, found);
            }
        }
        step *= 0.5;
    }
    let (start, end) = (best.0, best.0 + best.1);
    if best.1 <= 1e-6 {
        return None;
    }
    Some((Stretch::between(wall, start, end), ground.strip(start, end)?))
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

    fn span_before(&self, s: f64) -> usize {
        let span = self.wall.span_of(s, 0);
        if self.wall.span_ends_mm().get(span).is_some_and(|end| *end >= s) {
            span.saturating_sub(1)
        } else {
            span
        }
    }
}
