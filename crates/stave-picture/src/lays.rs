//! The lays beside each other: each piece on the unrolled wall, with what becomes of small circles.

use std::f64::consts::TAU;

use stave_setup::Blank;
use stave_toolpath::number::fixed;
use stave_wall::{Distortion, Laid, Lay, Station};

use crate::draw::{spread, text_width_mm};
use crate::svg::{escaped, mm};

/// A panel's side, mm on the page: four stand in a row. Of a piece that is wider than high two do,
/// no higher than they need to be.
const PANEL_MM: f64 = 60.0;
const FLATTEST_MM: f64 = 30.0;
const WIDE: f64 = 1.4;
/// What is kept clear inside a panel.
const INSET_MM: f64 = 6.0;
/// How large the stations' names are.
const STATION_MM: f64 = 2.2;
/// Room above a panel for its words.
const WORDS_MM: f64 = 13.0;
const GAP_MM: f64 = 5.0;
const EDGE_MM: f64 = 8.0;
/// The most pieces that are drawn; a page of more is none to look at.
const MOST_ROWS: usize = 12;
/// What print shows of a point's place, mm.
const SHOWN_MM: f64 = 0.015;
/// Circles along a side of a piece's box.
const CIRCLES: u32 = 4;
/// Blue for circles that come out well, vermilion for those that do not: two of the colours of M.
/// Okabe and K. Ito, *Color Universal Design* (2008; from memory), which all kinds of colour vision
/// tell apart. The bad ones have the thicker line as well.
const GOOD: &str = "#0072b2";
const BAD: &str = "#d55e00";

/// One piece under several lays.
#[derive(Clone, Debug)]
pub struct LaysRow<'a> {
    /// What to call it.
    pub name: &'a str,
    /// Its outlines in the flat plane, mm: `(u, v)`.
    pub outlines: &'a [Vec<(f64, f64)>],
    /// Its box: the least and the greatest `(u, v)`.
    pub bounds: ((f64, f64), (f64, f64)),
    /// The lays, each in a panel of its own.
    pub panels: Vec<LayPanel<'a>>,
}

/// One lay of a piece.
#[derive(Clone, Debug)]
pub struct LayPanel<'a> {
    /// The lay; `None` where it has no place for the piece.
    pub lay: Option<&'a Lay>,
    /// Its name.
    pub name: &'a str,
    /// A line of figures, or why it has no place.
    pub figures: String,
    /// Whether it is the one recommended.
    pub best: bool,
}

/// What a circle must keep to be drawn as one that comes out well.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// The greatest angle error, rad.
    pub omega_rad: f64,
    /// The greatest change of size, as a share.
    pub size: f64,
}

/// The lays of pieces beside each other, as an SVG document in mm.
///
/// Each panel shows the wall around a piece unrolled so that angles are true (by the isometric
/// latitude, as Mercator unrolled the globe): shapes there are what the eye sees on the ware.
/// Lengths are true in the middle of the piece, at the scale that is told. Thin level lines are the
/// stations with their diameters, the dashed outline is the piece as drawn, and each small ellipse
/// a circle of the drawing as it comes out on the wall (Tissot's indicatrix), at its own size
/// there.
#[must_use]
pub fn lays(blank: &Blank, rows: &[LaysRow<'_>], bounds: Bounds) -> String {
    let shown = rows.len().min(MOST_ROWS);
    let width = 2.0 * EDGE_MM + 4.0 * PANEL_MM + 3.0 * GAP_MM;
    let rows_mm: f64 = rows.iter().take(shown).map(|row| row_mm(blank, row)).sum();
    let height = 2.0 * EDGE_MM + 8.0 + rows_mm + 14.0;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 \
         {w} {h}\" \
         font-family=\"sans-serif\" font-size=\"3.2\" fill=\"#222222\">\n<rect width=\"{w}\" \
                       height=\"{h}\" fill=\"#ffffff\"/>\n",
        w = mm(width),
        h = mm(height),
    );
    out.push_str(&words(
        EDGE_MM,
        EDGE_MM + 3.0,
        4.5,
        &format!("{}: the lays beside each other", blank.name),
    ));
    let mut top = EDGE_MM + 10.0;
    for row in &rows[..shown] {
        out.push_str(&words(EDGE_MM, top + 2.0, 3.8, row.name));
        let (columns, (wide, high)) = setting(blank, row);
        let mut corner = (EDGE_MM, top + WORDS_MM);
        for (k, panel) in row.panels.iter().enumerate() {
            if k > 0 && k % columns == 0 {
                corner = (EDGE_MM, corner.1 + high + WORDS_MM);
            }
            out.push_str(&panel_svg(blank, row, panel, bounds, corner));
            corner.0 += wide + GAP_MM;
        }
        top += row_mm(blank, row);
    }
    let circle = format!(
        "Ellipses: circles of the drawing as they come out on the wall; blue within {}° and {} %, \
         vermilion and thick beyond.",
        fixed(bounds.omega_rad.to_degrees(), 0),
        fixed(100.0 * bounds.size, 0)
    );
    out.push_str(&words(EDGE_MM, top + 2.0, 3.2, &circle));
    let mut note =
        "Figures: the worst of the piece. Dashed: as drawn. The wall is unrolled so that \
                    angles are true; level lines are stations, with their diameters in mm."
            .to_owned();
    if rows.len() > shown {
        note.push_str(&format!(" {} more pieces are not shown.", rows.len() - shown));
    }
    out.push_str(&words(EDGE_MM, top + 7.0, 3.2, &note));
    out.push_str("</svg>\n");
    out
}

