//! `measure`: a blank file from what a person can measure.

mod blank_file;
#[cfg(feature = "svg")]
mod outline;
mod told;

use serde::{Deserialize, Serialize};
use stave_check::{CentreKnown, Measured, MeasuredStation, measured};
use stave_setup::{Gauge, LengthUnit, NAME_ALLOWED, Reading, is_name};
use stave_toolpath::number::fixed;
use stave_wall::{OutOfRound, TrueRunning, WallShape};

use crate::error::Error;

#[cfg(feature = "svg")]
pub use outline::{Known, OutlineFault, OutlineOptions};
pub use stave_check::Gauges;

/// Why no blank can be made of what was measured.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MeasureError {
    /// Readings of fewer than two places.
    #[error(
        "a wall needs at least two stations, but the readings are of {count} {}: measure at other \
         places along the axis too",
        if *count == 1 { "place" } else { "places" }
    )]
    TooFewPlaces {
        /// Of how many they are.
        count: usize,
    },
    /// Dial readings of a place that has no size.
    #[error(
        "at {} mm there are dial readings and no diameter: a dial shows how far the wall goes in \
         and out, not how wide it is; measure the place by caliper or tape too",
        mm(*at_mm)
    )]
    NoSize {
        /// Where along the axis, mm.
        at_mm: f64,
    },
    /// A drawing that shows no wall.
    #[cfg(feature = "svg")]
    #[error("{name}: {fault}")]
    Outline {
        /// The drawing's name.
        name: String,
        /// What is wrong with it.
        fault: OutlineFault,
    },
}

/// How a blank is to be written.
#[derive(Clone, Debug)]
pub struct MeasureOptions {
    /// Its name.
    pub name: String,
    /// The unit of its file.
    pub unit: LengthUnit,
    /// How its wall runs between the stations.
    pub shape: WallShape,
    /// How well the gauges read; for an outline, `place_mm` is how well the one length is known.
    pub gauges: Gauges,
}

impl Default for MeasureOptions {
    fn default() -> Self {
        Self {
            name: "measured blank".into(),
            unit: LengthUnit::Mm,
            shape: WallShape::Straight,
            gauges: Gauges::default(),
        }
    }
}

/// A blank as measured.
#[derive(Clone, Debug)]
pub struct Measurement {
    /// The blank file.
    pub blank: String,
    /// What a person should know of it.
    pub report: MeasureReport,
}

/// How sure a measured blank is, and what looks wrong. Lengths are mm, angles degrees.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct MeasureReport {
    /// Its stations, in order.
    pub stations: Vec<StationReport>,
    /// What looks wrong, the worst first.
    pub odd: Vec<Odd>,
    /// The turn in the middle of the half turn over which the radius strays least; null where
    /// nothing says that the ware is not round, or does not run true.
    pub start_turn_deg: Option<f64>,
    /// What else a person should know, a sentence each.
    pub notes: Vec<String>,
}

/// A station that looks wrong.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Odd {
    /// Where along the axis, mm; null where it is no place.
    pub at: Option<f64>,
    /// What looks wrong and what to do.
    pub message: String,
}

/// One station and how sure it is.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct StationReport {
    /// Where along the axis.
    pub at: f64,
    /// The diameter there: the mean around.
    pub diameter: f64,
    /// How sure it is, ±: of the readings and of their place together.
    pub plus_minus_mm: f64,
    /// By what it was measured.
    pub by: MeasuredBy,
    /// Of how many readings it is the mean.
    pub readings: usize,
    /// What the readings themselves are worth, ±.
    pub by_readings_mm: f64,
    /// What the uncertainty of its place is worth in diameter, ±.
    pub by_place_mm: f64,
    /// The greatest less the least diameter; null where it was not read around the turn.
    pub oval_mm: Option<f64>,
    /// The turn of the greatest diameter, 0 to 180.
    pub oval_turn_deg: Option<f64>,
    /// How far the centre lies from the axis; null where no dial told.
    pub runout_mm: Option<f64>,
    /// The turn towards which it lies, 0 to 360.
    pub runout_turn_deg: Option<f64>,
}

impl MeasureReport {
    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self)
    }
}

/// By what a station was measured.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum MeasuredBy {
    /// A caliper.
    Caliper,
    /// A tape around.
    Tape,
    /// Caliper and tape.
    Both,
    /// The outline of a side view.
    Outline,
}

impl MeasuredBy {
    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Caliper => "caliper",
            Self::Tape => "tape",
            Self::Both => "both",
            Self::Outline => "outline",
        }
    }
}

