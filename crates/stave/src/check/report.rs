//! What a check comes to.

use serde::{Deserialize, Serialize};
use stave_check::{Code, Finding, NozzleGap, Verdict};
use stave_rig::{FocusAt, HeadPart, Nearest};
use stave_setup::Setup;

use crate::wrap::refused;

/// Whether a job is fit, and everything that was found.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct CheckReport {
    /// True where nothing that was found is an error that nobody accepts.
    pub fit: bool,
    /// What was found, errors first.
    pub findings: Vec<Finding>,
    /// The nozzles of the machine, each with its least gap over the whole job.
    pub nozzles: Vec<NozzleReport>,
    /// Where along the axis the job is focused, mm.
    pub focus_at: f64,
    /// At which turn, degrees; null on ware that is round and runs true, where it does not matter.
    pub focus_turn_deg: Option<f64>,
    /// As high as [`stave_wall::Crest::height_mm`] has it there, mm, where anything burns.
    #[serde(skip)]
    pub(crate) focus_height_mm: Option<f64>,
    /// What a person should know besides, a sentence each.
    #[serde(skip)]
    pub warnings: Vec<String>,
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
    /// What it comes nearest to: a zone's name, or null for what is no zone.
    pub zone: Option<String>,
    /// The name of what of the rotary it comes nearest to, or null: where `zone` is null too, it is
    /// the wall.
    pub obstacle: Option<String>,
    /// What of the head comes nearest.
    pub part: Option<HeadPartKind>,
}

/// A part of the head.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeadPartKind {
    /// The nozzle at its tip.
    Tip,
    /// A step of the nozzle.
    Step,
    /// What the nozzle hangs on.
    Carriage,
}

/// Adding nothing turns a minus zero into zero; what is not finite is null.
fn number(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite()).map(|value| value + 0.0)
}

impl NozzleReport {
    fn of(gap: &NozzleGap, setup: &Setup) -> Self {
        let least = gap.least.as_ref();
        Self {
            name: gap.name.clone(),
            fitted: gap.fitted,
            gap_mm: number(least.map(|least| least.gap_mm)),
            at: number(least.map(|least| least.at_mm)),
            turn: number(least.map(|least| least.turn_rad.to_degrees())),
            line: least.map(|least| least.mark).filter(|line| *line > 0),
            zone: least.and_then(|least| match least.nearest {
                Nearest::Zone(index) => {
                    setup.whole().0.zones.get(index).map(|zone| zone.name.clone())
                }
                _ => None,
            }),
            obstacle: least.and_then(|least| match least.nearest {
                Nearest::Obstacle(index) => {
                    setup.whole().1.obstacles.get(index).map(|one| one.name.clone())
                }
                _ => None,
            }),
            part: least.map(|least| match least.part {
                HeadPart::Tip => HeadPartKind::Tip,
                HeadPart::Step(_) => HeadPartKind::Step,
                HeadPart::Carriage => HeadPartKind::Carriage,
            }),
        }
    }
}

impl CheckReport {
    pub(super) fn new(
        setup: &Setup,
        verdict: Verdict,
        allow: &[Code],
        mut warnings: Vec<String>,
    ) -> Self {
        let Verdict { findings, told, burned, focus, nozzles } = verdict;
        let mark = |finding: Finding| finding.accepting(allow);
        let mut findings: Vec<Finding> = findings.into_iter().map(mark).collect();
        findings.sort_by_key(|finding| (finding.severity, finding.code));
        warnings.extend(told);
        Self {
            fit: refused(findings.clone(), allow).is_empty(),
            findings,
            nozzles: nozzles.iter().map(|gap| NozzleReport::of(gap, setup)).collect(),
            focus_at: focus.place.at_mm + 0.0,
            focus_turn_deg: focus.place.turn_deg(),
            focus_height_mm: burned.then_some(focus.height_mm),
            warnings,
        }
    }

    /// How high the focus is, mm, and where, where anything burns.
    pub(crate) fn focus(&self) -> Option<(f64, FocusAt)> {
        self.focus_height_mm.map(|height_mm| (height_mm, self.focused()))
    }

    /// Where the job is focused.
    #[must_use]
    pub fn focused(&self) -> FocusAt {
        let turn_rad = self.focus_turn_deg.map(f64::to_radians);
        FocusAt { at_mm: self.focus_at, turn_rad }
    }

    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self)
    }
}
