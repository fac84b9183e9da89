//! Zones on the page: what burns in them, and what covers them.

use std::f64::consts::TAU;

use kurbo::{BezPath, Point, Rect, Shape as _};
use stave_toolpath::art::Rule;
use stave_wall::{Laid, Lay};

use super::{Event, Redraw, holds, image};
use stave_rig::Misfit;

/// How far apart looks along a curve are taken for zones, mm in the flat plane.
const LOOK_MM: f64 = 0.25;
/// How far apart the corners of a cover's sides lie along the meridian, mm.
const SIDE_MM: f64 = 0.5;

/// A burn in a zone or its margin.
#[derive(Clone, Debug, PartialEq)]
pub struct ZoneHit {
    /// The zone's name.
    pub zone: String,
    /// Where along the axis, mm.
    pub at_mm: f64,
    /// Where around, rad.
    pub turn_rad: f64,
}

fn turned(place: &Laid, turns: f64) -> Laid {
    Laid { turn_rad: place.turn_rad + turns * TAU, ..*place }
}

impl Redraw<'_> {
    /// The zones that those parts of flat curves burn in that lie in a box, mm; one place of each.
    /// `area` says by which rule what they enclose burns too; `None` for lines.
    #[must_use]
    pub fn zone_hits(
        &self,
        lay: &Lay,
        flat: &BezPath,
        area: Option<Rule>,
        within: Rect,
    ) -> Vec<ZoneHit> {
        let mut hits: Vec<ZoneHit> = Vec::new();
        if self.keepouts.is_empty() {
            return hits;
        }
        let mut hit = |zone: &str, place: &Laid| {
            if !hits.iter().any(|known| known.zone == zone) {
                hits.push(ZoneHit {
                    zone: zone.to_owned(),
                    at_mm: place.section.at_mm,
                    turn_rad: place.turn_rad,
                });
            }
        };
        // The closure below has no errors of its own.
        let _ = self.each_segment(flat, |event| {
            let curve = match event {
                Event::Begin(at) => {
                    let place = self.place(lay, at);
                    if let Some(zone) = self.keepouts.holds(&place).filter(|_| holds(within, at)) {
                        hit(&zone.name, &place);
                    }
                    return Ok::<(), Misfit>(());
                }
                Event::Curve(curve) => curve,
                Event::Close => return Ok(()),
            };
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps = (image::length_at_most(curve) / LOOK_MM).ceil().clamp(8.0, 4096.0) as usize;
            let mut crossings = vec![0.0];
            let mut place = |t: f64| self.place(lay, image::eval(curve, t));
            self.keepouts.crossings(&mut place, 0.0, 1.0, steps, &mut crossings);
            crossings.push(1.0);
            for pair in crossings.windows(2) {
                let t = 0.5 * (pair[0] + pair[1]);
                let middle = place(t);
                let seen = holds(within, image::eval(curve, t));
                if let Some(zone) = self.keepouts.holds(&middle).filter(|_| seen) {
                    hit(&zone.name, &middle);
                }
            }
            Ok(())
        });
        let Some(rule) = area else { return hits };
        // A zone may lie wholly within an area.
        let laid = self.path(lay, flat, &mut super::Extent::NOTHING.clone()).unwrap_or_default();
        let bounds = laid.bounding_box();
        for (name, middle) in self.zone_middles() {
            // Every turn of it that the area may reach.
            let per_turn = self.on_page(&turned(&middle, 1.0)).y - self.on_page(&middle).y;
            let turns = |edge: f64| (edge - self.on_page(&middle).y) / per_turn;
            let (one, other) = (turns(bounds.y0), turns(bounds.y1));
            let mut turn = one.min(other).ceil();
            while turn <= one.max(other) {
                let place = turned(&middle, turn);
                let winding = laid.winding(self.on_page(&place));
                let inside = rule.holds(winding);
                let flat = lay.flat(self.wall, place.s_mm, place.turn_rad);
                if inside && flat.is_none_or(|(u, v)| holds(within, Point::new(u, v))) {
                    hit(&name, &place);
                }
                turn += 1.0;
            }
        }
        hits
    }

    fn zone_middles(&self) -> Vec<(String, Laid)> {
        let zones = self.setup.blank.zones.iter().map(|zone| {
            let s_mm = self.wall.s_of_at(0.5 * (zone.at_mm.0 + zone.at_mm.1));
            let section = self.wall.section(s_mm, &mut 0);
            let turn_rad = 0.5 * (zone.turn_rad.0 + zone.turn_rad.1);
            (zone.name.clone(), Laid { s_mm, turn_rad, span: self.wall.span_of(s_mm, 0), section })
        });
        zones.collect()
    }

    /// For each zone its name and what covers it and its margin on the page, as often as it lies
    /// between `from_mm` and `to_mm` around; what lies beyond is cut off.
    #[must_use]
    pub fn zone_covers(&self, from_mm: f64, to_mm: f64) -> Vec<(String, BezPath)> {
        let circumference = TAU * self.told_radius_mm;
        let zones = &self.setup.blank.zones;
        let covers = zones.iter().map(|zone| {
            let margin_mm = self.setup.zone_margin_mm(zone);
            let ends = (
                self.wall.s_of_at(zone.at_mm.0) - margin_mm,
                self.wall.s_of_at(zone.at_mm.1) + margin_mm,
            );
            let stops = self.stops(ends.0, ends.1);
            let side = |turn_rad: f64, out: f64| -> Vec<Point> {
                let point = |&s_mm: &f64| {
                    let section = self.wall.section(s_mm, &mut 0);
                    let turn_rad = turn_rad + out * margin_mm / section.radius_mm;
                    self.on_page(&Laid { s_mm, turn_rad, span: 0, section })
                };
                stops.iter().map(point).collect()
            };
            let (mut first, mut second) = (side(zone.turn_rad.0, -1.0), side(zone.turn_rad.1, 1.0));
            second.reverse();
            first.append(&mut second);
            let (low, high) =
                first.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| {
                    (low.min(p.y), high.max(p.y))
                });
            let mut cover = BezPath::new();
            let mut shift = ((from_mm - high) / circumference).ceil() * circumference;
            while low + shift < to_mm && shift.is_finite() {
                let corner = |p: &Point| Point::new(p.x, (p.y + shift).clamp(from_mm, to_mm));
                for (index, p) in first.iter().enumerate() {
                    if index == 0 { cover.move_to(corner(p)) } else { cover.line_to(corner(p)) }
                }
                cover.close_path();
                shift += circumference;
            }
            (zone.name.clone(), cover)
        });
        covers.collect()
    }

    /// Places along the meridian from one to another, no farther apart than a cover needs, every
    /// station among them.
    fn stops(&self, from_s_mm: f64, to_s_mm: f64) -> Vec<f64> {
        let stations = self.wall.span_ends_mm().iter().copied();
        let mut marks = vec![from_s_mm];
        marks.extend(stations.filter(|s| *s > from_s_mm && *s < to_s_mm));
        marks.push(to_s_mm);
        let mut stops = vec![from_s_mm];
        for pair in marks.windows(2) {
            let steps = ((pair[1] - pair[0]) / SIDE_MM).ceil().clamp(1.0, 2000.0);
            let mut k = 1.0;
            while k <= steps {
                stops.push(pair[0] + (pair[1] - pair[0]) * k / steps);
                k += 1.0;
            }
        }
        stops
    }
}
