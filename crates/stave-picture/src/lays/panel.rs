//! One panel: a piece on the unrolled wall under one lay.

use std::f64::consts::TAU;

use kurbo::{Point, Rect};
use stave_setup::Blank;
use stave_toolpath::number::fixed;
use stave_wall::{Distortion, Laid, Lay};

use super::{
    Bounds, INSET_MM, LayArea, LayPaint, LayPainted, LayPanel, LaysRow, REASON_LEADING_MM,
    REASON_MM, STATION_MM, path, reason, reason_mm, station_name, station_names_mm, words,
};
use crate::draw::{INK, spread, text_width_mm};
use crate::proof::true_across_mm;
use crate::svg::{escaped, mm};

/// Circles along a side of a piece's box.
const CIRCLES: u32 = 4;
/// Blue for circles that come out well, vermilion for those that do not: two of the colours of M.
/// Okabe and K. Ito, *Color Universal Design* (2008; from memory), which all kinds of colour vision
/// tell apart. The bad ones have the thicker line as well.
const GOOD: &str = "#0072b2";
const BAD: &str = "#d55e00";
/// Areas that burn: grey, so that the circles show on them. The ground is that of bare ware too.
const AREA: &str = "#9c9c98";
const GROUND: &str = "#fafafa";
/// An outline that comes to lie nearer than this to where it was drawn is not drawn twice, mm.
const APART_MM: f64 = 0.3;

/// What the scale takes at the foot of a panel, mm.
const SCALE_ROW_MM: f64 = 2.9;

/// How many times as far as the piece itself its circles may reach.
const MOST_REACH: f64 = 1.5;

/// Half of the widest line around a panel, mm.
const FRAME_MM: f64 = 0.3;

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

/// A panel with its words above it; `clip` begins the names of what it defines.
pub(super) fn panel_svg(
    blank: &Blank,
    (row, panel): (&LaysRow<'_>, &LayPanel<'_>),
    bounds: Bounds,
    ((left, top), (wide, high)): ((f64, f64), (f64, f64)),
    clip: &str,
) -> String {
    let mut out = String::new();
    let (line, weight) = if panel.best { ("#222222", "0.6") } else { ("#bbbbbb", "0.25") };
    let high = if panel.lay.is_some() { high } else { reason_mm(panel, wide) };
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
    let Some(lay) = panel.lay else {
        for (y, line) in (1..).zip(reason(panel, wide)) {
            let y = top + 0.9 + REASON_LEADING_MM * f64::from(y);
            out.push_str(&words(left + 2.0, y, REASON_MM, &line));
        }
        return out;
    };
    out.push_str(&words(left, top - 1.5, 2.6, &panel.figures));
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
    // Its box may come to reach farther than the piece; where much farther, only what of its
    // circles is near is shown.
    let circles = circles(blank, lay, row, bounds);
    let of_circles = circles.iter().flat_map(|circle| circle.on(blank, &chart));
    // They may stand in what is kept clear around the piece, off the scale.
    let clear = (room.0 + INSET_MM - 1.6, room.1 + INSET_MM - SCALE_ROW_MM - 0.4);
    let of_circles = of_circles.map(|(x, y)| {
        ((x - chart.middle.0).abs() / clear.0).max((y - chart.middle.1).abs() / clear.1)
    });
    let most = of_circles.filter(|r| r.is_finite()).fold(reach, f64::max);
    chart.scale = 1.0 / most.min(MOST_REACH * reach).max(1e-5);

    for (line, laid) in row.outlines.iter().zip(&laid) {
        let drawn: Vec<(f64, f64)> = line
            .iter()
            .map(|&(u, v)| {
                let (along, around) =
                    ((u - centre_flat.0) * chart.scale, (v - centre_flat.1) * chart.scale);
                (chart.middle.0 - around, chart.middle.1 - along)
            })
            .collect();
        let lies = laid.iter().map(|place| chart.place(blank, place));
        let apart = drawn.iter().zip(lies).map(|(a, b)| (a.0 - b.0).hypot(a.1 - b.1));
        // A dash along the edge of what is painted would only fray it.
        if apart.fold(0.0, f64::max) < APART_MM {
            continue;
        }
        out.push_str(&format!(
            "<path d=\"{}\" fill=\"none\" stroke=\"#999999\" stroke-width=\"0.2\" \
             stroke-dasharray=\"1 0.8\"/>\n",
            path(&drawn, false)
        ));
    }
    let flat = Flat { blank, lay, chart: &chart };
    let painted = row.paints.iter().enumerate();
    let painted: String =
        painted.map(|(number, paint)| flat.painted(paint, &format!("{clip}-{number}"))).collect();
    if !painted.is_empty() {
        // What hides a part of the piece may reach far past it.
        out.push_str(&format!(
            "<clipPath id=\"{clip}\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\
             </clipPath>\n<g clip-path=\"url(#{clip})\">\n{painted}</g>\n",
            mm(left + FRAME_MM),
            mm(top + FRAME_MM),
            mm(wide - 2.0 * FRAME_MM),
            mm(high - 2.0 * FRAME_MM)
        ));
    }
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
        stations.push((y, station_name(blank, station)));
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
    // Beside the stations' names and above the scale.
    let within = Rect::new(left, top, left + wide - names_mm - 1.2, top + high - SCALE_ROW_MM);
    out.push_str(&ellipses(blank, &circles, &chart, within.inset(-FRAME_MM)));
    // On a wall that varies one scale holds at one width only.
    let holds = true_across_mm(blank).map(|_| {
        let across_mm = 2.0 * chart.centre.section.radius_mm;
        format!(" where ⌀ is {}", blank.unit().figure(across_mm, 1))
    });
    let scale = format!("scale {} : 1{}", fixed(chart.scale, 2), holds.unwrap_or_default());
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

/// The flat plane as it comes to lie in a panel.
struct Flat<'a> {
    blank: &'a Blank,
    lay: &'a Lay,
    chart: &'a Chart,
}

