//! Scan lines that lie side by side, joined to areas.

use std::collections::VecDeque;

use stave_wall::Wall;

use super::from_chord_mm;
use super::strokes::{BurnPoint, Stroke};

/// How far an edge of an area may be from the ends of the lines that make it, mm.
const EDGE_MM: f64 = 0.02;
/// By what share the energy of a line that is left out may be off.
const EVEN_ENERGY: f64 = 0.05;
/// Lines are joined where their ends are no further apart than this many spacings.
const MOST_JUMP: f64 = 8.0;
/// How many of the latest areas a line is held against: more than lie on one scan line.
const MOST_OPEN: usize = 512;
/// Lines between two that are kept.
const MOST_BETWEEN: usize = 128;
/// A line along the meridian may shear by this share of its length.
const MOST_SHEAR: f64 = 0.25;
/// A line around strays from its place by no more than this, mm.
const LEVEL_MM: f64 = 0.02;

/// Which way scan lines go.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Way {
    /// Along the meridian.
    Along,
    /// Around the axis.
    Around,
}

/// A scan line; its points go up along its way.
#[derive(Clone, Debug)]
struct Line {
    section: u16,
    way: Way,
    points: Vec<BurnPoint>,
    radius_mm: f64,
}

/// A part of an area: its points go around it. Energies are for a mm² now.
#[derive(Clone, Debug)]
pub(crate) struct Patch {
    pub(crate) outline: Vec<BurnPoint>,
}

impl Line {
    fn new(stroke: &Stroke, wall: &Wall, hint: &mut usize) -> Option<Self> {
        let (first, last) = (stroke.points.first()?, stroke.points.last()?);
        let middle = 0.5 * (first.s_mm + last.s_mm);
        let radius_mm = wall.section(middle, hint).radius_mm;
        let ds = last.s_mm - first.s_mm;
        let level = stroke.points.iter().all(|point| (point.s_mm - first.s_mm).abs() <= LEVEL_MM);
        let shear = || {
            let off = |point: &BurnPoint| (point.turn_rad - first.turn_rad).abs() * radius_mm;
            stroke.points.iter().map(off).fold(0.0, f64::max)
        };
        let way = if level {
            Way::Around
        } else if shear() <= MOST_SHEAR * ds.abs() {
            Way::Along
        } else {
            return None;
        };
        let mut points = stroke.points.clone();
        if way.x(last) < way.x(first) {
            points.reverse();
        }
        let rises = points.windows(2).all(|pair| way.x(&pair[0]) < way.x(&pair[1]));
        (points.len() > 1 && rises).then_some(Self {
            section: stroke.section,
            way,
            points,
            radius_mm,
        })
    }

    fn ends(&self) -> (BurnPoint, BurnPoint) {
        let last = self.points.len() - 1;
        (self.points[0], self.points[last])
    }

    /// mm for a unit along the line, and across it.
    fn scale(&self) -> (f64, f64) {
        match self.way {
            Way::Along => (1.0, self.radius_mm),
            Way::Around => (self.radius_mm, 1.0),
        }
    }

    /// Where the line is across its way at a place along it.
    fn y_at(&self, x: f64) -> f64 {
        let after = self.points.iter().position(|point| self.way.x(point) >= x);
        let after = after.unwrap_or(self.points.len() - 1).max(1);
        let (a, b) = (&self.points[after - 1], &self.points[after]);
        let (xa, xb) = (self.way.x(a), self.way.x(b));
        let share = if xb > xa { ((x - xa) / (xb - xa)).clamp(0.0, 1.0) } else { 0.0 };
        self.way.y(a) + share * (self.way.y(b) - self.way.y(a))
    }

    /// How far another line is from this one across, with its sign, mm, where they run side by side
    /// and their ends are near.
    fn gap_mm(&self, other: &Self) -> Option<f64> {
        if self.way != other.way || self.section != other.section {
            return None;
        }
        let ((a, b), (c, d)) = (self.ends(), other.ends());
        let x = |point: &BurnPoint| self.way.x(point);
        let (low, high) = (x(&a).max(x(&c)), x(&b).min(x(&d)));
        if low >= high {
            return None;
        }
        let middle = 0.5 * (low + high);
        Some((other.y_at(middle) - self.y_at(middle)) * self.scale().1)
    }

