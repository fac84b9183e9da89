//! The lays beside each other: each piece on the unrolled wall, with what becomes of small circles.

mod panel;

use panel::panel_svg;
use stave_setup::Blank;
use stave_toolpath::number::fixed;
use stave_wall::{Lay, Station};

use crate::draw::{broken, dated, text_width_mm};
use crate::proof::true_across_mm;
use crate::svg::{escaped, isolated, mm};

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
const TITLE_MM: f64 = 4.5;
const GAP_MM: f64 = 5.0;
const EDGE_MM: f64 = 8.0;
/// The most pieces that are drawn; a page of more is none to look at.
pub const MOST_ROWS: usize = 12;
/// How large the reason is set why a lay has no place, mm, and from line to line.
const REASON_MM: f64 = 2.6;
const REASON_LEADING_MM: f64 = 3.6;
/// What print shows of a point's place, mm.
const SHOWN_MM: f64 = 0.015;
/// One piece under several lays.
#[derive(Clone, Debug)]
pub struct LaysRow<'a> {
    /// What to call it.
    pub name: &'a str,
    /// Its outlines in the flat plane, mm: `(u, v)`.
    pub outlines: &'a [Vec<(f64, f64)>],
    /// What is painted of it, in that order.
    pub paints: Vec<LayPaint>,
    /// Its box: the least and the greatest `(u, v)`.
    pub bounds: ((f64, f64), (f64, f64)),
    /// The lays, each in a panel of its own.
    pub panels: Vec<LayPanel<'a>>,
}

/// An area: closed lines, and whether its rule is even-odd.
pub type LayArea = (Vec<Vec<(f64, f64)>>, bool);

/// A part of a piece that is painted.
#[derive(Clone, Debug)]
pub struct LayPaint {
    /// Its lines in the flat plane, mm: `(u, v)`; of an area they are closed.
    pub lines: Vec<Vec<(f64, f64)>>,
    /// How it is painted.
    pub how: LayPainted,
    /// The areas to which it is confined, as closed lines and whether the rule is even-odd: a point
    /// lies in one of each list.
    pub clips: Vec<Vec<LayArea>>,
}

/// How a part of a piece is painted.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum LayPainted {
    /// An area that burns; its inside is where its lines wind around, or do so an odd number of
    /// times.
    Area {
        /// Which of the two.
        even_odd: bool,
    },
    /// A line that burns.
    Line,
    /// An area that does not burn and hides what lies beneath it.
    Bare {
        /// As of an area that burns.
        even_odd: bool,
    },
}

/// One lay of a piece.
#[derive(Clone, Debug)]
pub struct LayPanel<'a> {
    /// The lay; `None` where it has no place for the piece.
    pub lay: Option<&'a Lay>,
    /// Its name.
    pub name: &'a str,
    /// A line of figures; why it has no place, where it has none.
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
/// Lengths are true in the middle of the piece, at the scale and where the wall has the diameter
/// that are told. What burns is grey,
/// areas as areas. Thin level lines are the stations with their diameters, the dashed outline is
/// the piece as drawn, and each small ellipse a circle of the drawing as it comes out on the wall
/// (Tissot's indicatrix), at its own size there. The date stands above, if there is one.
#[must_use]
pub fn lays(blank: &Blank, date: &str, rows: &[LaysRow<'_>], bounds: Bounds) -> String {
    let shown = rows.len().min(MOST_ROWS);
    let width = 2.0 * EDGE_MM + 4.0 * PANEL_MM + 3.0 * GAP_MM;
    let rows_mm: f64 = rows.iter().take(shown).map(|row| row_mm(blank, row)).sum();
    let height = 2.0 * EDGE_MM + 8.0 + rows_mm + 19.0;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 \
         {w} {h}\" \
         font-family=\"sans-serif\" font-size=\"3.2\" fill=\"#222222\">\n<rect width=\"{w}\" \
                       height=\"{h}\" fill=\"#ffffff\"/>\n",
        w = mm(width),
        h = mm(height),
    );
    let title = format!("{}: the lays beside each other", isolated(&blank.name));
    let title = dated(&title, date, TITLE_MM, width - 2.0 * EDGE_MM);
    out.push_str(&words(EDGE_MM, EDGE_MM + 3.0, TITLE_MM, &title));
    let (mut top, mut drawn) = (EDGE_MM + 10.0, 0);
    for row in &rows[..shown] {
        out.push_str(&words(EDGE_MM, top + 2.0, 3.8, row.name));
        let (columns, size) = setting(blank, row);
        let mut corner = (EDGE_MM, top + WORDS_MM);
        for line in row.panels.chunks(columns) {
            for panel in line {
                let name = format!("clip{drawn}");
                drawn += 1;
                out.push_str(&panel_svg(blank, (row, panel), bounds, (corner, size), &name));
                corner.0 += size.0 + GAP_MM;
            }
            corner = (EDGE_MM, corner.1 + line_mm(line, size) + WORDS_MM);
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
    let mut note = format!(
        "Figures: the worst of the piece. Grey: what burns; dashed: as drawn. The wall is unrolled \
         so that angles are true; level lines: stations, diameters in {}.",
        blank.unit().many()
    );
    if rows.len() > shown {
        note.push_str(&format!(" {} more pieces are not shown.", rows.len() - shown));
    }
    out.push_str(&words(EDGE_MM, top + 7.0, 3.2, &note));
    if true_across_mm(blank).is_some() {
        let scale = "A panel's scale holds where the wall has the diameter that it tells; what \
                     lies where it is narrower is drawn larger, the ellipses apart: they are all \
                     drawn to that scale.";
        out.push_str(&words(EDGE_MM, top + 12.0, 3.2, scale));
    }
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
    let names = blank.stations.iter().map(|station| station_name(blank, station));
    names.map(|name| text_width_mm(&name, STATION_MM)).fold(0.0, f64::max)
}

fn station_name(blank: &Blank, station: &Station) -> String {
    format!("⌀{}", blank.unit().figure(2.0 * station.radius_mm, 1))
}

/// How much of the page a row takes, mm.
fn row_mm(blank: &Blank, row: &LaysRow<'_>) -> f64 {
    let (columns, size) = setting(blank, row);
    row.panels.chunks(columns).map(|line| line_mm(line, size) + WORDS_MM).sum::<f64>() + 8.0
}

/// How high the panels beside each other are, mm: where no lay has a place, only words are there.
fn line_mm(line: &[LayPanel<'_>], (wide, high): (f64, f64)) -> f64 {
    if line.iter().any(|panel| panel.lay.is_some()) {
        return high;
    }
    line.iter().map(|panel| reason_mm(panel, wide)).fold(0.0, f64::max)
}

/// Why a lay has no place, in lines that its panel holds, and how high that panel is, mm.
fn reason(panel: &LayPanel<'_>, wide_mm: f64) -> Vec<String> {
    broken(&format!("No place here: {}.", panel.figures), REASON_MM, wide_mm - 4.0)
}

fn reason_mm(panel: &LayPanel<'_>, wide_mm: f64) -> f64 {
    let lines = u32::try_from(reason(panel, wide_mm).len()).unwrap_or(u32::MAX);
    REASON_LEADING_MM * f64::from(lines) + 3.0
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
