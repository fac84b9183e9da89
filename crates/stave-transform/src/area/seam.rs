//! The seam of what goes all the way around. Lines that reach past it by rounding alone close it,
//! and burn once; what reaches farther and lies on what is burned a turn before is left as it was
//! laid, so that whoever looks at the moves sees it burned on two turns.

use std::collections::BTreeMap;

use super::scan::{Line, Run};
use super::{apart, lap, merged};

/// The seam that lines are folded at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fold {
    /// Runs shorter than this do not lie on each other, mm.
    pub(super) least_mm: f64,
    /// Whether lines show a picture, each place of which has its own grey: what is folded is looked
    /// for in the turn it is folded to, where there is none.
    pub(super) shaded: bool,
}

impl Fold {
    /// Lines along the axis brought into the `count` of a turn from a `first` one on; `None` where
    /// more than the line of the seam would lie on itself.
    pub(super) fn along(self, lines: &[Line], (first, count): (i64, i64)) -> Option<Vec<Line>> {
        let past = lines.last().map_or(0, |last| last.line - first - count);
        let fits = if self.shaded { past <= 0 } else { self.deepest(lines, count) <= 1 };
        fits.then(|| merged(std::iter::once(lines.to_vec()), Some((first, count))))
    }

    /// How many lines burn again a turn on, where they are most.
    fn deepest(self, lines: &[Line], count: i64) -> i64 {
        let mut turns: BTreeMap<i64, Vec<&Line>> = BTreeMap::new();
        let mut ends: Vec<(f64, i64)> = Vec::new();
        for line in lines {
            let before = turns.entry(line.line.rem_euclid(count)).or_default();
            for other in before.iter() {
                for (from_mm, to_mm) in common(&other.runs, &line.runs) {
                    if to_mm - from_mm > self.least_mm {
                        ends.extend([(from_mm, 1), (to_mm, -1)]);
                    }
                }
            }
            before.push(line);
        }
        ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let depths = ends.iter().scan(0, |depth, (_, by)| {
            *depth += by;
            Some(*depth)
        });
        depths.max().unwrap_or(0)
    }

    /// Lines around brought into the turn that begins at `from_mm`; `None` where more of one than
    /// `closing_mm` would lie on itself.
    pub(super) fn around(
        self,
        lines: &[Line],
        (from_mm, turn_mm): (f64, f64),
        closing_mm: f64,
    ) -> Option<Vec<Line>> {
        let folded = |line: &Line| {
            let mut once = line.clone();
            lap::once_around(&mut once, from_mm, turn_mm);
            let past_mm = match (self.shaded, line.runs.last()) {
                (true, Some(last)) => last.to_mm - from_mm - turn_mm,
                _ => long_mm(&line.runs) - long_mm(&once.runs),
            };
            (past_mm <= closing_mm).then_some(once)
        };
        lines.iter().map(folded).collect()
    }
}

fn long_mm(runs: &[Run]) -> f64 {
    apart(runs.to_vec()).iter().map(|run| run.to_mm - run.from_mm).sum()
}

/// Where both of two lines burn; the runs of each lie in order and apart.
fn common<'r>(a: &'r [Run], b: &'r [Run]) -> impl Iterator<Item = (f64, f64)> + 'r {
    let (mut i, mut k) = (0, 0);
    std::iter::from_fn(move || {
        while let (Some(one), Some(other)) = (a.get(i), b.get(k)) {
            if one.to_mm < other.to_mm {
                i += 1;
            } else {
                k += 1;
            }
            let (from_mm, to_mm) = (one.from_mm.max(other.from_mm), one.to_mm.min(other.to_mm));
            if from_mm < to_mm {
                return Some((from_mm, to_mm));
            }
        }
        None
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const FOLD: Fold = Fold { least_mm: 0.001, shaded: false };

    fn line(line: i64, runs: &[(f64, f64)]) -> Line {
        let runs = runs.iter().map(|&(from_mm, to_mm)| Run { from_mm, to_mm, piece: 0 });
        Line { line, runs: runs.collect(), ..Line::default() }
    }

    #[test]
    fn what_closes_is_folded_and_what_lies_on_itself_is_not() {
        let band =
            |count: i64| -> Vec<Line> { (5..5 + count).map(|k| line(k, &[(0.0, 9.0)])).collect() };
        // A turn of 100 lines, drawn to the hair and a line past it by rounding.
        for count in [100, 101] {
            assert_eq!(FOLD.along(&band(count), (5, 100)).unwrap(), band(100));
        }
        assert_eq!(FOLD.along(&band(102), (5, 100)), None);
        // A slanting band closes though it reaches far past its seam.
        #[allow(clippy::cast_precision_loss, reason = "lines are few")]
        let slanting: Vec<Line> = (0..150_i64)
            .map(|k| {
                let (low, high) = ((k - 100).max(0) as f64, k.min(50) as f64);
                line(k, &[(0.2 * low, 0.2 * high)])
            })
            .filter(|line| line.runs[0].from_mm < line.runs[0].to_mm)
            .collect();
        assert_eq!(FOLD.along(&slanting, (0, 100)).unwrap().len(), 100);
        // A picture has other greys there.
        let shaded = Fold { shaded: true, ..FOLD };
        assert_eq!(shaded.along(&slanting, (0, 100)), None);
        assert!(shaded.along(&band(101), (5, 100)).is_some());
    }

    #[test]
    fn each_height_counts_for_itself() {
        // Two laps at different heights, then a stretch of one on the other.
        let mut lines: Vec<Line> = (0..100).map(|k| line(k, &[(0.0, 4.0), (6.0, 8.0)])).collect();
        lines.extend((100..140).map(|k| line(k, &[(4.0, 6.0)])));
        assert_eq!(FOLD.deepest(&lines, 100), 0);
        lines.extend((140..145).map(|k| line(k, &[(3.0, 5.0)])));
        lines.extend((145..148).map(|k| line(k, &[(7.0, 9.0)])));
        assert_eq!(FOLD.deepest(&lines, 100), 5);
    }

    #[test]
    fn lines_around_likewise() {
        let of = |to_mm: f64| [line(0, &[(2.0, 12.0)]), line(1, &[(2.0, to_mm)])];
        let closed = FOLD.around(&of(12.05), (2.0, 10.0), 0.1).unwrap();
        assert!(closed[1].runs.iter().all(|run| run.to_mm <= 12.0 + 1e-9));
        assert_eq!(FOLD.around(&of(12.2), (2.0, 10.0), 0.1), None);
        // Apart from each other on two turns.
        let threaded = [line(0, &[(2.0, 5.0), (16.0, 18.0)])];
        assert!(FOLD.around(&threaded, (2.0, 10.0), 0.1).is_some());
        assert_eq!(Fold { shaded: true, ..FOLD }.around(&threaded, (2.0, 10.0), 0.1), None);
    }
}
