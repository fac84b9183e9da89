//! What goes round a set of points: their box, or their convex outline.

/// How many points are gathered before they are thinned to their outline.
const GATHERED: usize = 4096;
/// An outline turns a corner where its direction changes by more than this, rad: curves are gone
/// round without stopping.
const CORNER_RAD: f64 = 0.35;

/// Points on their way to an outline; memory does not grow with their number, but for the corners
/// of their hull.
#[derive(Clone, Debug, Default)]
pub struct Around {
    points: Vec<(f64, f64)>,
    limit: usize,
}

impl Around {
    /// One more point; what is not finite is passed over.
    pub fn add(&mut self, point: (f64, f64)) {
        if !(point.0.is_finite() && point.1.is_finite()) {
            return;
        }
        self.points.push(point);
        if self.points.len() >= self.limit.max(GATHERED) {
            self.points = hull(&mut self.points);
            self.limit = 2 * self.points.len();
        }
    }

    /// The convex outline, counter-clockwise, first corner once; fewer than three corners for
    /// points in a line.
    ///
    /// Andrew's monotone chain (Information Processing Letters 9, 1979; from memory).
    ///
    /// ```
    /// let mut around = stave_transform::Around::default();
    /// [(0.0, 0.0), (4.0, 0.0), (1.0, 1.0), (0.0, 3.0)].into_iter().for_each(|p| around.add(p));
    /// assert_eq!(around.hull(), [(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)]);
    /// ```
    #[must_use]
    pub fn hull(mut self) -> Vec<(f64, f64)> {
        hull(&mut self.points)
    }

    /// The box, counter-clockwise from its least corner; `None` without points.
    ///
    /// ```
    /// let mut around = stave_transform::Around::default();
    /// [(1.0, 5.0), (4.0, 2.0)].into_iter().for_each(|p| around.add(p));
    /// assert_eq!(around.corners(), Some([(1.0, 2.0), (4.0, 2.0), (4.0, 5.0), (1.0, 5.0)]));
    /// ```
    #[must_use]
    pub fn corners(&self) -> Option<[(f64, f64); 4]> {
        let first = *self.points.first()?;
        let (least, most) = self.points.iter().fold((first, first), |(least, most), p| {
            ((least.0.min(p.0), least.1.min(p.1)), (most.0.max(p.0), most.1.max(p.1)))
        });
        Some([least, (most.0, least.1), most, (least.0, most.1)])
    }
}

fn hull(points: &mut [(f64, f64)]) -> Vec<(f64, f64)> {
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let chain = |points: &mut dyn Iterator<Item = (f64, f64)>| {
        let mut chain: Vec<(f64, f64)> = Vec::new();
        for p in points {
            while let [.., a, b] = chain.as_slice()
                && (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0) <= 0.0
            {
                chain.pop();
            }
            if chain.last() != Some(&p) {
                chain.push(p);
            }
        }
        chain
    };
    let mut lower = chain(&mut points.iter().copied());
    let upper = chain(&mut points.iter().rev().copied());
    if lower.len() > 1 {
        lower.pop();
        lower.extend(&upper[..upper.len().saturating_sub(1)]);
    }
    lower
}

/// Whether a closed outline turns a corner at its point `k`.
#[must_use]
pub fn is_corner(outline: &[(f64, f64)], k: usize) -> bool {
    let count = outline.len();
    if count < 4 {
        return true;
    }
    let at = |k: usize| outline.get(k % count).copied();
    let Some(here) = at(k) else { return true };
    // Where the box or hull of a line is as thin as it, points lie on each other: the first stands
    // for all of them, and the way turns back there.
    if at(k + count - 1) == Some(here) {
        return false;
    }
    let other = |point: &(f64, f64)| *point != here;
    let before = (1..count).filter_map(|back| at(k + count - back)).find(other);
    let after = (1..count).filter_map(|on| at(k + on)).find(other);
    let (Some(before), Some(after)) = (before, after) else { return true };
    let (a, b) = ((here.0 - before.0, here.1 - before.1), (after.0 - here.0, after.1 - here.1));
    (a.0 * b.1 - a.1 * b.0).atan2(a.0 * b.0 + a.1 * b.1).abs() > CORNER_RAD
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn points_in_a_line_and_none() {
        let mut around = Around::default();
        assert_eq!((around.corners(), around.clone().hull().len()), (None, 0));
        around.add((1.0, 1.0));
        assert_eq!(around.clone().hull(), [(1.0, 1.0)]);
        around.add((3.0, 3.0));
        around.add((2.0, 2.0));
        assert_eq!(around.hull(), [(1.0, 1.0), (3.0, 3.0)]);
    }

    #[test]
    fn a_circle_has_no_corners_and_a_square_four() {
        let circle: Vec<(f64, f64)> = (0..60)
            .map(|k| f64::from(k) / 60.0 * std::f64::consts::TAU)
            .map(|a| (a.cos(), a.sin()))
            .collect();
        assert!((0..60).all(|k| !is_corner(&circle, k)));
        assert!((0..4).all(|k| is_corner(&[(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)], k)));
        // The boxes of a line along and of one around.
        for thin in [
            [(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (0.0, 0.0)],
            [(0.0, 0.0), (0.0, 0.0), (0.0, 1.0), (0.0, 1.0)],
        ] {
            assert_eq!((0..4).filter(|k| is_corner(&thin, *k)).count(), 2);
        }
    }

    proptest! {
        #[test]
        fn every_point_lies_inside(points in prop::collection::vec((-50.0..50.0_f64, -50.0..50.0_f64), 3..9000)) {
            let mut around = Around::default();
            points.iter().for_each(|p| around.add(*p));
            let hull = around.hull();
            for pair in 0..hull.len() {
                let (a, b) = (hull[pair], hull[(pair + 1) % hull.len()]);
                prop_assert!(points.iter().all(|p| (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0) >= -1e-9));
            }
        }
    }
}
