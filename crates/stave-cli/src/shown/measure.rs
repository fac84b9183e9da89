//! How sure a measured blank is.

use stave::MeasureReport;
use stave::number::fixed;

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
            mm(station.sure),
            mm(station.by_place),
        ));
    }
    let worst = report.stations.iter().map(|station| station.sure).fold(0.0, f64::max);
    out.push_str(&format!(
        "Lengths are mm. A wrap all round closes to ±{} mm, if the readings are what they \
         should be.\n",
        mm(std::f64::consts::PI * worst)
    ));
    for wrong in &report.wrong {
        out.push_str(&format!("looks wrong: {wrong}\n"));
    }
    for note in &report.notes {
        out.push_str(&format!("note: {note}\n"));
    }
    out
}
