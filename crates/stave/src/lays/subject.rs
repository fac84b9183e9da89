//! A piece as points to look at.

use std::collections::BTreeMap;

use kurbo::{BezPath, Point, Rect, Shape as _};
use stave_setup::Setup;
use stave_toolpath::art::{Rule, subpaths};
use stave_transform::Redraw;
use stave_wall::{Lay, LayKind, LaySetting};

use crate::seen::seen_lines;

/// How close outlines are followed, mm.
pub(super) const LOOK_MM: f64 = 0.05;
/// No two points of an outline lie farther apart, mm: a lay may bend a long straight side.
const STEP_MM: f64 = 0.5;
/// The most points of an outline that figures are taken from.
const MOST_POINTS: usize = 4000;

/// One piece of art, or a whole program.
#[derive(Clone, Debug)]
pub(crate) struct Subject {
    pub(crate) id: String,
    /// The lay that it has, an index into the layout's.
    #[cfg_attr(not(feature = "svg"), expect(dead_code, reason = "a program has one lay"))]
    pub(crate) lay: usize,
    /// Its place among the layout's pieces.
    #[cfg_attr(not(feature = "svg"), expect(dead_code, reason = "a program is one piece"))]
    pub(super) piece: usize,
    /// Its box: least and greatest `(u, v)`, mm.
    pub(crate) from: (f64, f64),
    pub(crate) to: (f64, f64),
    /// Its outlines as lines of points.
    pub(crate) lines: Vec<Vec<(f64, f64)>>,
    /// Points of them, at most so many.
    pub(crate) outline: Vec<(f64, f64)>,
    /// Points inside its areas.
    pub(crate) inside: Vec<(f64, f64)>,
    /// Its outlines with how their insides burn, and the box of what is seen of each.
    pub(crate) burns: Vec<(BezPath, Option<Rule>, Rect)>,
    /// For each lay what fixes it.
    pub(crate) settings: Vec<LaySetting>,
    /// How it is painted in the picture; what burns as lines where this is empty.
    #[cfg(all(feature = "svg", feature = "pictures"))]
    pub(super) paints: Vec<super::paint::Paint>,
}

impl Subject {
    pub(crate) fn new(
        side: u32,
        id: String,
        lay: usize,
        bounds: Rect,
        burns: Vec<(BezPath, Option<Rule>, Rect)>,
        settings: Vec<LaySetting>,
    ) -> Subject {
        let lines: Vec<Vec<(f64, f64)>> = burns
            .iter()
            .flat_map(|(flat, rule, seen)| lines(flat, rule.is_some(), *seen))
            .collect();
        let count: usize = lines.iter().map(Vec::len).sum();
        let outline =
            lines.iter().flatten().step_by(count.div_ceil(MOST_POINTS).max(1)).copied().collect();
        Subject {
            inside: inside(bounds, &burns, side),
            id,
            lay,
            piece: 0,
            from: (bounds.x0, bounds.y0),
            to: (bounds.x1, bounds.y1),
            lines,
            outline,
            burns,
            settings,
            #[cfg(all(feature = "svg", feature = "pictures"))]
            paints: Vec::new(),
        }
    }

    /// The straight lines of its outlines.
    pub(super) fn straight_lines(&self) -> impl Iterator<Item = [(f64, f64); 2]> {
        let dots = self.lines.iter().filter_map(|line| line.first()).map(|dot| [*dot, *dot]);
        let lines = self.lines.iter().flat_map(|line| line.iter().zip(line.iter().skip(1)));
        dots.chain(lines.map(|(from, to)| [*from, *to]))
    }

    /// The lay of a kind.
    pub(super) fn lay(&self, setup: &Setup, kind: LayKind) -> Result<Lay, String> {
        let setting = self.settings.iter().find(|setting| setting.kind == kind);
        let setting = setting.ok_or_else(|| format!("{kind} is not compared"))?;
        Lay::new(&setup.blank.wall, *setting).map_err(|error| error.to_string())
    }

    /// Whether all of it can be burned under a lay.
    pub(super) fn reaches(&self, redraw: &Redraw<'_>, lay: &Lay) -> Result<(), String> {
        let reach =
            |(flat, _, seen): &(BezPath, Option<Rule>, Rect)| redraw.reaches(lay, flat, *seen);
        self.burns.iter().try_for_each(reach).map_err(|misfit| misfit.to_string())
    }

    /// The zones that it touches under a lay.
    pub(super) fn zones(&self, redraw: &Redraw<'_>, lay: &Lay) -> Vec<String> {
        let hits = self
            .burns
            .iter()
            .flat_map(|(flat, rule, seen)| redraw.zone_hits(lay, flat, *rule, *seen));
        let mut zones: Vec<String> = hits.map(|hit| hit.zone).collect();
        zones.sort();
        zones.dedup();
        zones
    }
}

