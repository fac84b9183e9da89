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
    pub(crate) closed: bool,
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
                chain.points.push(to_flat * to);
            }
            kurbo::PathEl::QuadTo(a, to) => {
                begin(&mut chain, start);
                let curve = QuadBez::new(last, to_flat * a, to_flat * to);
                cut(&PathSeg::Quad(curve), tolerance_mm, MOST_HALVINGS, &mut chain.points);
            }
            kurbo::PathEl::CurveTo(a, b, to) => {
                begin(&mut chain, start);
                let curve = CubicBez::new(last, to_flat * a, to_flat * b, to_flat * to);
                cut(&PathSeg::Cubic(curve), tolerance_mm, MOST_HALVINGS, &mut chain.points);
            }
        }
    }
    put(&mut chains, chain);
    chains
}

/// What is drawn after a subpath was closed starts where that one did.
fn begin(chain: &mut Chain, start: Point) {
    if chain.points.is_empty() {
        chain.points.push(start);
    }
}

fn put(chains: &mut Vec<Chain>, mut chain: Chain) {
    chain.points.dedup();
    if chain.closed && chain.points.len() > 1 && chain.points.first() == chain.points.last() {
        chain.points.pop();
    }
    if chain.points.len() > 1 && chain.points.iter().all(|p| p.is_finite()) {
        chains.push(chain);
    }
}

/// Adds the corners after the first.
fn cut(curve: &PathSeg, tolerance_mm: f64, halvings: u32, into: &mut Vec<Point>) {
    let chords = (bend(curve) / (8.0 * tolerance_mm)).sqrt().ceil();
    if chords > f64::from(EVENLY) && halvings > 0 {
        let (first, second) = curve.subdivide();
        cut(&first, tolerance_mm, halvings - 1, into);
        cut(&second, tolerance_mm, halvings - 1, into);
        return;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let chords = chords.clamp(1.0, f64::from(EVENLY)) as u32;
    into.extend((1..chords).map(|k| curve.eval(f64::from(k) / f64::from(chords))));
    into.push(curve.end());
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
