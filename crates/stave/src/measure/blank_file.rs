//! A measured blank as the text of its file.

use stave_check::Measured;
use stave_setup::{Gauge, LengthUnit, toml_string};
use stave_toolpath::number::fixed;
use stave_wall::WallShape;

use super::{MeasureOptions, MeasureReport, turn_text};

/// Decimals of lengths: a thousandth of a mm, and as fine in inches.
fn decimals(unit: LengthUnit) -> u32 {
    match unit {
        LengthUnit::Mm => 3,
        LengthUnit::Inch => 5,
    }
}

/// The blank of readings: what was taped stays a circumference.
pub(super) fn of_readings(
    found: &Measured,
    report: &MeasureReport,
    options: &MeasureOptions,
) -> String {
    let mut file = head(report, options, "readings");
    for station in &found.stations {
        let round = station.round.unwrap_or_default();
        let length = |mm: f64| fixed(options.unit.of_mm(mm), decimals(options.unit));
        let size = match station.gauge {
            Some(Gauge::Tape) => {
                format!("circumference = {}", length(station.diameter_mm * std::f64::consts::PI))
            }
            _ => format!("diameter = {}", length(station.diameter_mm)),
        };
        file.push_str(&format!("\n[[station]]\nat = {}\n{size}\n", length(station.at_mm)));
        let turns = [
            ("oval", round.oval_mm, round.oval_turn_rad, 180.0),
            ("runout", round.runout_mm, round.runout_turn_rad, 360.0),
        ];
        for note in super::told::half_known(station) {
            file.push_str(&format!("# Not sure: {note}.\n"));
        }
        for (key, mm, turn_rad, whole) in turns {
            if fixed(mm, 3) != "0" {
                let degrees = turn_text(turn_rad.to_degrees(), whole, 1);
                file.push_str(&format!("{key} = {}\n{key}_turn = {degrees}\n", length(mm)));
            }
        }
    }
    file
}

/// The blank of an outline: `(at, radius)` in mm.
#[cfg(feature = "svg")]
pub(super) fn of_profile(
    profile: &[(f64, f64)],
    report: &MeasureReport,
    options: &MeasureOptions,
) -> String {
    let mut file = head(report, options, "the outline of a side view");
    let mut last = String::new();
    for &(at, radius) in profile {
        let length = |mm: f64| fixed(options.unit.of_mm(mm), decimals(options.unit));
        // Two places that the file's decimals cannot part are one.
        if last != length(at) {
            last = length(at);
            file.push_str(&format!(
                "\n[[station]]\nat = {last}\ndiameter = {}\n",
                length(2.0 * radius)
            ));
        }
    }
    file
}

fn head(report: &MeasureReport, options: &MeasureOptions, from: &str) -> String {
    let worst = report.stations.iter().map(|s| s.plus_minus_mm).fold(0.0, f64::max);
    let unit = match options.unit {
        LengthUnit::Mm => "mm",
        LengthUnit::Inch => "in",
    };
    let shape = match options.shape {
        WallShape::Straight => "straight",
        WallShape::Smooth => "smooth",
    };
    let mut file = format!(
        "# Made by `stave measure` from {from}; diameters ±{} mm at worst, their places' share \
         included.\n",
        fixed(worst, 2)
    );
    for odd in &report.odd {
        file.push_str(&format!("# Looks wrong, {odd}.\n"));
    }
    file.push_str("# Bosses, handles and marks are not measured: add them as [[zone]] entries.\n");
    file.push_str(&format!(
        "name = {}\nunits = \"{unit}\"\nwall = \"{shape}\"\n",
        toml_string(&options.name)
    ));
    file
}
