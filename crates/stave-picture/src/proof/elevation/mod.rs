//! The finished piece seen straight from one side, from far away: true in height and width.

mod zones;

use std::cell::OnceCell;
use std::f64::consts::{PI, TAU};

use kurbo::Rect;
use stave_setup::{Blank, Facet, Finish, Look, Stands};

use super::Remark;
use super::burn_map::{BurnMap, WallPlace};
use super::outline::thinned;
use super::pins::{self, Inked};
use super::png::Picture;
use super::shadow::Shadow;
use crate::draw::{Drawing, HAIR, INK, SOFT, WARE};
use crate::svg::mm;

/// How finely outlines are drawn, rad.
const STEP_RAD: f64 = 2.0 * PI / 180.0;
/// How much more of a spot a burn seems to cover than it does, so that hair lines stay visible on
/// small pictures.
const BOLD: f64 = 2.4;

/// A spot of a picture looks at its own pixel and half of its neighbours, in steps of this many
/// pixels.
pub(crate) const FOOT: f64 = 0.5;

/// Stripes over what differs: one in so many pixels begins, each is so wide, and so long.
const STRIPE: (usize, usize, usize) = (14, 5, 9);
/// The dark stripes of what was not meant.
pub(crate) const STRAY_MARK: [u8; 3] = [0x1c, 0x1c, 0x1a];

/// Whether a stripe goes over a spot. They are broken, so that none hides a thin line all along.
fn is_marked((column, row): (usize, usize)) -> bool {
    let aside = column + STRIPE.0 * (row / STRIPE.0 + 1) - row;
    (column + row) % STRIPE.0 < STRIPE.1 && aside % STRIPE.0 < STRIPE.2
}

/// What shows where nothing else is said: energy, or how two maps differ.
pub(crate) struct Art<'a> {
    pub(crate) map: &'a BurnMap,
    pub(crate) meant: Option<&'a BurnMap>,
    pub(crate) top_density: f64,
    /// The ware's own colours, for the customer.
    pub(crate) look: Option<Look>,
    /// Found once for all views.
    shadow: OnceCell<Shadow<'a>>,
}

impl<'a> Art<'a> {
    pub(crate) fn new(
        (map, meant): (&'a BurnMap, Option<&'a BurnMap>),
        top_density: f64,
        look: Option<Look>,
    ) -> Self {
        Self { map, meant, top_density, look, shadow: OnceCell::new() }
    }

    /// Where anything may be seen at all.
    pub(crate) fn shadow(&self) -> &Shadow<'a> {
        self.shadow.get_or_init(|| Shadow::of([self.map].into_iter().chain(self.meant)))
    }

    /// The colour and cover of a spot of a picture, from places sampled in it; its column and row
    /// tell where the marks of differences fall.
    pub(crate) fn seen(
        &self,
        places: &[Option<WallPlace>],
        spot: (usize, usize),
    ) -> Option<([u8; 3], f64)> {
        let seen = self.map.look(places);
        if let Some(meant) = self.meant {
            let (all, burned, both) = self.compare(meant, places);
            if all > 0 {
                let cover = |count: u32| (BOLD * f64::from(count) / f64::from(all)).min(1.0);
                // Printed grey, both are as light as many a burn: one is striped dark, of the other
                // only dashes are left.
                if burned.0 > both {
                    let colour = if is_marked(spot) { STRAY_MARK } else { crate::draw::STRAY };
                    return Some((colour, cover(burned.0)));
                }
                if burned.1 > both {
                    return (!is_marked(spot)).then(|| (crate::draw::MISSING, cover(burned.1)));
                }
            }
        }
        if seen.cover <= 0.0 {
            return None;
        }
        let share = if self.top_density > 0.0 { seen.density / self.top_density } else { 0.0 };
        let colour = match self.look {
            Some(look) => super::ramp::burned(look, share),
            None => super::ramp::colour(share),
        };
        Some((colour, (BOLD * seen.cover).min(1.0)))
    }

    /// Samples in all; burned and meant, each where the other is not even near; and both.
    fn compare(&self, meant: &BurnMap, places: &[Option<WallPlace>]) -> (u32, (u32, u32), u32) {
        let (mut all, mut stray, mut missing, mut both) = (0, 0, 0, 0);
        for place in places.iter().flatten() {
            all += 1;
            let (is, should) = (self.map.burned_at(*place), meant.burned_at(*place));
            match (is, should) {
                (true, true) => both += 1,
                (true, false) if !meant.burned_near(*place) => stray += 1,
                (false, true) if !self.map.burned_near(*place) => missing += 1,
                _ => {}
            }
        }
        (all, (stray, missing), both)
    }
}

