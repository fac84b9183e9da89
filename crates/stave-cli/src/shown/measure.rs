//! How sure a measured blank is.

use stave::number::fixed;
use stave::{MeasureReport, turn_text};

fn mm(value: f64) -> String {
    fixed(value, 2)
}

/// As a table for people.
pub(crate) fn measure(report: &MeasureReport) -> String {
    let mut out =
        String::from("      at   diameter   by        readings   ± mm   ± by its place\n");
    for station in &report.stations {
        out.push_str(&format!(
            "{:>8} {:>10}   {:<9} {:>8} {:>6} {:>16}\n",
            mm(station.at),
            mm(station.diameter),
            station.by.as_str(),
            station.readings,
            mm(station.by_readings_mm),
            mm(station.by_place_mm),
        ));
    }
    let around = report.stations.iter().filter(|s| s.oval_mm.is_some() || s.runout_mm.is_some());
    for (k, station) in around.enumerate() {
        if k == 0 {
            out.push_str("\n      at       oval   at turn     runout   towards turn\n");
        }
        let length = |value: Option<f64>| value.map_or("-".to_owned(), mm);
        let turn = |value: Option<f64>, whole: f64| {
            value.map_or("-".to_owned(), |degrees| format!("{}°", turn_text(degrees, whole, 0)))
        };
        out.push_str(&format!(
            "{:>8} {:>10} {:>9} {:>10} {:>14}\n",
            mm(station.at),
            length(station.oval_mm),
            turn(station.oval_turn_deg, 180.0),
            length(station.runout_mm),
            turn(station.runout_turn_deg, 360.0),
        ));
    }
    let worst = report.stations.iter().map(|station| station.by_readings_mm).fold(0.0, f64::max);
    out.push_str(&format!(
        "Lengths are mm. A wrap all round closes to ±{} mm, if the readings are\n\
         what they should be.\n",
        mm(std::f64::consts::PI * worst)
    ));
    for odd in &report.odd {
        out.push_str(&format!("looks wrong: {odd}\n"));
    }
    for note in &report.notes {
        out.push_str(&format!("note: {note}\n"));
    }
    out
}
