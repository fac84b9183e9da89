//! Curves as chords.

use kurbo::{Affine, BezPath, CubicBez, ParamCurve, PathSeg, Point, QuadBez};

/// A curve that takes no more chords than this is cut evenly; one that takes more is halved first,
/// so that a tight bend does not make its straight parts fine too.
const EVENLY: u32 = 8;
/// A curve is halved no more often than this: its chords are then far shorter than any tolerance.
const MOST_HALVINGS: u32 = 14;

/// Straight runs of one subpath. The corners lie on the path; `closed` says that the last one leads
/// back to the first.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Chain {
    pub(crate) points: Vec<Point>,
    /// How far the drawing's curve lies to the left of each run at the most, mm; what is not there
    /// is 0, a straight line of the drawing.
    bulges_mm: Vec<f32>,
    pub(crate) closed: bool,
}

/// A curve nearer to its chord than this is the chord, mm.
const FLAT_MM: f64 = 1e-6;
/// A curve is held against a chord at so many places less one, even by its parameter: the greatest
/// distance is then known to two in a hundred.
const LOOKS: u32 = 8;

impl Chain {
    /// Goes on to a point along a curve that lies so far to the left of the chord.
    pub(crate) fn go(&mut self, to: Point, bulge_mm: f64) {
        let run = self.points.len().saturating_sub(1);
        self.points.push(to);
        if bulge_mm.abs() >= FLAT_MM {
            self.bulges_mm.resize(run, 0.0);
            #[allow(clippy::cast_possible_truncation, reason = "seven digits are plenty")]
            self.bulges_mm.push(bulge_mm as f32);
        }
    }

    /// Makes its last run end elsewhere.
    pub(crate) fn go_instead(&mut self, to: Point, bulge_mm: f64) {
        let Some(run) = self.points.len().checked_sub(2) else { return };
        let most_mm = most(self.bulge_mm(run), bulge_mm);
        self.points.pop();
        self.bulges_mm.truncate(run);
        self.go(to, most_mm);
    }

    /// Goes on as another does that begins where it ends.
    pub(crate) fn join(&mut self, next: &Chain) {
        for (run, point) in next.points.iter().skip(1).enumerate() {
            self.go(*point, next.bulge_mm(run));
        }
    }

    /// How far the drawing's curve lies to the left of the run that begins at a point, at its
    /// middle, mm.
    pub(crate) fn bulge_mm(&self, run: usize) -> f64 {
        self.bulges_mm.get(run).copied().map_or(0.0, f64::from)
    }
}

/// That which lies farther to either side.
fn most(a: f64, b: f64) -> f64 {
    if a.abs() > b.abs() { a } else { b }
}

/// How far a curve that lies `bulge_mm` aside of the middle of its chord lies aside of a place of
/// it: of a short piece of a curve the square of the way is all that counts.
pub(crate) fn bulge_at(bulge_mm: f64, share: f64) -> f64 {
    4.0 * bulge_mm * share * (1.0 - share)
}

/// The most that comes to over a part of the chord.
pub(crate) fn bulge_within(bulge_mm: f64, from: f64, to: f64) -> f64 {
    if from < 0.5 && to > 0.5 {
        return bulge_mm;
    }
    most(bulge_at(bulge_mm, from), bulge_at(bulge_mm, to))
}

/// How far the part of a curve from `t0` to `t1` lies to the left of its chord at the most, mm.
fn bulge(curve: &PathSeg, (t0, t1): (f64, f64), (a, b): (Point, Point)) -> f64 {
    let chord = b - a;
    let length = chord.hypot();
    let looks = (1..LOOKS).map(|k| {
        let t = t0 + (t1 - t0) * f64::from(k) / f64::from(LOOKS);
        chord.cross(curve.eval(t) - a) / length
    });
    if length > 0.0 { looks.fold(0.0, most) } else { 0.0 }
}

/// The subpaths of a path in the flat plane, as chords that stray at most `tolerance_mm` from it.
///
/// A chord of a curve strays by at most an eighth of the greatest second derivative times the
/// square of its share of the parameter. `to_flat` keeps lengths.
pub(crate) fn chains(path: &BezPath, to_flat: Affine, tolerance_mm: f64) -> Vec<Chain> {
    let mut chains: Vec<Chain> = Vec::new();
    let mut chain = Chain::default();
    let mut start = Point::ORIGIN;
    for element in path.elements() {
        let last = chain.points.last().copied().unwrap_or(start);
        match *element {
            kurbo::PathEl::MoveTo(to) => {
                put(&mut chains, std::mem::take(&mut chain));
                start = to_flat * to;
                chain.points.push(start);
            }
            kurbo::PathEl::ClosePath => {
                chain.closed = true;
                put(&mut chains, std::mem::take(&mut chain));
            }
            kurbo::PathEl::LineTo(to) => {
                begin(&mut chain, start);
                go(&mut chain, to_flat * to, 0.0);
            }
            kurbo::PathEl::QuadTo(a, to) => {
                begin(&mut chain, start);
                let curve = QuadBez::new(last, to_flat * a, to_flat * to);
                cut(&PathSeg::Quad(curve), tolerance_mm, MOST_HALVINGS, &mut chain);
            }
            kurbo::PathEl::CurveTo(a, b, to) => {
                begin(&mut chain, start);
                let curve = CubicBez::new(last, to_flat * a, to_flat * b, to_flat * to);
                cut(&PathSeg::Cubic(curve), tolerance_mm, MOST_HALVINGS, &mut chain);
            }
        }
    }
    put(&mut chains, chain);
    chains
}

