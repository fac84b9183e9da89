//! What was gone round.

use stave::WalkReport;
use stave::number::fixed;

/// As lines for people.
pub(crate) fn walk(report: &WalkReport) -> String {
    let mut out = String::new();
    for found in &report.loops {
        out.push_str(&format!(
            "round {}: {} to {} mm along, turn {} to {}°, {} corners\n",
            found.piece,
            fixed(found.at.0, 1),
            fixed(found.at.1, 1),
            fixed(found.turn_deg.0, 1),
            fixed(found.turn_deg.1, 1),
            found.corners
        ));
    }
    report.warnings.iter().for_each(|warning| out.push_str(&format!("note: {warning}\n")));
    out
}
