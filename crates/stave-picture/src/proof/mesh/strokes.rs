//! The burns of a program as lines on the wall, thinned to what can be seen.

use std::f64::consts::TAU;

use stave_wall::Wall;

use super::super::burn_map::WallPlace;
use super::from_chord_mm;

/// A point that lies no further than this from the line without it is left out, mm.
const KEEP_MM: f64 = 0.01;
/// Burns that begin this near to where the last one ended go on with it, mm.
const SAME_MM: f64 = 2e-3;
/// By what share the energy along a line may change before another line begins, and how far it may
/// be from even where a point is left out.
const EVEN_ENERGY: f64 = 0.03;
/// How far, as a share of its length and in mm, the beam may be from where an even speed would have
/// it.
const EVEN_TIME: (f64, f64) = (0.1, 0.3);
/// The cosine of the angle from which on a line goes back on itself.
const BACK: f64 = -0.98;
/// How many points may wait to be left out: the cost of thinning grows with it.
const MOST_PENDING: usize = 64;
/// The most points that are held. Beyond, the section with the most is left to the map: it is a
/// picture.
const MOST_POINTS: usize = 300_000;

/// A point of a line that is burned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct BurnPoint {
    /// Along the meridian, mm.
    pub(crate) s_mm: f64,
    /// About the axis, rad.
    pub(crate) turn_rad: f64,
    /// When it is burned, s.
    pub(crate) at_s: f64,
    /// Percent of full power times seconds for a mm of the line; for a dot all of it.
    pub(crate) energy: f64,
}

/// A line that is burned in one go; of one point where it is a dot.
#[derive(Clone, Debug)]
pub(crate) struct Stroke {
    pub(crate) section: u16,
    pub(crate) points: Vec<BurnPoint>,
}

/// The burns of a program as lines on the wall. What is too fine or too much for lines is known to
/// the map alone.
#[derive(Clone, Debug)]
pub struct Burns {
    wall: Wall,
    hint: usize,
    spot_mm: f64,
    strokes: Vec<Stroke>,
    open: Option<Open>,
    /// Points held of each section; `None` where it is left to the map.
    held: Vec<Option<usize>>,
}

/// The line that goes on; the last of its points is where the beam is.
#[derive(Clone, Debug)]
struct Open {
    section: u16,
    kept: Vec<BurnPoint>,
    pending: Vec<BurnPoint>,
    radius_mm: f64,
}

impl Open {
    fn last(&self) -> Option<&BurnPoint> {
        self.pending.last().or_else(|| self.kept.last())
    }

    fn settle(&mut self) {
        self.kept.extend(self.pending.pop());
        self.pending.clear();
    }

    fn push(&mut self, point: BurnPoint) {
        if self.pending.len() >= MOST_PENDING || !self.holds(&point) {
            self.settle();
        }
        self.pending.push(point);
    }

    /// Whether all that waits lies on the straight way from the last kept point to another, in
    /// place and, nearly, in time and energy.
    fn holds(&self, to: &BurnPoint) -> bool {
        let Some(from) = self.kept.last() else { return true };
        let flat = |point: &BurnPoint| {
            (point.s_mm - from.s_mm, (point.turn_rad - from.turn_rad) * self.radius_mm)
        };
        let (ds, dt) = flat(to);
        let (length, span_s) = (ds.hypot(dt), to.at_s - from.at_s);
        if length < KEEP_MM {
            return self.pending.is_empty();
        }
        self.pending.iter().all(|waiting| {
            let (ws, wt) = flat(waiting);
            let off = (ws * dt - wt * ds).abs() / length;
            let along = (ws * ds + wt * dt) / length;
            let even =
                if span_s > 0.0 { (waiting.at_s - from.at_s) / span_s * length } else { along };
            let energy = from.energy + along / length * (to.energy - from.energy);
            off <= from_chord_mm(length, KEEP_MM)
                && (-KEEP_MM..=length + KEEP_MM).contains(&along)
                && (even - along).abs() <= EVEN_TIME.0 * length + EVEN_TIME.1
                && (energy - waiting.energy).abs() <= EVEN_ENERGY * energy
        })
    }
}

impl Burns {
    /// Nothing burned yet. `spot_mm` is the width of a burn.
    #[must_use]
    pub fn new(wall: &Wall, spot_mm: f64) -> Self {
        Self {
            wall: wall.clone(),
            hint: 0,
            spot_mm: spot_mm.max(0.0),
            strokes: Vec::new(),
            open: None,
            held: Vec::new(),
        }
    }