impl Flat<'_> {
    /// A part of the piece; nothing where it has no place.
    fn painted(&self, paint: &LayPaint, clip: &str) -> String {
        let ways: Vec<Vec<(f64, f64)>> = paint.lines.iter().map(|line| self.places(line)).collect();
        if ways.iter().flatten().any(|(x, y)| !(x.is_finite() && y.is_finite())) {
            return String::new();
        }
        let closed = paint.how != LayPainted::Line;
        let d: String = ways.iter().map(|way| path(way, closed)).collect();
        let style = match paint.how {
            LayPainted::Line => {
                format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"0.35\"")
            }
            LayPainted::Area { even_odd } => format!("fill=\"{AREA}\"{}", rule(even_odd)),
            LayPainted::Bare { even_odd } => format!("fill=\"{GROUND}\"{}", rule(even_odd)),
        };
        let mut out = format!("<path d=\"{d}\" {style}/>\n");
        for (number, areas) in paint.clips.iter().enumerate() {
            let Some(areas) = self.areas(areas) else { continue };
            let id = format!("{clip}-{number}");
            out = format!(
                "<clipPath id=\"{id}\">{areas}</clipPath>\n\
                 <g clip-path=\"url(#{id})\">\n{out}</g>\n"
            );
        }
        out
    }

    /// The areas of a clip; `None` where one has no place, and is no clip then.
    fn areas(&self, areas: &[LayArea]) -> Option<String> {
        let mut out = String::new();
        for (lines, even_odd) in areas {
            let ways: Vec<Vec<(f64, f64)>> = lines.iter().map(|line| self.places(line)).collect();
            if ways.iter().flatten().any(|(x, y)| !(x.is_finite() && y.is_finite())) {
                return None;
            }
            let d: String = ways.iter().map(|way| path(way, true)).collect();
            let rule = if *even_odd { " clip-rule=\"evenodd\"" } else { "" };
            out.push_str(&format!("<path d=\"{d}\"{rule}/>"));
        }
        Some(out)
    }

    fn places(&self, line: &[(f64, f64)]) -> Vec<(f64, f64)> {
        let wall = &self.blank.wall;
        let place =
            |&(u, v): &(f64, f64)| self.chart.place(self.blank, &self.lay.map(wall, u, v, &mut 0));
        line.iter().map(place).collect()
    }
}

