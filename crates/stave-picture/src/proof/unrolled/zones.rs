//! The zones of the unrolled wall, with what is kept clear around them.

use std::f64::consts::{PI, TAU};

use stave_setup::Zone;

use super::Unrolled;
use crate::draw::{Drawing, ZONE, ZONE_FILL};
use crate::proof::outline::thinned_with_s;
use crate::ware::{facet_style, facets};

impl Unrolled<'_> {
    pub(super) fn zones(&self, paper: &mut Drawing) {
        for (i, zone) in self.blank.zones.iter().enumerate() {
            let margin = self.margins_mm.get(i).copied().unwrap_or(0.0);
            for by in self.shifts(zone) {
                let turn = (zone.turn_rad.0 + by, zone.turn_rad.1 + by);
                let clear = self.zone_patch(zone, turn, margin);
                paper.shape(
                    &clear,
                    &format!(
                        "fill=\"none\" stroke=\"{ZONE}\" stroke-width=\"0.2\" \
                         stroke-dasharray=\"0.8 0.6\""
                    ),
                );
                let itself = self.zone_patch(zone, turn, 0.0);
                // See-through: what burns inside must be seen.
                paper.shape(
                    &itself,
                    &format!(
                        "fill=\"{ZONE_FILL}\" fill-opacity=\"0.45\" stroke=\"{ZONE}\" \
                         stroke-width=\"0.3\""
                    ),
                );
            }
        }
        self.facets(paper);
    }

    /// The edges of flat places, which are not on the wall and are burned by themselves.
    pub(super) fn facets(&self, paper: &mut Drawing) {
        let style = facet_style(self.plain);
        for facet in facets(self.blank).filter(|_| !self.plane) {
            for by in self.shifts(&facet) {
                let turn = (facet.turn_rad.0 + by, facet.turn_rad.1 + by);
                paper.shape(&self.zone_patch(&facet, turn, 0.0), &style);
            }
        }
    }

    /// By how many turns a zone is shifted to lie on the picture: twice where it passes the seam.
    /// The larger part comes first.
    pub(super) fn shifts(&self, zone: &Zone) -> Vec<f64> {
        let base = -TAU * ((zone.turn_rad.0 + PI) / TAU).floor();
        let mut found: Vec<f64> = vec![base];
        if zone.turn_rad.1 + base > PI {
            found.push(base - TAU);
        }
        let shown = |by: f64| (zone.turn_rad.1 + by).min(PI) - (zone.turn_rad.0 + by).max(-PI);
        found.sort_by(|a, b| shown(*b).total_cmp(&shown(*a)));
        found
    }

    /// A zone's patch widened by a margin, cut at the edges of the picture.
    pub(super) fn zone_patch(&self, zone: &Zone, turn: (f64, f64), margin: f64) -> Vec<(f64, f64)> {
        let wall = &self.blank.wall;
        let low = (wall.s_of_at(zone.at_mm.0) - margin).clamp(0.0, wall.length_mm());
        let high = (wall.s_of_at(zone.at_mm.1) + margin).clamp(0.0, wall.length_mm());
        let sections = thinned_with_s(&wall.sections_between(low, high), 0.05);
        let edge = |s: f64, radius: f64, turn: f64, sign: f64| {
            self.paper(s, (turn + sign * margin / radius).clamp(-PI, PI))
        };
        let mut points: Vec<_> =
            sections.iter().map(|(s, w)| edge(*s, w.radius_mm, turn.0, -1.0)).collect();
        points.extend(sections.iter().rev().map(|(s, w)| edge(*s, w.radius_mm, turn.1, 1.0)));
        points
    }
}