/// Goes on to another point; a run of no length is none.
fn go(chain: &mut Chain, to: Point, bulge_mm: f64) {
    if chain.points.last() != Some(&to) {
        chain.go(to, bulge_mm);
    }
}

/// What is drawn after a subpath was closed starts where that one did.
fn begin(chain: &mut Chain, start: Point) {
    if chain.points.is_empty() {
        chain.points.push(start);
    }
}

fn put(chains: &mut Vec<Chain>, mut chain: Chain) {
    if chain.closed && chain.points.len() > 1 && chain.points.first() == chain.points.last() {
        chain.points.pop();
    }
    if chain.points.len() > 1 && chain.points.iter().all(|p| p.is_finite()) {
        chains.push(chain);
    }
}

/// Adds the corners after the first.
fn cut(curve: &PathSeg, tolerance_mm: f64, halvings: u32, into: &mut Chain) {
    let chords = (bend(curve) / (8.0 * tolerance_mm)).sqrt().ceil();
    if chords > f64::from(EVENLY) && halvings > 0 {
        let (first, second) = curve.subdivide();
        cut(&first, tolerance_mm, halvings - 1, into);
        cut(&second, tolerance_mm, halvings - 1, into);
        return;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let chords = chords.clamp(1.0, f64::from(EVENLY)) as u32;
    let (mut t, mut at) = (0.0, curve.start());
    for k in 1..=chords {
        let next = f64::from(k) / f64::from(chords);
        let to = if k == chords { curve.end() } else { curve.eval(next) };
        go(into, to, bulge(curve, (t, next), (at, to)));
        (t, at) = (next, to);
    }
}

/// The greatest second derivative: that of a cubic lies between those at its ends.
fn bend(curve: &PathSeg) -> f64 {
    let second =
        |a: Point, b: Point, c: Point| (a.to_vec2() + c.to_vec2() - 2.0 * b.to_vec2()).hypot();
    match curve {
        PathSeg::Line(_) => 0.0,
        PathSeg::Quad(q) => 2.0 * second(q.p0, q.p1, q.p2),
        PathSeg::Cubic(c) => 6.0 * second(c.p0, c.p1, c.p2).max(second(c.p1, c.p2, c.p3)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Shape as _;
    use proptest::prelude::*;

    #[test]
    fn subpaths_begin_and_close_as_svg_has_it() {
        let path = BezPath::from_svg("M0 0L10 0L10 10ZL5 5M1 1M2 2L3 3L2 2Z").unwrap();
        let found: Vec<_> = chains(&path, Affine::IDENTITY, 0.01)
            .into_iter()
            .map(|c| (c.points.into_iter().map(|p| (p.x, p.y)).collect::<Vec<_>>(), c.closed))
            .collect();
        assert_eq!(
            found,
            [
                (vec![(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)], true),
                (vec![(0.0, 0.0), (5.0, 5.0)], false),
                (vec![(2.0, 2.0), (3.0, 3.0)], true),
            ]
        );
    }

    #[test]
    fn a_circle_takes_about_as_many_chords_as_it_needs() {
        let circle = kurbo::Circle::new((0.0, 0.0), 10.0).to_path(1e-6);
        let chains = chains(&circle, Affine::IDENTITY, 0.01);
        assert_eq!(chains.len(), 1);
        // π/acos(1 − 0.01/10) = 70.2: the fewest chords of equal length (D_arc_chords.csv has 71).
        assert!((71..=80).contains(&chains[0].points.len()), "{}", chains[0].points.len());
    }

    proptest! {
        #[test]
        fn chords_keep_to_the_curve(n in prop::array::uniform8(-50.0..50.0_f64), tolerance in 0.001..0.1_f64) {
            let curve = CubicBez::new((n[0], n[1]), (n[2], n[3]), (n[4], n[5]), (n[6], n[7]));
            let path = BezPath::from_path_segments(std::iter::once(PathSeg::Cubic(curve)));
            let chains = chains(&path, Affine::IDENTITY, tolerance);
            prop_assert_eq!(chains.len(), 1);
            for k in 0..=200 {
                let p = curve.eval(f64::from(k) / 200.0);
                let near = chains[0].points.windows(2).map(|w| {
                    kurbo::ParamCurveNearest::nearest(&kurbo::Line::new(w[0], w[1]), p, 1e-9).distance_sq.sqrt()
                });
                prop_assert!(near.fold(f64::INFINITY, f64::min) <= tolerance * 1.000_001);
            }
        }
    }
}
