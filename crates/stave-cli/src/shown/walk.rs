//! What was gone round.

use stave::WalkReport;
use stave::number::fixed;

/// As lines for people.
pub(crate) fn walk(report: &WalkReport) -> String {
    let mut out = String::new();
    for found in &report.loops {
        let from_to = |(from, to): (f64, f64)| format!("{} to {}", fixed(from, 1), fixed(to, 1));
        let around = match found.across {
            Some(across) => format!("across {} mm", from_to(across)),
            None => format!("turn {}°", from_to(found.turn_deg)),
        };
        out.push_str(&format!(
            "round {}: {} mm along, {around}, {} corners\n",
            found.piece,
            from_to(found.at),
            found.corners
        ));
    }
    report.warnings.iter().for_each(|warning| out.push_str(&format!("note: {warning}\n")));
    out
}
