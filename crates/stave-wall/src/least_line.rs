//! The straight line of least vertical error.

use crate::strip::convex_hull;

/// The line `y = slope · x + intercept` whose largest vertical distance to any of a set of points
/// is least (Chebyshev's line): what one straight run in place of many stations costs in radius.
///
/// ```
/// use stave_wall::LeastLine;
/// let line = LeastLine::through(&[(0.0, 0.0), (1.0, 1.0), (2.0, 0.0)]).unwrap();
/// assert_eq!((line.slope, line.intercept, line.error), (0.0, 0.5, 0.5));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeastLine {
    /// `dy/dx`.
    pub slope: f64,
    /// `y` at `x` = 0.
    pub intercept: f64,
    /// The largest vertical distance, on either side.
    pub error: f64,
}

impl LeastLine {
    /// The line for points `(x, y)`; `None` for fewer than two different `x`, or a value that is
    /// not finite.
    ///
    /// The vertical width of the points under a slope is convex in the slope and bends only at
    /// slopes of edges of the convex hull, so the least is found among those by halving (the
    /// alternation theorem of P. L. Chebyshev: three points with equal errors of changing sign, two
    /// of them ends of that edge).
    pub fn through(points: &[(f64, f64)]) -> Option<LeastLine> {
        if points.iter().any(|(x, y)| !(x.is_finite() && y.is_finite())) {
            return None;
        }
        let hull = convex_hull(points);
        let mut slopes: Vec<f64> = (0..hull.len())
            .filter_map(|i| {
                let (a, b) = (hull[i], hull[(i + 1) % hull.len()]);
                let slope = (b.1 - a.1) / (b.0 - a.0);
                (a.0 != b.0 && slope.is_finite()).then_some(slope)
            })
            .collect();
        slopes.sort_by(f64::total_cmp);
        let bounds = |slope: f64| {
            hull.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &(x, y)| {
                let over = y - slope * x;
                (low.min(over), high.max(over))
            })
        };
        let width = |slope: f64| {
            let (low, high) = bounds(slope);
            high - low
        };
        let (mut first, mut last) = (0, slopes.len().checked_sub(1)?);
        while first < last {
            let middle = first + (last - first) / 2;
            if width(slopes[middle]) <= width(slopes[middle + 1]) {
                last = middle;
            } else {
                first = middle + 1;
            }
        }
        let slope = slopes[first];
        let (low, high) = bounds(slope);
        Some(LeastLine { slope, intercept: 0.5 * (low + high), error: 0.5 * (high - low) })
    }
}
