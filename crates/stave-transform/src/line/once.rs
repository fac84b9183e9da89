//! What a line goes over again: a stroke shows once there, and so it burns.
//!
//! Straight runs that lie on one another are found by their lines, so that a path of any length
//! costs no more than sorting its runs. The chords of a curve gone back over meet those of the way
//! there, since a curve is cut the same from both its ends.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::f64::consts::PI;

use kurbo::{Point, Vec2};

use super::visible::split;
use crate::scene::Chain;

/// Runs nearer to each other than this are on one line, mm: what sums of decimals differ by.
const SAME_MM: f64 = 1e-6;
/// Directions nearer to each other than this are one, rad.
const SAME_RAD: f64 = 1e-8;

/// A straight run with the line it lies on.
#[derive(Clone, Copy, Debug)]
struct Run {
    number: usize,
    /// The line's direction, 0 to half a turn.
    angle_rad: f64,
    /// How far the line passes beside the origin.
    aside_mm: f64,
    along: Vec2,
    from_mm: f64,
    to_mm: f64,
}

impl Run {
    fn of(number: usize, (a, b): (Point, Point)) -> Option<Self> {
        let way = b - a;
        let length = way.hypot();
        if length.is_nan() || length <= SAME_MM {
            return None;
        }
        let angle_rad = way.atan2().rem_euclid(PI);
        let angle_rad = if angle_rad > PI - SAME_RAD { angle_rad - PI } else { angle_rad };
        let along = if Vec2::from_angle(angle_rad).dot(way) < 0.0 { -way } else { way } / length;
        let aside_mm = along.cross(a.to_vec2());
        let ends = [a, b].map(|p| along.dot(p.to_vec2()));
        let (from_mm, to_mm) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        Some(Self { number, angle_rad, aside_mm, along, from_mm, to_mm })
    }
}

fn runs_of(chain: &Chain) -> impl Iterator<Item = (Point, Point)> {
    let next = chain.points.iter().skip(1).chain(chain.points.first().filter(|_| chain.closed));
    chain.points.iter().copied().zip(next.copied())
}

/// A place along a line, mm, in order.
#[derive(Clone, Copy, Debug, PartialEq)]
struct At(f64);

impl Eq for At {}

impl PartialOrd for At {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for At {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// Runs that lie on one another, and what of them burns already.
#[derive(Debug)]
struct Stretch {
    along: Vec2,
    /// Where each part that burns begins and where it ends, mm; they lie apart from each other.
    burned: BTreeMap<At, f64>,
}

impl Stretch {
    /// The last part that begins no later than at a place.
    fn before(&self, at_mm: f64) -> Option<(f64, f64)> {
        self.burned.range(..=At(at_mm)).next_back().map(|(from, to)| (from.0, *to))
    }

    fn burns(&self, at_mm: f64) -> bool {
        self.before(at_mm).is_some_and(|(_, to)| to >= at_mm)
    }

    /// The ends of the parts that lie between two places or over one of them.
    fn ends(&self, from_mm: f64, to_mm: f64) -> impl Iterator<Item = f64> {
        let first = self.before(from_mm).map_or(from_mm, |(from, _)| from);
        self.burned.range(At(first)..=At(to_mm)).flat_map(|(from, to)| [from.0, *to])
    }

