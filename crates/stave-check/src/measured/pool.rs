//! Repeated readings to one station each.

use stave_setup::{Gauge, Reading};

use super::group::{FEWEST_WITH_MIDDLE, Group, groups};
use super::trend::median;
use super::{Gauges, MeasuredStation, student};

/// What readings come to before their neighbours are looked at.
pub(super) struct Pooled {
    /// The stations in order, without what their place is worth.
    pub(super) stations: Vec<MeasuredStation>,
    /// Whether anything was repeated.
    pub(super) repeated: bool,
    /// Which stations are torn.
    pub(super) torn: Vec<usize>,
    /// Places of dial readings without a size, mm.
    pub(super) sizeless_mm: Vec<f64>,
}

pub(super) fn pool(readings: &[Reading], gauges: &Gauges) -> Pooled {
    let (groups, sizeless): (Vec<Group>, Vec<Group>) =
        groups(readings, gauges).into_iter().partition(Group::has_size);
    // Readings of different things say nothing of how readings of one scatter.
    let sound = || groups.iter().filter(|group| !group.is_torn(gauges));
    let caliper = scatter(sound().map(Group::calipers));
    let tape = scatter(sound().map(|group| (group.tape.as_slice(), 0.0)));
    let mut torn = Vec::new();
    let mut stations = Vec::with_capacity(groups.len());
    for (index, group) in groups.iter().enumerate() {
        let by_caliper =
            Mean::of(&group.caliper, caliper, gauges.diameter_limit_mm(Gauge::Caliper));
        let by_tape = Mean::of(&group.tape, tape, gauges.diameter_limit_mm(Gauge::Tape));
        let means: Vec<Mean> = [by_caliper, by_tape].into_iter().flatten().collect();
        let (mut diameter_mm, mut size_mm) = together(&means);
        let gauge = group.gauge();
        let is_torn = group.is_torn(gauges);
        if is_torn {
            size_mm = group.read_spread_mm;
            let mut all: Vec<f64> = group.caliper.iter().chain(&group.tape).copied().collect();
            if all.len() >= FEWEST_WITH_MIDDLE {
                diameter_mm = median(&mut all);
            }
        }
        let is_torn = is_torn || !group.left_out.is_empty();
        if is_torn {
            torn.push(index);
        }
        let values = group.caliper.len() + group.tape.len();
        let at_mm = group.at_mm;
        stations.push(MeasuredStation {
            at_mm,
            diameter_mm,
            gauge,
            values,
            spread_mm: group.read_spread_mm,
            left_out: group.left_out.clone(),
            read_around: group.read_around,
            agree: values > 1 && !is_torn,
            size_mm,
            place_mm: 0.0,
            round: group.around.out_of_round(at_mm),
            oval_known: group.around.oval_known,
            centre_known: group.around.centre_known,
        });
    }
    Pooled {
        stations,
        repeated: caliper.1 + tape.1 > 0.0,
        torn,
        sizeless_mm: sizeless.iter().map(|group| group.at_mm).collect(),
    }
}

/// The variance of a single reading, pooled over the places read more than once, and its degrees of
/// freedom, of which some were spent on an oval.
fn scatter<'a>(places: impl Iterator<Item = (&'a [f64], f64)>) -> (f64, f64) {
    let (mut squares, mut degrees) = (0.0, 0.0);
    for (values, spent) in places.filter(|(values, spent)| count(values) - spent > 1.0) {
        let mean = mean(values);
        squares += values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
        degrees += count(values) - spent - 1.0;
    }
    if degrees > 0.0 { (squares / degrees, degrees) } else { (0.0, 0.0) }
}

/// The mean of one gauge's readings of one place.
struct Mean {
    value_mm: f64,
    /// The variance by scatter, and its degrees of freedom.
    scatter: f64,
    degrees: f64,
    /// The variance by the gauge's limit, which no repeating lessens.
    gauge: f64,
}

impl Mean {
    fn of(values: &[f64], (variance, degrees): (f64, f64), limit_mm: f64) -> Option<Self> {
        if values.is_empty() {
            return None;
        }
        let scatter = variance / count(values);
        Some(Self { value_mm: mean(values), scatter, degrees, gauge: limit_mm * limit_mm / 3.0 })
    }

    fn variance(&self) -> f64 {
        self.scatter + self.gauge
    }
}

