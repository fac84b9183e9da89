//! Dimension lines, leaders and the bar that tells whether a print is true (the manner of ISO
//! 129-1, from memory: thin lines, arrow heads at both ends, the figure above the line).

use kurbo::Vec2;
use stave_setup::LengthUnit;

use super::drawing::Drawing;
use super::ink::{INK, SOFT};
use super::room::spread;
use super::text::text_width_mm;

const THIN: &str = "stroke-width=\"0.18\"";
/// An arrow head: how long, and how broad at its back, mm.
const HEAD_MM: (f64, f64) = (1.8, 0.7);
pub(crate) const FIGURE_MM: f64 = 2.5;
/// Air between two figures.
const FIGURE_APART_MM: f64 = 0.8;

/// Where a dimension line's heads stand.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Arrows {
    /// Between the ends, pointing outwards.
    Inside,
    /// Beyond the ends, pointing inwards: for what is too short.
    Outside,
}

/// A dimension line between two places, level or upright, with its figure in the middle above it
/// (for upright ones turned, to be read from the right).
pub(crate) fn dimension(out: &mut Drawing, from: (f64, f64), to: (f64, f64), figure: &str) {
    let along = Vec2::new(to.0 - from.0, to.1 - from.1);
    let long = along.hypot();
    let upright = along.y.abs() > along.x.abs();
    let arrows = if long < 2.5 * HEAD_MM.0 { Arrows::Outside } else { Arrows::Inside };
    arrow_line(out, from, to, arrows);
    let middle = (0.5 * (from.0 + to.0), 0.5 * (from.1 + to.1));
    if upright {
        upright_figure(out, middle, figure);
    } else if text_width_mm(figure, FIGURE_MM) <= long || arrows == Arrows::Inside {
        let style = format!("fill=\"{INK}\" text-anchor=\"middle\"");
        out.text((middle.0, middle.1 - 0.9), FIGURE_MM, &style, figure);
    } else {
        out.text((from.0.max(to.0) + 3.0, middle.1 - 0.9), FIGURE_MM, "", figure);
    }
}

/// A figure beside an upright dimension line, turned, to be read from the right.
fn upright_figure(out: &mut Drawing, at: (f64, f64), figure: &str) {
    let (x, y) = (at.0 - 0.9, at.1);
    let turned =
        format!("fill=\"{INK}\" text-anchor=\"middle\" transform=\"rotate(-90 {x:.3} {y:.3})\"");
    out.text((x, y), FIGURE_MM, &turned, figure);
}

/// A dimension line between two places, and its figure.
pub(crate) struct Dimension {
    pub(crate) from: (f64, f64),
    pub(crate) to: (f64, f64),
    pub(crate) figure: String,
}

/// Dimension lines one after the other in a column or a row, all level or all upright, their
/// figures kept apart where a line is too short for its own.
pub(crate) fn dimensions_in_line(out: &mut Drawing, mut parts: Vec<Dimension>) {
    let upright = parts.iter().any(|part| part.from.1 != part.to.1);
    let of = |point: (f64, f64)| if upright { point.1 } else { point.0 };
    let middle = |part: &Dimension| 0.5 * (of(part.from) + of(part.to));
    parts.sort_by(|a, b| middle(a).total_cmp(&middle(b)));
    let wanted: Vec<f64> = parts.iter().map(middle).collect();
    let widths = parts.iter().map(|part| text_width_mm(&part.figure, FIGURE_MM));
    let apart = widths.fold(0.0, f64::max) + FIGURE_APART_MM;
    // They may come out beyond both ends.
    let beyond = parts.iter().fold(0.0, |sum, _| sum + apart);
    let ends = (
        wanted.first().map_or(0.0, |first| first - beyond),
        wanted.last().map_or(0.0, |last| last + beyond),
    );
    let places = spread(&wanted, apart, ends);
    for (Dimension { from, to, figure }, place) in parts.iter().zip(places) {
        let long = (from.0 - to.0).hypot(from.1 - to.1);
        let arrows = if long < 2.5 * HEAD_MM.0 { Arrows::Outside } else { Arrows::Inside };
        arrow_line(out, *from, *to, arrows);
        if upright {
            upright_figure(out, (from.0, place), figure);
        } else {
            let style = format!("fill=\"{INK}\" text-anchor=\"middle\"");
            out.text((place, from.1 - 0.9), FIGURE_MM, &style, figure);
        }
    }
}

