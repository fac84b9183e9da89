//! What a check comes to, as JSON and for people.

use serde::Serialize;
use stave_check::{Finding, Nearest, Severity};
use stave_setup::Setup;
use stave_toolpath::number::fixed;

use super::judge::{FocusPlace, NozzleGap};

/// Whether a job is fit, and everything that was found.
#[derive(Clone, Debug, Serialize)]
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
#[derive(Clone, Debug, Serialize)]
pub struct FindingReport {
    /// What it is about.
    pub code: &'static str,
    /// `error`, `warning` or `note`.
    pub severity: &'static str,
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
#[derive(Clone, Debug, Serialize)]
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

    /// For people: findings one by one with their places, then the nozzles, then the verdict.
    #[must_use]
    pub fn to_text(&self) -> String {
        let mut out = String::new();
        for finding in &self.findings {
            out.push_str(&format!("{:<8} {}\n", finding.severity, finding.code));
            if let Some(place) = finding.place() {
                out.push_str(&format!("         {place}\n"));
            }
            for line in folded(&finding.message, 100) {
                out.push_str(&format!("         {line}\n"));
            }
        }
        if !self.findings.is_empty() {
            out.push('\n');
        }
        if !self.nozzles.is_empty() {
            out.push_str("nozzle                 least gap       at     turn   line   nearest\n");
        }
        for nozzle in &self.nozzles {
            let maybe = |value: Option<f64>, decimals: u32| {
                value.map_or("-".to_owned(), |v| fixed(v, decimals))
            };
            let name = if nozzle.fitted {
                format!("{} (fitted)", nozzle.name)
            } else {
                nozzle.name.clone()
            };
            out.push_str(&format!(
                "{name:<22} {:>9} {:>8} {:>8} {:>6}   {}\n",
                maybe(nozzle.gap_mm, 2),
                maybe(nozzle.at, 1),
                maybe(nozzle.turn, 1),
                nozzle.line.map_or("-".to_owned(), |line| line.to_string()),
                nozzle.zone.as_deref().unwrap_or("the wall"),
            ));
        }
        let count =
            |severity: &str| self.findings.iter().filter(|one| one.severity == severity).count();
        let (errors, warnings, notes) = (count("error"), count("warning"), count("note"));
        let plural = |n: usize, what: &str| {
            if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
        };
        out.push_str(&format!(
            "Focused at {} mm. {}: {}, {}, {}.\n",
            fixed(self.focus_at, 2),
            if self.fit { "Fit" } else { "Not fit" },
            plural(errors, "error"),
            plural(warnings, "warning"),
            plural(notes, "note")
        ));
        out
    }
}

impl FindingReport {
    fn of(finding: Finding) -> Self {
        Self {
            code: finding.code.as_str(),
            severity: finding.severity.as_str(),
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

    fn place(&self) -> Option<String> {
        let parts = [
            self.piece.as_ref().map(|piece| format!("piece \"{piece}\"")),
            self.line.map(|line| format!("line {line}")),
            self.at.map(|at| format!("at {} mm", fixed(at, 2))),
            self.turn.map(|turn| format!("turn {}°", fixed(turn, 1))),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        (!parts.is_empty()).then(|| parts.join(", "))
    }
}

/// A text in lines of at most so many characters, broken between words.
fn folded(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.last().map_or(0, |line| line.chars().count());
        if last > 0 && last + 1 + word.chars().count() > width {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}
