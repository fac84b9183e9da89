//! What a swatch holds, for people and as JSON.

use serde::Serialize;
use stave_toolpath::number::fixed;

/// A swatch and its patches.
#[derive(Clone, Debug, Serialize)]
pub struct SwatchReport {
    /// The blank it is for.
    pub blank: String,
    /// Its middle along the axis, mm.
    pub at: f64,
    /// Its middle about the axis.
    pub turn_deg: f64,
    /// How wide it is as a reader sees it, mm.
    pub width_mm: f64,
    /// How high, mm.
    pub height_mm: f64,
    /// By how much the wall's slope changes under it.
    pub bend_deg: f64,
    /// What the columns are: `speed_mm_per_s` or `line_spacing_mm`; null for an arrow.
    pub columns: Option<&'static str>,
    /// The columns' values as asked and labelled.
    pub asked: Vec<f64>,
    /// The patches, row by row.
    pub patches: Vec<PatchReport>,
    /// Seconds at the asked speeds alone.
    pub nominal_s: f64,
    /// What a person should know, a sentence each.
    pub notes: Vec<String>,
}

/// One patch.
#[derive(Clone, Debug, Serialize)]
pub struct PatchReport {
    /// Its row, from 0 at the top.
    pub row: usize,
    /// Its column, from 0 at the left.
    pub column: usize,
    /// Its middle along the axis, mm.
    pub at: f64,
    /// Its middle about the axis.
    pub turn_deg: f64,
    /// Its power.
    pub power_percent: f64,
    /// Its speed on the wall.
    pub speed_mm_per_s: f64,
    /// How far its lines lie apart, on whole motor steps.
    pub line_spacing_mm: f64,
    /// How many there are.
    pub lines: usize,
    /// Energy per area without knowing the beam's watts.
    pub percent_s_per_mm2: f64,
    /// Energy per area, where the watts are known.
    pub j_per_cm2: Option<f64>,
}

/// Why lines do not lie as far apart as asked.
const STEPS: &str = ", whole motor steps where the machine file tells them";

impl PatchReport {
    /// Energy per area with its unit.
    pub(super) fn energy(&self) -> String {
        match self.j_per_cm2 {
            Some(energy) => format!("{} J/cm2", fixed(energy, 2)),
            None => format!("{} % s/mm2", fixed(self.percent_s_per_mm2, 3)),
        }
    }
}

impl SwatchReport {
    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self)
    }

    /// As a table for people.
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut out = format!(
            "on \"{}\": {} mm wide, {} mm high, its middle at {} mm, turn {}°\n",
            self.blank,
            fixed(self.width_mm, 1),
            fixed(self.height_mm, 1),
            fixed(self.at, 2),
            fixed(self.turn_deg, 1)
        );
        if let Some(columns) = self.columns {
            out.push_str(&self.table(columns));
        }
        for note in &self.notes {
            out.push_str(&format!("note: {note}\n"));
        }
        out
    }

    fn table(&self, columns: &str) -> String {
        let watts = self.patches.iter().all(|patch| patch.j_per_cm2.is_some());
        let (across, unit) = (
            if columns == "speed_mm_per_s" { "speed, mm/s" } else { "spacing of lines, mm" },
            if watts {
                "J/cm²"
            } else {
                "percent of power × s/mm²: relative, for the beam's watts are not given"
            },
        );
        let mut out = format!("energy per area, {unit}\npower, %   across: {across}\n          ");
        self.asked.iter().for_each(|value| out.push_str(&format!("{:>10}", fixed(*value, 4))));
        for row in self.patches.chunk_by(|a, b| a.row == b.row) {
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
        if columns == "speed_mm_per_s" {
            let all: Vec<&PatchReport> = self.patches.iter().collect();
            out.push_str(&format!("lines lie {} mm apart{STEPS}\n", span(&all)));
        } else {
            for (column, asked) in self.asked.iter().enumerate() {
                let own: Vec<&PatchReport> =
                    self.patches.iter().filter(|patch| patch.column == column).collect();
                out.push_str(&format!(
                    "under {}: lines lie {} mm apart{STEPS}\n",
                    fixed(*asked, 4),
                    span(&own)
                ));
            }
        }
        out
    }
}
