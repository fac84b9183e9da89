//! A filled outline as rings whose inside by one rule is their inside by the other.

use kurbo::{BezPath, Line, PathEl, Point, Rect, Shape as _};
use stave_toolpath::art::{Rule, subpaths};

/// How close curves are followed to see whether they cross, mm.
const FOLLOWED_MM: f64 = 0.005;
/// Pairs of straight lines that are held against each other: a tenth of a second. A long text has
/// as many parts at the most.
const MOST_PAIRS: usize = 20_000_000;
const MOST_PARTS: usize = 4_000;

/// Paths that together cover what a path does, each with the same inside by either rule; `None`
/// where a part of it crosses itself, or parts wind around each other in ways that are not told.
///
/// A path that goes around its holes the other way is the sum of rings, each an outline with its
/// own holes: a place winds by as many as there are rings around it, so that it is inside by the
/// nonzero rule where any ring is.
pub(super) fn rings(path: &BezPath, rule: Rule) -> Option<Vec<BezPath>> {
    if rule == Rule::EvenOdd {
        return Some(vec![path.clone()]);
    }
    let parts: Vec<Outline> = subpaths(path).into_iter().map(Outline::of).collect();
    let near = |one: &Outline, other: &Outline| match one.bounds.overlaps(other.bounds) {
        true => one.lines.len().saturating_mul(other.lines.len()),
        false => 1,
    };
    let pairs = parts.iter().flat_map(|one| parts.iter().map(move |other| near(one, other)));
    if parts.len() > MOST_PARTS || pairs.fold(0, usize::saturating_add) > MOST_PAIRS {
        return None;
    }
    let parts: Vec<Outline> = parts.into_iter().filter(|part| part.area_mm2 != 0.0).collect();
    if parts.iter().any(Outline::crosses_itself) {
        return None;
    }
    let largest =
        |one: &&Outline, other: &&Outline| one.area_mm2.abs().total_cmp(&other.area_mm2.abs());
    let way = parts.iter().max_by(largest)?.area_mm2.signum();
    let (mut outer, holes): (Vec<Outline>, Vec<Outline>) =
        parts.into_iter().partition(|part| part.area_mm2.signum() == way);
    outer.sort_by(|one, other| one.area_mm2.abs().total_cmp(&other.area_mm2.abs()));
    let mut holes_of: Vec<Vec<Outline>> = outer.iter().map(|_| Vec::new()).collect();
    for hole in holes {
        let own = outer.iter().position(|ring| ring.holds(&hole))?;
        let others = holes_of.get_mut(own)?;
        if others.iter().any(|other| other.meets(&hole)) {
            return None;
        }
        others.push(hole);
    }
    // Rings that do not meet are one path.
    let mut whole: Vec<(BezPath, Vec<Outline>)> = Vec::new();
    for (ring, holes) in outer.into_iter().zip(holes_of) {
        let apart = |rings: &[Outline]| !rings.iter().any(|other| other.meets(&ring));
        let at = whole.iter().position(|(_, rings)| apart(rings)).unwrap_or(whole.len());
        if at == whole.len() {
            whole.push((BezPath::new(), Vec::new()));
        }
        let Some((path, rings)) = whole.get_mut(at) else { continue };
        let parts = std::iter::once(&ring).chain(&holes);
        parts.for_each(|part| path.extend(part.path.iter()));
        rings.push(ring);
    }
    Some(whole.into_iter().map(|(path, _)| path).collect())
}

/// One closed part of a path.
struct Outline {
    path: BezPath,
    lines: Vec<Line>,
    bounds: Rect,
    /// Its area, negative where it goes around the other way.
    area_mm2: f64,
}

