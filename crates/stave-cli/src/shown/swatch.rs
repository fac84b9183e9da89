//! The patches of a swatch.

use stave::number::fixed;
use stave::{MarksReport, PatchReport, SwatchColumns, SwatchReport};

/// Why lines do not lie as far apart as asked.
const STEPS: &str = ", whole motor steps where the machine file tells them";

/// As a table for people.
pub(crate) fn swatch(report: &SwatchReport) -> String {
    let mut out = format!(
        "on \"{}\": {} mm wide, {} mm high, its middle at {} mm, turn {}°\n",
        report.blank,
        fixed(report.width_mm, 1),
        fixed(report.height_mm, 1),
        fixed(report.at, 2),
        fixed(report.turn_deg, 1)
    );
    if let Some(columns) = report.columns {
        out.push_str(&table(report, columns));
    }
    for note in &report.notes {
        out.push_str(&format!("note: {note}\n"));
    }
    out
}

/// What a test burns, and how to read it.
pub(crate) fn marks(report: &MarksReport) -> String {
    let mut out = format!(
        "on \"{}\": its middle at {} mm, turn {}°\n",
        report.blank,
        fixed(report.at, 2),
        fixed(report.turn_deg, 1)
    );
    for group in &report.groups {
        let value = |mark: Option<&stave::MarkReport>| mark.map_or(0.0, |mark| mark.value);
        out.push_str(&format!(
            "{}: {} marks from {} to {} {}, at {} mm/s\n",
            group.key,
            group.marks.len(),
            fixed(value(group.marks.first()), 5),
            fixed(value(group.marks.last()), 5),
            group.unit,
            fixed(group.speed_mm_per_s, 2)
        ));
    }
    for note in &report.notes {
        out.push_str(&format!("note: {note}\n"));
    }
    out
}

fn table(report: &SwatchReport, columns: SwatchColumns) -> String {
    let watts = report.patches.iter().all(|patch| patch.j_per_cm2.is_some());
    let (across, unit) = (
        if columns == SwatchColumns::Speeds { "speed, mm/s" } else { "spacing of lines, mm" },
        if watts {
            "J/cm²"
        } else {
            "percent of power × s/mm²: relative, since no watts are given"
        },
    );
    let mut out = format!("energy per area, {unit}\npower, %   across: {across}\n          ");
    report.asked.iter().for_each(|value| out.push_str(&format!("{:>10}", fixed(*value, 4))));
    for row in report.patches.chunk_by(|a, b| a.row == b.row) {
        let power = row.first().map_or(0.0, |patch| patch.power_percent);
        out.push_str(&format!("\n{:>10}", fixed(power, 3)));
        for patch in row {
            let energy = patch
                .j_per_cm2
                .map_or(fixed(patch.percent_s_per_mm2, 3), |energy| fixed(energy, 2));
            out.push_str(&format!("{energy:>10}"));
        }
    }
    out.push('\n');
    let span = |patches: &[&PatchReport]| {
        let spacings = || patches.iter().map(|patch| patch.line_spacing_mm);
        let (least, most) =
            (spacings().fold(f64::INFINITY, f64::min), spacings().fold(0.0, f64::max));
        if most - least < 5e-5 {
            fixed(most, 4)
        } else {
            format!("{} to {}", fixed(least, 4), fixed(most, 4))
        }
    };
    if columns == SwatchColumns::Speeds {
        let all: Vec<&PatchReport> = report.patches.iter().collect();
        out.push_str(&format!("lines lie {} mm apart{STEPS}\n", span(&all)));
    } else {
        for (column, asked) in report.asked.iter().enumerate() {
            let own: Vec<&PatchReport> =
                report.patches.iter().filter(|patch| patch.column == column + 1).collect();
            out.push_str(&format!(
                "under {}: lines lie {} mm apart{STEPS}\n",
                fixed(*asked, 4),
                span(&own)
            ));
        }
    }
    out
}