/// The mean weighted by how sure each is, and its ±.
fn together(means: &[Mean]) -> (f64, f64) {
    if let [only] = means {
        return (only.value_mm, sure(only.variance(), &[(only.scatter, only.degrees)]));
    }
    let weight = |mean: &Mean| 1.0 / mean.variance().max(f64::MIN_POSITIVE);
    let sum: f64 = means.iter().map(weight).sum();
    let value_mm = means.iter().map(|mean| mean.value_mm * weight(mean)).sum::<f64>() / sum;
    let parts: Vec<(f64, f64)> = means
        .iter()
        .map(|mean| (mean.scatter * (weight(mean) / sum).powi(2), mean.degrees))
        .collect();
    (value_mm, sure(1.0 / sum, &parts))
}

/// ± for 95 %, by the Welch-Satterthwaite formula for the degrees of freedom (JCGM 100:2008,
/// G.4.1): what the gauge may be off by is known, and has as many as there are.
fn sure(variance: f64, scatters: &[(f64, f64)]) -> f64 {
    let below: f64 =
        scatters.iter().filter(|part| part.1 > 0.0).map(|(v, degrees)| v * v / degrees).sum();
    let degrees = if below > 0.0 { variance * variance / below } else { f64::INFINITY };
    student::factor_95(degrees) * variance.sqrt()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / count(values)
}

