//! The wall rolled out flat: turns one way, the meridian the other.

mod names;
mod sizes;
mod zones;

use std::f64::consts::{PI, TAU};

use kurbo::Rect;
use stave_setup::{Blank, Stands};

use super::burn_map::WallPlace;
use super::elevation::{Art, FOOT};
use super::pins::{self, Inked};
use super::png::Picture;
use super::sheet::DOTS_PER_MM;
use super::{ProofParts, Remark};
use crate::draw::{Drawing, HAIR, INK, SOFT, WARE};
use crate::steep::steep_s_mm;
use crate::ware::{PLACE_EDGE_MM, place_edge};

/// How far across the bench's sheet names and pins beside the picture may reach, mm.
const BESIDE_TO_MM: f64 = 128.0;
/// The line around it, mm.
const FRAME_MM: f64 = 0.3;
/// Widths that differ by no more than this share are alike: nobody sees it.
const ALIKE: f64 = 0.002;

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

    fn box_mm(&self) -> Rect {
        Rect::from_origin_size(self.corner, self.size())
    }

    /// The picture and what is left for names and pins to the right of it.
    fn beside_mm(&self) -> Rect {
        let all = self.box_mm();
        Rect { x1: all.x1.max(BESIDE_TO_MM), ..all }
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
        self.draw_with(art, findings, Drawing::default())
    }

    /// The same, with something over the art and under the findings.
    pub(super) fn draw_with(&self, art: &Art<'_>, findings: &[Remark], over: Drawing) -> Drawing {
        let mut paper = Drawing::default();
        if self.plain {
            self.plain_ground(&mut paper);
        } else {
            self.ground(&mut paper);
        }
        let box_mm = self.box_mm();
        // All of it outside, so that it hides nothing that burns at the edge.
        let (edge, weight) = match self.plane {
            true => (place_edge(self.plain), PLACE_EDGE_MM),
            false => (format!("stroke=\"{INK}\" stroke-width=\"{FRAME_MM}\""), FRAME_MM),
        };
        let style = format!("class=\"frame\" fill=\"none\" {edge}");
        paper.rect(box_mm.inflate(0.5 * weight, 0.5 * weight), &style);
        let inked = self.art(&mut paper, art).map(|picture| Inked::of(&picture, box_mm));
        if !self.plain {
            self.zones(&mut paper);
        }
        if !over.out.is_empty() {
            paper.group("class=\"way\"", over);
        }
        let length = self.blank.wall.length_mm();
        if !self.plain {
            self.ruler(&mut paper);
            self.zone_names(&mut paper, inked.as_ref());
        }
        let pins = pins::of_findings(findings, |finding| {
            let place = finding.place?;
            let turn = (place.turn_rad + PI).rem_euclid(TAU) - PI;
            Some(self.paper(place.s_mm.clamp(0.0, length), turn))
        });
        if !pins.is_empty() {
            pins::draw(&mut paper, &pins, inked.as_ref(), self.beside_mm());
        }
        paper
    }

    fn band(&self, paper: &mut Drawing, s: (f64, f64), style: &str) {
        paper.shape(
            &[self.paper(s.0, -PI), self.paper(s.0, PI), self.paper(s.1, PI), self.paper(s.1, -PI)],
            style,
        );
    }

    fn ware(&self) -> String {
        self.blank.look.unwrap_or_default().ware.to_string()
    }

    /// The wall in its own colour, and where something stands out of it.
    fn plain_ground(&self, paper: &mut Drawing) {
        let style = format!("fill=\"{}\" stroke=\"none\"", self.ware());
        self.band(paper, (0.0, self.blank.wall.length_mm()), &style);
        for zone in self.blank.zones.iter().filter(|zone| zone.rise_mm > 0.0) {
            for by in self.shifts(zone) {
                let turn = (zone.turn_rad.0 + by, zone.turn_rad.1 + by);
                let style = format!("fill=\"none\" stroke=\"{SOFT}\" stroke-width=\"0.2\"");
                paper.shape(&self.zone_patch(zone, turn, 0.0), &style);
            }
        }
        self.facets(paper);
    }

    /// The wall, its steep stretches darker, a line at every station.
    fn ground(&self, paper: &mut Drawing) {
        let wall = &self.blank.wall;
        self.band(paper, (0.0, wall.length_mm()), &format!("fill=\"{WARE}\" stroke=\"none\""));
        for stretch in steep_s_mm(wall) {
            self.band(paper, stretch, "class=\"steep\" fill=\"#dddbd3\" stroke=\"none\"");
        }
        for station in self.drawn_stations() {
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

    /// Draws what is burned; the picture of it, where anything is.
    fn art(&self, paper: &mut Drawing, art: &Art<'_>) -> Option<Picture> {
        let (width, height) = self.size();
        let wall = |x: f64, y: f64| {
            Some(self.wall((x - self.corner.0) / width, (y - self.corner.1) / height))
        };
        pictured(paper, art, self.box_mm(), self.dots_per_mm, wall)
    }
}

/// Draws what is burned within a box on the paper, each place of which shows one of the wall, or
/// none; the picture of it, where anything is burned.
pub(super) fn pictured(
    paper: &mut Drawing,
    art: &Art<'_>,
    window_mm: Rect,
    dots_per_mm: f64,
    mut wall: impl FnMut(f64, f64) -> Option<WallPlace>,
) -> Option<Picture> {
    let mut picture =
        Picture::new(window_mm.width() * dots_per_mm, window_mm.height() * dots_per_mm);
    let pixel_mm =
        (window_mm.width() / picture.width as f64, window_mm.height() / picture.height as f64);
    let shadow = art.shadow();
    let mut look = |column: usize, row: usize, (i, j): (f64, f64)| {
        let x = window_mm.x0 + (column as f64 + 0.5 + FOOT * (i - 1.0)) * pixel_mm.0;
        let y = window_mm.y0 + (row as f64 + 0.5 + FOOT * (j - 1.0)) * pixel_mm.1;
        wall(x, y)
    };
    let mut any = false;
    let mut places = Vec::with_capacity(9);
    for row in 0..picture.height {
        for column in 0..picture.width {
            let corners = [(0.0, 0.0), (2.0, 0.0), (0.0, 2.0), (2.0, 2.0)];
            let corners = corners.map(|corner| look(column, row, corner));
            let reach = |of: fn(&WallPlace) -> f64| {
                let ends = (f64::INFINITY, f64::NEG_INFINITY);
                corners.iter().flatten().map(of).fold(ends, |(a, b), c| (a.min(c), b.max(c)))
            };
            let (s_mm, turn_rad) = (reach(|place| place.s_mm), reach(|place| place.turn_rad));
            if corners.iter().all(Option::is_none)
                || !shadow.along(s_mm)
                || !shadow.around(turn_rad)
                || !shadow.within(s_mm, turn_rad)
            {
                continue;
            }
            places.clear();
            places.extend((0..9).map(|k| look(column, row, (f64::from(k % 3), f64::from(k / 3)))));
            if let Some((colour, cover)) = art.seen(&places, (column, row)) {
                picture.set(column, row, colour, cover);
                any = true;
            }
        }
    }
    any.then(|| {
        picture.draw_on(paper, window_mm);
        picture
    })
}

/// Said of a wall that is rolled out by equal turns, if that is not true in width all along it:
/// how wide it is where it is true, mm across.
pub(crate) fn true_across_mm(blank: &Blank) -> Option<f64> {
    let wall = &blank.wall;
    let sections = wall.sections_between(0.0, wall.length_mm());
    let least = sections.iter().map(|(_, section)| section.radius_mm).fold(f64::INFINITY, f64::min);
    let most = wall.largest_radius_mm();
    (least < (1.0 - ALIKE) * most).then_some(2.0 * most)
}
