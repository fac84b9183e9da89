//! The monotone cubic through measured stations.

use crate::curve::ParametricPoint;

/// The slopes `dr/dz` at every station, after Fritsch and Carlson: the curve rises where the
/// stations rise, falls where they fall, and makes no bump the caliper did not see.
///
/// First the slopes of the three-point parabola, one-sided at the ends, 0 where the secants change
/// sign and 0 at an end where the sign is wrong; then, span by span, both slopes of a span are
/// scaled by `3/√(α² + β²)` where `α² + β² > 9` (`α`, `β`: the slopes over the secant).
///
/// # References
/// F. N. Fritsch, R. E. Carlson, *Monotone piecewise cubic interpolation*, SIAM J. Numer. Anal. 17
/// (1980), 238–246: the region `S₂` and the algorithm of section 4.
pub(crate) fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let widths: Vec<f64> = points.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    let secants: Vec<f64> =
        points.windows(2).map(|pair| (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0)).collect();
    let mut slopes = parabola_slopes(&widths, &secants);
    for (span, &secant) in secants.iter().enumerate() {
        if secant == 0.0 {
            slopes[span] = 0.0;
            slopes[span + 1] = 0.0;
            continue;
        }
        let (alpha, beta) = (slopes[span] / secant, slopes[span + 1] / secant);
        let size = alpha.hypot(beta);
        if size > 3.0 {
            slopes[span] = 3.0 / size * alpha * secant;
            slopes[span + 1] = 3.0 / size * beta * secant;
        }
    }
    slopes
}

fn parabola_slopes(widths: &[f64], secants: &[f64]) -> Vec<f64> {
    let spans = secants.len();
    let mut slopes = vec![secants.first().copied().unwrap_or(0.0); spans + 1];
    if spans < 2 {
        return slopes;
    }
    for i in 1..spans {
        let same_way = (secants[i - 1] > 0.0 && secants[i] > 0.0)
            || (secants[i - 1] < 0.0 && secants[i] < 0.0);
        let share = widths[i - 1] / (widths[i - 1] + widths[i]);
        slopes[i] =
            if same_way { secants[i - 1] + share * (secants[i] - secants[i - 1]) } else { 0.0 };
    }
    slopes[0] = end_slope(widths[0], widths[1], secants[0], secants[1]);
    slopes[spans] =
        end_slope(widths[spans - 1], widths[spans - 2], secants[spans - 1], secants[spans - 2]);
    slopes
}

/// The slope at its end of the parabola through the last three points, or 0 if it goes against the
/// secant.
fn end_slope(width: f64, next_width: f64, secant: f64, next_secant: f64) -> f64 {
    let slope = secant + (secant - next_secant) * (width / (width + next_width));
    if (slope > 0.0 && secant > 0.0) || (slope < 0.0 && secant < 0.0) { slope } else { 0.0 }
}

/// The two halves of the cubic of one span, in the form of Hermite.
///
/// The parameter is the share of the span from its nearest end: 0 to ½ upwards from the lower one,
/// −½ to 0 from the upper one. So a steep step that levels out at a station keeps its digits there,
/// which neither `z` nor a share counted from one end only would.
pub(crate) fn hermite_halves(
    from: (f64, f64, f64),
    to: (f64, f64, f64),
) -> (impl Fn(f64) -> ParametricPoint, impl Fn(f64) -> ParametricPoint) {
    (hermite(from, to), hermite(to, from))
}

/// The cubic reckoned from `from`; the parameter `p` has the sign of the way to `to`.
fn hermite(from: (f64, f64, f64), to: (f64, f64, f64)) -> impl Fn(f64) -> ParametricPoint {
    let width = to.0 - from.0;
    let rise = to.1 - from.1;
    // With t = |p| from 0 to 1: r = r₁ + t (m₁ + t (c₂ + t c₃)), m the slopes times the signed
    // width.
    let (m1, m2) = (from.2 * width, to.2 * width);
    let c2 = 3.0 * rise - 2.0 * m1 - m2;
    let c3 = m1 + m2 - 2.0 * rise;
    let sign = width.signum();
    move |p| {
        let t = p * sign;
        ParametricPoint {
            at_mm: from.0 + t * width,
            radius_mm: from.1 + t * (m1 + t * (c2 + t * c3)),
            at_rate: sign * width,
            radius_rate: sign * (m1 + t * (2.0 * c2 + t * 3.0 * c3)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::slopes;
    use crate::{Station, Wall, WallShape};

    /// By hand: secants 2 and ¼, widths 1 and 2. Parabola slopes 2 + 1.75/3, 2 − 1.75/3, and ¼ − 2
    /// · 1.75/3 < 0, so 0. In the second span `α` = 5⅔, so its slopes shrink by 3/5⅔: 17/12 becomes
    /// ¾.
    #[test]
    fn slopes_worked_by_hand() {
        let points = [(0.0, 10.0), (1.0, 12.0), (3.0, 12.5)];
        let expected = [31.0 / 12.0, 0.75, 0.0];
        for (found, expected) in slopes(&points).iter().zip(expected) {
            assert!((found - expected).abs() < 1e-14, "{found} {expected}");
        }
        // Half way through the second span: the mean of its ends, and an eighth of width times
        // slope.
        let stations = points.map(|(at_mm, radius_mm)| Station { at_mm, radius_mm });
        let wall = Wall::from_stations(&stations, WallShape::Smooth).unwrap();
        let section = wall.section(wall.s_of_at(2.0), &mut 0);
        assert!((section.radius_mm - 12.4375).abs() < 1e-11);
        // dr/dz there: 1.5 times the secant less a quarter of the slopes at the ends.
        assert!((section.sin_slope / section.cos_slope - (0.375 - 0.1875)).abs() < 1e-9);
    }

    #[test]
    fn a_turn_or_a_level_run_has_no_slope() {
        assert_eq!(slopes(&[(0.0, 1.0), (1.0, 2.0), (2.0, 1.0)])[1], 0.0);
        assert_eq!(slopes(&[(0.0, 1.0), (1.0, 1.0), (2.0, 3.0)])[..2], [0.0, 0.0]);
        assert_eq!(slopes(&[(0.0, 1.0), (4.0, 3.0)]), [0.5, 0.5]);
    }
}
