//! The wall rolled out flat: turns one way, the meridian the other.

use std::f64::consts::{PI, TAU};

use kurbo::{Rect, Size};
use stave_setup::{Blank, Stands, Zone};
use stave_toolpath::number::fixed;

use super::burn_map::WallPlace;
use super::elevation::{Art, FOOT};
use super::png::{Picture, encode};
use super::sheet::DOTS_PER_MM;
use super::{Lies, ProofParts, Remark, Weight};
use crate::draw::{
    Dimension, Drawing, HAIR, INK, Room, SOFT, WARE, ZONE, ZONE_FILL, cut, dimension,
    dimensions_in_line, spread, text_width_mm,
};
use crate::steep::steep_s_mm;

/// Sizes of the zones' and the stations' names, mm.
const NAME_MM: f64 = 2.4;
const STATION_MM: f64 = 2.3;

/// The unrolled wall on paper.
pub(crate) struct Unrolled<'a> {
    pub(crate) blank: &'a Blank,
    pub(crate) stands: Stands,
    pub(crate) margins_mm: &'a [f64],
    /// mm of paper for a mm along the meridian, and around where the wall is widest.
    pub(crate) scale: f64,
    /// Upper left corner on the paper.
    pub(crate) corner: (f64, f64),
    pub(crate) dots_per_mm: f64,
    /// For the customer: the ware as it is, without the marks of the bench.
    pub(crate) plain: bool,
    /// A flat place: what goes across it is mm, and it has no turns and no diameters.
    pub(crate) plane: bool,
}

/// The extent at scale 1, mm: width and height on paper.
pub(crate) fn extent(blank: &Blank, stands: Stands) -> (f64, f64) {
    let (along, around) = (blank.wall.length_mm(), TAU * blank.wall.largest_radius_mm());
    if stands == Stands::Lying { (along, around) } else { (around, along) }
}

impl<'a> Unrolled<'a> {
    /// A flat place as a customer sees it, as large as a room of mm by mm holds it, and its size on
    /// the paper; its corner is for the caller to set.
    pub(super) fn of_plane(proof: &'a ProofParts<'_>, room_mm: (f64, f64)) -> (Self, (f64, f64)) {
        let (width, height) = extent(proof.blank, proof.stands);
        let plane = Self {
            blank: proof.blank,
            stands: proof.stands,
            margins_mm: &proof.margins_mm,
            scale: (room_mm.0 / width).min(room_mm.1 / height),
            corner: (0.0, 0.0),
            dots_per_mm: DOTS_PER_MM,
            plain: true,
            plane: true,
        };
        let size = plane.size();
        (plane, size)
    }
}

