//! Which station lies off the trend of the others.

use super::MeasuredStation;
#[cfg(test)]
use super::around::CentreKnown;
use super::slip::{Slip, slips};

/// With fewer stations there is no trend to lie off.
pub const FEWEST_TO_JUDGE: usize = 5;

/// A robust deviation beyond which a value is an outlier (Iglewicz and Hoaglin, How to Detect and
/// Handle Outliers, 1993; from memory).
const FARTHEST: f64 = 3.5;
/// Median absolute deviation to standard deviation, for a normal distribution.
const MAD_TO_DEVIATION: f64 = 1.4826;
/// What a neighbour predicts is no surer than the reading itself, so twice its ± is allowed in any
/// case.
const SURE: f64 = 2.0;
/// How many suspects are tried as the one culprit.
const MOST_TRIED: usize = 8;

/// A station that does not go with its neighbours.
#[derive(Clone, Debug, PartialEq)]
pub struct OffTrend {
    /// The station's index.
    pub index: usize,
    /// The diameter there by its neighbours alone, mm.
    pub expected_mm: f64,
    /// Its neighbours which, left out instead, would make the rest go together as well.
    pub or: Vec<usize>,
    /// What it is likely to be, where it bears a telling ratio to its neighbours.
    pub likely: Option<Slip>,
}

/// Leave-one-out: a station is off where what its neighbours predict without it is farther away
/// than the rest of the stations miss theirs, predicted from as many neighbours. Lines through two
/// neighbours on either side, between them and beyond, a cubic through four, and the neighbours
/// themselves predict; the nearest counts, so that a step, a foot and a belly are no faults. Nor is
/// a place whose readings agree: what was measured again and found the same is there. At an end,
/// where one side alone speaks, it may lie anywhere from its neighbour to the line and to the curve
/// through three, as the wall runs or bends on, and on the line past that neighbour, which may be
/// what is odd; one from an end, anywhere between its neighbours.
///
/// Before that, what bears a telling ratio to its neighbours is taken for the slip that it is
/// likely to be.
pub(super) fn off_trend(stations: &[MeasuredStation]) -> Vec<OffTrend> {
    let mut found = slips(stations);
    let mut left: Vec<usize> =
        (0..stations.len()).filter(|k| found.iter().all(|off| off.index != *k)).collect();
    while left.len() >= FEWEST_TO_JUDGE && found.len() <= stations.len() / 4 {
        let judged = suspects(stations, &left);
        let Some(worst) = judged.first() else { break };
        let clears = |place: usize| {
            let rest: Vec<usize> =
                left.iter().enumerate().filter(|(k, _)| *k != place).map(|(_, s)| *s).collect();
            suspects(stations, &rest).is_empty()
        };
        let clearing = judged.iter().take(MOST_TRIED).find(|suspect| clears(suspect.place));
        let chosen = clearing.unwrap_or(worst);
        let (place, expected_mm) = (chosen.place, chosen.expected_mm);
        let neighbours = [place.checked_sub(1), Some(place + 1)].into_iter().flatten();
        let or = neighbours
            .filter(|k| clearing.is_some() && *k < left.len() && clears(*k))
            .map(|k| left[k])
            .collect();
        found.push(OffTrend { index: left[place], expected_mm, or, likely: None });
        if clearing.is_some() {
            break;
        }
        left.remove(place);
    }
    found
}

struct Suspect {
    /// Its place among those left.
    place: usize,
    expected_mm: f64,
    /// By how much it passes what is allowed.
    score: f64,
}

