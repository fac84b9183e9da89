//! What a swatch holds, for people and as JSON.

use serde::{Deserialize, Serialize};
use stave_toolpath::number::fixed;

/// A swatch and its patches.
#[derive(Clone, Debug, Deserialize, Serialize)]
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
    /// What the columns are; null for an arrow.
    pub columns: Option<SwatchColumns>,
    /// The columns' values as asked and labelled.
    pub asked: Vec<f64>,
    /// The patches, row by row.
    pub patches: Vec<PatchReport>,
    /// Seconds at the asked speeds alone.
    pub nominal_s: f64,
    /// What is to be set before the run, as the program's head has it.
    pub set_up: String,
    /// What the judge found.
    pub findings: Vec<stave_check::Finding>,
    /// What a person should know, a sentence each.
    pub notes: Vec<String>,
}

/// What the columns of a table are.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub enum SwatchColumns {
    /// Speeds, mm/s.
    #[serde(rename = "speed_mm_per_s")]
    Speeds,
    /// Spacings of scan lines, mm.
    #[serde(rename = "line_spacing_mm")]
    Spacings,
}

/// One patch.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct PatchReport {
    /// Its row, from 1 at the top.
    pub row: usize,
    /// Its column, from 1 at the left.
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
}