/// How a row's panels are set: how many beside each other, and how wide and high each is, mm.
fn setting(blank: &Blank, row: &LaysRow<'_>) -> (usize, (f64, f64)) {
    let (from, to) = row.bounds;
    let share = (to.1 - from.1).max(1e-3) / (to.0 - from.0).max(1e-3);
    if share < WIDE {
        return (4, (PANEL_MM, PANEL_MM));
    }
    let wide = 2.0 * PANEL_MM + GAP_MM;
    let high = (wide - station_names_mm(blank) - 2.0 * INSET_MM) / share + 2.0 * INSET_MM;
    (2, (wide, high.clamp(FLATTEST_MM, PANEL_MM)))
}

/// How wide the stations' names come out, mm.
fn station_names_mm(blank: &Blank) -> f64 {
    let names = blank.stations.iter().map(station_name);
    names.map(|name| text_width_mm(&name, STATION_MM)).fold(0.0, f64::max)
}

fn station_name(station: &Station) -> String {
    format!("⌀{}", fixed(2.0 * station.radius_mm, 1))
}

/// How much of the page a row takes, mm.
fn row_mm(blank: &Blank, row: &LaysRow<'_>) -> f64 {
    let (columns, (_, high)) = setting(blank, row);
    let lines = u32::try_from(row.panels.len().div_ceil(columns)).unwrap_or(u32::MAX);
    f64::from(lines) * (high + WORDS_MM) + 8.0
}

/// The path through points, as closely as print shows: to 0.01 mm, without those that lie on the
/// way.
fn path(points: &[(f64, f64)], closed: bool) -> String {
    let mut out = String::new();
    let mut kept: Option<usize> = None;
    for (index, &(x, y)) in points.iter().enumerate() {
        if let (Some(last), Some(&next)) = (kept, points.get(index + 1))
            && on_the_way(&points[last..=index], next)
        {
            continue;
        }
        out.push_str(if kept.is_none() { "M" } else { " " });
        out.push_str(&format!("{},{}", fixed(x, 2), fixed(y, 2)));
        kept = Some(index);
    }
    if closed {
        out.push('Z');
    }
    out
}

/// Whether the points after the first lie on the straight way from it to another, to what print
/// shows.
fn on_the_way(points: &[(f64, f64)], to: (f64, f64)) -> bool {
    let Some(&from) = points.first() else { return true };
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    // A long run of points is not looked through again and again.
    points.len() < 64
        && length > 0.0
        && points
            .iter()
            .all(|p| ((p.0 - from.0) * dy - (p.1 - from.1) * dx).abs() <= SHOWN_MM * length)
}

fn words(x: f64, y: f64, size: f64, text: &str) -> String {
    format!(
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\">{}</text>\n",
        mm(x),
        mm(y),
        mm(size),
        escaped(text)
    )
}

/// From places of the wall to a panel.
struct Chart {
    centre: Laid,
    conformal: f64,
    scale: f64,
    middle: (f64, f64),
}