fn arrow_line(out: &mut Drawing, from: (f64, f64), to: (f64, f64), arrows: Arrows) {
    let along = Vec2::new(to.0 - from.0, to.1 - from.1);
    if along.hypot() <= 0.0 {
        return;
    }
    let along = along / along.hypot();
    let across = Vec2::new(-along.y, along.x);
    let sign = if arrows == Arrows::Inside { 1.0 } else { -1.0 };
    for (tip, into) in [(from, along * sign), (to, along * -sign)] {
        let tip = Vec2::new(tip.0, tip.1);
        let back = tip + into * HEAD_MM.0;
        let corner = |side: f64| {
            let at = back + across * (0.5 * side * HEAD_MM.1);
            (at.x, at.y)
        };
        let head = [(tip.x, tip.y), corner(1.0), corner(-1.0)];
        out.shape(&head, &format!("fill=\"{SOFT}\" stroke=\"none\""));
        if arrows == Arrows::Outside {
            let end = tip + into * (2.0 * HEAD_MM.0);
            out.line(&[(tip.x, tip.y), (end.x, end.y)], &format!("stroke=\"{SOFT}\" {THIN}"));
        }
    }
    out.line(&[from, to], &format!("stroke=\"{SOFT}\" {THIN}"));
}

/// A leader: a thin line from a label to what it names, with a dot there.
pub(crate) fn leader(out: &mut Drawing, points: &[(f64, f64)], colour: &str) {
    out.line(points, &format!("stroke=\"{colour}\" {THIN}"));
    if let Some(&(x, y)) = points.last() {
        let (r, two) = (0.45, 0.9);
        out.path(
            &format!("M{:.3} {y:.3} a{r} {r} 0 1 0 {two} 0 a{r} {r} 0 1 0 -{two} 0 Z", x - r),
            &format!("fill=\"{colour}\" stroke=\"none\""),
        );
    }
}

/// How long scale bars are, mm, the longest first: round in the unit that is read.
pub(crate) fn bars_mm(unit: LengthUnit) -> [f64; 7] {
    match unit {
        LengthUnit::Mm => [100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0],
        LengthUnit::Inch => [4.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05].map(|inches| unit.to_mm(inches)),
    }
}

/// The bar of about 50 mm that a print is checked by, and the one of about 10 mm.
pub(crate) fn check_bar_mm(unit: LengthUnit) -> f64 {
    bars_mm(unit)[1]
}

/// See [`check_bar_mm`].
pub(crate) fn short_bar_mm(unit: LengthUnit) -> f64 {
    bars_mm(unit)[3]
}

/// How long a bar is, in words.
pub(crate) fn bar_told(unit: LengthUnit, long_mm: f64) -> String {
    unit.told(long_mm, 1)
}

/// A bar of so many mm from a place to the right, with words beside it, if any.
pub(crate) fn scale_bar(
    out: &mut Drawing,
    (x, y): (f64, f64),
    long_mm: f64,
    id: &str,
    words: &str,
) {
    let bar = [
        (x, y - 1.0),
        (x, y + 1.0),
        (x, y),
        (x + long_mm, y),
        (x + long_mm, y - 1.0),
        (x + long_mm, y + 1.0),
    ];
    out.line(&bar, &format!("id=\"{id}\" stroke=\"{INK}\" stroke-width=\"0.3\""));
    if !words.is_empty() {
        let style = format!("fill=\"{INK}\" stroke=\"none\"");
        out.text((x + long_mm + 2.5, y + 0.9), FIGURE_MM, &style, words);
    }
}
