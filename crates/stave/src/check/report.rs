//! What a check comes to, as JSON and for people.

use serde::{Deserialize, Serialize};
use stave_check::{Code, Finding, Nearest, Severity};
use stave_setup::Setup;

use super::judge::{FocusPlace, NozzleGap};

/// Whether a job is fit, and everything that was found.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct CheckReport {
    /// True where nothing that was found is an error.
    pub fit: bool,
    /// What was found, errors first.
    pub findings: Vec<FindingReport>,
    /// The nozzles of the machine, each with its least gap over the whole job.
    pub nozzles: Vec<NozzleReport>,
    /// Where along the axis the job is focused, mm.
    pub focus_at: f64,
    /// What a person should know besides, a sentence each.
    #[serde(skip)]
    pub warnings: Vec<String>,
}

/// One finding. Places are mm along the axis and degrees around; what a finding does not have is
/// null.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct FindingReport {
    /// What it is about.
    pub code: Code,
    /// How much it weighs.
    pub severity: Severity,
    /// Where along the axis, mm.
    pub at: Option<f64>,
    /// Where around, degrees.
    pub turn: Option<f64>,
    /// The line of the program.
    pub line: Option<u64>,
    /// The piece of the art.
    pub piece: Option<String>,
    /// What was found, in the unit that the message has.
    pub value: Option<f64>,
    /// What is allowed.
    pub limit: Option<f64>,
    /// What it is, and what to do.
    pub message: String,
}

/// The least gap of one nozzle.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct NozzleReport {
    /// Its name.
    pub name: String,
    /// Whether it is the one fitted.
    pub fitted: bool,
    /// The least height of its tip above the work inside its circle; negative where it strikes.
    pub gap_mm: Option<f64>,
    /// Where it stands then, mm along the axis.
    pub at: Option<f64>,
    /// The turn that is uppermost then, degrees.
    pub turn: Option<f64>,
    /// The line of the program.
    pub line: Option<u64>,
    /// What it comes nearest to: a zone's name, or null for the wall.
    pub zone: Option<String>,
}

/// Adding nothing turns a minus zero into zero; what is not finite is null.
fn number(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite()).map(|value| value + 0.0)
}

impl CheckReport {
    pub(super) fn new(
        setup: &Setup,
        mut findings: Vec<Finding>,
        gaps: &[NozzleGap],
        focus: &FocusPlace,
        warnings: Vec<String>,
    ) -> Self {
        findings.sort_by_key(|finding| (finding.severity, finding.code));
        let nozzles = gaps.iter().map(|gap| {
            let least = gap.least.as_ref();
            let zone = least.and_then(|least| match least.nearest {
                Nearest::Zone(index) => setup.blank.zones.get(index).map(|zone| zone.name.clone()),
                Nearest::Wall => None,
            });
            NozzleReport {
                name: gap.name.clone(),
                fitted: gap.fitted,
                gap_mm: number(least.map(|least| least.gap_mm)),
                at: number(least.map(|least| least.at_mm)),
                turn: number(least.map(|least| least.turn_rad.to_degrees())),
                line: least.map(|least| least.mark).filter(|line| *line > 0),
                zone,
            }
        });
        Self {
            fit: findings.iter().all(|finding| finding.severity != Severity::Error),
            nozzles: nozzles.collect(),
            findings: findings.into_iter().map(FindingReport::of).collect(),
            focus_at: focus.at_mm + 0.0,
            warnings,
        }
    }

    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self)
    }
}

impl FindingReport {
    fn of(finding: Finding) -> Self {
        Self {
            code: finding.code,
            severity: finding.severity,
            at: number(finding.at_mm),
            turn: number(finding.turn_rad.map(f64::to_degrees)),
            // What happens before the first line has none.
            line: finding.line.filter(|line| *line > 0),
            piece: finding.piece,
            value: number(finding.value),
            limit: number(finding.limit),
            message: finding.message,
        }
    }
}