    fn burn(&mut self, from_mm: f64, to_mm: f64) {
        let (mut from, mut to) = (from_mm, to_mm);
        while let Some((low, high)) =
            self.before(to + SAME_MM).filter(|part| part.1 >= from - SAME_MM)
        {
            self.burned.remove(&At(low));
            (from, to) = (from.min(low), to.max(high));
        }
        self.burned.insert(At(from), to);
    }
}

/// Neighbours in a sorted list that belong together, by twos.
fn groups<T>(sorted: &[T], together: impl Fn(&T, &T) -> bool) -> impl Iterator<Item = &[T]> {
    sorted.chunk_by(together).filter(|group| group.len() > 1)
}

/// The stretches that more than one run lies on, and which run lies on which.
fn stretches(runs: &mut [Run], count: usize) -> (Vec<Stretch>, Vec<Option<usize>>) {
    let (mut stretches, mut of_run) = (Vec::new(), vec![None; count]);
    runs.sort_by(|a, b| a.angle_rad.total_cmp(&b.angle_rad));
    for parallel in groups(runs, |a, b| b.angle_rad - a.angle_rad <= SAME_RAD) {
        let mut parallel = parallel.to_vec();
        parallel.sort_by(|a, b| a.aside_mm.total_cmp(&b.aside_mm));
        for line in groups(&parallel, |a, b| b.aside_mm - a.aside_mm <= SAME_MM) {
            let mut line = line.to_vec();
            line.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
            let (mut first, mut reach) = (0, f64::NEG_INFINITY);
            for k in 0..=line.len() {
                let apart = line.get(k).is_none_or(|run| run.from_mm > reach - SAME_MM);
                if apart {
                    if k > first + 1 {
                        for run in &line[first..k] {
                            of_run[run.number] = Some(stretches.len());
                        }
                        stretches
                            .push(Stretch { along: line[first].along, burned: BTreeMap::new() });
                    }
                    (first, reach) = (k, f64::NEG_INFINITY);
                }
                reach = line.get(k).map_or(reach, |run| reach.max(run.to_mm));
            }
        }
    }
    (stretches, of_run)
}

/// The lines of one path, without what they go over again.
pub(crate) fn once(chains: Vec<Chain>) -> Vec<Chain> {
    let all = chains.iter().flat_map(runs_of).enumerate();
    let mut runs: Vec<Run> = all.filter_map(|(number, run)| Run::of(number, run)).collect();
    let count = chains.iter().map(|chain| runs_of(chain).count()).sum();
    let (stretches, of_run) = stretches(&mut runs, count);
    if stretches.is_empty() {
        return chains;
    }
    let stretches = std::cell::RefCell::new(stretches);
    // The run that is asked about: each is cut before its parts are.
    let now = std::cell::Cell::new(None);
    let mut numbers = 0..count;
    let mut kept = Vec::new();
    for chain in &chains {
        let cuts = |a: Point, b: Point, into: &mut Vec<f64>| {
            now.set(numbers.next().and_then(|number| of_run[number]));
            let Some(stretch) = now.get() else { return };
            let stretch = &stretches.borrow()[stretch];
            let [from, to] = [a, b].map(|p| stretch.along.dot(p.to_vec2()));
            let (low, high) = (from.min(to), from.max(to));
            let inside = |at: &f64| *at > low + SAME_MM && *at < high - SAME_MM;
            let ends = stretch.ends(low, high).filter(inside);
            into.extend(ends.map(|at| (at - from) / (to - from)));
        };
        let keep = |a: Point, b: Point| {
            let Some(stretch) = now.get() else { return true };
            let stretch = &mut stretches.borrow_mut()[stretch];
            let [from, to] = [a, b].map(|p| stretch.along.dot(p.to_vec2()));
            let anew = !stretch.burns(f64::midpoint(from, to));
            if anew {
                stretch.burn(from.min(to), from.max(to));
            }
            anew
        };
        kept.extend(split(chain, cuts, keep));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::chains;
    use kurbo::{Affine, BezPath};
    use proptest::prelude::*;

    fn of(path: &str) -> Vec<(Vec<(f64, f64)>, bool)> {
        let chains = chains(&BezPath::from_svg(path).unwrap(), Affine::IDENTITY, 0.01);
        let plain = |c: Chain| (c.points.into_iter().map(|p| (p.x, p.y)).collect(), c.closed);
        once(chains).into_iter().map(plain).collect()
    }

    fn long_mm(chains: &[Chain]) -> f64 {
        chains.iter().flat_map(runs_of).map(|(a, b)| a.distance(b)).sum()
    }

    #[test]
    fn there_and_back_is_one_line_open_or_closed() {
        let line = [(vec![(0.0, 0.0), (20.0, 0.0)], false)];
        for path in ["M0 0H20H0", "M0 0H20H0Z", "M0 0H20Z", "M0 0H20M20 0H0", "M0 0H20H0H20"] {
            assert_eq!(of(path), line, "{path}");
        }
        let hook = [(vec![(0.0, 0.0), (20.0, 0.0), (20.0, 10.0)], false)];
        for path in ["M0 0H20V10L20 0L0 0", "M0 0H20V10L20 0L0 0Z"] {
            assert_eq!(of(path), hook, "{path}");
        }
    }

    #[test]
    fn of_what_is_gone_over_in_part_the_rest_burns() {
        assert_eq!(of("M0 0H20H5"), [(vec![(0.0, 0.0), (20.0, 0.0)], false)]);
        let past = [(vec![(0.0, 0.0), (20.0, 0.0)], false), (vec![(0.0, 0.0), (-5.0, 0.0)], false)];
        assert_eq!(of("M0 0H20H-5"), past);
        // A spur, and the way on from its foot.
        let spur = [
            (vec![(0.0, 0.0), (10.0, 0.0), (10.0, 5.0)], false),
            (vec![(10.0, 0.0), (20.0, 0.0)], false),
        ];
        assert_eq!(of("M0 0H10V5V0H20"), spur);
        // A spur in an outline: what its start parts is one.
        let outline = [(
            vec![
                (10.0, 0.0),
                (20.0, 0.0),
                (20.0, 20.0),
                (0.0, 20.0),
                (0.0, 0.0),
                (10.0, 0.0),
                (10.0, 5.0),
            ],
            false,
        )];
        assert_eq!(of("M0 0H10V5V0H20V20H0Z"), outline);
        // Neighbours share an edge.
        let lines = of("M0 0H10V10H0ZM10 0H20V10H10Z");
        assert!(lines[0].1);
        assert_eq!(lines[1], (vec![(10.0, 0.0), (20.0, 0.0), (20.0, 10.0), (10.0, 10.0)], false));
    }

    /// However the parts of a line come, what burns is what they cover.
    #[test]
    fn dashes_and_what_goes_over_them_burn_what_they_cover() {
        let dashes = |k: u32| format!("M{} 0h4", 10 * (k * 7 % 20));
        let all: String = (0..20).map(dashes).collect();
        let sum = |path: &str| -> f64 {
            let chains = chains(&BezPath::from_svg(path).unwrap(), Affine::IDENTITY, 0.01);
            long_mm(&once(chains))
        };
        assert!((sum(&all) - 80.0).abs() < 1e-9);
        assert!((sum(&format!("{all}M-5 0H250{all}")) - 255.0).abs() < 1e-9);
        assert!((sum(&format!("{all}M102 0H52")) - (80.0 + 50.0 - 20.0)).abs() < 1e-9);
    }

    #[test]
    fn what_only_meets_or_crosses_stays() {
        for path in ["M0 0H10H20V5H0Z", "M0 0L10 10M0 10L10 0", "M0 0H10M10 0H20M0 1H20"] {
            let chains = chains(&BezPath::from_svg(path).unwrap(), Affine::IDENTITY, 0.01);
            assert_eq!(once(chains.clone()), chains, "{path}");
        }
    }

    proptest! {
        /// A path with its own way back burns as the path, curves too.
        #[test]
        fn a_path_and_its_way_back_burn_as_the_path(
            n in prop::array::uniform10(-50.0..50.0_f64),
            closed in any::<bool>(),
            degrees in 0.0..360.0_f64,
        ) {
            let mut path = BezPath::new();
            path.move_to((n[0], n[1]));
            path.line_to((n[2], n[3]));
            path.curve_to((n[4], n[5]), (n[6], n[7]), (n[8], n[9]));
            let turned = Affine::rotate(degrees.to_radians());
            let there = chains(&path, turned, 0.01);
            path.curve_to((n[6], n[7]), (n[4], n[5]), (n[2], n[3]));
            path.line_to((n[0], n[1]));
            if closed {
                path.close_path();
            }
            let back = once(chains(&path, turned, 0.01));
            prop_assert!((long_mm(&back) - long_mm(&there)).abs() < 1e-4, "{back:?}");
        }
    }
}