fn rule(even_odd: bool) -> &'static str {
    if even_odd { " fill-rule=\"evenodd\"" } else { "" }
}

/// A circle of the drawing as it comes out on the wall (Tissot's indicatrix).
struct Circle {
    at: Laid,
    /// From its middle on the panel to its points, at a scale of 1.
    points: Vec<(f64, f64)>,
    is_good: bool,
}

impl Circle {
    /// Its points on a panel.
    fn on(&self, blank: &Blank, chart: &Chart) -> impl Iterator<Item = (f64, f64)> {
        let (x, y) = chart.place(blank, &self.at);
        let scale = chart.scale;
        self.points.iter().map(move |(dx, dy)| (x + scale * dx, y + scale * dy))
    }
}

/// Circles over a piece's box; those that come out nowhere are left out.
fn circles(blank: &Blank, lay: &Lay, row: &LaysRow<'_>, bounds: Bounds) -> Vec<Circle> {
    let (from, to) = row.bounds;
    let radius_mm = (to.0 - from.0).max(to.1 - from.1) / f64::from(CIRCLES) / 3.2;
    // As many along the shorter side as do not cover each other.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let along = |side_mm: f64| ((side_mm / (3.2 * radius_mm)).round() as u32).clamp(1, CIRCLES);
    let (rows, columns) = (along(to.0 - from.0), along(to.1 - from.1));
    let share = |k: u32, of: u32| (f64::from(k) + 0.5) / f64::from(of);
    let circle = |k: u32| {
        let u = from.0 + (to.0 - from.0) * share(k / columns, rows);
        let v = from.1 + (to.1 - from.1) * share(k % columns, columns);
        let j = lay.jacobian(&blank.wall, u, v);
        let distortion = Distortion::of_jacobian(j);
        let at = lay.map(&blank.wall, u, v, &mut 0);
        if !(distortion.is_finite() && at.s_mm.is_finite() && at.turn_rad.is_finite()) {
            return None;
        }
        let points = (0..32).map(|k| {
            let (sin, cos) = (TAU * f64::from(k) / 32.0).sin_cos();
            let along = (j[0][0] * cos + j[0][1] * sin) * radius_mm;
            let around = (j[1][0] * cos + j[1][1] * sin) * radius_mm;
            (-around, -along)
        });
        let width = j[0][1].hypot(j[1][1]);
        let height = j[0][0].hypot(j[1][0]);
        let size = (width - 1.0).abs().max((height - 1.0).abs());
        let is_good = distortion.omega_rad < bounds.omega_rad && size < bounds.size;
        Some(Circle { at, points: points.collect(), is_good })
    };
    (0..rows * columns).filter_map(circle).collect()
}

/// The ellipses that lie within a part of the panel.
fn ellipses(blank: &Blank, circles: &[Circle], chart: &Chart, within: Rect) -> String {
    let mut out = String::new();
    for circle in circles {
        let points: Vec<(f64, f64)> = circle.on(blank, chart).collect();
        if !points.iter().all(|point| within.contains(Point::from(*point))) {
            continue;
        }
        let (colour, weight) = if circle.is_good { (GOOD, "0.25") } else { (BAD, "0.5") };
        out.push_str(&format!(
            "<path d=\"{}\" fill=\"{colour}\" fill-opacity=\"0.15\" stroke=\"{colour}\" \
             stroke-width=\"{weight}\"/>\n",
            path(&points, true)
        ));
    }
    out
}
