//! The zones of the unrolled wall, with what is kept clear around them, and their names.

use std::f64::consts::{PI, TAU};

use kurbo::{Line, Point, Rect, Size, Vec2};
use stave_setup::Zone;

use super::Unrolled;
use crate::draw::{
    Drawing, FACET, Room, WARE, ZONE, ZONE_FILL, ZONE_INK, cut, leader, meets, text_width_mm,
};
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

    /// The zones' names, each above, below or beside its zone or inside it, where none meets
    /// another, off what burns; where there is no such place, the nearest bare one, with a leader;
    /// over what burns only where nothing is bare, on a ground of its own.
    fn zone_names(&self, paper: &mut Drawing, inked: Option<&Inked>) {
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
        let mut names = Names { room: Room::new(self.box_mm()), lines: Vec::new(), inked };
        boxes.iter().flatten().for_each(|zone| names.room.take(*zone));
        for ((zone, ink), itself) in all.iter().zip(&boxes) {
            let Some(itself) = itself else { continue };
            let name = cut(&zone.name, NAME_MM, 0.5 * self.size().0);
            names.put(paper, &name, ink, *itself, &boxes);
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

/// Where names stand and what leads to their zones.
struct Names<'a> {
    room: Room,
    lines: Vec<Line>,
    inked: Option<&'a Inked>,
}

impl Names<'_> {
    fn put(
        &mut self,
        paper: &mut Drawing,
        name: &str,
        ink: &str,
        itself: Rect,
        zones: &[Option<Rect>],
    ) {
        let size = Size::new(text_width_mm(name, NAME_MM) + 1.0, 1.2 * NAME_MM);
        let takes = |corner: &(f64, f64)| Rect::from_origin_size(*corner, size);
        let is_bare = |rect: Rect| {
            let crossed = self.lines.iter().any(|line| meets(*line, rect));
            !crossed && !self.inked.is_some_and(|inked| inked.any(rect))
        };
        let bare = |corner: &(f64, f64)| is_bare(takes(corner));
        let beside = beside(itself, size);
        let (around, across) = beside.split_at(AROUND);
        // Inside the zone, off the names there and off the zones within it.
        let middle = itself.center();
        let within = Rect::from_center_size(middle, size);
        let holds = itself.inflate(-0.3, -0.3).contains_rect(within)
            && zones
                .iter()
                .flatten()
                .all(|other| *other == itself || other.intersect(within).area() <= 0.0);
        let found = self.room.place(size, around.iter().copied().filter(bare));
        let found = found.or_else(|| (holds && is_bare(within)).then_some(within));
        let found = found.or_else(|| self.room.place(size, across.iter().copied().filter(bare)));
        if let Some(rect) = found {
            return Self::write(paper, name, ink, rect);
        }
        // The nearest bare place, so that what leads there crosses no other name.
        let far = rings(middle).map(|at| (at.x - 0.5 * size.width, at.y - 0.5 * size.height));
        let free = far.filter(bare).filter(|corner| {
            let way = way(takes(corner), itself);
            let mut words = paper.words.iter();
            words.all(|(words, _)| !meets(way, *words))
        });
        if let Some(rect) = self.room.place(size, free) {
            let way = way(rect, itself);
            self.lines.push(way);
            let line = [(way.p0.x, way.p0.y), (way.p1.x, way.p1.y)];
            // Seen on dark art too.
            paper.line(&line, "stroke=\"#ffffff\" stroke-width=\"0.7\" stroke-linecap=\"round\"");
            leader(paper, &line, ink);
            return Self::write(paper, name, ink, rect);
        }
        if let Some(rect) = self.room.place(size, beside) {
            paper.rect(rect, &format!("class=\"ground\" fill=\"{WARE}\" stroke=\"none\""));
            Self::write(paper, name, ink, rect);
        }
    }

    fn write(paper: &mut Drawing, name: &str, ink: &str, rect: Rect) {
        let at = (rect.x0 + 0.5, rect.y1 - 0.27 * NAME_MM);
        paper.text(at, NAME_MM, &format!("fill=\"{ink}\""), name);
    }
}

/// How many of the places beside a zone are at its edges.
const AROUND: usize = 8;