/// The lines of what is seen of a path, as points close together.
fn lines(flat: &BezPath, is_area: bool, seen: Rect) -> Vec<Vec<(f64, f64)>> {
    let close = |line: Vec<Point>| -> Vec<(f64, f64)> {
        let mut points: Vec<(f64, f64)> = line.first().map(|p| (p.x, p.y)).into_iter().collect();
        for (from, to) in line.iter().zip(line.iter().skip(1)) {
            let steps = (from.distance(*to) / STEP_MM).ceil().clamp(1.0, 20_000.0);
            let mut k = 1.0;
            while k <= steps {
                let p = from.lerp(*to, k / steps);
                points.push((p.x, p.y));
                k += 1.0;
            }
        }
        points.dedup();
        points
    };
    let lines = seen_lines(flat, is_area, seen, LOOK_MM).into_iter().map(close);
    lines.filter(|line| line.len() > 1).collect()
}

/// All lines of a path, as points close together.
#[cfg(all(feature = "svg", feature = "pictures"))]
pub(super) fn all_lines(flat: &BezPath) -> Vec<Vec<(f64, f64)>> {
    lines(
        flat,
        false,
        Rect::new(f64::NEG_INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::INFINITY),
    )
}

/// Those of `side` × `side` points of a grid over the bounds that lie in an area that burns.
fn inside(bounds: Rect, burns: &[(BezPath, Option<Rule>, Rect)], side: u32) -> Vec<(f64, f64)> {
    let at =
        |k: u32, from: f64, length: f64| from + length * (f64::from(k) + 0.5) / f64::from(side);
    let mut taken = vec![false; (side * side) as usize];
    for (flat, rule, seen) in burns {
        let Some(rule) = rule else { continue };
        // Windings add up, and an outline has none outside its box: each is asked of the points in
        // its own box alone. There may be a hundred thousand of them, in one path too.
        let mut windings: BTreeMap<(u32, u32), i32> = BTreeMap::new();
        for mut outline in subpaths(flat) {
            outline.close_path();
            let near = outline.control_box().intersect(*seen);
            let (x0, x1) = (near.x0 - bounds.x0, near.x1 - bounds.x0);
            let (y0, y1) = (near.y0 - bounds.y0, near.y1 - bounds.y0);
            for i in steps_between(x0, x1, bounds.width(), side) {
                for k in steps_between(y0, y1, bounds.height(), side) {
                    let p = Point::new(
                        at(i, bounds.x0, bounds.width()),
                        at(k, bounds.y0, bounds.height()),
                    );
                    if seen.contains(p) {
                        *windings.entry((i, k)).or_default() += outline.winding(p);
                    }
                }
            }
        }
        for ((i, k), winding) in windings {
            let Some(taken) = taken.get_mut((i * side + k) as usize) else { continue };
            *taken |= rule.holds(winding);
        }
    }
    let all = (0..side).flat_map(|i| (0..side).map(move |k| (i, k)));
    let point = |(i, k)| (at(i, bounds.x0, bounds.width()), at(k, bounds.y0, bounds.height()));
    all.zip(taken).filter(|(_, taken)| *taken).map(|(cell, _)| point(cell)).collect()
}

/// Which of the middles of `side` equal parts of a length may lie between two places on it.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within 0 and `side`")]
fn steps_between(from: f64, to: f64, length: f64, side: u32) -> std::ops::Range<u32> {
    if length <= 0.0 {
        return 0..side;
    }
    let step = |place: f64| (place / length * f64::from(side)).clamp(0.0, f64::from(side));
    (step(from) - 1.0).floor().max(0.0) as u32..((step(to) + 1.0).ceil() as u32).min(side)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn points_are_inside_as_by_asking_the_whole_path(
            rects in prop::collection::vec((0.0..30.0_f64, 0.0..20.0_f64, -9.0..9.0_f64), 1..12),
            even_odd: bool,
        ) {
            let mut path = BezPath::new();
            for (x, y, wide) in &rects {
                path.extend(Rect::new(*x, *y, x + wide, y + 4.0).path_elements(0.1));
            }
            let rule = if even_odd { Rule::EvenOdd } else { Rule::NonZero };
            let bounds = Rect::new(0.0, 0.0, 30.0, 20.0);
            let seen = Rect::new(3.0, 2.0, 28.0, 19.0);
            let found = inside(bounds, &[(path.clone(), Some(rule), seen)], 16);
            let grid = (0..256).map(|cell| (f64::from(cell / 16), f64::from(cell % 16)));
            let all: Vec<_> = grid
                .map(|(i, k)| ((i + 0.5) * 30.0 / 16.0, (k + 0.5) * 20.0 / 16.0))
                .filter(|(x, y)| {
                    let winding = path.winding(Point::new(*x, *y));
                    let holds = if even_odd { winding % 2 != 0 } else { winding != 0 };
                    holds && seen.contains(Point::new(*x, *y))
                })
                .collect();
            prop_assert_eq!(found, all);
        }
    }
}