    /// The line moved across its way.
    fn moved(&self, by_mm: f64) -> Vec<BurnPoint> {
        let moved = |point: &BurnPoint| match self.way {
            Way::Along => BurnPoint { turn_rad: point.turn_rad + by_mm / self.radius_mm, ..*point },
            Way::Around => BurnPoint { s_mm: point.s_mm + by_mm, ..*point },
        };
        self.points.iter().map(moved).collect()
    }
}

impl Way {
    fn x(self, point: &BurnPoint) -> f64 {
        if self == Self::Along { point.s_mm } else { point.turn_rad }
    }

    fn y(self, point: &BurnPoint) -> f64 {
        if self == Self::Along { point.turn_rad } else { point.s_mm }
    }

    fn set_x(self, point: &mut BurnPoint, x: f64) {
        if self == Self::Along {
            point.s_mm = x;
        } else {
            point.turn_rad = x;
        }
    }
}

/// Lines side by side, each touching the next.
#[derive(Default)]
struct Chain {
    lines: Vec<Line>,
    gaps_mm: Vec<f64>,
}

/// Parts what was burned into areas, whose lines touch, and lines that stand alone.
pub(crate) fn parted(strokes: Vec<Stroke>, wall: &Wall, spot_mm: f64) -> (Vec<Patch>, Vec<Stroke>) {
    let mut chains: Vec<Chain> = Vec::new();
    let mut open: VecDeque<usize> = VecDeque::new();
    let mut alone = Vec::new();
    let mut hint = 0;
    for stroke in strokes {
        let Some(line) = Line::new(&stroke, wall, &mut hint) else {
            alone.push(stroke);
            continue;
        };
        let mut beside = open.iter().enumerate().rev().filter_map(|(place, chain)| {
            let gap = chains[*chain].lines.last()?.gap_mm(&line)?;
            (gap.abs() <= spot_mm * 1.001 && gap != 0.0).then_some((place, gap))
        });
        let first = beside.next();
        // A line that touches two areas joins them: a new area begins with it.
        let joined = first.filter(|_| beside.next().is_none());
        let joined = joined.filter(|(place, gap)| chains[open[*place]].goes_on(&line, *gap));
        if let Some((place, gap)) = joined {
            let Some(chain) = open.remove(place) else { continue };
            chains[chain].lines.push(line);
            chains[chain].gaps_mm.push(gap);
            open.push_back(chain);
        } else {
            open.push_back(chains.len());
            chains.push(Chain { lines: vec![line], gaps_mm: Vec::new() });
        }
        if open.len() > MOST_OPEN {
            open.pop_front();
        }
    }
    let mut patches = Vec::new();
    for chain in chains {
        chain.patches(spot_mm, &mut patches);
    }
    (patches, alone)
}

impl Chain {
    /// Whether a line that lies beside the last one goes on with the area: to the same side, with
    /// its ends near, and still within a turn.
    fn goes_on(&self, line: &Line, gap_mm: f64) -> bool {
        let Some(last) = self.lines.last() else { return false };
        let same_side = self.gaps_mm.last().is_none_or(|gap| gap * gap_mm > 0.0);
        let ((a, b), (c, d)) = (last.ends(), line.ends());
        let jump = |from: &BurnPoint, to: &BurnPoint| {
            (last.way.x(to) - last.way.x(from)).abs() * last.scale().0
        };
        let near = jump(&a, &c).max(jump(&b, &d)) <= MOST_JUMP * gap_mm.abs();
        let begun = &self.lines[0];
        let turned = (c.turn_rad - begun.ends().0.turn_rad).abs();
        let even = (c.energy - a.energy).abs() <= 0.2 * a.energy;
        same_side && near && even && turned < std::f64::consts::PI
    }