#[allow(clippy::cast_precision_loss)]
pub(super) fn count<T>(values: &[T]) -> f64 {
    values.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measured::measured;

    fn reading(at_mm: f64, gauge: Gauge, values_mm: &[f64]) -> Reading {
        Reading { at_mm, turn_rad: None, gauge, values_mm: values_mm.to_vec() }
    }

    #[test]
    fn a_single_reading_is_as_sure_as_its_gauge() {
        let gauges = Gauges { place_mm: 0.0, ..Gauges::default() };
        let one = measured(
            &[
                reading(0.0, Gauge::Caliper, &[60.0]),
                reading(50.0, Gauge::Tape, &[60.0 * std::f64::consts::PI]),
            ],
            &gauges,
        );
        assert!(!one.repeated);
        assert!((one.stations[0].size_mm - 1.96 * 0.05 / 3_f64.sqrt()).abs() < 1e-12);
        assert!(
            (one.stations[1].size_mm - 1.96 * 0.5 / std::f64::consts::PI / 3_f64.sqrt()).abs()
                < 1e-12
        );
    }

    #[test]
    fn scatter_by_hand() {
        // Two pairs 0.2 apart: variance 0.02 each, pooled 0.02 with two degrees of freedom; no
        // gauge limit: t is 4.30.
        let gauges = Gauges { caliper_mm: 0.0, place_mm: 0.0, ..Gauges::default() };
        let found = measured(
            &[
                reading(10.0, Gauge::Caliper, &[70.1, 69.9]),
                reading(0.0, Gauge::Caliper, &[60.0]),
                reading(0.0, Gauge::Caliper, &[60.2]),
                reading(20.0, Gauge::Caliper, &[80.0]),
            ],
            &gauges,
        );
        let sizes: Vec<f64> = found.stations.iter().map(|s| s.size_mm).collect();
        assert!((sizes[0] - 4.30 * 0.1).abs() < 1e-12, "{sizes:?}");
        assert!(
            (sizes[2] - 4.30 * 0.02_f64.sqrt()).abs() < 1e-12,
            "a single reading scatters as the others do"
        );
        assert!((found.stations[0].diameter_mm - 60.1).abs() < 1e-12);
    }

    /// By hand: 66 and 66.1 scatter with a variance of 0.005, their mean with 0.0025, the gauge
    /// with 0.05² / 3; together 0.003333, whose effective degrees of freedom are 1.78.
    /// `scipy.stats.t.ppf` of SciPy 1.17.1 has 4.85 there, so ±0.280; Student's t for one degree
    /// would make it 0.73.
    #[test]
    fn a_single_repeat_does_not_blow_up_what_the_gauge_is_good_for() {
        let found = measured(
            &[reading(0.0, Gauge::Caliper, &[66.0, 66.1]), reading(40.0, Gauge::Caliper, &[67.0])],
            &Gauges::default(),
        );
        let size_mm = found.stations[0].size_mm;
        assert!((0.28..0.29).contains(&size_mm), "{size_mm}");
    }

    #[test]
    fn a_dial_makes_no_diameter_less_sure() {
        let at = |deg: f64, gauge, value_mm: f64| {
            let turn_rad = Some(deg.to_radians());
            Reading { turn_rad, ..reading(0.0, gauge, &[value_mm]) }
        };
        let sizes = [
            reading(0.0, Gauge::Caliper, &[60.0, 60.05, 60.02]),
            reading(50.0, Gauge::Caliper, &[70.0, 70.04]),
        ];
        let dial = [(0.0, 0.0), (72.0, 0.1), (144.0, 0.22), (216.0, 0.2), (288.0, 0.05)];
        let dialled: Vec<Reading> = sizes
            .iter()
            .cloned()
            .chain(dial.map(|(deg, value_mm)| at(deg, Gauge::Dial, value_mm)))
            .collect();
        let sure = |readings: &[Reading]| -> Vec<f64> {
            let found = measured(readings, &Gauges::default());
            found.stations.iter().map(|station| station.size_mm).collect()
        };
        let with_dial = measured(&dialled, &Gauges::default());
        assert_eq!(with_dial.stations[0].oval_known, 2);
        assert_eq!(sure(&dialled), sure(&sizes));
        // Diameters across that tell the oval themselves do pay for it: of five that lie on no
        // ellipse two degrees are left, 0.04 above and below by turns.
        let across: Vec<Reading> = [60.04, 59.96, 60.04, 59.96, 60.04]
            .into_iter()
            .zip([0.0, 36.0, 72.0, 108.0, 144.0])
            .map(|(value_mm, deg)| at(deg, Gauge::Caliper, value_mm))
            .collect();
        let round = [60.04, 59.96, 60.04, 59.96, 60.04];
        assert!(sure(&across)[0] > sure(&[reading(0.0, Gauge::Caliper, &round)])[0]);
    }

    #[test]
    fn the_surer_gauge_weighs_more() {
        let found = measured(
            &[
                reading(0.0, Gauge::Caliper, &[60.0]),
                reading(0.0, Gauge::Tape, &[61.0 * std::f64::consts::PI]),
            ],
            &Gauges::default(),
        );
        let station = &found.stations[0];
        assert!(station.gauge.is_none() && station.diameter_mm < 60.1, "{station:?}");
    }

    #[test]
    fn readings_of_different_things_are_named() {
        let found = measured(
            &[reading(0.0, Gauge::Caliper, &[66.0, 56.0]), reading(9.0, Gauge::Caliper, &[66.0])],
            &Gauges::default(),
        );
        assert_eq!(found.torn, [0]);
        // Of two nobody knows which.
        assert_eq!((found.stations[0].diameter_mm, found.repeated), (61.0, false));
    }

    /// Of three the odd one stays out of the diameter; where no two agree the middle one is taken.
    #[test]
    fn a_slip_among_three_does_not_go_into_the_mean() {
        let size = |readings: &[Reading]| {
            let found = measured(readings, &Gauges::default());
            assert_eq!(found.torn, [0]);
            let station = found.stations[0].clone();
            (station.diameter_mm, station.values, station.left_out, found.repeated)
        };
        let (caliper, tape) = (Gauge::Caliper, Gauge::Tape);
        for slip in [62.6, 6.62, 662.0] {
            let (diameter_mm, values, left_out, repeated) =
                size(&[reading(0.0, caliper, &[66.2, 66.1, slip])]);
            assert!((diameter_mm - 66.15).abs() < 1e-9, "{diameter_mm}");
            assert_eq!((values, repeated), (2, true));
            assert_eq!(left_out, [(caliper, slip)]);
        }
        assert_eq!(size(&[reading(0.0, caliper, &[60.0, 66.0, 80.0])]).0, 66.0);
        let around = std::f64::consts::PI * 66.0;
        let (diameter_mm, _, left_out, _) =
            size(&[reading(0.0, tape, &[around, around, 190.0]), reading(9.0, caliper, &[66.0])]);
        assert!((diameter_mm - 66.0).abs() < 1e-9, "{diameter_mm}");
        assert!(left_out[0].0 == tape && (left_out[0].1 - 190.0).abs() < 1e-9, "{left_out:?}");
        // Around the turn: of three one is no oval, of six one goes with none.
        let turned = |turns: &[f64], values: &[f64]| -> Vec<Reading> {
            let one = |(deg, value): (&f64, &f64)| Reading {
                turn_rad: Some(f64::to_radians(*deg)),
                ..reading(0.0, caliper, &[*value])
            };
            turns.iter().zip(values).map(one).collect()
        };
        let (diameter_mm, _, left_out, _) = size(&turned(&[0.0, 60.0, 120.0], &[66.0, 6.6, 66.1]));
        assert!((diameter_mm - 66.05).abs() < 1e-9, "{diameter_mm}");
        assert_eq!(left_out, [(caliper, 6.6)]);
        let turns = [0.0, 60.0, 120.0, 0.0, 60.0, 120.0];
        let found = size(&turned(&turns, &[66.3, 65.85, 65.85, 66.3, 68.85, 65.85]));
        assert!((found.0 - 66.0).abs() < 1e-9, "{found:?}");
        assert_eq!(found.2, [(caliper, 68.85)]);
    }
}