/// One view: from which turn, at which scale, where its middle lies on the paper.
pub(crate) struct Elevation<'a> {
    pub(crate) blank: &'a Blank,
    pub(crate) stands: Stands,
    /// The turn that faces the viewer, rad.
    pub(crate) facing_rad: f64,
    /// mm of paper for a mm of ware.
    pub(crate) scale: f64,
    /// The paper's place of the axis's middle.
    pub(crate) middle: (f64, f64),
    /// Pixels a mm of paper.
    pub(crate) dots_per_mm: f64,
    /// For the customer: the ware as it is, without the marks of the bench.
    pub(crate) plain: bool,
}

/// The extent of a piece on paper at scale 1, mm: width and height as it stands.
pub(crate) fn extent(blank: &Blank, stands: Stands) -> (f64, f64) {
    let rise = blank.zones.iter().map(|zone| zone.rise_mm).fold(0.0, f64::max);
    sized(blank, stands, blank.wall.largest_radius_mm() + rise)
}

/// The extent of ware that reaches so far to either side of its axis.
fn sized(blank: &Blank, stands: Stands, reach_mm: f64) -> (f64, f64) {
    let (first, last) = blank.wall.at_range_mm();
    let reach_mm = blank.facets.iter().fold(reach_mm, |most, facet| {
        // On a handle it may stand out farther than anything.
        most.max(facet.height_mm.hypot(0.5 * facet.width_mm))
    });
    let (along, across) = (last - first, 2.0 * reach_mm);
    if stands == Stands::Lying { (along, across) } else { (across, along) }
}