/// The stations among `left` that miss their prediction by more than is allowed, the worst first.
fn suspects(stations: &[MeasuredStation], left: &[usize]) -> Vec<Suspect> {
    if left.len() < FEWEST_TO_JUDGE {
        return Vec::new();
    }
    let left: Vec<&MeasuredStation> = left.iter().filter_map(|k| stations.get(*k)).collect();
    let points: Vec<(f64, f64)> = left.iter().map(|s| (s.at_mm, s.diameter_mm)).collect();
    let full: Vec<f64> = (0..points.len()).map(|i| miss(&points, i, None, (2, 2))).collect();
    let mut found = Vec::new();
    for (i, station) in left.iter().enumerate() {
        let reach = (i.min(2), (points.len() - 1 - i).min(2));
        let sure = SURE * station.sure_mm();
        if full[i] <= sure || station.agree {
            continue;
        }
        let missed = full[i].min(miss_by_an_end(&points, i));
        if missed <= sure {
            continue;
        }
        let mut rest: Vec<f64> = (0..points.len())
            .filter(|j| *j != i)
            .map(|j| {
                if reach == (2, 2) && j.abs_diff(i) > 2 {
                    full[j]
                } else {
                    miss(&points, j, Some(i), reach)
                }
            })
            .collect();
        let allowed = (FARTHEST * MAD_TO_DEVIATION * median(&mut rest)).max(sure);
        if missed > allowed {
            found.push(Suspect {
                place: i,
                expected_mm: expected(&points, i),
                score: missed / allowed,
            });
        }
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    found
}

/// By how much point `i` misses the nearest of what its neighbours predict: `reach` before and
/// after it, `without` left out.
fn miss(points: &[(f64, f64)], i: usize, without: Option<usize>, reach: (usize, usize)) -> f64 {
    let (at, size) = points[i];
    let near = |k: &usize| Some(*k) != without;
    let before: Vec<(f64, f64)> =
        (0..i).rev().filter(near).take(reach.0).map(|k| points[k]).collect();
    let after: Vec<(f64, f64)> =
        (i + 1..points.len()).filter(near).take(reach.1).map(|k| points[k]).collect();
    let mut best = f64::INFINITY;
    let mut offer = |predicted: f64| best = best.min((predicted - size).abs());
    for side in [before.as_slice(), after.as_slice()] {
        if let [nearest, ..] = side {
            offer(nearest.1);
        }
        if let [_, _] = side {
            offer(through(side, at));
        }
    }
    if let ([a, ..], [b, ..]) = (before.as_slice(), after.as_slice()) {
        offer(through(&[*a, *b], at));
    }
    if let ([a, b], [c, d]) = (before.as_slice(), after.as_slice()) {
        offer(through(&[*b, *a, *c, *d], at));
    }
    // With no neighbour on its side there is nothing to miss.
    if best.is_finite() { best } else { 0.0 }
}

/// By how much a point at an end, or one from it, misses all that the others there leave open;
/// infinite for another.
fn miss_by_an_end(points: &[(f64, f64)], i: usize) -> f64 {
    let (at, size) = points[i];
    let open = |left: &[f64]| {
        let least = left.iter().copied().fold(f64::INFINITY, f64::min);
        let most = left.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (size - size.clamp(least, most)).abs()
    };
    match (&points[..i], &points[i + 1..]) {
        ([], [a, b, c, ..]) | ([.., c, b, a], []) => {
            let past = (through(&[*b, *c], at) - size).abs();
            let bent = through(&[*a, *b, *c], at);
            open(&[a.1, through(&[*a, *b], at), bent]).min(past)
        }
        ([a], [b, ..]) | ([.., a], [b]) => open(&[a.1, b.1]),
        _ => f64::INFINITY,
    }
}

/// The straight wall's diameter at point `i` without it: between its neighbours, or beyond them at
/// an end.
fn expected(points: &[(f64, f64)], i: usize) -> f64 {
    let at = points[i].0;
    match (&points[..i], &points[i + 1..]) {
        ([], after) => beyond(after.iter().take(3), at),
        (before, []) => beyond(before.iter().rev().take(3), at),
        ([.., a], [b, ..]) => through(&[*a, *b], at),
    }
}

/// The diameter beyond an end by the points there, the nearest first: on the line of the nearest
/// two, that of the second and third, or as the nearest, whichever is between the others. A step or
/// a slip right at the end thus carries nothing far.
pub(super) fn beyond<'a>(near: impl Iterator<Item = &'a (f64, f64)>, at: f64) -> f64 {
    let near: Vec<(f64, f64)> = near.copied().collect();
    match near.as_slice() {
        [] => 0.0,
        [only] => only.1,
        [a, b] => through(&[*a, *b], at),
        [a, b, c, ..] => median(&mut [through(&[*a, *b], at), through(&[*b, *c], at), a.1]),
    }
}

/// The value at `at` of the polynomial through some points (Lagrange).
pub(super) fn through(points: &[(f64, f64)], at: f64) -> f64 {
    let others = |j: usize| points.iter().enumerate().filter(move |(k, _)| *k != j);
    points
        .iter()
        .enumerate()
        .map(|(j, a)| a.1 * others(j).map(|(_, b)| (at - b.0) / (a.0 - b.0)).product::<f64>())
        .sum()
}

