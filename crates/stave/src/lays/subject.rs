//! A piece as points to look at.

use kurbo::{BezPath, PathEl, Point, Rect, Shape as _};
use stave_setup::Setup;
use stave_toolpath::art::Rule;
use stave_transform::Redraw;
use stave_wall::{Lay, LayKind, LaySetting};

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
        let lines: Vec<Vec<(f64, f64)>> =
            burns.iter().flat_map(|(flat, _, seen)| lines(flat, *seen)).collect();
        let count: usize = lines.iter().map(Vec::len).sum();
        let outline =
            lines.iter().flatten().step_by(count.div_ceil(MOST_POINTS).max(1)).copied().collect();
        Subject {
            inside: inside(bounds, &burns, side),
            id,
            lay,
            from: (bounds.x0, bounds.y0),
            to: (bounds.x1, bounds.y1),
            lines,
            outline,
            burns,
            settings,
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

/// The lines of a path that lie in a box, as points close together.
fn lines(flat: &BezPath, seen: Rect) -> Vec<Vec<(f64, f64)>> {
    let mut flattened = Vec::new();
    kurbo::flatten(flat, LOOK_MM, |el| flattened.push(el));
    let mut lines = Lines { seen: seen.inflate(1e-6, 1e-6), list: Vec::new(), broken: true };
    let (mut at, mut start) = (Point::ORIGIN, Point::ORIGIN);
    for el in flattened {
        let to = match el {
            PathEl::MoveTo(p) => {
                (at, start) = (p, p);
                lines.broken = true;
                continue;
            }
            PathEl::ClosePath => start,
            PathEl::LineTo(p) | PathEl::QuadTo(_, p) | PathEl::CurveTo(_, _, p) => p,
        };
        lines.go(at, to);
        at = to;
    }
    lines.list.retain(|line| line.len() > 1);
    lines.list
}

struct Lines {
    seen: Rect,
    list: Vec<Vec<(f64, f64)>>,
    /// Whether the next point begins a line.
    broken: bool,
}

impl Lines {
    fn go(&mut self, from: Point, to: Point) {
        let steps = (from.distance(to) / STEP_MM).ceil().clamp(1.0, 20_000.0);
        let mut k = 0.0;
        while k <= steps {
            let p = from.lerp(to, k / steps);
            k += 1.0;
            if !holds(self.seen, p) {
                self.broken = true;
                continue;
            }
            match self.list.last_mut().filter(|_| !self.broken) {
                Some(line) if line.last() == Some(&(p.x, p.y)) => {}
                Some(line) => line.push((p.x, p.y)),
                None => self.list.push(vec![(p.x, p.y)]),
            }
            self.broken = false;
        }
    }
}

/// Whether a box holds a point, its edges included.
fn holds(seen: Rect, p: Point) -> bool {
    p.x >= seen.x0 && p.x <= seen.x1 && p.y >= seen.y0 && p.y <= seen.y1
}

fn inside(bounds: Rect, burns: &[(BezPath, Option<Rule>, Rect)], side: u32) -> Vec<(f64, f64)> {
    let mut inside = Vec::new();
    for k in 0..side * side {
        let share = |k: u32| (f64::from(k) + 0.5) / f64::from(side);
        let p = Point::new(
            bounds.x0 + bounds.width() * share(k / side),
            bounds.y0 + bounds.height() * share(k % side),
        );
        let is_in = burns.iter().any(|(flat, rule, seen)| {
            let Some(rule) = rule.filter(|_| seen.contains(p)) else { return false };
            let winding = flat.winding(p);
            if rule == Rule::EvenOdd { winding % 2 != 0 } else { winding != 0 }
        });
        if is_in {
            inside.push((p.x, p.y));
        }
    }
    inside
}
