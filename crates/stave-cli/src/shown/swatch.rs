//! The patches of a swatch.

use stave::number::fixed;
use stave::{MarksReport, PatchReport, SwatchColumns, SwatchReport};

use super::table::{COLUMNS, folded, width};

/// Why lines do not lie as far apart as asked.
const STEPS: &str = "(whole motor steps, where the machine file tells them)\n";
/// How wide a column of the table is, and how many stand beside each other.
const COLUMN: usize = 10;
const ABREAST: usize = COLUMNS / COLUMN - 1;

/// As a table for people.
pub(crate) fn swatch(report: &SwatchReport) -> String {
    let mut out = paragraph(&format!(
        "on \"{}\": {} mm wide, {} mm high, its middle at {} mm, turn {}°",
        report.blank,
        fixed(report.width_mm, 1),
        fixed(report.height_mm, 1),
        fixed(report.at, 2),
        fixed(report.turn_deg, 1)
    ));
    if let Some(columns) = report.columns {
        out.push_str(&table(report, columns));
    }
    out + &notes(&report.notes)
}

/// What a test burns, and how to read it.
pub(crate) fn marks(report: &MarksReport) -> String {
    let mut out = paragraph(&format!(
        "on \"{}\": its middle at {} mm, turn {}°",
        report.blank,
        fixed(report.at, 2),
        fixed(report.turn_deg, 1)
    ));
    for group in &report.groups {
        let value = |mark: Option<&stave::MarkReport>| mark.map_or(0.0, |mark| mark.value);
        out.push_str(&paragraph(&format!(
            "{}: {} marks from {} to {} {}, at {} mm/s",
            group.key,
            group.marks.len(),
            fixed(value(group.marks.first()), 5),
            fixed(value(group.marks.last()), 5),
            group.unit,
            fixed(group.speed_mm_per_s, 2)
        )));
    }
    out + &notes(&report.notes)
}

/// Words in lines that a terminal shows whole, the later ones set in.
fn paragraph(text: &str) -> String {
    let whole = width(text) <= COLUMNS;
    folded(text, if whole { COLUMNS } else { COLUMNS - 2 }).join("\n  ") + "\n"
}

fn notes(notes: &[String]) -> String {
    notes.iter().map(|note| paragraph(&format!("note: {note}"))).collect()
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
    let mut out = format!("energy per area, {unit}\npower, %   across: {across}\n");
    let cell = |text: &str| format!("{text:>COLUMN$}");
    let energy = |patch: &PatchReport| match patch.j_per_cm2 {
        Some(energy) => cell(&fixed(energy, 2)),
        None => cell(&fixed(patch.percent_s_per_mm2, 3)),
    };
    // More columns than a terminal shows stand below the others.
    for (block, asked) in report.asked.chunks(ABREAST).enumerate() {
        let head: String = asked.iter().map(|value| cell(&fixed(*value, 4))).collect();
        out.push_str(&format!("{}{head}\n", cell("")));
        for row in report.patches.chunk_by(|a, b| a.row == b.row) {
            let power = row.first().map_or(0.0, |patch| patch.power_percent);
            let energies: String =
                row.iter().skip(block * ABREAST).take(ABREAST).map(energy).collect();
            out.push_str(&format!("{}{energies}\n", cell(&fixed(power, 3))));
        }
    }
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
        out.push_str(&format!("lines lie {} mm apart\n", span(&all)));
    } else {
        for (column, asked) in report.asked.iter().enumerate() {
            let own: Vec<&PatchReport> =
                report.patches.iter().filter(|patch| patch.column == column + 1).collect();
            out.push_str(&format!(
                "under {}: lines lie {} mm apart\n",
                fixed(*asked, 4),
                span(&own)
            ));
        }
    }
    out + STEPS
}
