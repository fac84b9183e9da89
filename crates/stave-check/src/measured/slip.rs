//! Slips of the hand: what bears a telling ratio to its neighbours is likely to be one.

use std::ops::Range;

use super::MeasuredStation;
use super::trend::{OffTrend, beyond, through};

/// With the slip undone, a station lies between its neighbours or beyond by this share at most.
const BETWEEN: f64 = 0.05;
/// At an end of the wall, where a neck or a foot may be half as wide as the body, it lies so near
/// to the line through its neighbours, or between that and the nearest.
const BEYOND: f64 = 0.02;
/// Stations side by side that differ by less than this ratio are given alike.
const LEAST_RATIO: f64 = 1.3;
/// So many stations side by side, with nothing like them elsewhere, may be slips; more are the
/// ware's shape.
const MOST_ALIKE: usize = 2;

/// A slip that a hand makes with a reading.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Slip {
    /// A radius given for a diameter: half.
    Radius,
    /// Twice what it is.
    Twice,
    /// A circumference given for a diameter: π times.
    Around,
    /// A diameter given for a circumference: 1/π of it.
    Across,
    /// Millimetres where inches are read: 25.4 times.
    Millimetres,
    /// Inches where millimetres are read: 1/25.4.
    Inches,
}

impl Slip {
    const ALL: [Slip; 6] =
        [Slip::Radius, Slip::Twice, Slip::Around, Slip::Across, Slip::Millimetres, Slip::Inches];

    /// The reading over what it should be.
    #[must_use]
    pub fn ratio(self) -> f64 {
        match self {
            Slip::Radius => 0.5,
            Slip::Twice => 2.0,
            Slip::Around => std::f64::consts::PI,
            Slip::Across => std::f64::consts::FRAC_1_PI,
            Slip::Millimetres => 25.4,
            Slip::Inches => 1.0 / 25.4,
        }
    }

    /// What the others are if it is they that are wrong.
    fn of_the_others(self) -> Self {
        match self {
            Slip::Radius => Slip::Twice,
            Slip::Twice => Slip::Radius,
            Slip::Around => Slip::Across,
            Slip::Across => Slip::Around,
            Slip::Millimetres => Slip::Inches,
            Slip::Inches => Slip::Millimetres,
        }
    }

    /// How much is said against so many slips of a kind: a radius is soon given for a diameter, but
    /// who doubles one?
    fn against(self, count: usize) -> usize {
        if self == Slip::Twice { 2 * count } else { count }
    }
}

/// The stations that are likely slips.
///
/// That the readings of a place agree is nothing said against it: who reads a radius reads it
/// again, and a gauge that is set to inches stays so.
pub(super) fn slips(stations: &[MeasuredStation]) -> Vec<OffTrend> {
    let points: Vec<(f64, f64)> = stations.iter().map(|s| (s.at_mm, s.diameter_mm)).collect();
    let mut slips = inside(&points);
    let last = points.len().saturating_sub(1);
    for (index, beside) in [(0, [1, 2]), (last, [last.wrapping_sub(1), last.wrapping_sub(2)])] {
        let judged = |k: &usize| slips.iter().all(|(other, _)| other != k);
        let sound = beside.iter().chain([&index]).all(judged);
        let trio = [index, beside[0], beside[1]].map(|k| points.get(k).copied());
        if let [Some(end), Some(near), Some(far)] = trio
            && sound
            && let Some(slip) = at_an_end(end, [near, far])
        {
            slips.push((index, slip));
        }
    }
    slips.sort_unstable_by_key(|(index, _)| *index);
    let sound: Vec<(f64, f64)> = (0..points.len())
        .filter(|k| slips.iter().all(|(index, _)| index != k))
        .map(|k| points[k])
        .collect();
    let found = slips.iter().map(|&(index, slip)| OffTrend {
        index,
        expected_mm: expected(&sound, points[index].0),
        or: Vec::new(),
        likely: Some(slip),
    });
    found.collect()
}