    /// Takes a burn straight from one place to another, from one time to another, s. `energy` is
    /// percent of full power times seconds. What lies past the ends of the wall is left out.
    pub fn burn(
        &mut self,
        (from, to): (WallPlace, WallPlace),
        energy: f64,
        (start_s, end_s): (f64, f64),
        section: u16,
    ) {
        if !self.takes(section) {
            return;
        }
        let middle = 0.5 * (from.s_mm + to.s_mm);
        let radius_mm = self.wall.section(middle, &mut self.hint).radius_mm;
        let (ds, dturn) = (to.s_mm - from.s_mm, to.turn_rad - from.turn_rad);
        let length = ds.hypot(dturn * radius_mm);
        if !(length.is_finite() && energy.is_finite() && energy > 0.0 && middle.is_finite()) {
            return;
        }
        let energy = if length > SAME_MM { energy / length } else { energy };
        let point = |share: f64| BurnPoint {
            s_mm: from.s_mm + share * ds,
            turn_rad: from.turn_rad + share * dturn,
            at_s: start_s + share * (end_s - start_s),
            energy,
        };
        let Some((first, last)) = self.on_wall(from.s_mm, ds) else { return };
        if length <= SAME_MM {
            self.close();
            self.add(Stroke { section, points: vec![point(0.0)] });
            return;
        }
        let (first, last) = (point(first), point(last));
        if !self.open.as_ref().is_some_and(|open| goes_on(open, (&first, &last), section)) {
            self.close();
            self.open = Some(Open { section, kept: vec![first], pending: Vec::new(), radius_mm });
        }
        if let Some(open) = &mut self.open {
            open.radius_mm = radius_mm;
            open.push(last);
        }
    }

    /// The lines, all settled, each about turn 0.
    pub(crate) fn strokes(&self) -> Vec<Stroke> {
        let mut all = self.clone();
        all.close();
        all.strokes
    }

    /// Whether the lines of a section are held: it is not left to the map.
    pub(crate) fn takes(&self, section: u16) -> bool {
        !matches!(self.held.get(usize::from(section)), Some(None))
    }

    /// The width of a burn, mm.
    pub(crate) fn spot_mm(&self) -> f64 {
        self.spot_mm
    }

    pub(crate) fn wall(&self) -> &Wall {
        &self.wall
    }

    /// The shares of a way between which it is on the wall.
    fn on_wall(&self, from: f64, ds: f64) -> Option<(f64, f64)> {
        let length = self.wall.length_mm();
        if ds == 0.0 {
            return (0.0..=length).contains(&from).then_some((0.0, 1.0));
        }
        let (a, b) = (-from / ds, (length - from) / ds);
        let (first, last) = (a.min(b).max(0.0), a.max(b).min(1.0));
        (first < last).then_some((first, last))
    }

    fn close(&mut self) {
        let Some(mut open) = self.open.take() else { return };
        open.settle();
        let Open { section, kept: points, .. } = open;
        self.add(Stroke { section, points });
    }

    fn add(&mut self, mut stroke: Stroke) {
        let turns = || stroke.points.iter().map(|point| point.turn_rad);
        let middle =
            0.5 * (turns().fold(f64::INFINITY, f64::min) + turns().fold(-f64::INFINITY, f64::max));
        let whole = TAU * (middle / TAU).round();
        stroke.points.iter_mut().for_each(|point| point.turn_rad -= whole);
        let section = usize::from(stroke.section);
        if self.held.len() <= section {
            self.held.resize(section + 1, Some(0));
        }
        if let Some(held) = &mut self.held[section] {
            *held += stroke.points.len();
            self.strokes.push(stroke);
        }
        let all: usize = self.held.iter().flatten().sum();
        if all > MOST_POINTS {
            let most = (0..self.held.len()).max_by_key(|k| self.held[*k]).unwrap_or(0);
            self.held[most] = None;
            self.strokes.retain(|stroke| usize::from(stroke.section) != most);
        }
    }
}