impl Unrolled<'_> {
    pub(super) fn size(&self) -> (f64, f64) {
        let (width, height) = extent(self.blank, self.stands);
        (self.scale * width, self.scale * height)
    }

    pub(super) fn paper(&self, s_mm: f64, turn_rad: f64) -> (f64, f64) {
        let (width, height) = self.size();
        let (x, y) = self.corner;
        let along = self.scale * s_mm;
        let around = self.scale * turn_rad * self.blank.wall.largest_radius_mm();
        match self.stands {
            Stands::Lying => (x + along, y + 0.5 * height - around),
            Stands::Inverted => (x + 0.5 * width + around, y + along),
            Stands::Upright => (x + 0.5 * width - around, y + height - along),
        }
    }

    /// The wall's place of a point given as shares of the width and the height.
    fn wall(&self, fx: f64, fy: f64) -> WallPlace {
        let length = self.blank.wall.length_mm();
        let (along, around) = match self.stands {
            Stands::Lying => (fx, 0.5 - fy),
            Stands::Inverted => (fy, fx - 0.5),
            Stands::Upright => (1.0 - fy, 0.5 - fx),
        };
        WallPlace { s_mm: along * length, turn_rad: around * TAU }
    }

    pub(crate) fn draw(&self, art: &Art<'_>, findings: &[Remark]) -> Drawing {
        let mut paper = Drawing::default();
        if self.plain {
            self.plain_ground(&mut paper);
        } else {
            self.ground(&mut paper);
        }
        self.art(&mut paper, art);
        if !self.plain {
            self.zones(&mut paper);
        }
        let length = self.blank.wall.length_mm();
        let frame = [
            self.paper(0.0, -PI),
            self.paper(0.0, PI),
            self.paper(length, PI),
            self.paper(length, -PI),
        ];
        paper.shape(&frame, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"0.3\""));
        if !self.plain {
            self.ruler(&mut paper);
        }
        for (i, finding) in findings.iter().enumerate() {
            if let Some(place) = finding.place {
                let turn = (place.turn_rad + PI).rem_euclid(TAU) - PI;
                let at = self.paper(place.s_mm.clamp(0.0, length), turn);
                paper.flag(at, i + 1, finding.severity == Weight::Error);
            }
        }
        paper
    }

    fn band(&self, paper: &mut Drawing, s: (f64, f64), style: &str) {
        paper.shape(
            &[self.paper(s.0, -PI), self.paper(s.0, PI), self.paper(s.1, PI), self.paper(s.1, -PI)],
            style,
        );
    }

    /// The wall in its own colour, and where something stands out of it.
    fn plain_ground(&self, paper: &mut Drawing) {
        let ware = self.blank.look.map_or_else(|| WARE.to_owned(), |look| look.ware.to_string());
        let style = format!("fill=\"{ware}\" stroke=\"none\"");
        self.band(paper, (0.0, self.blank.wall.length_mm()), &style);
        for zone in self.blank.zones.iter().filter(|zone| zone.rise_mm > 0.0) {
            for by in self.shifts(zone) {
                let turn = (zone.turn_rad.0 + by, zone.turn_rad.1 + by);
                let style = format!("fill=\"none\" stroke=\"{SOFT}\" stroke-width=\"0.2\"");
                paper.shape(&self.zone_patch(zone, turn, 0.0), &style);
            }
        }
    }

    /// The wall, its steep stretches darker, a line at every station.
    fn ground(&self, paper: &mut Drawing) {
        let wall = &self.blank.wall;
        self.band(paper, (0.0, wall.length_mm()), &format!("fill=\"{WARE}\" stroke=\"none\""));
        for stretch in steep_s_mm(wall) {
            self.band(paper, stretch, "class=\"steep\" fill=\"#dddbd3\" stroke=\"none\"");
        }
        for station in &self.blank.stations {
            let s = wall.s_of_at(station.at_mm);
            paper.line(
                &[self.paper(s, -PI), self.paper(s, PI)],
                &format!("stroke=\"{HAIR}\" stroke-width=\"0.15\""),
            );
        }
        let quarters = [-0.5 * PI, 0.0, 0.5 * PI];
        for quarter in quarters.into_iter().filter(|turn| !self.plane || *turn == 0.0) {
            let ends = [self.paper(0.0, quarter), self.paper(wall.length_mm(), quarter)];
            paper.line(
                &ends,
                &format!("stroke=\"{HAIR}\" stroke-width=\"0.15\" stroke-dasharray=\"1.2 0.8\""),
            );
        }
    }

    fn art(&self, paper: &mut Drawing, art: &Art<'_>) {
        let (width, height) = self.size();
        let mut picture = Picture::new(width * self.dots_per_mm, height * self.dots_per_mm);
        let (columns, rows) = (picture.width as f64, picture.height as f64);
        let shadow = art.shadow();
        let look = |column: usize, row: usize, (i, j): (f64, f64)| {
            self.wall(
                (column as f64 + 0.5 + FOOT * (i - 1.0)) / columns,
                (row as f64 + 0.5 + FOOT * (j - 1.0)) / rows,
            )
        };
        let mut any = false;
        let mut places = Vec::with_capacity(9);
        for row in 0..picture.height {
            for column in 0..picture.width {
                let ends = [(0.0, 0.0), (2.0, 2.0)].map(|corner| look(column, row, corner));
                let [a, b] = ends;
                if !(shadow.along((a.s_mm, b.s_mm)) && shadow.around((a.turn_rad, b.turn_rad))) {
                    continue;
                }
                places.clear();
                places.extend(
                    (0..9).map(|k| Some(look(column, row, (f64::from(k % 3), f64::from(k / 3))))),
                );
                if let Some((colour, cover)) = art.seen(&places) {
                    picture.set(column, row, colour, cover);
                    any = true;
                }
            }
        }
        if any {
            paper.image(self.corner, (width, height), &encode(&picture));
        }
    }

    fn zones(&self, paper: &mut Drawing) {
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
        self.zone_names(paper);
    }

    /// The zones' names, each above, below or beside its zone, where none meets another.
    fn zone_names(&self, paper: &mut Drawing) {
        let (width, height) = self.size();
        let (left, top) = self.corner;
        let mut room = Room::new(Rect::new(left, top, left + width, top + height));
        let boxes: Vec<Option<Rect>> = (0..self.blank.zones.len())
            .map(|i| {
                let zone = self.blank.zones.get(i)?;
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
        for (zone, itself) in self.blank.zones.iter().zip(&boxes) {
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
            if let Some(found) = room.place(size, corners) {
                let at = (found.x0 + 0.5, found.y1 - 0.27 * NAME_MM);
                paper.text(at, NAME_MM, "fill=\"#8a3400\"", &name);
            }
        }
    }

    /// By how many turns a zone is shifted to lie on the picture: twice where it passes the seam.
    /// The larger part comes first.
    fn shifts(&self, zone: &Zone) -> Vec<f64> {
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
    fn zone_patch(&self, zone: &Zone, turn: (f64, f64), margin: f64) -> Vec<(f64, f64)> {
        let wall = &self.blank.wall;
        let low = (wall.s_of_at(zone.at_mm.0) - margin).clamp(0.0, wall.length_mm());
        let high = (wall.s_of_at(zone.at_mm.1) + margin).clamp(0.0, wall.length_mm());
        let sections = super::outline::thinned_with_s(&wall.sections_between(low, high), 0.05);
        let edge = |s: f64, radius: f64, turn: f64, sign: f64| {
            self.paper(s, (turn + sign * margin / radius).clamp(-PI, PI))
        };
        let mut points: Vec<_> =
            sections.iter().map(|(s, w)| edge(*s, w.radius_mm, turn.0, -1.0)).collect();
        points.extend(sections.iter().rev().map(|(s, w)| edge(*s, w.radius_mm, turn.1, 1.0)));
        points
    }

    /// How large the burned part is and where it stands: along at the left of the picture, around
    /// above it, where the ware is widest. For ware that lies the other way about.
    pub(crate) fn dimensions(&self, lies: &Lies) -> Drawing {
        let mut out = Drawing::default();
        let (Some((from, to)), Some((low, high))) = (lies.burned_s_mm, lies.burned_turn_rad) else {
            return out;
        };
        let wall = &self.blank.wall;
        let length = wall.length_mm();
        let mm = |value: f64| fixed(value, 1);
        let thin = format!("stroke=\"{HAIR}\" stroke-width=\"0.12\"");
        let whole_turn = high - low >= TAU - 1e-6;
        // The least turn on the picture, which runs from −180° to 180°.
        let shift = -TAU * ((low + PI) / TAU).floor();
        let (low, high) = if whole_turn { (-PI, PI) } else { (low + shift, high + shift) };
        let middle = wall.section(0.5 * (from + to), &mut 0);
        let width = format!("{} mm", mm((high - low).min(TAU) * middle.radius_mm));
        let lying = self.stands == Stands::Lying;
        let mut parts = Vec::with_capacity(3);
        for (a, b) in [(0.0, from), (from, to), (to, length)] {
            if b - a < 0.05 {
                continue;
            }
            let (a_at, b_at) = (self.paper(a, PI), self.paper(b, PI));
            let figure = mm(b - a);
            if lying {
                let y = self.corner.1 - 2.6;
                parts.push(Dimension { from: (a_at.0, y), to: (b_at.0, y), figure });
                out.line(&[(b_at.0, y), (b_at.0, self.corner.1)], &thin);
            } else {
                let x = self.corner.0 - 2.6;
                let (upper, lower) = if a_at.1 < b_at.1 { (a_at, b_at) } else { (b_at, a_at) };
                parts.push(Dimension { from: (x, upper.1), to: (x, lower.1), figure });
                out.line(&[(x, b_at.1), (self.corner.0, b_at.1)], &thin);
            }
        }
        dimensions_in_line(&mut out, parts);
        // Over the seam the part is not in one on the picture: its figure stands in the table.
        if high <= PI + 1e-9 && !whole_turn {
            let (a, b) = (self.paper(to, low), self.paper(to, high));
            if lying {
                let x = self.corner.0 - 12.0;
                let (upper, lower) = (a.1.min(b.1), a.1.max(b.1));
                dimension(&mut out, (x, upper), (x, lower), &width);
            } else {
                let y = self.corner.1 - 2.6;
                let (left, right) = (a.0.min(b.0), a.0.max(b.0));
                dimension(&mut out, (left, y), (right, y), &width);
                for x in [left, right] {
                    out.line(&[(x, y), (x, self.corner.1)], &thin);
                }
            }
        }
        out
    }

    /// Turns along one edge, stations along the other.
    fn ruler(&self, paper: &mut Drawing) {
        let lying = self.stands == Stands::Lying;
        let (_, height) = self.size();
        let bottom = self.corner.1 + height;
        let turns = [
            (-PI, "-180°"),
            (-0.5 * PI, "-90°"),
            (0.0, "turn 0°"),
            (0.5 * PI, "90°"),
            (PI, "180°"),
        ];
        let half_mm = PI * self.blank.wall.largest_radius_mm();
        let across = [(-PI, -half_mm), (0.0, 0.0), (PI, half_mm)];
        let across = across.map(|(turn, mm)| (turn, format!("{} mm", fixed(mm, 1))));
        let turns: Vec<(f64, String)> = match self.plane {
            true => across.into(),
            false => turns.iter().map(|(turn, name)| (*turn, (*name).to_owned())).collect(),
        };
        for (turn, name) in &turns {
            let at = self.paper(0.0, *turn);
            if lying {
                paper.text(
                    (self.corner.0 - 1.0, at.1 + 0.8),
                    2.3,
                    &format!("text-anchor=\"end\" fill=\"{SOFT}\""),
                    name,
                );
            } else {
                // The first keeps clear of the dimension lines to the left of the wall.
                let first = at.0 < self.corner.0 + 0.1;
                let anchor = if first { "start" } else { "middle" };
                paper.text(
                    (at.0, bottom + 3.2),
                    2.3,
                    &format!("text-anchor=\"{anchor}\" fill=\"{SOFT}\""),
                    name,
                );
            }
        }
        self.station_names(paper, bottom);
    }

    /// The stations along the edge, drawn apart where they crowd, with a leader to their lines.
    fn station_names(&self, paper: &mut Drawing, bottom: f64) {
        let lying = self.stands == Stands::Lying;
        let (width, height) = self.size();
        let mut places: Vec<(f64, String)> = self
            .blank
            .stations
            .iter()
            .map(|station| {
                let at = self.paper(self.blank.wall.s_of_at(station.at_mm), 0.0);
                let (place, across) = (station.at_mm, 2.0 * station.radius_mm);
                let name = match self.plane {
                    true => format!("at {}", fixed(place, 2)),
                    false => format!("at {} ⌀{}", fixed(place, 2), fixed(across, 2)),
                };
                (if lying { at.0 } else { at.1 }, name)
            })
            .collect();
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wanted: Vec<f64> = places.iter().map(|(at, _)| *at).collect();
        let soft = format!("fill=\"{SOFT}\"");
        if !lying {
            let most = self.corner.1 + height;
            let shown = spread(&wanted, STATION_MM * 1.2, (self.corner.1, most));
            let crowded = shown.windows(2).any(|pair| pair[1] - pair[0] < STATION_MM);
            for (k, ((at, name), y)) in places.iter().zip(shown).enumerate() {
                // More than the edge holds: every other one is left to its line.
                if crowded && k % 2 == 1 {
                    continue;
                }
                let right = self.corner.0 + width;
                let way = [(right + 2.8, y), (right + 1.2, y), (right, *at)];
                paper.line(&way, &format!("stroke=\"{HAIR}\" stroke-width=\"0.15\""));
                paper.text((right + 3.2, y + 0.8), STATION_MM, &soft, name);
            }
            return;
        }
        let mut free = f64::NEG_INFINITY;
        for (at, name) in places {
            let half = 0.5 * text_width_mm(&name, STATION_MM) + 0.5;
            if at - half < free {
                continue;
            }
            free = at + half;
            let style = format!("text-anchor=\"middle\" {soft}");
            paper.text((at, bottom + 3.2), STATION_MM, &style, &name);
        }
    }
}