/// Slips among stations with others on both sides.
///
/// Where stations by turns bear one ratio to each other, either all of the one kind are wrong or
/// all of the other. The fewer are, of all that was read, whichever of them stand nearest by.
fn inside(points: &[(f64, f64)]) -> Vec<(usize, Slip)> {
    let alike = alike(points);
    let likely: Vec<Option<Slip>> = alike.iter().map(|run| between(points, run)).collect();
    let mut slips = Vec::new();
    let mut first = 0;
    while first < alike.len() {
        let Some(slip) = likely[first] else {
            first += 1;
            continue;
        };
        let of = |k: usize| if (k - first).is_multiple_of(2) { slip } else { slip.of_the_others() };
        let mut end = first + 1;
        while end < alike.len() && likely[end] == Some(of(end)) {
            end += 1;
        }
        // Those before and after go with the other kind than those beside them.
        let beyond = [
            (first - 1, slip.of_the_others(), alike[first].start),
            (end, of(end), points.len() - alike[end - 1].end),
        ];
        let count = |kind: Slip| -> usize {
            let inside = (first..end).filter(|k| of(*k) == kind).map(|k| alike[k].len());
            let outside = beyond.iter().filter(|(_, other, _)| *other == kind).map(|b| b.2);
            inside.chain(outside).sum()
        };
        let [own, others] = [slip, slip.of_the_others()].map(|kind| kind.against(count(kind)));
        let wrong = match own.cmp(&others) {
            std::cmp::Ordering::Less => slip,
            std::cmp::Ordering::Greater => slip.of_the_others(),
            std::cmp::Ordering::Equal if slip == Slip::Twice => Slip::Radius,
            std::cmp::Ordering::Equal => slip,
        };
        let ends = beyond.iter().map(|&(k, kind, _)| (k, kind));
        let runs = (first..end).map(|k| (k, of(k))).chain(ends);
        let wrong_runs = runs.filter(|(_, kind)| *kind == wrong).map(|(k, _)| alike[k].clone());
        // Many in one place only are there.
        let is_shape = end == first + 1 && alike[first].len() > MOST_ALIKE;
        if !is_shape {
            slips.extend(wrong_runs.flatten().map(|index| (index, wrong)));
        }
        first = end;
    }
    slips
}

/// The stations in runs of such as are given alike.
fn alike(points: &[(f64, f64)]) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for (k, point) in points.iter().enumerate() {
        let near = k.checked_sub(1).is_some_and(|before| {
            let ratio = point.1 / points[before].1;
            ratio.max(1.0 / ratio) < LEAST_RATIO
        });
        match runs.last_mut() {
            Some(run) if near => run.end = k + 1,
            _ => runs.push(k..k + 1),
        }
    }
    runs
}