pub(super) fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() {
        0 => 0.0,
        count if count % 2 == 1 => values[middle],
        _ => 0.5 * (values[middle - 1] + values[middle]),
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn medians_by_hand() {
        assert_eq!(median(&mut []), 0.0);
        assert_eq!(median(&mut [3.0]), 3.0);
        assert_eq!(median(&mut [9.0, 1.0]), 5.0);
        assert_eq!(median(&mut [9.0, 1.0, 2.0]), 2.0);
    }

    pub(in super::super) fn stations(points: &[(f64, f64)]) -> Vec<MeasuredStation> {
        points
            .iter()
            .map(|&(at_mm, diameter_mm)| MeasuredStation {
                at_mm,
                diameter_mm,
                gauge: None,
                values: 1,
                spread_mm: 0.0,
                left_out: Vec::new(),
                read_around: false,
                agree: false,
                size_mm: 0.06,
                place_mm: 0.0,
                round: None,
                oval_known: 0,
                centre_known: CentreKnown::Unread,
            })
            .collect()
    }

    const BOTTLE: [(f64, f64); 6] =
        [(0.0, 66.0), (40.0, 67.5), (95.0, 70.0), (101.0, 86.0), (140.0, 88.0), (175.0, 88.5)];

    #[test]
    fn a_step_is_no_fault() {
        assert_eq!(off_trend(&stations(&BOTTLE)), []);
    }

    #[test]
    fn a_belly_and_a_waist_are_no_faults() {
        let wave: Vec<(f64, f64)> = (0..20)
            .map(|k| f64::from(k) * 8.0)
            .map(|at| (at, 80.0 + 6.0 * (at / 18.0).sin()))
            .collect();
        assert_eq!(off_trend(&stations(&wave)), []);
    }

    #[test]
    fn digits_swapped_on_the_foot() {
        let mut points = BOTTLE.to_vec();
        points[1].1 = 76.5;
        let found = off_trend(&stations(&points));
        let named: Vec<usize> =
            found.iter().flat_map(|off| std::iter::once(off.index).chain(off.or.clone())).collect();
        assert!(named.contains(&1), "{found:?}");
    }

    #[test]
    fn one_off_a_taper_is_named_alone() {
        let mut points: Vec<(f64, f64)> =
            (0..12).map(|k| f64::from(k) * 10.0).map(|at| (at, 66.0 + 0.05 * at)).collect();
        points[5].1 += 1.5;
        let found = off_trend(&stations(&points));
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!((found[0].index, found[0].or.as_slice()), (5, [].as_slice()));
        assert!((found[0].expected_mm - 68.5).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn two_off_are_both_named() {
        let mut points: Vec<(f64, f64)> =
            (0..16).map(|k| f64::from(k) * 10.0).map(|at| (at, 66.0 + 0.05 * at)).collect();
        points[4].1 += 2.0;
        points[11].1 -= 3.0;
        let mut found: Vec<usize> =
            off_trend(&stations(&points)).iter().map(|off| off.index).collect();
        found.sort_unstable();
        assert_eq!(found, [4, 11]);
    }

    /// A ring that was measured three times at each of its places is a ring.
    #[test]
    fn readings_that_agree_outweigh_smoothness() {
        let ring = [
            (0.0, 66.0),
            (20.0, 68.0),
            (40.0, 70.0),
            (50.0, 70.9),
            (52.0, 84.0),
            (54.0, 71.1),
            (74.0, 73.0),
            (94.0, 75.0),
            (114.0, 77.0),
        ];
        let mut ring = stations(&ring);
        assert_eq!(off_trend(&ring).first().map(|off| off.index), Some(4));
        for station in &mut ring {
            (station.values, station.agree) = (3, true);
        }
        assert_eq!(off_trend(&ring), []);
        // Three that do not agree say nothing.
        ring[4].agree = false;
        assert_eq!(off_trend(&ring).first().map(|off| off.index), Some(4));
    }

    /// The end of a wall after a ring that was measured three times, and that of a smooth shoulder
    /// read at few places, whose line runs far past it.
    #[test]
    fn an_end_is_not_blamed_for_what_is_beside_it() {
        let ring =
            [(10.0, 75.0), (45.0, 75.0), (70.0, 75.0), (80.0, 75.0), (85.0, 85.0), (120.0, 75.0)];
        let mut ring = stations(&ring);
        ring[4].agree = true;
        assert_eq!(off_trend(&ring), []);
        ring[4].agree = false;
        let found = off_trend(&ring);
        assert_eq!(found.first().map(|off| off.index), Some(4), "{found:?}");
        assert!((found[0].expected_mm - 75.0).abs() < 1e-9, "{found:?}");
        let shoulder = [(0.0, 60.0), (20.0, 60.0), (50.0, 61.5), (70.0, 70.0), (155.0, 80.0)];
        assert_eq!(off_trend(&stations(&shoulder)), []);
        // A belly's end, far from the next place that was read: 66 + 8 sin (z / 60).
        let belly = [0.0, 35.0, 55.0, 60.0, 65.0, 70.0, 75.0, 85.0]
            .map(|at: f64| (at, 66.0 + 8.0 * (at / 60.0).sin()));
        assert_eq!(off_trend(&stations(&belly)), []);
        // What is off at an end is told against what its neighbours show.
        ring[4].diameter_mm = 75.0;
        ring[5].diameter_mm = 57.0;
        let found = off_trend(&ring);
        assert_eq!(found.first().map(|off| (off.index, off.expected_mm)), Some((5, 75.0)));
        assert_eq!(beyond([(9.0, 85.0), (8.0, 75.0), (7.0, 75.0)].iter(), 12.0), 85.0);
    }

    proptest! {
        #[test]
        fn a_bad_reading_is_among_those_named(bad in 0_usize..14, by in prop_oneof![-9.0..-2.0, 2.0..9.0], taper in -0.1..0.1) {
            let mut points: Vec<(f64, f64)> = (0..14).map(|k| f64::from(k) * 9.0).map(|at| (at, 70.0 + taper * at)).collect();
            points[bad].1 += by;
            let found = off_trend(&stations(&points));
            let named: Vec<usize> = found.iter().flat_map(|off| std::iter::once(off.index).chain(off.or.clone())).collect();
            prop_assert!(named.contains(&bad), "{:?}", found);
        }
    }
}
