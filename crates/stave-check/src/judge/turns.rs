//! At which turns something burns, along the axis.

use std::collections::BTreeMap;

/// For each mm along the axis a turn at which something burns there.
#[derive(Clone, Debug, Default)]
pub(super) struct Turns(BTreeMap<i64, f64>);

/// So many are kept: no wall is longer, mm.
const MOST_TURNS: usize = 10_000;

impl Turns {
    /// Takes in a burn between two places, mm along the axis and turns.
    #[cold]
    pub(super) fn add(&mut self, from: (f64, f64), to: (f64, f64)) {
        let (low, high) = if from.0 <= to.0 { (from, to) } else { (to, from) };
        let [first, last] = [low.0, high.0].map(millimetre);
        for at in first..=last {
            if self.0.len() >= MOST_TURNS {
                return;
            }
            #[expect(clippy::cast_precision_loss, reason = "a few thousand")]
            let share = ((at as f64 - low.0) / (high.0 - low.0)).clamp(0.0, 1.0);
            let turn = if high.0 > low.0 { low.1 + share * (high.1 - low.1) } else { low.1 };
            self.0.entry(at).or_insert(turn);
        }
    }

    /// A turn at which something burns within a mm of a place.
    pub(super) fn near(&self, at_mm: f64) -> Option<f64> {
        let at = millimetre(at_mm);
        [at, at - 1, at + 1].into_iter().find_map(|at| self.0.get(&at).copied())
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a length on a wall")]
fn millimetre(at_mm: f64) -> i64 {
    at_mm.round().clamp(-1e6, 1e6) as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What lies between burns is no place of a burn.
    #[test]
    fn a_turn_is_one_at_which_something_burns() {
        let mut turns = Turns::default();
        turns.add((10.0, 1.5), (20.0, 1.7));
        turns.add((60.0, -1.2), (50.0, -1.4));
        turns.add((15.0, 3.0), (15.0, 3.0));
        assert_eq!(turns.near(15.2), Some(1.6));
        assert_eq!(turns.near(60.4), Some(-1.2));
        assert_eq!((turns.near(35.0), turns.near(21.6)), (None, None));
    }
}