/// The slip that would put a run of stations between those on both sides of it.
fn between(points: &[(f64, f64)], run: &Range<usize>) -> Option<Slip> {
    let (before, after) = (points.get(run.start.checked_sub(1)?)?, points.get(run.end)?);
    let range = (before.1.min(after.1) * (1.0 - BETWEEN), before.1.max(after.1) * (1.0 + BETWEEN));
    let of_run = &points[run.clone()];
    let fits =
        |slip: &Slip| of_run.iter().all(|p| (range.0..=range.1).contains(&(p.1 / slip.ratio())));
    let off = |slip: &Slip| {
        let off = |p: &(f64, f64)| (p.1 / slip.ratio() - through(&[*before, *after], p.0)).abs();
        of_run.iter().map(off).sum::<f64>()
    };
    Slip::ALL.into_iter().filter(fits).min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// The slip that a station at an end of the wall is likely to be, by the two beside it.
fn at_an_end(point: (f64, f64), [near, far]: [(f64, f64); 2]) -> Option<Slip> {
    let ratio = point.1 / near.1;
    let expected = through(&[near, far], point.0);
    let range = (near.1.min(expected), near.1.max(expected));
    // Neighbours that are unlike each other foretell nothing beyond them.
    if ratio.max(1.0 / ratio) < LEAST_RATIO || range.0 <= 0.0 || range.1 >= LEAST_RATIO * range.0 {
        return None;
    }
    let range = range.0 * (1.0 - BEYOND)..=range.1 * (1.0 + BEYOND);
    let fits = |slip: &Slip| range.contains(&(point.1 / slip.ratio()));
    let off = |slip: &Slip| (point.1 / slip.ratio() - expected).abs();
    Slip::ALL.into_iter().filter(fits).min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// The diameter at a place by the sound stations: between those beside it, or beyond an end.
fn expected(sound: &[(f64, f64)], at_mm: f64) -> f64 {
    let (before, after) = sound.split_at(sound.partition_point(|p| p.0 < at_mm));
    match (before, after) {
        ([.., a], [b, ..]) => through(&[*a, *b], at_mm),
        ([], after) => beyond(after.iter().take(3), at_mm),
        (before, []) => beyond(before.iter().rev().take(3), at_mm),
    }
}

#[cfg(test)]
mod tests {
    use super::super::trend::tests::stations;
    use super::*;

    fn likely(points: &[(f64, f64)]) -> Vec<(usize, Slip)> {
        slips(&stations(points)).iter().filter_map(|off| Some((off.index, off.likely?))).collect()
    }

    #[test]
    fn slips_are_named_for_what_they_are_likely_to_be() {
        let sound = [(0.0, 58.0), (30.0, 63.0), (60.0, 68.0), (90.0, 69.0)];
        assert_eq!(likely(&sound), []);
        for slip in Slip::ALL {
            for index in 0..sound.len() {
                let mut points = sound;
                points[index].1 *= slip.ratio();
                assert_eq!(likely(&points), [(index, slip)]);
            }
        }
        assert_eq!(likely(&[(0.0, 58.0), (30.0, 31.6), (60.0, 68.0)]), [(1, Slip::Radius)]);
        // A neck half as wide as the body, and a foot; a grip of such a width along its middle.
        let neck = [(0.0, 60.0), (5.0, 66.0), (90.0, 66.0), (110.0, 33.0), (140.0, 33.0)];
        assert_eq!(likely(&neck), []);
        let grip = [66.0, 66.0, 33.0, 33.0, 33.0, 66.0, 66.0];
        assert_eq!(likely(&every_10_mm(&grip)), []);
    }

    fn every_10_mm(diameters_mm: &[f64]) -> Vec<(f64, f64)> {
        (0..).map(|k| 10.0 * f64::from(k)).zip(diameters_mm.iter().copied()).collect()
    }

    /// A radius read three times is a radius, at an end and between others; so are inches.
    #[test]
    fn repeating_cures_no_slip() {
        let sound = [75.0, 75.02, 75.0, 75.01, 74.99, 75.0];
        for slip in Slip::ALL {
            for index in 0..sound.len() {
                let mut diameters_mm = sound;
                diameters_mm[index] *= slip.ratio();
                let mut stations = stations(&every_10_mm(&diameters_mm));
                for station in &mut stations {
                    (station.values, station.agree) = (3, true);
                }
                let found = slips(&stations);
                let named: Vec<_> = found.iter().map(|off| (off.index, off.likely)).collect();
                assert_eq!(named, [(index, Some(slip))]);
            }
        }
        // A grip that two places show is asked about, a ring of no such ratio is not.
        let of = |diameters_mm: &[f64]| {
            let mut stations = stations(&every_10_mm(diameters_mm));
            stations.iter_mut().for_each(|station| station.agree = true);
            slips(&stations).len()
        };
        assert_eq!(of(&[66.0, 66.0, 33.0, 33.0, 66.0, 66.0, 66.0]), 2);
        assert_eq!(of(&[66.0, 66.0, 66.0, 84.0, 66.0, 66.0, 66.0]), 0);
        assert_eq!(of(&[57.0, 75.0, 75.0, 75.0, 57.0, 75.0, 75.0]), 0);
    }

    /// Diameters with some typed as radius, which may be more than the diameters near them.
    #[test]
    fn radii_are_named_and_not_the_diameters_among_them() {
        let taper: Vec<f64> = (0..10).map(|k| 60.0 + 1.5 * f64::from(k)).collect();
        for radii in [vec![1, 3], vec![2, 3], vec![2, 3, 5, 6], vec![1, 3, 4, 6, 8], vec![2, 4, 5]]
        {
            let mut points = every_10_mm(&taper);
            radii.iter().for_each(|&k: &usize| points[k].1 *= 0.5);
            let found = slips(&stations(&points));
            let named: Vec<usize> = found.iter().map(|off| off.index).collect();
            assert_eq!(named, radii);
            for off in &found {
                assert_eq!(off.likely, Some(Slip::Radius));
                assert!((off.expected_mm - taper[off.index]).abs() < 1e-9, "{off:?}");
            }
        }
        // Where there are as many, and more, for who doubles a diameter?
        assert_eq!(
            likely(&every_10_mm(&[31.0, 64.0, 32.5])),
            [(0, Slip::Radius), (2, Slip::Radius)]
        );
        let more = likely(&every_10_mm(&[31.0, 64.0, 32.5, 33.0, 66.0]));
        assert_eq!(more, [0, 2, 3].map(|k| (k, Slip::Radius)));
    }
}
