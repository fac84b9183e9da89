//! The zones of the unrolled wall, with what is kept clear around them, and their names.

use std::f64::consts::{PI, TAU};

use kurbo::{Rect, Size};
use stave_setup::Zone;

use super::Unrolled;
use crate::draw::{Drawing, FACET, Room, ZONE, ZONE_FILL, ZONE_INK, cut, text_width_mm};
use crate::proof::outline::thinned_with_s;
use crate::proof::pins::Inked;
use crate::ware::{facet_style, facets};

/// The size of the zones' names, mm.
const NAME_MM: f64 = 2.4;

impl Unrolled<'_> {
    pub(super) fn zones(&self, paper: &mut Drawing, inked: Option<&Inked>) {
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
        self.zone_names(paper, inked);
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

    /// The zones' names, each above, below or beside its zone, where none meets another, off what
    /// burns if there is such a place.
    fn zone_names(&self, paper: &mut Drawing, inked: Option<&Inked>) {
        let (width, height) = self.size();
        let (left, top) = self.corner;
        let mut room = Room::new(Rect::new(left, top, left + width, top + height));
        let facets: Vec<Zone> = facets(self.blank).filter(|_| !self.plane).collect();
        let zones = self.blank.zones.iter().map(|zone| (zone, ZONE_INK));
        let all: Vec<(&Zone, &str)> =
            zones.chain(facets.iter().map(|zone| (zone, FACET))).collect();
        let boxes: Vec<Option<Rect>> = all
            .iter()
            .enumerate()
            .map(|(i, (zone, _))| {
                let by = *self.shifts(zone).first()?;
                let margin = self.margins_mm.get(i).copied().unwrap_or(0.0);
                let turn = (zone.turn_rad.0 + by, zone.turn_rad.1 + by);
                let patch = self.zone_patch(zone, turn, margin);
                let first = *patch.first()?;
                let start = Rect::from_points(first, first);
                Some(patch.iter().fold(start, |all, point| all.union_pt(*point)))
            })
            .collect();
        boxes.iter().flatten().for_each(|zone| room.take(*zone));
        for ((zone, ink), itself) in all.iter().zip(&boxes) {
            let Some(itself) = itself else { continue };
            let name = cut(&zone.name, NAME_MM, 0.5 * width);
            let size = Size::new(text_width_mm(&name, NAME_MM) + 1.0, 1.2 * NAME_MM);
            let middle = itself.center().x - 0.5 * size.width;
            let across = [middle, itself.x0, itself.x1 - size.width];
            let (above, below) = (itself.y0 - size.height - 0.3, itself.y1 + 0.3);
            let level = itself.center().y - 0.5 * size.height;
            let corners = across
                .iter()
                .flat_map(|x| [(*x, above), (*x, below)])
                .chain([(itself.x1 + 0.5, level), (itself.x0 - 0.5 - size.width, level)]);
            // A line or two farther off, where what burns is in the way.
            let farther = [above - size.height, below + size.height, below + 2.0 * size.height];
            let farther = across.iter().flat_map(|x| farther.map(|y| (*x, y)));
            let corners = corners.chain(farther);
            let bare = |corner: &(f64, f64)| {
                let takes = Rect::from_origin_size(*corner, size);
                !inked.is_some_and(|inked| inked.any(takes))
            };
            let found = room.place(size, corners.clone().filter(bare));
            if let Some(found) = found.or_else(|| room.place(size, corners)) {
                let at = (found.x0 + 0.5, found.y1 - 0.27 * NAME_MM);
                paper.text(at, NAME_MM, &format!("fill=\"{ink}\""), &name);
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
