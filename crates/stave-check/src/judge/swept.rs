//! Stretches of the rail that burn, joined as they come.

/// Disjoint stretches in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Swept {
    stretches: Vec<(f64, f64)>,
    last: usize,
}

/// More stretches than this are joined where they lie nearest: a program that burns dust.
const MOST: usize = 4096;

impl Swept {
    /// Takes in a stretch, ends in either order.
    #[inline]
    pub(super) fn add(&mut self, a: f64, b: f64) {
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        if let Some(known) = self.stretches.get(self.last)
            && low >= known.0
            && high <= known.1
        {
            return;
        }
        self.join(low, high);
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
}