/// What a blank is measured by.
#[derive(Clone, Copy, Debug)]
pub enum MeasureFrom<'a> {
    /// Readings of caliper and tape.
    Readings(&'a [Reading]),
    /// The outline of a side view, an SVG document: the fewest stations whose wall lies within
    /// `within_mm` of it everywhere are kept.
    #[cfg(feature = "svg")]
    Outline(&'a [u8], &'a OutlineOptions),
}

/// Makes a blank of what was measured.
///
/// # Errors
/// A name that is none; fewer than two stations; a drawing that cannot be read, has no such outline
/// or element, or shows no side view.
///
/// ```
/// use stave::setup::{LengthUnit, read_blank, read_readings};
/// use stave::{MeasureFrom, MeasureOptions, measure};
/// let readings = read_readings("0 diameter 66.02 65.98\n40 diameter 67.5", "readings", LengthUnit::Mm)?;
/// let measured = measure(MeasureFrom::Readings(&readings), &MeasureOptions::default())?;
/// let blank = read_blank(&measured.blank, "blank.toml")?;
/// assert_eq!(blank.stations[0].radius_mm, 33.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn measure(from: MeasureFrom<'_>, options: &MeasureOptions) -> Result<Measurement, Error> {
    if !is_name(&options.name) {
        let allowed = format!("must be {NAME_ALLOWED}");
        return Err(Error::Value { option: "name", allowed });
    }
    match from {
        MeasureFrom::Readings(readings) => of_readings(readings, options),
        #[cfg(feature = "svg")]
        MeasureFrom::Outline(svg, outline) => outline::of_outline(svg, outline, options),
    }
}

fn of_readings(readings: &[Reading], options: &MeasureOptions) -> Result<Measurement, Error> {
    let found = measured(readings, &options.gauges);
    if found.stations.len() < 2 {
        return Err(MeasureError::TooFewPlaces { count: found.stations.len() }.into());
    }
    if let Some(&at_mm) = found.sizeless_mm.first() {
        return Err(MeasureError::NoSize { at_mm }.into());
    }
    let running = TrueRunning::new(rounds(&found));
    let report = MeasureReport {
        stations: found.stations.iter().map(StationReport::of).collect(),
        odd: told::odd(&found, options),
        start_turn_deg: running.steadiest_half_rad().map(f64::to_degrees),
        notes: told::notes(&found, &running, options),
    };
    let blank = blank_file::of_readings(&found, &report, options);
    checked(blank, report)
}

/// How far each station is from round and true; what nobody read around the turn is taken for true.
fn rounds(found: &Measured) -> Vec<OutOfRound> {
    let round = |station: &MeasuredStation| {
        station.round.unwrap_or(OutOfRound { at_mm: station.at_mm, ..OutOfRound::default() })
    };
    found.stations.iter().map(round).collect()
}

impl StationReport {
    fn of(station: &MeasuredStation) -> Self {
        let oval = station.round.filter(|_| station.oval_known > 0);
        let centre = station.round.filter(|_| station.centre_known >= CentreKnown::AlongOne);
        Self {
            at: station.at_mm,
            diameter: station.diameter_mm,
            plus_minus_mm: station.sure_mm(),
            by: match station.gauge {
                Some(Gauge::Tape) => MeasuredBy::Tape,
                Some(_) => MeasuredBy::Caliper,
                None => MeasuredBy::Both,
            },
            readings: station.values,
            by_readings_mm: station.size_mm,
            by_place_mm: station.place_mm,
            oval_mm: oval.map(|round| round.oval_mm),
            oval_turn_deg: oval.map(|round| round.oval_turn_rad.to_degrees()),
            runout_mm: centre.map(|round| round.runout_mm),
            runout_turn_deg: centre.map(|round| round.runout_turn_rad.to_degrees()),
        }
    }
}

/// A blank file that can be read, or why not.
fn checked(blank: String, report: MeasureReport) -> Result<Measurement, Error> {
    stave_setup::read_blank(&blank, "measured.toml")?;
    Ok(Measurement { blank, report })
}

/// A turn in degrees as text; what rounds to a whole one, 180 or 360, is 0.
///
/// ```
/// assert_eq!(stave::turn_text(359.97, 360.0, 1), "0");
/// assert_eq!(stave::turn_text(359.94, 360.0, 1), "359.9");
/// ```
#[must_use]
pub fn turn_text(degrees: f64, whole: f64, decimals: u32) -> String {
    let text = fixed(degrees, decimals);
    if text == fixed(whole, decimals) { "0".to_owned() } else { text }
}

fn mm(value: f64) -> String {
    fixed(value, 2)
}

impl std::fmt::Display for Odd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.at {
            Some(at_mm) => write!(f, "at {} mm: {}", mm(at_mm), self.message),
            None => f.write_str(&self.message),
        }
    }
}
