//! Repeated readings to one station each.

use stave_setup::{Gauge, Reading};

use super::around::{Around, At};
use super::{Gauges, MeasuredStation, student};

/// Places nearer than this are one, mm.
const SAME_PLACE_MM: f64 = 1e-6;
/// Readings of one place that lie further apart than so many times the gauge's limit are not of the
/// same thing.
const TORN: f64 = 8.0;
/// However good the gauge is said to be, ware is not rounder than this, mm.
const LEAST_TORN_MM: f64 = 0.3;

/// All values of one place, as diameters in mm.
#[derive(Default)]
struct Group {
    at_mm: f64,
    /// What an oval that was read around the turn adds is taken off.
    caliper: Vec<f64>,
    tape: Vec<f64>,
    /// Diameters and dial readings of which the turn is known, as read.
    across: Vec<At>,
    dial: Vec<At>,
    around: Around,
    /// Whether a diameter was read at a turn that nobody named.
    anywhere: bool,
}

impl Group {
    fn gauge(&self) -> Option<Gauge> {
        match (self.caliper.is_empty(), self.tape.is_empty()) {
            (false, true) => Some(Gauge::Caliper),
            (true, false) => Some(Gauge::Tape),
            _ => None,
        }
    }

    fn spread_mm(&self) -> f64 {
        let all = || self.caliper.iter().chain(&self.tape).copied();
        all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min)
    }

    fn is_torn(&self, gauges: &Gauges) -> bool {
        let limit_mm = gauges.diameter_limit_mm(self.gauge().unwrap_or(Gauge::Tape));
        let oval_mm = self.around.out_of_round(0.0).map_or(0.0, |round| round.oval_mm);
        let by_oval_mm = if self.anywhere { 0.5 * oval_mm } else { 0.0 };
        self.spread_mm() - by_oval_mm > (TORN * limit_mm).max(LEAST_TORN_MM)
    }

    fn has_size(&self) -> bool {
        !(self.caliper.is_empty() && self.tape.is_empty())
    }

    /// Finds what the readings around the turn tell, and takes an oval off the diameters.
    fn settle(&mut self) {
        self.around = Around::of(&self.across, &self.dial);
        let around = self.around;
        let round = self.across.iter().map(|at| at.value_mm - around.wider_mm(at.turn_rad));
        self.caliper.extend(round);
    }

    /// The values by caliper, and how many degrees of freedom of theirs went into the oval: an oval
    /// that the dial alone told took none, nor does the one diameter across that sets the size.
    fn calipers(&self) -> (&[f64], f64) {
        let most = count(&self.across) - 1.0;
        (&self.caliper, f64::from(self.around.oval_known).min(most).max(0.0))
    }
}

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
        groups(readings).into_iter().partition(Group::has_size);
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
        let (diameter_mm, mut size_mm) = together(&means);
        let (gauge, spread_mm) = (group.gauge(), group.spread_mm());
        let is_torn = group.is_torn(gauges);
        if is_torn {
            torn.push(index);
            size_mm = spread_mm;
        }
        let values = group.caliper.len() + group.tape.len();
        let at_mm = group.at_mm;
        stations.push(MeasuredStation {
            at_mm,
            diameter_mm,
            gauge,
            values,
            spread_mm,
            agree: values > 1 && !is_torn,
            size_mm,
            place_mm: 0.0,
            round: group.around.out_of_round(at_mm),
            oval_known: group.around.oval_known,
            centred: group.around.knows_centre(),
        });
    }
    Pooled {
        stations,
        repeated: caliper.1 + tape.1 > 0.0,
        torn,
        sizeless_mm: sizeless.iter().map(|group| group.at_mm).collect(),
    }
}

fn groups(readings: &[Reading]) -> Vec<Group> {
    let mut sorted: Vec<&Reading> = readings.iter().collect();
    sorted.sort_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
    let mut groups: Vec<Group> = Vec::new();
    for reading in sorted {
        if groups.last().is_none_or(|last| reading.at_mm - last.at_mm > SAME_PLACE_MM) {
            groups.push(Group { at_mm: reading.at_mm, ..Group::default() });
        }
        let Some(group) = groups.last_mut() else { continue };
        let values = reading.values_mm.iter().copied();
        let sizes = values.clone().filter_map(|value| reading.gauge.diameter_mm(value));
        let at = |turn_rad| values.map(move |value_mm| At { turn_rad, value_mm });
        match (reading.gauge, reading.turn_rad) {
            (Gauge::Tape, _) => group.tape.extend(sizes),
            (Gauge::Caliper, None) => {
                group.anywhere = true;
                group.caliper.extend(sizes);
            }
            (Gauge::Caliper, Some(turn_rad)) => group.across.extend(at(turn_rad)),
            (Gauge::Dial, turn_rad) => group.dial.extend(at(turn_rad.unwrap_or(0.0))),
        }
    }
    groups.iter_mut().for_each(Group::settle);
    groups
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

/// ± for 95 %, by the Welch-Satterthwaite formula for the degrees of freedom.
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
fn count<T>(values: &[T]) -> f64 {
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
    }
}