impl Outline {
    fn of(mut path: BezPath) -> Outline {
        path.close_path();
        let mut flat = BezPath::new();
        kurbo::flatten(&path, FOLLOWED_MM, |element: PathEl| flat.push(element));
        let lines = flat.segments().filter_map(|segment| match segment {
            kurbo::PathSeg::Line(line) if line.p0 != line.p1 => Some(line),
            _ => None,
        });
        let lines = lines.collect();
        Outline { lines, bounds: path.bounding_box(), area_mm2: path.area(), path }
    }

    fn crosses_itself(&self) -> bool {
        let count = self.lines.len();
        self.lines.iter().enumerate().any(|(k, one)| {
            let beyond = self.lines.iter().enumerate().skip(k + 2);
            beyond.filter(|(n, _)| (k, *n) != (0, count - 1)).any(|(_, other)| crosses(one, other))
        })
    }

    /// Whether all of another lies inside.
    fn holds(&self, other: &Outline) -> bool {
        let within = self.bounds.union(other.bounds) == self.bounds;
        within && self.has_inside(other) && !self.edges_cross(other)
    }

    /// Whether two have any place in common.
    fn meets(&self, other: &Outline) -> bool {
        self.bounds.overlaps(other.bounds)
            && (self.edges_cross(other) || self.has_inside(other) || other.has_inside(self))
    }

    fn has_inside(&self, other: &Outline) -> bool {
        other.lines.first().is_some_and(|line| self.path.winding(line.p0) != 0)
    }

    fn edges_cross(&self, other: &Outline) -> bool {
        self.lines.iter().any(|one| other.lines.iter().any(|two| crosses(one, two)))
    }
}

/// Whether two straight lines meet.
fn crosses(one: &Line, other: &Line) -> bool {
    let side = |line: &Line, at: Point| (line.p1 - line.p0).cross(at - line.p0);
    let apart = |line: &Line, a: Point, b: Point| {
        let (a, b) = (side(line, a), side(line, b));
        (a > 0.0 && b > 0.0) || (a < 0.0 && b < 0.0)
    };
    let boxes = one.bounding_box().inflate(1e-12, 1e-12).overlaps(other.bounding_box());
    boxes && !apart(one, other.p0, other.p1) && !apart(other, one.p0, one.p1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(data: &str) -> BezPath {
        BezPath::from_svg(data).unwrap()
    }

    /// By either rule the rings cover what the path does by the nonzero rule.
    #[test]
    fn rings_cover_what_the_path_does() {
        let ring = "M0 0H10V10H0ZM3 3V7H7V3Z";
        let beside = "M6 6H16V16H6ZM9 9V13H13V9Z";
        let island = "M4 4H6V6H4Z";
        let twice = "M20 0H30V10H20ZM22 2H28V8H22Z";
        let round = "M40 0C50 0 50 10 40 10S30 0 40 0Z";
        for data in [
            ring.to_owned(),
            format!("{ring}{beside}"),
            format!("{ring}{island}{beside}{twice}{round}"),
        ] {
            let whole = path(&data);
            let rings = rings(&whole, Rule::NonZero).unwrap();
            for k in 0..60 * 20 {
                let at = Point::new(0.9 * f64::from(k % 60) - 1.05, 0.9 * f64::from(k / 60) - 1.05);
                let odd = rings.iter().any(|ring| ring.winding(at) % 2 != 0);
                assert_eq!(odd, whole.winding(at) != 0, "{data} at {at:?}");
            }
        }
    }

    #[test]
    fn what_crosses_itself_is_not_told() {
        assert!(rings(&path("M0 0L10 10H0L10 0Z"), Rule::NonZero).is_none());
        assert!(rings(&path("M0 0L10 10H0L10 0Z"), Rule::EvenOdd).is_some());
        // A hole that reaches out of its ring, and two holes that meet.
        assert!(rings(&path("M0 0H10V10H0ZM5 5V15H7V5Z"), Rule::NonZero).is_none());
        assert!(rings(&path("M0 0H9V9H0ZM1 1V4H4V1ZM2 2V6H6V2Z"), Rule::NonZero).is_none());
    }
}