impl Elevation<'_> {
    /// The extent of what is seen on paper at scale 1, mm.
    pub(crate) fn seen(&self) -> (f64, f64) {
        sized(self.blank, self.stands, self.reach_mm())
    }

    /// The paper's place of a point of the ware: `at` along the axis, `across` towards growing
    /// turn.
    fn paper(&self, at_mm: f64, across_mm: f64) -> (f64, f64) {
        let (first, last) = self.blank.wall.at_range_mm();
        let (along, across) = (self.scale * (at_mm - 0.5 * (first + last)), self.scale * across_mm);
        let (x, y) = self.middle;
        match self.stands {
            Stands::Lying => (x + along, y - across),
            Stands::Inverted => (x + across, y + along),
            Stands::Upright => (x - across, y - along),
        }
    }

    /// The other way: `at` and `across` of a place on the paper.
    fn ware(&self, x: f64, y: f64) -> (f64, f64) {
        let (first, last) = self.blank.wall.at_range_mm();
        let (x, y) = ((x - self.middle.0) / self.scale, (y - self.middle.1) / self.scale);
        let (along, across) = match self.stands {
            Stands::Lying => (x, -y),
            Stands::Inverted => (y, x),
            Stands::Upright => (-y, -x),
        };
        (along + 0.5 * (first + last), across)
    }

    /// The turn relative to the viewer, −π to π.
    fn relative(&self, turn_rad: f64) -> f64 {
        (turn_rad - self.facing_rad + PI).rem_euclid(TAU) - PI
    }

    pub(crate) fn draw(&self, art: &Art<'_>) -> Drawing {
        self.draw_pinned(art, &[], Rect::ZERO)
    }

    /// The same, with the pins of findings, which may stand anywhere within `bounds` on the paper.
    pub(crate) fn draw_pinned(&self, art: &Art<'_>, findings: &[Remark], bounds: Rect) -> Drawing {
        let mut paper = Drawing::default();
        self.bosses(&mut paper, false);
        self.body(&mut paper);
        self.edges(&mut paper);
        // What would be burned into a boss shows on it.
        self.bosses(&mut paper, true);
        // No edge of a flat place hides what burns.
        self.facets(&mut paper);
        let drawn = self.art(&mut paper, art);
        if !self.plain {
            self.marks(&mut paper);
        }
        self.pins(&mut paper, drawn, (findings, bounds));
        paper
    }

    /// The same, of which nothing is burned but one of its flat places: `art` is that of its plane,
    /// and is drawn where the place is turned to the viewer.
    pub(crate) fn draw_with_place(&self, art: &Art<'_>, place: &Facet) -> Drawing {
        let mut paper = Drawing::default();
        self.bosses(&mut paper, false);
        self.body(&mut paper);
        self.edges(&mut paper);
        self.bosses(&mut paper, true);
        self.facets(&mut paper);
        self.place(&mut paper, art, place);
        if !self.plain {
            self.marks(&mut paper);
        }
        paper
    }

    fn outline(&self) -> Vec<(f64, f64)> {
        let wall = &self.blank.wall;
        let sections = wall.sections_between(0.0, wall.length_mm());
        let thinned = thinned(&sections, 0.02);
        let mut points: Vec<_> = thinned.iter().map(|s| self.paper(s.at_mm, s.radius_mm)).collect();
        points.extend(thinned.iter().rev().map(|s| self.paper(s.at_mm, -s.radius_mm)));
        points
    }

    fn body(&self, paper: &mut Drawing) {
        // A soft shade to either side, so that the eye takes it for round.
        let lying = self.stands == Stands::Lying;
        let id = format!("round-{}", mm(self.facing_rad.to_degrees().rem_euclid(360.0)));
        let to = if lying {
            "x1=\"0\" y1=\"0\" x2=\"0\" y2=\"1\""
        } else {
            "x1=\"0\" y1=\"0\" x2=\"1\" y2=\"0\""
        };
        let stops = match self.blank.look.filter(|_| self.plain) {
            None => [(0.0, "#cfcec8"), (0.22, WARE), (0.45, "#f8f7f3"), (0.75, WARE)]
                .map(|(at, colour)| (at, colour.to_owned()))
                .into_iter()
                .chain([(1.0, "#c6c5bf".to_owned())])
                .collect::<Vec<_>>(),
            Some(look) => {
                // Metal mirrors a window and is darker beside it.
                let shades: &[(f64, f64)] = if look.finish == Finish::Metal {
                    &[(0.0, 0.62), (0.22, 1.0), (0.3, 1.35), (0.38, 1.0), (0.8, 0.86), (1.0, 0.6)]
                } else {
                    &[(0.0, 0.8), (0.22, 1.0), (0.45, 1.08), (0.75, 1.0), (1.0, 0.76)]
                };
                let stop = |(at, by): &(f64, f64)| (*at, super::ramp::shade(look.ware, *by));
                shades.iter().map(stop).collect()
            }
        };
        let stops: String = stops
            .iter()
            .map(|(at, colour)| format!("<stop offset=\"{at}\" stop-color=\"{colour}\"/>"))
            .collect();
        paper.out.push_str(&format!("<linearGradient id=\"{id}\" {to}>{stops}</linearGradient>\n"));
        paper.shape(&self.outline(), &format!("fill=\"url(#{id})\" stroke=\"none\""));
    }

    /// The wall's outline, and a line around at every station where it turns.
    fn edges(&self, paper: &mut Drawing) {
        for pair in self.blank.stations.windows(3) {
            let slope = |a: usize, b: usize| {
                (pair[b].radius_mm - pair[a].radius_mm).atan2(pair[b].at_mm - pair[a].at_mm)
            };
            if (slope(1, 2) - slope(0, 1)).abs() > 10_f64.to_radians() {
                let (at, r) = (pair[1].at_mm, pair[1].radius_mm);
                paper.line(
                    &[self.paper(at, -r), self.paper(at, r)],
                    &format!("stroke=\"{HAIR}\" stroke-width=\"0.18\""),
                );
            }
        }
        paper.shape(
            &self.outline(),
            &format!(
                "fill=\"none\" stroke=\"{INK}\" stroke-width=\"0.35\" stroke-linejoin=\"round\""
            ),
        );
    }

    /// Draws what is burned; the picture of it and its box on the paper, where anything is.
    fn art(&self, paper: &mut Drawing, art: &Art<'_>) -> Option<(Picture, Rect)> {
        let wall = &self.blank.wall;
        let (first, last) = wall.at_range_mm();
        let r = wall.largest_radius_mm();
        let corners = [self.paper(first, -r), self.paper(last, r)];
        let (x0, x1) = (corners[0].0.min(corners[1].0), corners[0].0.max(corners[1].0));
        let (y0, y1) = (corners[0].1.min(corners[1].1), corners[0].1.max(corners[1].1));
        let size = (x1 - x0, y1 - y0);
        let mut picture = Picture::new(size.0 * self.dots_per_mm, size.1 * self.dots_per_mm);
        let (columns, rows) = (picture.width as f64, picture.height as f64);
        // What a look finds along the axis is the same all across: found once for each.
        let lying = self.stands == Stands::Lying;
        let mut hint = 0;
        let looks = 3 * if lying { picture.width } else { picture.height };
        let look = |k: usize| (k / 3) as f64 + 0.5 + FOOT * ((k % 3) as f64 - 1.0);
        let along: Vec<(f64, f64)> = (0..looks)
            .map(|k| {
                let (x, y) = if lying { (look(k) / columns, 0.0) } else { (0.0, look(k) / rows) };
                let s = wall.s_of_at(self.ware(x0 + size.0 * x, y0 + size.1 * y).0);
                (s, wall.section(s, &mut hint).radius_mm)
            })
            .collect();
        let across = |column: f64, row: f64| self.ware(x0 + size.0 * column, y0 + size.1 * row).1;
        // Along the axis nothing is burned for most, around it for most of the others.
        let shadow = art.shadow();
        let burned: Vec<bool> =
            along.chunks(3).map(|looks| shadow.along((looks[0].0, looks[2].0))).collect();
        let turn = |column: usize, row: usize| {
            let corner = |i: usize, j: usize| {
                let radius = along[if lying { 3 * column + i } else { 3 * row + j }].1;
                let (x, y) = (look(3 * column + i) / columns, look(3 * row + j) / rows);
                (across(x, y) / radius).clamp(-1.0, 1.0)
            };
            let all = [corner(0, 0), corner(0, 2), corner(2, 0), corner(2, 2)];
            let least = all.into_iter().fold(1.0, f64::min);
            let most = all.into_iter().fold(-1.0, f64::max);
            (self.facing_rad + least.asin(), self.facing_rad + most.asin())
        };
        let mut any = false;
        let mut places: Vec<Option<WallPlace>> = Vec::with_capacity(9);
        for row in 0..picture.height {
            for column in 0..picture.width {
                let is_bare = !burned[if lying { column } else { row }];
                if is_bare {
                    continue;
                }
                let turn = turn(column, row);
                let k = 3 * if lying { column } else { row };
                let s_mm = (along[k].0, along[k + 2].0);
                if !shadow.around(turn) || !shadow.within(s_mm, turn) {
                    continue;
                }
                places.clear();
                for k in 0..9 {
                    let (i, j) = (k % 3, k / 3);
                    let (x, y) = (look(3 * column + i) / columns, look(3 * row + j) / rows);
                    let across = across(x, y);
                    let (s_mm, radius) = along[if lying { 3 * column + i } else { 3 * row + j }];
                    places.push((across.abs() < radius).then(|| WallPlace {
                        s_mm,
                        turn_rad: self.facing_rad + (across / radius).asin(),
                    }));
                }
                if let Some((colour, cover)) = art.seen(&places, (column, row)) {
                    picture.set(column, row, colour, cover);
                    any = true;
                }
            }
        }
        any.then(|| {
            let box_mm = Rect::new(x0, y0, x1, y1);
            picture.draw_on(paper, box_mm);
            (picture, box_mm)
        })
    }

    /// The findings whose places are turned to the viewer.
    fn pins(
        &self,
        paper: &mut Drawing,
        drawn: Option<(Picture, Rect)>,
        (findings, bounds): (&[Remark], Rect),
    ) {
        let pins = pins::of_findings(findings, |finding| {
            let place = finding.place?;
            let turn = self.relative(place.turn_rad);
            let section = self.blank.wall.section(place.s_mm, &mut 0);
            (turn.cos() >= 0.05).then(|| self.paper(section.at_mm, section.radius_mm * turn.sin()))
        });
        if pins.is_empty() {
            return;
        }
        let inked = drawn.map(|(picture, box_mm)| Inked::of(&picture, box_mm));
        pins::draw(paper, &pins, inked.as_ref(), bounds);
    }

    /// The name of the view, under it.
    pub(crate) fn caption(&self, paper: &mut Drawing, y: f64, text: &str) {
        paper.text(
            (self.middle.0, y),
            3.0,
            &format!("text-anchor=\"middle\" fill=\"{SOFT}\""),
            text,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A thin line that is missing is seen, and one that strays has its colour, whichever way it
    /// goes; neither is all of one kind for long.
    #[test]
    fn no_line_is_hidden_by_its_stripes() {
        type Way = fn(usize, usize) -> (usize, usize);
        let ways: [Way; 4] =
            [|k, by| (k, by), |k, by| (by, k), |k, by| (k + by, k), |k, by| (k, 200 + by - k)];
        for way in ways {
            let shares: Vec<usize> =
                (0..14).map(|by| (0..140).filter(|k| is_marked(way(*k, by))).count()).collect();
            assert!(shares.iter().all(|marked| *marked <= 105), "{shares:?}");
            assert!(shares.iter().filter(|marked| **marked > 0).count() >= 5, "{shares:?}");
        }
    }
}
