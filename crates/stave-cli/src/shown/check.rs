//! What a check found.

use stave::number::fixed;
use stave::{CheckReport, Code, Finding, HeadPartKind, NozzleReport};

use super::table::{COLUMNS, beginning, folded, left};

/// For people: findings one by one with their places, then the nozzles, then the verdict.
pub(crate) fn check(report: &CheckReport, accepted: &[Code]) -> String {
    let mut out = String::new();
    for finding in &report.findings {
        out.push_str(&format!("{:<8} {}\n", finding.weight(accepted), finding.code));
        if let Some(place) = place(finding) {
            out.push_str(&format!("         {place}\n"));
        }
        for line in folded(&finding.message, COLUMNS - 9) {
            out.push_str(&format!("         {line}\n"));
        }
    }
    if !report.findings.is_empty() {
        out.push('\n');
    }
    if !report.nozzles.is_empty() {
        out.push_str("nozzle                 least gap       at     turn   line   nearest\n");
    }
    for nozzle in &report.nozzles {
        let maybe = |value: Option<f64>, decimals: u32| {
            value.map_or("-".to_owned(), |v| fixed(v, decimals))
        };
        let name =
            if nozzle.fitted { format!("{} (fitted)", nozzle.name) } else { nozzle.name.clone() };
        out.push_str(&format!(
            "{} {:>9} {:>8} {:>8} {:>6}   {}\n",
            left(&beginning(&name, 22), 22),
            maybe(nozzle.gap_mm, 2),
            maybe(nozzle.at, 1),
            maybe(nozzle.turn, 1),
            nozzle.line.map_or("-".to_owned(), |line| line.to_string()),
            nearest(nozzle),
        ));
    }
    let count = |what: &str| match report
        .findings
        .iter()
        .filter(|one| one.weight(accepted) == what)
        .count()
    {
        1 => format!("1 {what}"),
        n => format!("{n} {what}s"),
    };
    let mut counts = vec![count("error"), count("warning"), count("note")];
    if report.findings.iter().any(|one| one.weight(accepted) == "accepted error") {
        counts.insert(1, count("accepted error"));
    }
    out.push_str(&format!(
        "Focused at {} mm{}. {}: {}.\n",
        fixed(report.focus_at, 2),
        report.focus_turn_deg.map_or(String::new(), |deg| format!(", turn {}°", fixed(deg, 1))),
        if report.fit { "Fit" } else { "Not fit" },
        counts.join(", ")
    ));
    out
}

/// What comes nearest to what; the tip of the nozzle goes without saying.
fn nearest(nozzle: &NozzleReport) -> String {
    let thing = nozzle.zone.as_deref().or(nozzle.obstacle.as_deref()).unwrap_or("the wall");
    match nozzle.part {
        Some(HeadPartKind::Step) => format!("step to {thing}"),
        Some(HeadPartKind::Carriage) => format!("carriage to {thing}"),
        Some(HeadPartKind::Tip) | None => thing.to_owned(),
    }
}

fn place(finding: &Finding) -> Option<String> {
    let parts = [
        finding.piece.as_ref().map(|piece| format!("piece \"{piece}\"")),
        finding.element.as_ref().map(|element| format!("element {element}")),
        finding.line.map(|line| format!("line {line}")),
        finding.at.map(|at| format!("at {} mm", fixed(at, 2))),
        finding.turn.map(|turn| format!("turn {}°", fixed(turn, 1))),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}
