//! `measure`: a blank file from what a person can measure.

mod blank_file;
#[cfg(feature = "svg")]
mod outline;

use serde::{Deserialize, Serialize};
use stave_check::{FEWEST_TO_JUDGE, Measured, Slip, measured};
use stave_setup::{Gauge, LengthUnit, NAME_ALLOWED, Reading, is_name};
use stave_toolpath::number::fixed;
use stave_wall::WallShape;

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

/// How sure a measured blank is, and what looks wrong. Lengths are mm.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct MeasureReport {
    /// Its stations, in order.
    pub stations: Vec<StationReport>,
    /// What looks wrong, a sentence each, the worst first.
    pub wrong: Vec<String>,
    /// What else a person should know, a sentence each.
    pub notes: Vec<String>,
}

/// One station and how sure it is.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct StationReport {
    /// Where along the axis.
    pub at: f64,
    /// The diameter there.
    pub diameter: f64,
    /// By what it was measured.
    pub by: MeasuredBy,
    /// Of how many readings it is the mean.
    pub readings: usize,
    /// How sure the diameter is, ±.
    pub sure: f64,
    /// What the uncertainty of its place is worth in diameter, ±.
    pub by_place: f64,
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
/// A name that is none; fewer than two stations; a drawing that cannot be read, has no such outline or element, or shows
/// no side view.
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
    let report = MeasureReport {
        stations: found
            .stations
            .iter()
            .map(|station| StationReport {
                at: station.at_mm,
                diameter: station.diameter_mm,
                by: match station.gauge {
                    Some(Gauge::Caliper) => MeasuredBy::Caliper,
                    Some(Gauge::Tape) => MeasuredBy::Tape,
                    None => MeasuredBy::Both,
                },
                readings: station.values,
                sure: station.size_mm,
                by_place: station.place_mm,
            })
            .collect(),
        wrong: wrong(&found, options),
        notes: notes(&found, options),
    };
    let blank = blank_file::of_readings(&found, &report, options);
    checked(blank, report)
}

/// A blank file that can be read, or why not.
fn checked(blank: String, report: MeasureReport) -> Result<Measurement, Error> {
    stave_setup::read_blank(&blank, "measured.toml")?;
    Ok(Measurement { blank, report })
}

fn mm(value: f64) -> String {
    fixed(value, 2)
}

fn wrong(found: &Measured, options: &MeasureOptions) -> Vec<String> {
    let at =
        |index: usize| found.stations.get(index).map_or(String::new(), |station| mm(station.at_mm));
    let mut wrong = Vec::new();
    for index in &found.torn {
        let Some(station) = found.stations.get(*index) else { continue };
        wrong.push(format!(
            "at {} mm: its {} readings lie {} mm of diameter apart: one of them was misread, or \
             is of another place",
            at(*index),
            station.values,
            mm(station.spread_mm)
        ));
    }
    for off in &found.off_trend {
        let Some(station) = found.stations.get(off.index) else { continue };
        if let Some(slip) = off.likely {
            wrong.push(format!(
                "at {} mm: a diameter of {} mm is {}; by its neighbours it would be near {} mm: \
                 measure it again",
                at(off.index),
                mm(station.diameter_mm),
                slip_words(slip),
                mm(off.expected_mm)
            ));
            continue;
        }
        let or = match off.or.as_slice() {
            [] => String::new(),
            some => format!(
                ", and the one at {} mm, for it may be that one",
                some.iter().map(|index| at(*index)).collect::<Vec<_>>().join(" or ")
            ),
        };
        wrong.push(format!(
            "at {} mm: a diameter of {} mm lies off the trend: by its neighbours it would be near \
             {} mm; measure it again{or}",
            at(off.index),
            mm(station.diameter_mm),
            mm(off.expected_mm)
        ));
    }
    for under in &found.under_tape {
        wrong.push(format!(
            "at {} mm: a tape cannot lie flat here: under its {} mm the wall's diameter changes \
             by {} mm, and it bears on the widest, \
             {} mm more than at its middle; use a caliper, or tape where the wall is even",
            at(under.index),
            fixed(options.gauges.tape_width_mm, 1),
            mm(under.change_mm),
            mm(under.widest_off_mm)
        ));
    }
    wrong
}

/// What a slip is likely to be.
fn slip_words(slip: Slip) -> &'static str {
    match slip {
        Slip::Radius => "near half of what it should be, likely a radius given for a diameter",
        Slip::Twice => "near twice what it should be, likely doubled though it was a diameter",
        Slip::Around => {
            "near π times what it should be, likely a circumference given for a diameter"
        }
        Slip::Across => {
            "near 1/π of what it should be, likely a diameter given for a circumference"
        }
        Slip::Millimetres => {
            "near 25.4 times what it should be, likely millimetres where inches are read"
        }
        Slip::Inches => {
            "near 1/25.4 of what it should be, likely inches where millimetres are read"
        }
    }
}

fn notes(found: &Measured, options: &MeasureOptions) -> Vec<String> {
    let gauges = &options.gauges;
    let mut notes = vec![format!(
        "± holds 95 in 100, from a caliper of ±{} mm, a tape of ±{} mm around and a place known \
         to ±{} mm{}",
        fixed(gauges.caliper_mm, 3),
        fixed(gauges.tape_mm, 3),
        fixed(gauges.place_mm, 3),
        if found.repeated { ", and from how far repeated readings scatter" } else { "" },
    )];
    if !found.repeated {
        notes.push(
            "no place was measured twice, so ± knows nothing of your hand: measure each place \
             three times to see it"
                .into(),
        );
    }
    if found.stations.len() < FEWEST_TO_JUDGE {
        notes.push(format!(
            "with fewer than {FEWEST_TO_JUDGE} stations no reading can be seen to lie off the \
             trend: measure at more places"
        ));
    }
    notes
}
