//! Straight lines cut at the edges of what is drawn.

use kurbo::Rect;

/// Less than this is no way, and no way past an edge.
const NO_WAY: f64 = 1e-12;
const ON_EDGE: f64 = 1e-9;

/// From which to which share a straight way lies within a rectangle; `None` where it lies outside
/// or only touches it, or is none (Liang and Barsky, ACM Transactions on Graphics 3, 1984; from
/// memory).
pub(crate) fn share_within(from: (f64, f64), to: (f64, f64), bounds: Rect) -> Option<(f64, f64)> {
    let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
    let across = (from.0, to.0, bounds.x0, bounds.x1);
    let down = (from.1, to.1, bounds.y0, bounds.y1);
    for (start, end, low, high) in [across, down] {
        let way = end - start;
        if way.is_nan() {
            return None;
        }
        if way.abs() < NO_WAY {
            if !(start >= low - ON_EDGE && start <= high + ON_EDGE) {
                return None;
            }
            continue;
        }
        let (a, b) = ((low - start) / way, (high - start) / way);
        enters = enters.max(a.min(b));
        leaves = leaves.min(a.max(b));
    }
    (enters < leaves).then_some((enters, leaves))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_way_is_cut_at_the_edges_it_crosses() {
        let bounds = Rect::new(0.0, -1.0, 10.0, 1.0);
        let within = |from, to| share_within(from, to, bounds);
        assert_eq!(within((-10.0, 0.0), (30.0, 0.0)), Some((0.25, 0.5)));
        assert_eq!(within((2.0, 0.5), (8.0, -0.5)), Some((0.0, 1.0)));
        assert_eq!(within((5.0, -3.0), (5.0, 1.0)), Some((0.5, 1.0)));
        // Along an edge it lies within; past one, or on a corner alone, it does not.
        assert_eq!(within((0.0, 1.0), (10.0, 1.0)), Some((0.0, 1.0)));
        assert_eq!(within((0.0, 2.0), (10.0, 2.0)), None);
        assert_eq!(within((-1.0, 0.0), (1.0, 2.0)), None);
        assert_eq!(within((f64::NAN, 0.0), (f64::NAN, 0.0)), None);
    }
}