impl Chart {
    fn place(&self, blank: &Blank, at: &Laid) -> (f64, f64) {
        let radius = self.centre.section.radius_mm * self.scale;
        let around = radius * (at.turn_rad - self.centre.turn_rad);
        let along = radius * (blank.wall.conformal(at.s_mm) - self.conformal);
        // Seen from outside, the larger `at` up: turn grows to the left.
        (self.middle.0 - around, self.middle.1 - along)
    }
}

fn panel_svg(
    blank: &Blank,
    row: &LaysRow<'_>,
    panel: &LayPanel<'_>,
    bounds: Bounds,
    (left, top): (f64, f64),
) -> String {
    let mut out = String::new();
    let (line, weight) = if panel.best { ("#222222", "0.6") } else { ("#bbbbbb", "0.25") };
    let (_, (wide, high)) = setting(blank, row);
    out.push_str(&format!(
        "<rect x=\"{}\" y=\"{}\" width=\"{w}\" height=\"{p}\" fill=\"#fafafa\" stroke=\"{line}\" \
         stroke-width=\"{weight}\"/>\n",
        mm(left),
        mm(top),
        w = mm(wide),
        p = mm(high)
    ));
    let name =
        if panel.best { format!("{}, recommended", panel.name) } else { panel.name.to_owned() };
    out.push_str(&words(left, top - 5.5, 3.4, &name));
    out.push_str(&words(left, top - 1.5, 2.6, &panel.figures));
    let Some(lay) = panel.lay else { return out };
    let wall = &blank.wall;
    let (from, to) = row.bounds;
    let centre_flat = (0.5 * (from.0 + to.0), 0.5 * (from.1 + to.1));
    let at = |u: f64, v: f64| lay.map(wall, u, v, &mut 0);
    let centre = at(centre_flat.0, centre_flat.1);
    let mut chart = Chart {
        conformal: wall.conformal(centre.s_mm),
        centre,
        scale: 1.0,
        middle: (left + 0.5 * wide, top + 0.5 * high),
    };
    let laid: Vec<Vec<Laid>> =
        row.outlines.iter().map(|line| line.iter().map(|&(u, v)| at(u, v)).collect()).collect();
    // The stations' names stand in a margin of their own, at the right.
    let names_mm = station_names_mm(blank);
    chart.middle.0 -= 0.5 * names_mm;
    let room = (0.5 * (wide - names_mm) - INSET_MM, 0.5 * high - INSET_MM);
    let drawn = (to.1 - centre_flat.1, to.0 - centre_flat.0);
    let share = |across: f64, along: f64| (across / room.0).max(along / room.1);
    let reach = laid.iter().flatten().map(|place| {
        let (x, y) = chart.place(blank, place);
        share((x - chart.middle.0).abs(), (y - chart.middle.1).abs())
    });
    let reach = reach.filter(|r| r.is_finite()).fold(share(drawn.0, drawn.1), f64::max);
    chart.scale = 1.0 / reach.max(1e-5);

    let mut stations: Vec<(f64, String)> = Vec::new();
    for (&s_mm, station) in wall.span_ends_mm().iter().zip(&blank.stations) {
        let section = wall.section(s_mm, &mut 0);
        let (_, y) =
            chart.place(blank, &Laid { s_mm, turn_rad: centre.turn_rad, span: 0, section });
        if y < top + 0.3 || y > top + high - 0.3 {
            continue;
        }
        out.push_str(&format!(
            "<path d=\"{}\" stroke=\"#aaaaaa\" stroke-width=\"0.2\" fill=\"none\"/>\n",
            path(&[(left, y), (left + wide, y)], false)
        ));
        stations.push((y, station_name(station)));
    }
    // Names apart, each as near its line as can be.
    stations.sort_by(|a, b| a.0.total_cmp(&b.0));
    let wanted: Vec<f64> = stations.iter().map(|(y, _)| y + 0.4 * STATION_MM).collect();
    let low = top + STATION_MM + 0.4;
    let shown = spread(&wanted, 1.15 * STATION_MM, (low, top + high - 0.8));
    for ((y, name), baseline) in stations.iter().zip(shown) {
        let (x, end) = (left + wide - 1.2, text_width_mm(name, STATION_MM));
        if (baseline - 0.4 * STATION_MM - y).abs() > 0.2 {
            let way = [(x - end - 2.2, *y), (x - end - 0.4, baseline - 0.4 * STATION_MM)];
            let d = path(&way, false);
            out.push_str(&format!(
                "<path d=\"{d}\" stroke=\"#aaaaaa\" stroke-width=\"0.2\" fill=\"none\"/>\n"
            ));
        }
        // On a ground of its own, since lines run under it.
        out.push_str(&format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"#fafafa\"/>\n\
             <text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"#5f5f5a\" \
             text-anchor=\"end\">{}</text>\n",
            mm(x - end - 0.3),
            mm(baseline - 0.85 * STATION_MM),
            mm(end + 0.4),
            mm(1.05 * STATION_MM),
            mm(x),
            mm(baseline),
            mm(STATION_MM),
            escaped(name)
        ));
    }
    for line in row.outlines {
        let drawn: Vec<(f64, f64)> = line
            .iter()
            .map(|&(u, v)| {
                let (along, around) =
                    ((u - centre_flat.0) * chart.scale, (v - centre_flat.1) * chart.scale);
                (chart.middle.0 - around, chart.middle.1 - along)
            })
            .collect();
        out.push_str(&format!(
            "<path d=\"{}\" fill=\"none\" stroke=\"#999999\" stroke-width=\"0.2\" \
             stroke-dasharray=\"1 0.8\"/>\n",
            path(&drawn, false)
        ));
    }
    for line in &laid {
        let points: Vec<(f64, f64)> = line.iter().map(|place| chart.place(blank, place)).collect();
        if points.iter().all(|(x, y)| x.is_finite() && y.is_finite()) {
            out.push_str(&format!(
                "<path d=\"{}\" fill=\"none\" stroke=\"#222222\" stroke-width=\"0.35\"/>\n",
                path(&points, false)
            ));
        }
    }
    out.push_str(&circles(blank, lay, row, &chart, bounds));
    let scale = format!("scale {} : 1", fixed(chart.scale, 2));
    // Likewise.
    out.push_str(&format!(
        "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"2.3\" fill=\"#fafafa\"/>\n",
        mm(left + 0.5),
        mm(top + high - 2.7),
        mm(text_width_mm(&scale, 2.2) + 0.6)
    ));
    out.push_str(&words(left + 0.8, top + high - 0.8, 2.2, &scale));
    out
}

