//! Finding the interval of a sorted list that holds a value.

/// The interval `i` with `knots[i] <= x < knots[i + 1]`, clamped to the first and the last one.
///
/// Constant time when `hint` is right or next to it, else a binary search. The answer never depends
/// on the hint. `knots` holds at least two values in ascending order; a value that is not a number
/// counts as lying past the last.
#[allow(clippy::inline_always)]
#[inline(always)]
pub(crate) fn find(knots: &[f64], x: f64, hint: usize) -> usize {
    let last = knots.len().saturating_sub(2);
    let here = hint.min(last);
    let (Some(&low), Some(&high)) = (knots.get(here), knots.get(here + 1)) else { return 0 };
    if x >= high {
        match knots.get(here + 2) {
            None => return last,
            Some(&next) if x < next => return here + 1,
            Some(_) => {}
        }
    } else if x >= low {
        return here;
    } else if here == 0 {
        return if x < low { 0 } else { last };
    } else if x >= knots[here - 1] {
        return here - 1;
    }
    search(knots, x, last)
}

#[cold]
fn search(knots: &[f64], x: f64, last: usize) -> usize {
    if x < knots[0] {
        return 0;
    }
    knots.partition_point(|&knot| knot <= x || x.is_nan()).saturating_sub(1).min(last)
}

#[cfg(test)]
mod tests {
    use super::find;
    use proptest::prelude::*;

    #[test]
    fn a_knot_belongs_to_the_interval_above_it() {
        let knots = [0.0, 1.0, 2.0, 4.0];
        assert_eq!(find(&knots, 1.0, 0), 1);
        assert_eq!(find(&knots, 4.0, 0), 2);
        assert_eq!(find(&knots, -7.0, 2), 0);
        assert_eq!(find(&knots, 9.0, 0), 2);
    }

    proptest! {
        #[test]
        fn the_hint_never_matters(
            mut knots in proptest::collection::vec(-100.0..100.0f64, 2..40),
            x in prop_oneof![-120.0..120.0f64, Just(f64::NAN), Just(f64::INFINITY), Just(f64::NEG_INFINITY)],
            hint in 0usize..60,
        ) {
            knots.sort_by(f64::total_cmp);
            knots.dedup();
            prop_assume!(knots.len() >= 2);
            let found = find(&knots, x, hint);
            prop_assert_eq!(found, find(&knots, x, 0));
            prop_assert!(found + 1 < knots.len());
            if x >= knots[0] && x < knots[knots.len() - 1] {
                prop_assert!(knots[found] <= x && x < knots[found + 1]);
            }
        }
    }
}