/// Whether a burn goes on with a line: from its end, with the same energy, within a turn, and not
/// back on itself, which is the same line burned again.
fn goes_on(open: &Open, (first, last): (&BurnPoint, &BurnPoint), section: u16) -> bool {
    let Some((end, begin)) = open.last().zip(open.kept.first()) else { return false };
    let before = open.kept.last().filter(|_| !open.pending.is_empty()).unwrap_or(begin);
    let way = |from: &BurnPoint, to: &BurnPoint| {
        (to.s_mm - from.s_mm, (to.turn_rad - from.turn_rad) * open.radius_mm)
    };
    let (gap, came, goes) = (way(end, first), way(before, end), way(first, last));
    let turned = came.0 * goes.0 + came.1 * goes.1;
    let back = turned < BACK * came.0.hypot(came.1) * goes.0.hypot(goes.1);
    open.section == section
        && !back
        && gap.0.hypot(gap.1) <= SAME_MM
        && (first.energy - end.energy).abs() <= EVEN_ENERGY * end.energy
        && (last.turn_rad - begin.turn_rad).abs() < 0.5 * TAU
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_wall::{Station, WallShape};

    fn can() -> Wall {
        let stations = [0.0, 100.0].map(|at_mm| Station { at_mm, radius_mm: 40.0 });
        Wall::from_stations(&stations, WallShape::Straight).unwrap()
    }

    fn place(s_mm: f64, turn_rad: f64) -> WallPlace {
        WallPlace { s_mm, turn_rad }
    }

    #[test]
    fn a_line_in_many_moves_is_two_points_and_a_corner_stays() {
        let mut burns = Burns::new(&can(), 0.2);
        for k in 0..50 {
            let s = f64::from(k);
            burns.burn((place(s, 0.1), place(s + 1.0, 0.1)), 2.0, (s, s + 1.0), 0);
        }
        burns.burn((place(50.0, 0.1), place(50.0, 0.2)), 8.0, (50.0, 54.0), 0);
        let strokes = burns.strokes();
        assert_eq!(strokes.len(), 1, "{strokes:?}");
        let ends: Vec<(f64, f64)> =
            strokes[0].points.iter().map(|point| (point.s_mm, point.at_s)).collect();
        assert_eq!(ends, [(0.0, 0.0), (50.0, 50.0), (50.0, 54.0)]);
    }

    #[test]
    fn other_energy_sections_and_places_begin_anew() {
        let mut burns = Burns::new(&can(), 0.2);
        burns.burn((place(0.0, 0.0), place(1.0, 0.0)), 2.0, (0.0, 1.0), 0);
        burns.burn((place(1.0, 0.0), place(2.0, 0.0)), 4.0, (1.0, 2.0), 0);
        burns.burn((place(2.0, 0.0), place(3.0, 0.0)), 4.0, (2.0, 3.0), 1);
        burns.burn((place(3.1, 0.0), place(4.0, 0.0)), 3.6, (3.0, 4.0), 1);
        assert_eq!(burns.strokes().len(), 4);
    }

    #[test]
    fn what_lies_past_the_wall_is_cut_off_and_turns_are_folded() {
        let mut burns = Burns::new(&can(), 0.2);
        burns.burn((place(-10.0, 3.0 * TAU), place(10.0, 3.0 * TAU)), 2.0, (0.0, 1.0), 0);
        burns.burn((place(-9.0, 0.0), place(-1.0, 0.0)), 2.0, (1.0, 2.0), 0);
        burns.burn((place(f64::NAN, 0.0), place(1.0, 0.0)), 2.0, (2.0, 3.0), 0);
        let strokes = burns.strokes();
        assert_eq!(strokes.len(), 1);
        let first = strokes[0].points[0];
        assert_eq!((first.s_mm, first.at_s), (0.0, 0.5));
        assert!(first.turn_rad.abs() < 1e-9);
    }

    #[test]
    fn the_largest_section_is_left_to_the_map_where_there_is_too_much() {
        let mut burns = Burns::new(&can(), 0.2);
        burns.burn((place(0.0, 0.0), place(1.0, 0.0)), 2.0, (0.0, 1.0), 1);
        for k in 0..=u32::try_from(MOST_POINTS / 2).unwrap() {
            let turn = f64::from(k % 1000) * 0.001;
            burns.burn((place(5.0, turn), place(6.0, turn)), 2.0, (0.0, 1.0), 0);
        }
        assert!(!burns.takes(0) && burns.takes(1));
        assert_eq!(burns.strokes().len(), 1);
    }
}
