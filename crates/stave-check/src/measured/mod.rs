//! Readings made into stations: what was measured, how sure it is, and what looks wrong.

mod around;
mod group;
mod pool;
mod slip;
mod student;
mod tape;
mod trend;

use stave_setup::{Gauge, Reading};
use stave_wall::OutOfRound;

pub use around::CentreKnown;
pub use slip::Slip;
pub use tape::UnderTape;
pub use trend::{FEWEST_TO_JUDGE, OffTrend};

/// How well the gauges read, mm.
///
/// The defaults are common practice, no source: a caliper of 0.05 mm, a tailor's tape of 0.5 mm and
/// 10 mm wide, a place along the axis found with a rule to 0.5 mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gauges {
    /// How far a caliper's diameter may be off, either way.
    pub caliper_mm: f64,
    /// How far a tape's circumference may be off, either way.
    pub tape_mm: f64,
    /// How wide the tape is: it reads all that lies under it.
    pub tape_width_mm: f64,
    /// How far a place along the axis may be off, either way.
    pub place_mm: f64,
}

impl Default for Gauges {
    fn default() -> Self {
        Self { caliper_mm: 0.05, tape_mm: 0.5, tape_width_mm: 10.0, place_mm: 0.5 }
    }
}

impl Gauges {
    /// How far a diameter by this gauge may be off, mm.
    #[must_use]
    pub fn diameter_limit_mm(&self, gauge: Gauge) -> f64 {
        match gauge {
            Gauge::Caliper | Gauge::Dial => self.caliper_mm,
            Gauge::Tape => self.tape_mm / std::f64::consts::PI,
        }
    }
}

/// One measured place.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredStation {
    /// Where along the axis, mm.
    pub at_mm: f64,
    /// The diameter there, mm: the mean of its readings, or the middle one where three or more do
    /// not agree.
    pub diameter_mm: f64,
    /// With what it was measured; `None` where with both.
    pub gauge: Option<Gauge>,
    /// How many values it is the mean of.
    pub values: usize,
    /// How far apart all that was read lies, mm of diameter.
    pub spread_mm: f64,
    /// What was left out, since most of the others agree and lie far from it: with what it was
    /// read, and as read, mm.
    pub left_out: Vec<(Gauge, f64)>,
    /// Whether a diameter was read at a turn that was named.
    pub read_around: bool,
    /// Whether it was read more than once and the readings agree.
    pub agree: bool,
    /// How sure the diameter is, ± mm: 95 in 100 lie within.
    pub size_mm: f64,
    /// What the place's own uncertainty is worth in diameter, ± mm: much on a step, little on a
    /// body.
    pub place_mm: f64,
    /// How far it is from round and from running true; `None` where nothing was read around the
    /// turn that tells.
    pub round: Option<OutOfRound>,
    /// How much of the oval the readings tell: 0 nothing; 1 only what lies along one turn, so that
    /// it may be greater; 2 all of it.
    pub oval_known: u8,
    /// How well a dial told where the centre lies.
    pub centre_known: CentreKnown,
}

impl MeasuredStation {
    /// Both together, ± mm of diameter.
    #[must_use]
    pub fn sure_mm(&self) -> f64 {
        self.size_mm.hypot(self.place_mm)
    }
}

/// What readings come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The stations, in order along the axis.
    pub stations: Vec<MeasuredStation>,
    /// Whether any place was measured more than once by one gauge, so that ± includes the hand's
    /// own scatter.
    pub repeated: bool,
    /// Stations that lie off the trend of the others, the worst first.
    pub off_trend: Vec<OffTrend>,
    /// Stations taped where a tape cannot lie flat.
    pub under_tape: Vec<UnderTape>,
    /// Stations whose own readings lie too far apart, by index.
    pub torn: Vec<usize>,
    /// Places of dial readings without a diameter or circumference, mm: no stations.
    pub sizeless_mm: Vec<f64>,
}

/// Makes stations of readings. Readings of the same place are one station, whatever their order.
///
/// # Formulas
/// Ellipse and centre are those of [`OutOfRound`], by least squares over the readings at known
/// turns, along the directions in which these tell them. JCGM 100:2008 (the GUM), clause numbers
/// from memory: the gauge's limit ±a is worth a/√3
/// (4.3.7); the scatter is the standard deviation pooled over all places that a gauge measured more
/// than once, over √n for a mean (4.2.3); both add as squares; ± is the standard uncertainty times
/// Student's t for 95 % at the effective degrees of freedom (G.4.1), 2 or a little less without
/// repeats.
///
/// ```
/// use stave_check::{Gauges, measured};
/// use stave_setup::{LengthUnit, read_readings};
/// let readings = read_readings("0 diameter 66.0\n40 diameter 67.4 67.6", "r", LengthUnit::Mm)?;
/// let found = measured(&readings, &Gauges::default());
/// assert_eq!(found.stations[1].diameter_mm, 67.5);
/// assert!(found.repeated);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn measured(readings: &[Reading], gauges: &Gauges) -> Measured {
    let pool::Pooled { mut stations, repeated, torn, sizeless_mm } = pool::pool(readings, gauges);
    let points: Vec<(f64, f64)> = stations.iter().map(|s| (s.at_mm, s.diameter_mm)).collect();
    for (i, station) in stations.iter_mut().enumerate() {
        let slope = |a: Option<&(f64, f64)>, b: Option<&(f64, f64)>| match (a, b) {
            (Some(a), Some(b)) => ((b.1 - a.1) / (b.0 - a.0)).abs(),
            _ => 0.0,
        };
        let before = i.checked_sub(1).and_then(|k| points.get(k));
        let steepest = slope(before, points.get(i)).max(slope(points.get(i), points.get(i + 1)));
        station.place_mm = student::NORMAL_95 * gauges.place_mm / 3_f64.sqrt() * steepest;
    }
    let off_trend = trend::off_trend(&stations);
    let under_tape = tape::under_tape(&stations, gauges.tape_width_mm);
    Measured { stations, repeated, off_trend, under_tape, torn, sizeless_mm }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A place that is off by so much reads a diameter that is off by the steeper slope beside it:
    /// a rule's error is even within its limits, whose standard deviation is the limit over √3
    /// (JCGM 100:2008, 4.3.7), and 1.96 of those hold 95 %.
    #[test]
    fn what_a_place_is_off_by_counts_by_the_steeper_slope() {
        let reading = |at_mm: f64, diameter_mm: f64| Reading {
            at_mm,
            turn_rad: None,
            gauge: stave_setup::Gauge::Caliper,
            values_mm: vec![diameter_mm],
        };
        let readings = [reading(0.0, 60.0), reading(10.0, 64.0), reading(20.0, 65.0)];
        let gauges = Gauges { place_mm: 0.3, ..Gauges::default() };
        let found = measured(&readings, &gauges);
        for (station, slope) in found.stations.iter().zip([0.4, 0.4, 0.1]) {
            let expected = 1.96 * 0.3 / 3_f64.sqrt() * slope;
            assert!((station.place_mm - expected).abs() < 1e-12, "{}", station.place_mm);
        }
    }
}
