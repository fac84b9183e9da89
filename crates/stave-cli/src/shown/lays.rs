//! The lays beside each other.

use stave::number::{change_percent, fixed};
use stave::{LayKind, LayRow, LaysReport, PieceLays};

use super::table::{COLUMNS, folded};

/// As a table for people.
pub(crate) fn lays(report: &LaysReport) -> String {
    let mut out = String::new();
    // Pieces of which all the same is to be said are told once.
    let mut alike: Vec<(String, Vec<&PieceLays>)> = Vec::new();
    for piece in &report.pieces {
        let said = format!("{}{}", drawn_size(piece), what_lays_do(piece));
        match alike.iter_mut().find(|(same, _)| *same == said) {
            Some((_, pieces)) => pieces.push(piece),
            None => alike.push((said, vec![piece])),
        }
    }
    for (_, pieces) in &alike {
        if let Some(first) = pieces.first() {
            out.push_str(&(heading(first, pieces) + &what_lays_do(first)));
        }
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

/// What the pieces are that the lays do the same to, and where they lie.
fn heading(first: &PieceLays, pieces: &[&PieceLays]) -> String {
    let n = |value: f64| fixed(value, 1);
    let size = drawn_size(first);
    if pieces.len() < 2 {
        let (at, turn) = (n(first.at), n(first.turn_deg));
        return format!("{}: drawn {size}, its middle at {at} mm, turn {turn}°\n", first.id);
    }
    let span = |of: fn(&PieceLays) -> f64| {
        let values = || pieces.iter().map(|piece| of(piece));
        let low = n(values().fold(f64::INFINITY, f64::min));
        let high = n(values().fold(f64::NEG_INFINITY, f64::max));
        if low == high { low } else { format!("{low} to {high}") }
    };
    let (at, turn) = (span(|piece| piece.at), span(|piece| piece.turn_deg));
    let others: Vec<&str> = pieces.iter().skip(1).map(|piece| piece.id.as_str()).collect();
    let mut out = format!("{} × {}: each drawn {size}\n", first.id, pieces.len());
    for line in folded(&format!("middles at {at} mm, turn {turn}°"), COLUMNS - 2) {
        out.push_str(&format!("  {line}\n"));
    }
    for line in folded(&format!("alike: {}", others.join(", ")), COLUMNS - 2) {
        out.push_str(&format!("  {line}\n"));
    }
    out
}

fn drawn_size(piece: &PieceLays) -> String {
    format!("{} wide, {} high", fixed(piece.drawn_width_mm, 1), fixed(piece.drawn_height_mm, 1))
}

/// The table of a piece's lays, and which is best.
fn what_lays_do(piece: &PieceLays) -> String {
    let mut out = format!(
        "  {:<10} {:>6} {:>5} {:>8} {:>8} {:>8} {:>13} {:>6} {:>6}\n",
        "lay", "angles", "mean", "width", "height", "area", "size", "widest", "seam",
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
