//! Stretches of a length, joined as they come.

/// Disjoint stretches of a length in order, mm.
///
/// ```
/// use stave_check::JoinedStretches;
/// let mut burned = JoinedStretches::joined_within(1.0);
/// burned.add(50.0, 60.0);
/// burned.add(10.0, 5.0);
/// burned.add(60.5, 61.0);
/// assert_eq!(burned.all(), [(5.0, 10.0), (50.0, 61.0)]);
/// assert_eq!(burned.ends(), Some((5.0, 61.0)));
/// ```
#[derive(Clone, Debug, Default)]
pub struct JoinedStretches {
    all: Vec<(f64, f64)>,
    last: usize,
    near_mm: f64,
}

/// More stretches than this are joined where they lie nearest: a program that burns dust.
const MOST: usize = 4096;

impl JoinedStretches {
    /// None yet; those no farther apart than so many mm will be one. By default those that meet.
    #[must_use]
    pub fn joined_within(near_mm: f64) -> Self {
        Self { near_mm, ..Self::default() }
    }

    /// Takes in a stretch, ends in either order; whether any of it may be new. What is not finite
    /// is left out.
    #[inline]
    pub fn add(&mut self, a: f64, b: f64) -> bool {
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        if let Some(known) = self.all.get(self.last)
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
        let near_mm = self.near_mm;
        let first = self.all.partition_point(|known| known.1 < low - near_mm);
        let after = self.all.partition_point(|known| known.0 <= high + near_mm);
        if first < after {
            let joined = (low.min(self.all[first].0), high.max(self.all[after - 1].1));
            self.all.drain(first + 1..after);
            self.all[first] = joined;
        } else {
            self.all.insert(first, (low, high));
        }
        self.last = first;
        if self.all.len() > MOST {
            let gaps = self.all.windows(2).map(|pair| pair[1].0 - pair[0].1).enumerate();
            let least = gaps.min_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(at, _)| at);
            self.all[least].1 = self.all[least + 1].1;
            self.all.remove(least + 1);
            self.last = 0;
        }
    }

    /// All of them, in order and apart from each other.
    #[must_use]
    pub fn all(&self) -> &[(f64, f64)] {
        &self.all
    }

    /// From the first to the last, if there are any.
    #[must_use]
    pub fn ends(&self) -> Option<(f64, f64)> {
        Some((self.all.first()?.0, self.all.last()?.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_join_where_they_meet() {
        let mut swept = JoinedStretches::default();
        for (a, b) in [(5.0, 6.0), (1.0, 2.0), (9.0, 8.0), (2.0, 3.0), (5.5, 5.7)] {
            swept.add(a, b);
        }
        assert_eq!(swept.all(), [(1.0, 3.0), (5.0, 6.0), (8.0, 9.0)]);
        swept.add(2.5, 8.5);
        assert_eq!(swept.all(), [(1.0, 9.0)]);
    }

    /// Dust: more stretches than are kept join where they lie nearest, and none is lost.
    #[test]
    fn too_many_stretches_join_over_the_least_gap() {
        let mut swept = JoinedStretches::default();
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
        assert_eq!(swept.all().len(), MOST);
        for k in 0..=MOST {
            let (low, high) = stretch(k);
            let holds = swept.all().iter().any(|one| one.0 <= low && one.1 >= high);
            assert!(holds, "{k}");
        }
        assert_eq!(swept.all()[10], (10.0, 11.0));
        // What it holds already changes nothing, wherever it lies.
        let before = swept.all().to_vec();
        swept.add(10.4, 10.6);
        swept.add(5.0, 5.1);
        assert_eq!(swept.all(), before);
    }

    /// Those near each other are one, a place by itself is one, and what is no number is none.
    #[test]
    fn stretches_join_across_what_is_near() {
        let mut burned = JoinedStretches::joined_within(1.0);
        assert_eq!(burned.ends(), None);
        for (a, b) in [(50.0, 60.0), (10.0, 5.0), (f64::NAN, 1.0), (60.5, 61.0), (8.0, 9.0)] {
            burned.add(a, b);
        }
        assert_eq!(burned.all(), [(5.0, 10.0), (50.0, 61.0)]);
        burned.add(20.0, 20.0);
        burned.add(11.5, 11.5);
        assert_eq!(burned.all(), [(5.0, 10.0), (11.5, 11.5), (20.0, 20.0), (50.0, 61.0)]);
        burned.add(10.8, 49.5);
        assert_eq!(burned.all(), [(5.0, 61.0)]);
        assert_eq!(burned.ends(), Some((5.0, 61.0)));
    }
}