    /// The area as parts between the lines that are needed for its outline.
    fn patches(mut self, spot_mm: f64, out: &mut Vec<Patch>) {
        self.spread_energy(spot_mm);
        let (first, last) = (0, self.lines.len() - 1);
        let side = self.gaps_mm.first().map_or(1.0, |gap| gap.signum());
        let edge = side * 0.5 * spot_mm;
        let mut below = self.lines[first].moved(-edge);
        if first < last {
            let ends = self.spread(spot_mm);
            let mut k = first;
            while k < last {
                let next = self.next_kept(&ends, k);
                let mut above = self.lines[next].points.clone();
                let end = above.len() - 1;
                self.lines[next].way.set_x(&mut above[0], ends[next].0);
                self.lines[next].way.set_x(&mut above[end], ends[next].1);
                if next < last {
                    out.push(ring(&below, &above));
                    below = above;
                }
                k = next;
            }
        }
        out.push(ring(&below, &self.lines[last].moved(edge)));
    }

    /// From energy along the lines to energy on the area.
    fn spread_energy(&mut self, spot_mm: f64) {
        let gap = |k: usize| self.gaps_mm.get(k).copied().unwrap_or(0.0).abs();
        let count = self.lines.len();
        let widths: Vec<f64> = (0..count)
            .map(|k| {
                let before = if k > 0 { gap(k - 1) } else { gap(0) };
                let after = if k + 1 < count { gap(k) } else { before };
                if count > 1 { 0.5 * (before + after) } else { spot_mm }
            })
            .collect();
        for (line, width) in self.lines.iter_mut().zip(widths) {
            line.points.iter_mut().for_each(|point| point.energy /= width);
        }
    }

    /// The ends of each line, moved to where the edge of the area is: burns are wider than their
    /// spacing, so that along a slanting edge they reach past the line between their ends.
    fn spread(&self, spot_mm: f64) -> Vec<(f64, f64)> {
        let ends = |k: usize| {
            let (a, b) = self.lines[k].ends();
            (self.lines[k].way.x(&a), self.lines[k].way.x(&b))
        };
        let spread = |k: usize| {
            let mut found = ends(k);
            let near = [(k.checked_sub(1), k.checked_sub(1)), (Some(k + 1), Some(k))];
            for (other, gap) in near {
                let (Some(other), Some(gap)) = (other, gap.and_then(|g| self.gaps_mm.get(g)))
                else {
                    continue;
                };
                let share = (0.5 * (spot_mm - gap.abs()) / gap.abs()).clamp(0.0, 1.0);
                let there = ends(other);
                found.0 = found.0.min(ends(k).0 + share * (there.0 - ends(k).0));
                found.1 = found.1.max(ends(k).1 + share * (there.1 - ends(k).1));
            }
            found
        };
        (0..self.lines.len()).map(spread).collect()
    }

    /// The farthest line that can follow a kept one: all between end on straight edges.
    fn next_kept(&self, ends: &[(f64, f64)], from: usize) -> usize {
        let last = self.lines.len() - 1;
        let mut found = from + 1;
        while found < last && found - from < MOST_BETWEEN && self.straight(ends, from, found + 1) {
            found += 1;
        }
        found
    }

    fn straight(&self, ends: &[(f64, f64)], from: usize, to: usize) -> bool {
        let line = |k: usize| &self.lines[k];
        let (scale, _) = line(from).scale();
        let across = |k: usize| self.gaps_mm[from..k].iter().sum::<f64>();
        let whole = across(to);
        let energy = |k: usize| line(k).points[0].energy;
        (from + 1..to).all(|k| {
            let share = across(k) / whole;
            let is_near = |a: f64, b: f64, x: f64| {
                let chord_mm = whole.hypot((b - a) * scale);
                (a + share * (b - a) - x).abs() * scale <= from_chord_mm(chord_mm, EDGE_MM)
            };
            let even = energy(from) + share * (energy(to) - energy(from));
            is_near(ends[from].0, ends[to].0, ends[k].0)
                && is_near(ends[from].1, ends[to].1, ends[k].1)
                && (even - energy(k)).abs() <= EVEN_ENERGY * even
        })
    }
}

fn ring(below: &[BurnPoint], above: &[BurnPoint]) -> Patch {
    Patch { outline: below.iter().chain(above.iter().rev()).copied().collect() }
}