/// Tissot's ellipses over a piece's box.
fn circles(blank: &Blank, lay: &Lay, row: &LaysRow<'_>, chart: &Chart, bounds: Bounds) -> String {
    let (from, to) = row.bounds;
    let radius_mm = (to.0 - from.0).max(to.1 - from.1) / f64::from(CIRCLES) / 3.2;
    // As many along the shorter side as do not cover each other.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let along = |side_mm: f64| ((side_mm / (3.2 * radius_mm)).round() as u32).clamp(1, CIRCLES);
    let (rows, columns) = (along(to.0 - from.0), along(to.1 - from.1));
    let share = |k: u32, of: u32| (f64::from(k) + 0.5) / f64::from(of);
    let mut out = String::new();
    for k in 0..rows * columns {
        let u = from.0 + (to.0 - from.0) * share(k / columns, rows);
        let v = from.1 + (to.1 - from.1) * share(k % columns, columns);
        let j = lay.jacobian(&blank.wall, u, v);
        let at = Distortion::of_jacobian(j);
        let (x, y) = chart.place(blank, &lay.map(&blank.wall, u, v, &mut 0));
        if !(at.is_finite() && x.is_finite() && y.is_finite()) {
            continue;
        }
        let points: Vec<(f64, f64)> = (0..32)
            .map(|k| {
                let (sin, cos) = (TAU * f64::from(k) / 32.0).sin_cos();
                let along = (j[0][0] * cos + j[0][1] * sin) * radius_mm * chart.scale;
                let around = (j[1][0] * cos + j[1][1] * sin) * radius_mm * chart.scale;
                (x - around, y - along)
            })
            .collect();
        let width = j[0][1].hypot(j[1][1]);
        let height = j[0][0].hypot(j[1][0]);
        let size = (width - 1.0).abs().max((height - 1.0).abs());
        let good = at.omega_rad < bounds.omega_rad && size < bounds.size;
        let (colour, weight) = if good { (GOOD, "0.25") } else { (BAD, "0.5") };
        out.push_str(&format!(
            "<path d=\"{}\" fill=\"{colour}\" fill-opacity=\"0.15\" stroke=\"{colour}\" \
             stroke-width=\"{weight}\"/>\n",
            path(&points, true)
        ));
    }
    out
}
