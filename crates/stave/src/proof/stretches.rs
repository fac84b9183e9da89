//! Which stretches of the wall burn, where burns lie apart along it.

/// Stretches no farther from each other than this are one, mm.
const NEAR_MM: f64 = 1.0;

/// Stretches of the meridian, mm, in their order and apart from each other.
#[derive(Clone, Debug, Default)]
pub(super) struct Stretches(Vec<(f64, f64)>);

impl Stretches {
    /// Takes a burn from one place to another.
    pub(super) fn burn(&mut self, a_mm: f64, b_mm: f64) {
        if a_mm.is_nan() || b_mm.is_nan() {
            return;
        }
        let (low, high) = (a_mm.min(b_mm), a_mm.max(b_mm));
        let all = &mut self.0;
        let first = all.partition_point(|(_, to)| *to < low - NEAR_MM);
        let after = all.partition_point(|(from, _)| *from <= high + NEAR_MM);
        let met = all.get(first..after).unwrap_or_default();
        let one =
            met.iter().fold((low, high), |one, (from, to)| (one.0.min(*from), one.1.max(*to)));
        if met != [one] {
            all.splice(first..after.max(first), [one]);
        }
    }

    pub(super) fn all(&self) -> &[(f64, f64)] {
        &self.0
    }

    /// From the first to the last, if there are any.
    pub(super) fn ends(&self) -> Option<(f64, f64)> {
        Some((self.0.first()?.0, self.0.last()?.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn burns_apart_are_stretches_of_their_own() {
        let mut burned = Stretches::default();
        assert_eq!(burned.ends(), None);
        for (a, b) in [(50.0, 60.0), (10.0, 5.0), (f64::NAN, 1.0), (60.5, 61.0), (8.0, 9.0)] {
            burned.burn(a, b);
        }
        assert_eq!(burned.all(), [(5.0, 10.0), (50.0, 61.0)]);
        burned.burn(20.0, 20.0);
        burned.burn(11.5, 11.5);
        assert_eq!(burned.all(), [(5.0, 10.0), (11.5, 11.5), (20.0, 20.0), (50.0, 61.0)]);
        burned.burn(10.8, 49.5);
        assert_eq!(burned.all(), [(5.0, 61.0)]);
        assert_eq!(burned.ends(), Some((5.0, 61.0)));
    }
}
