//! Stretches of the rail that burn, joined as they come, and at which turns they do.

use std::collections::BTreeMap;

/// Disjoint stretches in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Swept {
    stretches: Vec<(f64, f64)>,
    last: usize,
}

/// More stretches than this are joined where they lie nearest: a program that burns dust.
const MOST: usize = 4096;

impl Swept {
    /// Takes in a stretch, ends in either order; whether any of it may be new.
    #[inline]
    pub(super) fn add(&mut self, a: f64, b: f64) -> bool {
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        if let Some(known) = self.stretches.get(self.last)
            && low >= known.0
            && high <= known.1
        {
            return false;
        }
        self.join(low, high);
        true
    }

    fn join(&mut self, low: f64, high: f64) {
        if !(low.is_finite() && high.is_finite()) {
            return;
        }
        let first = self.stretches.partition_point(|known| known.1 < low);
        let after = self.stretches.partition_point(|known| known.0 <= high);
        if first < after {
            let joined = (low.min(self.stretches[first].0), high.max(self.stretches[after - 1].1));
            self.stretches.drain(first + 1..after);
            self.stretches[first] = joined;
        } else {
            self.stretches.insert(first, (low, high));
        }
        self.last = first;
        if self.stretches.len() > MOST {
            let gaps = self.stretches.windows(2).map(|pair| pair[1].0 - pair[0].1).enumerate();
            let least = gaps.min_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(at, _)| at);
            self.stretches[least].1 = self.stretches[least + 1].1;
            self.stretches.remove(least + 1);
            self.last = 0;
        }
    }

    pub(super) fn stretches(&self) -> &[(f64, f64)] {
        &self.stretches
    }
}

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

    #[test]
    fn stretches_join_where_they_meet() {
        let mut swept = Swept::default();
        for (a, b) in [(5.0, 6.0), (1.0, 2.0), (9.0, 8.0), (2.0, 3.0), (5.5, 5.7)] {
            swept.add(a, b);
        }
        assert_eq!(swept.stretches(), [(1.0, 3.0), (5.0, 6.0), (8.0, 9.0)]);
        swept.add(2.5, 8.5);
        assert_eq!(swept.stretches(), [(1.0, 9.0)]);
    }

    /// Dust: more stretches than are kept join where they lie nearest, and none is lost.
    #[test]
    fn too_many_stretches_join_over_the_least_gap() {
        let mut swept = Swept::default();
        let at = |k: usize| f64::from(u32::try_from(k).unwrap());
        // Each 0.25 mm long, 0.75 mm apart, but one gap of 0.5 mm behind the tenth.
        let stretch = |k: usize| {
            let low = at(k) - if k > 10 { 0.25 } else { 0.0 };
            (low, low + 0.25)
        };
        for k in 0..=MOST {
            let (low, high) = stretch(k);
            swept.add(low, high);
        }
        assert_eq!(swept.stretches().len(), MOST);
        for k in 0..=MOST {
            let (low, high) = stretch(k);
            let holds = swept.stretches().iter().any(|one| one.0 <= low && one.1 >= high);
            assert!(holds, "{k}");
        }
        assert_eq!(swept.stretches()[10], (10.0, 11.0));
        // What it holds already changes nothing, wherever it lies.
        let before = swept.stretches().to_vec();
        swept.add(10.4, 10.6);
        swept.add(5.0, 5.1);
        assert_eq!(swept.stretches(), before);
    }

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
