//! What the page itself shows: outline, steep stretches, turns, zones, stations, where the lens is
//! sharp.

use std::f64::consts::PI;

use super::page::Page;
use crate::draw::{Drawing, FACET, ZONE, ZONE_FILL};
use crate::steep::steep_s_mm;

const DASHES: &str = "stroke-dasharray=\"3 1\"";

/// How broad the strip is that shows where the lens is sharp.
const FOCUS_STRIP_MM: f64 = 2.0;

/// The wall's edge.
pub(crate) fn outline(page: &Page<'_>) -> Drawing {
    let mut points = page.meridian(-PI, 0.0, page.length_mm);
    points.extend(page.meridian(PI, 0.0, page.length_mm).into_iter().rev());
    let mut out = Drawing::default();
    out.shape(&points, "");
    out
}

/// The stretches where the wall is steep, shaded.
pub(crate) fn slope(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    for stretch in steep_s_mm(&page.blank.wall) {
        let points = page.patch((-PI, PI), stretch, 0.0);
        out.shape(&points, "fill=\"#e3e3e3\" stroke=\"none\"");
    }
    out
}

/// Front and quarters.
pub(crate) fn turns(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    let lines = [(0.0, "6 1 1 1"), (-0.5 * PI, "2 1"), (0.5 * PI, "2 1")];
    let lines = if page.setting.is_plane { &lines[..1] } else { &lines };
    for &(turn, dashes) in lines {
        let style = format!("stroke=\"#777777\" stroke-dasharray=\"{dashes}\"");
        out.line(&page.meridian(turn, 0.0, page.length_mm), &style);
    }
    out
}

/// Where the lens is sharp: a strip along either edge of the page.
pub(crate) fn focus(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    for strip in focus_strips(page) {
        out.shape(&strip, "class=\"sharp\" fill=\"#bcd3dd\" stroke=\"#2f6577\"");
    }
    out
}

/// The corners of those strips.
pub(crate) fn focus_strips(page: &Page<'_>) -> Vec<[(f64, f64); 4]> {
    let stretches = page.setting.sharp.iter().flat_map(|sharp| &sharp.s_mm);
    let strip = |&(from, to): &(f64, f64), side: f64| {
        let edge = |s: f64, inside_mm: f64| {
            let around = PI * page.per_rad(&page.section(s));
            page.place(s, side * (around - inside_mm))
        };
        [edge(from, 0.0), edge(to, 0.0), edge(to, FOCUS_STRIP_MM), edge(from, FOCUS_STRIP_MM)]
    };
    stretches.flat_map(|stretch| [-1.0, 1.0].map(|side| strip(stretch, side))).collect()
}

/// Zones with their margins.
pub(crate) fn zones(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    for zone in &page.blank.zones {
        // A zone over the seam shows at both edges of the page.
        for (s, turn) in page.shown(zone) {
            let clear = page.patch(turn, s, page.margin_mm(zone));
            let itself = page.patch(turn, s, 0.0);
            out.shape(&clear, &format!("stroke=\"{ZONE}\" stroke-dasharray=\"1 1\""));
            out.shape(&itself, &format!("fill=\"{ZONE_FILL}\" stroke=\"{ZONE}\""));
        }
    }
    out
}

/// The edges of flat places, which are not on the wall and are burned by themselves.
pub(crate) fn facets(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    for facet in page.facets() {
        for (s, turn) in page.shown(&facet) {
            out.shape(&page.patch(turn, s, 0.0), &format!("stroke=\"{FACET}\" {DASHES}"));
        }
    }
    out
}

/// A line at every station that is drawn.
pub(crate) fn stations(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    for station in page.drawn_stations() {
        let s = page.blank.wall.s_of_at(station.at_mm);
        let around = PI * page.per_rad(&page.section(s));
        out.line(&[page.place(s, around), page.place(s, -around)], "stroke=\"#bbbbbb\"");
    }
    out
}