/// The upper left corners beside a zone: at its edges, then a line or two farther off.
fn beside(zone: Rect, size: Size) -> Vec<(f64, f64)> {
    let middle = zone.center().x - 0.5 * size.width;
    let across = [middle, zone.x0, zone.x1 - size.width];
    let (above, below) = (zone.y0 - size.height - 0.3, zone.y1 + 0.3);
    let level = zone.center().y - 0.5 * size.height;
    let edges = across.iter().flat_map(|x| [(*x, above), (*x, below)]);
    let sides = [(zone.x1 + 0.5, level), (zone.x0 - 0.5 - size.width, level)];
    let farther = [above - size.height, below + size.height, below + 2.0 * size.height];
    let farther = across.iter().flat_map(|x| farther.map(|y| (*x, y)));
    edges.chain(sides).chain(farther).collect()
}

/// The middles of places farther and farther off, as far as a leader can be followed.
fn rings(middle: Point) -> impl Iterator<Item = Point> {
    (2..31).map(|k| 1.5 * f64::from(k)).flat_map(move |far| {
        (0..24).map(move |k| middle + far * Vec2::from_angle(f64::from(k) * TAU / 24.0))
    })
}

/// What leads from a name to its zone: to its middle, or of a large one as far as is seen.
fn way(name: Rect, zone: Rect) -> Line {
    let near = |of: Rect, to: Point| Point::new(to.x.clamp(of.x0, of.x1), to.y.clamp(of.y0, of.y1));
    let inner = zone.inflate(-1.0f64.min(0.5 * zone.width()), -1.0f64.min(0.5 * zone.height()));
    let to = near(inner, name.center());
    Line::new(near(name, to), to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::png::Picture;

    /// Art over all of a wall but a stretch far from the zone: its name stands there, bare, and is
    /// led to it; where nothing is bare it has a ground of its own.
    #[test]
    fn a_name_stands_off_the_art_and_is_led_to_its_zone() {
        let bounds = Rect::new(0.0, 0.0, 80.0, 30.0);
        let zone = Rect::new(20.0, 10.0, 24.0, 12.0);
        for bare_from in [50, 80] {
            let mut picture = Picture::new(80.0, 30.0);
            for (column, row) in (0..bare_from).flat_map(|x| (0..30).map(move |y| (x, y))) {
                picture.set(column, row, [0, 0, 0], 1.0);
            }
            let inked = Inked::of(&picture, bounds);
            let mut names =
                Names { room: Room::new(bounds), lines: Vec::new(), inked: Some(&inked) };
            names.room.take(zone);
            let mut paper = Drawing::default();
            names.put(&mut paper, "mark", ZONE_INK, zone, &[Some(zone)]);
            let is_bare = bare_from < 80;
            assert_eq!(paper.words.len(), 1);
            assert_eq!(!inked.any(paper.words[0].0), is_bare);
            assert_eq!(names.lines.len(), usize::from(is_bare));
            assert_eq!(paper.out.contains("class=\"ground\""), !is_bare);
            if let Some(line) = names.lines.first() {
                assert!(zone.contains(line.p1) && !zone.contains(line.p0), "{line:?}");
            }
        }
    }

    /// Art on every side of a zone that is as large as its name: the name stands inside.
    #[test]
    fn a_name_stands_inside_its_zone_where_art_is_all_around() {
        let bounds = Rect::new(0.0, 0.0, 80.0, 30.0);
        let zone = Rect::new(20.0, 8.0, 40.0, 20.0);
        let mut picture = Picture::new(80.0, 30.0);
        for (column, row) in (0..80).flat_map(|x| (0..30).map(move |y| (x, y))) {
            if !zone.contains((column as f64 + 0.5, row as f64 + 0.5)) {
                picture.set(column, row, [0, 0, 0], 1.0);
            }
        }
        let inked = Inked::of(&picture, bounds);
        let mut names = Names { room: Room::new(bounds), lines: Vec::new(), inked: Some(&inked) };
        names.room.take(zone);
        let mut paper = Drawing::default();
        names.put(&mut paper, "mark", ZONE_INK, zone, &[Some(zone)]);
        assert!(zone.contains_rect(paper.words[0].0), "{:?}", paper.words);
        assert!(names.lines.is_empty() && !paper.out.contains("ground"));
    }
}
