//! The lays beside each other.

use stave::number::{change_percent, fixed};
use stave::{LayKind, LayRow, LaysReport, PieceLays};

use super::table::{COLUMNS, folded};

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
        "Angles are the greatest error and the mean one. Changes are wall over drawn,\n\
         where they are largest; sizes are mm on the wall, through the middle and at the\n\
         widest.\n",
    );
    out
}

fn piece_lays(piece: &PieceLays) -> String {
    let n = |value: f64| fixed(value, 1);
    let mut out = format!(
        "{}: drawn {} wide, {} high, its middle at {} mm, turn {}°\n  {:<10} {:>6} {:>5} \
         {:>8} {:>8} {:>8} {:>13} {:>6} {:>6}\n",
        piece.id,
        n(piece.drawn_width_mm),
        n(piece.drawn_height_mm),
        n(piece.at),
        n(piece.turn_deg),
        "lay",
        "angles",
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
            for line in folded(&format!("best: {best}. {}.", capital(why)), COLUMNS - 2) {
                out.push_str(&format!("  {line}\n"));
            }
            out.push('\n');
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
        let lines = folded(problem, COLUMNS - 13);
        let first = lines.first().map_or("", String::as_str);
        let mut out = format!("  {:<10} {first}\n", kind.name());
        for line in lines.iter().skip(1) {
            out.push_str(&format!("             {line}\n"));
        }
        return out;
    }
    let text = |value: Option<f64>, how: &dyn Fn(f64) -> String| value.map_or("?".to_owned(), how);
    let degrees = |value: f64| format!("{}°", fixed(value, 1));
    let size = match (row.width_mm, row.height_mm) {
        (Some(width), Some(height)) => format!("{} x {}", fixed(width, 1), fixed(height, 1)),
        _ => "?".to_owned(),
    };
    let (seam, below) = match (row.closes, row.seam_mm) {
        (Some(true), _) => ("closes", None),
        (Some(false), Some(gap)) if gap > 0.0 => {
            ("gapes", Some(format!("the seam gapes {} mm", fixed(gap, 2))))
        }
        (Some(false), Some(gap)) => {
            ("meets", Some(format!("the seam overlaps {} mm", fixed(-gap, 2))))
        }
        _ => ("-", None),
    };
    let zones = (!row.zones.is_empty()).then(|| format!("touches {}", row.zones.join(", ")));
    let told: Vec<String> = below.into_iter().chain(zones).collect();
    let mut out = format!(
        "  {:<10} {:>6} {:>5} {:>8} {:>8} {:>8} {:>13} {:>6} {seam:>6}\n",
        kind.name(),
        text(row.omega_max_deg, &degrees),
        text(row.omega_mean_deg, &degrees),
        text(row.width_max, &change_percent),
        text(row.height_max, &change_percent),
        text(row.area_max, &change_percent),
        size,
        text(row.widest_mm, &|value| fixed(value, 1)),
    );
    for line in folded(&told.join("; "), COLUMNS - 13) {
        if !line.is_empty() {
            out.push_str(&format!("             {line}\n"));
        }
    }
    out
}
