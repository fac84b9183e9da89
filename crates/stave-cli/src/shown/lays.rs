//! The lays beside each other.

use stave::number::{change_percent, fixed};
use stave::{LayKind, LayRow, LaysReport, PieceLays};

/// As a table for people.
pub(crate) fn lays(report: &LaysReport) -> String {
    let mut out = String::new();
    for piece in &report.pieces {
        out.push_str(&piece_lays(piece));
    }
    if let (Some(best), true) = (report.best, report.pieces.len() > 1) {
        out.push_str(&format!("One lay for all: {best}.\n"));
    }
    out.push_str(
        "Changes are wall over drawn, where they are largest; sizes are mm on the \
                  wall, through the middle and at the widest.\n",
    );
    out
}

fn piece_lays(piece: &PieceLays) -> String {
    let n = |value: f64| fixed(value, 1);
    let mut out = format!(
        "{}: drawn {} wide, {} high, its middle at {} mm, turn {}°\n  {:<11} {:>9} {:>7} \
         {:>9} {:>9} {:>9} {:>15} {:>8}  {}\n",
        piece.id,
        n(piece.drawn_width_mm),
        n(piece.drawn_height_mm),
        n(piece.at),
        n(piece.turn_deg),
        "lay",
        "angles to",
        "mean",
        "width",
        "height",
        "area",
        "size",
        "widest",
        "seam",
    );
    let rows =
        [&piece.lays.even_angle, &piece.lays.true_width, &piece.lays.true_shape, &piece.lays.label];
    for (kind, row) in LayKind::ALL.iter().zip(rows) {
        out.push_str(&lay_row(row, *kind));
    }
    match (&piece.best, &piece.why) {
        (Some(best), Some(why)) => {
            out.push_str(&format!("  best: {best}. {}.\n\n", capital(why)));
        }
        _ => out.push_str("  no lay has a place for it here.\n\n"),
    }
    out
}

/// A sentence with a capital where it is not a setting's name.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

fn lay_row(row: &LayRow, kind: LayKind) -> String {
    if let Some(problem) = &row.problem {
        return format!("  {:<11} {problem}\n", kind.name());
    }
    let text = |value: Option<f64>, how: &dyn Fn(f64) -> String| value.map_or("?".to_owned(), how);
    let degrees = |value: f64| format!("{}°", fixed(value, 1));
    let size = match (row.width_mm, row.height_mm) {
        (Some(width), Some(height)) => format!("{} x {}", fixed(width, 1), fixed(height, 1)),
        _ => "?".to_owned(),
    };
    let seam = match (row.closes, row.seam_mm) {
        (Some(true), _) => "closes".to_owned(),
        (Some(false), Some(gap)) if gap > 0.0 => format!("gapes {} mm", fixed(gap, 2)),
        (Some(false), Some(gap)) => format!("overlaps {} mm", fixed(-gap, 2)),
        _ => "-".to_owned(),
    };
    let zones = if row.zones.is_empty() {
        String::new()
    } else {
        format!("; touches {}", row.zones.join(", "))
    };
    format!(
        "  {:<11} {:>9} {:>7} {:>9} {:>9} {:>9} {:>15} {:>8}  {seam}{zones}\n",
        kind.name(),
        text(row.omega_max_deg, &degrees),
        text(row.omega_mean_deg, &degrees),
        text(row.width_max, &change_percent),
        text(row.height_max, &change_percent),
        text(row.area_max, &change_percent),
        size,
        text(row.widest_mm, &|value| fixed(value, 1)),
    )
}
