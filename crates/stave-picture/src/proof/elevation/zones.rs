//! The zones of the piece seen from one side: marks on the wall, and what stands out of it.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use kurbo::Rect;
use stave_setup::{Facet, Zone};

use super::{Art, Elevation, STEP_RAD};
use crate::draw::{Drawing, SOFT, WARE, ZONE, ZONE_FILL};
use crate::proof::WallPlace;
use crate::proof::outline::thinned;
use crate::proof::ramp;
use crate::proof::unrolled::pictured;
use crate::ware::{PLACE_EDGE_MM, facet_style, place_edge};

/// The cosine of the turn from which a flat place is seen as a line.
const EDGE_ON: f64 = 1e-6;

impl Elevation<'_> {
    /// Zones without a rise: a hatched patch on the wall, where it is turned to the viewer.
    pub(super) fn marks(&self, paper: &mut Drawing) {
        for zone in self.blank.zones.iter().filter(|zone| zone.rise_mm == 0.0) {
            for (from, to) in self.seen_turns(zone, true) {
                let points = self.patch(zone, from, to, 0.0);
                paper.shape(
                    &points,
                    &format!(
                        "fill=\"none\" stroke=\"{ZONE}\" stroke-width=\"0.25\" \
                         stroke-dasharray=\"1 0.7\""
                    ),
                );
            }
        }
    }

    /// The edges of flat places, where they are turned to the viewer.
    pub(super) fn facets(&self, paper: &mut Drawing) {
        let style = facet_style(self.plain);
        for corners in self.blank.facets.iter().filter_map(|facet| self.facet(facet)) {
            paper.shape(&corners, &style);
        }
    }

    /// The corners of a flat place as it is seen, a line where it is seen from the side; `None`
    /// where it is turned away.
    fn facet(&self, facet: &Facet) -> Option<[(f64, f64); 4]> {
        let (sin, cos) = self.relative(facet.turn_rad).sin_cos();
        let half = 0.5 * facet.width_mm;
        let corner = |at_mm, side: f64| self.paper(at_mm, facet.height_mm * sin + side * cos);
        let (from, to) = facet.at_mm;
        let corners =
            [corner(from, -half), corner(to, -half), corner(to, half), corner(from, half)];
        (cos > -EDGE_ON).then_some(corners)
    }

    /// The flat place that is burned: its ground, what burns on it where it faces the viewer, and
    /// its edge around that.
    pub(super) fn place(&self, paper: &mut Drawing, art: &Art<'_>, facet: &Facet) {
        let Some(corners) = self.facet(facet) else { return };
        let edge = place_edge(self.plain);
        let cos = self.relative(facet.turn_rad).cos();
        if cos < EDGE_ON {
            return paper.line(&corners[..2], &format!("class=\"place\" {edge}"));
        }
        let first = Rect::from_points(corners[0], corners[0]);
        let box_mm = corners.iter().fold(first, |all, corner| all.union_pt(*corner));
        let ware = match self.blank.look.filter(|_| self.plain) {
            Some(look) => look.ware.to_string(),
            None => WARE.to_owned(),
        };
        let style = format!("class=\"place\" fill=\"{ware}\" {edge}");
        paper.rect(box_mm.inflate(0.5 * PLACE_EDGE_MM, 0.5 * PLACE_EDGE_MM), &style);
        let wall = |x: f64, y: f64| {
            let (at_mm, across_mm) = self.ware(x, y);
            // The plane is a wall that goes once around in its width.
            let (s_mm, share) = (at_mm - facet.at_mm.0, across_mm / cos / facet.width_mm);
            let shown = 0.0..=facet.at_mm.1 - facet.at_mm.0;
            let on = shown.contains(&s_mm) && share.abs() <= 0.5;
            on.then_some(WallPlace { s_mm, turn_rad: TAU * share })
        };
        pictured(paper, art, box_mm, self.dots_per_mm, wall);
    }

    /// How far anything is seen to reach to either side of the axis, mm.
    pub(super) fn reach_mm(&self) -> f64 {
        let wall = &self.blank.wall;
        let bosses = self.blank.zones.iter().filter(|zone| zone.rise_mm > 0.0);
        bosses.fold(wall.largest_radius_mm(), |most, zone| {
            let radii = self.zone_sections(zone);
            let out = radii.iter().map(|section| section.radius_mm + zone.rise_mm);
            let out = out.fold(0.0, f64::max);
            let seen = [true, false].map(|front| self.seen_turns(zone, front)).concat();
            let quarter = |from: f64, to: f64| {
                [-FRAC_PI_2, FRAC_PI_2].iter().any(|side| (from..=to).contains(side))
            };
            seen.into_iter().fold(most, |most, (from, to)| {
                let share = match quarter(from, to) {
                    true => 1.0,
                    false => from.sin().abs().max(to.sin().abs()),
                };
                most.max(out * share)
            })
        })
    }

    /// Zones that stand out: those parts turned to the viewer, or those behind that show past the
    /// edge.
    pub(super) fn bosses(&self, paper: &mut Drawing, front: bool) {
        for zone in self.blank.zones.iter().filter(|zone| zone.rise_mm > 0.0) {
            for (from, to) in self.seen_turns(zone, front) {
                let outer = self.patch(zone, from, to, zone.rise_mm);
                let (edge, face, flank) = match self.blank.look {
                    Some(look) if self.plain => {
                        (SOFT, ramp::shade(look.ware, 1.05), ramp::shade(look.ware, 0.84))
                    }
                    _ if self.plain => (SOFT, "#e4e3dd".to_owned(), "#cfcec8".to_owned()),
                    _ => (ZONE, ZONE_FILL.to_owned(), "#e2b596".to_owned()),
                };
                let style =
                    format!("stroke=\"{edge}\" stroke-width=\"0.25\" stroke-linejoin=\"round\"");
                let (face, flank) =
                    (format!("fill=\"{face}\" {style}"), format!("fill=\"{flank}\" {style}"));
                // Its flanks, then its face.
                for side in [from, to] {
                    paper.shape(&self.flank(zone, side), &flank);
                }
                if front {
                    paper.shape(&outer, &face);
                } else {
                    paper.shape(&self.patch(zone, from, to, 0.0), &flank);
                    paper.shape(&outer, &flank);
                }
            }
        }
    }

    /// The parts of a zone's turns that face the viewer (or face away), relative to the viewer.
    fn seen_turns(&self, zone: &Zone, front: bool) -> Vec<(f64, f64)> {
        let width = zone.turn_rad.1 - zone.turn_rad.0;
        let from = self.relative(zone.turn_rad.0);
        let mut parts = Vec::new();
        for shift in [-TAU, 0.0, TAU] {
            let halves: [(f64, f64); 1] =
                if front { [(-FRAC_PI_2, FRAC_PI_2)] } else { [(FRAC_PI_2, PI + FRAC_PI_2)] };
            for half in halves {
                let part = ((from + shift).max(half.0), (from + shift + width).min(half.1));
                if part.1 > part.0 + 1e-9 {
                    parts.push(part);
                }
            }
        }
        parts
    }

    fn zone_sections(&self, zone: &Zone) -> Vec<stave_wall::Section> {
        let wall = &self.blank.wall;
        let s = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
        thinned(&wall.sections_between(s.0, s.1), 0.02)
    }

    /// The patch of a zone at a height above the wall, between two turns from the viewer.
    fn patch(&self, zone: &Zone, from: f64, to: f64, rise: f64) -> Vec<(f64, f64)> {
        let sections = self.zone_sections(zone);
        let edge = |section: &stave_wall::Section, turn: f64| {
            self.paper(section.at_mm, (section.radius_mm + rise) * turn.sin())
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let steps = ((to - from) / STEP_RAD).ceil().clamp(1.0, 400.0) as u32;
        // Seen straight from the side a circle around is a line, so its ends are enough but where
        // it turns back on itself.
        let turns = (0..=steps).map(|k| from + (to - from) * f64::from(k) / f64::from(steps));
        let widest = |sign: f64| {
            turns
                .clone()
                .max_by(|a, b| (sign * a.sin()).total_cmp(&(sign * b.sin())))
                .unwrap_or(from)
        };
        let (low, high) = (widest(-1.0), widest(1.0));
        let mut points: Vec<_> = sections.iter().map(|section| edge(section, low)).collect();
        points.extend(sections.iter().rev().map(|section| edge(section, high)));
        points
    }

    /// The side of a boss at one of its turns.
    fn flank(&self, zone: &Zone, turn: f64) -> Vec<(f64, f64)> {
        let sections = self.zone_sections(zone);
        let edge = |section: &stave_wall::Section, rise: f64| {
            self.paper(section.at_mm, (section.radius_mm + rise) * turn.sin())
        };
        let mut points: Vec<_> = sections.iter().map(|section| edge(section, 0.0)).collect();
        points.extend(sections.iter().rev().map(|section| edge(section, zone.rise_mm)));
        points
    }
}
