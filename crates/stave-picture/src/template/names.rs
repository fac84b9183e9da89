//! The words on the page: a bar to check a print by, zones, turns, stations. Each stands where it
//! meets no zone and no other; what finds no room is left to the margin.

use std::f64::consts::PI;

use kurbo::{Line, ParamCurve, Rect, Size, Vec2};
use stave_setup::Stands;
use stave_wall::Station;

use super::bar::{BAR_WORDS_MM, Block, said};
use super::frames::{frame_name, parts};
use super::lines::{HAIR_MM, lines_of_frames, other_lines, turn_lines};
use super::page::Page;
use crate::draw::{
    Drawing, FACET, FRAME, INK, Room, ZONE_INK, bar_told, bars_mm, broken, cut, leader, meets,
    text_width_mm,
};

/// How large words are, mm, and what is kept clear around them.
const NAME_MM: f64 = 3.0;
pub(super) const CLEAR_MM: f64 = 0.6;
/// The outermost millimetres of a page are seldom printed.
const EDGE_MM: f64 = 2.0;
/// How wide a zone's name is at the most where there is no room for more, mm.
const NAMES_MM: [f64; 3] = [45.0, 28.0, 16.0];
const BAR_WORDS: &str = " by a ruler, else print at 100 %";
/// How many places across and down a zone are looked at for its name.
const INSIDE: u32 = 20;
/// How far the name of a frame keeps off its line, mm.
const OFF_MM: f64 = 0.3;
/// The least part of a frame over the seam that has a name of its own, as a share of the largest.
const LEAST_PART: f64 = 0.25;
/// How many places along an edge of a frame are looked at for its name.
const ALONG_EDGE: u32 = 40;
/// A leader is kept clear in so many pieces.
const LEADER_PIECES: u32 = 40;

/// All words on the page, and those of the frames by themselves.
pub(crate) fn names(page: &Page<'_>) -> (Drawing, Drawing) {
    let (width, height) = page.size();
    let inside = Rect::new(0.0, 0.0, width, height).inset(-EDGE_MM);
    let room = Room::new(inside);
    let mut words = Words { out: Drawing::default(), within: room.clone(), room, width, height };
    let boxes = zone_boxes(page);
    boxes.iter().for_each(|named| words.room.take(named.clear));
    // What lies on a ground of its own hides station lines, but no frame.
    let of_frames = lines_of_frames(page);
    of_frames.iter().for_each(|line| words.room.take(*line));
    let free = words.room.clone();
    let turns = turn_lines(page);
    let others = other_lines(page);
    others.iter().chain(&turns).for_each(|line| words.room.take(*line));
    words.bar(page, free);
    // The turns do not show through a zone, as they do through a flat place.
    others.into_iter().chain(of_frames).for_each(|line| words.within.take(line));
    let (zones, flat): (Vec<&Named>, Vec<&Named>) =
        boxes.iter().partition(|named| named.ink == ZONE_INK);
    words.zones(&zones, &boxes);
    turns.into_iter().for_each(|line| words.within.take(line));
    words.zones(&flat, &boxes);
    let of_frames = words.frames(page);
    words.turns(page);
    words.stations(page);
    (words.out, of_frames)
}

/// A zone or a flat place on the page.
struct Named {
    /// With its margin, and without.
    clear: Rect,
    itself: Rect,
    name: String,
    ink: &'static str,
}

/// The zones and flat places on the page; of one over the seam either part.
fn zone_boxes(page: &Page<'_>) -> Vec<Named> {
    let mut found = Vec::new();
    let facets = page.facets();
    let facets = facets.iter().map(|zone| (zone, FACET));
    for (zone, ink) in page.blank.zones.iter().map(|zone| (zone, ZONE_INK)).chain(facets) {
        for (s, turn) in page.shown(zone) {
            let clear = page.box_of(&page.patch(turn, s, page.margin_mm(zone)));
            let itself = page.box_of(&page.patch(turn, s, 0.0));
            if let (Some(clear), Some(itself)) = (clear, itself)
                && itself.width() > 0.0
            {
                found.push(Named { clear, itself, name: zone.name.clone(), ink });
            }
        }
    }
    found
}

struct Words {
    out: Drawing,
    room: Room,
    /// What is free inside a zone.
    within: Room,
    width: f64,
    height: f64,
}

impl Words {
    /// A name at the first of some corners where it has room.
    fn put(&mut self, name: &str, colour: &str, corners: &[(f64, f64)]) -> bool {
        let found = self.room.place(size_of(name), corners.iter().copied());
        if let Some(rect) = found {
            self.at(name, colour, rect);
        }
        found.is_some()
    }

    fn at(&mut self, name: &str, colour: &str, rect: Rect) {
        let place = (rect.x0 + CLEAR_MM, rect.y1 - CLEAR_MM - 0.25 * NAME_MM);
        self.out.text(place, NAME_MM, &format!("fill=\"{colour}\" stroke=\"none\""), name);
    }

    /// The bar, with what is said beside it, as near the lower left corner as can be: off zones and
    /// lines, else off zones; all that is said or, on a small page, less of it.
    fn bar(&mut self, page: &Page<'_>, free: Room) {
        let said = said(page);
        // The first that has room.
        let unit = page.blank.unit();
        let [_, bars @ .., _, _, _] = bars_mm(unit);
        let wish = |long_mm: f64, words: &str, said: &[String]| {
            let wide = (long_mm + 4.0).max(46.0);
            let words = format!("{}{words}", bar_told(unit, long_mm));
            let broken_up = |text: &String| broken(text, BAR_WORDS_MM, wide);
            let above: Vec<String> = said.iter().flat_map(broken_up).collect();
            let below = broken(&words, BAR_WORDS_MM, wide);
            Block { long_mm, above, below }
        };
        let mut wishes =
            vec![wish(bars[0], BAR_WORDS, &said), wish(bars[0], BAR_WORDS, &said[..2])];
        wishes.extend(bars.iter().map(|long_mm| wish(*long_mm, BAR_WORDS, &[])));
        wishes.extend(bars.iter().map(|long_mm| wish(*long_mm, "", &[])));
        let on_lines = std::mem::replace(&mut self.room, free);
        let mut rooms = [on_lines, self.room.clone()];
        let (width, height) = (self.width, self.height);
        let steps =
            |most: f64| (0..400).map(|k| 2.5 * f64::from(k)).take_while(move |d| *d <= most);
        // All that is said, before it keeps off the lines; the bar alone keeps off them first.
        let (full, bare) = wishes.split_at(2);
        let tries = full.iter().flat_map(|wish| [(wish, 0), (wish, 1)]);
        let tries = tries.chain([0, 1].into_iter().flat_map(|k| bare.iter().map(move |w| (w, k))));
        for (wish, k) in tries {
            let size = wish.size();
            let top = height - EDGE_MM - 0.5 - size.height;
            let corners = steps(height)
                .flat_map(|up| steps(width).map(move |right| (EDGE_MM + 1.0 + right, top - up)));
            let Some(rect) = rooms.get_mut(k).and_then(|room| room.place(size, corners)) else {
                continue;
            };
            if k == 1 {
                // On a ground of its own, since lines run under it.
                self.out.rect(rect, "fill=\"#ffffff\" stroke=\"none\"");
            }
            wish.draw(&mut self.out, rect);
            if let Some(room) = rooms.first_mut() {
                room.take(rect);
            }
            break;
        }
        let [first, _] = rooms;
        self.room = first;
    }

    /// Each inside its zone or at its edges; what finds no room there waits until all have looked
    /// for it, so that no name that stands farther off takes the place of one that could be near.
    fn zones(&mut self, some: &[&Named], all: &[Named]) {
        let most = 0.5 * self.width;
        let left: Vec<&Named> = some
            .iter()
            .copied()
            .filter(|named| !self.near(named, &cut(&named.name, NAME_MM, most), all))
            .collect();
        left.into_iter().for_each(|named| self.crowded(named, all));
    }

    /// Shortened at its zone, else whole and farther off with a line to it, else as short as can be
    /// read.
    fn crowded(&mut self, named: &Named, all: &[Named]) {
        let most = 0.5 * self.width;
        let near = |words: &mut Self, wide: f64| {
            wide < most && words.near(named, &cut(&named.name, NAME_MM, wide), all)
        };
        let [readable @ .., least] = NAMES_MM;
        if readable.into_iter().any(|wide| near(self, wide))
            || self.with_leader(named, &cut(&named.name, NAME_MM, most))
            || near(self, least)
        {
            return;
        }
        let name = cut(&named.name, NAME_MM, NAMES_MM[0].min(most));
        if !self.with_leader(named, &name) {
            // Where no place is free, over what lies there, on a ground of its own.
            let rect = Rect::from_center_size(named.itself.center(), size_of(&name));
            self.out.rect(rect, "fill=\"#ffffff\" stroke=\"none\"");
            self.at(&name, named.ink, rect);
        }
    }

    /// Inside its zone or at its edges.
    fn near(&mut self, named: &Named, name: &str, all: &[Named]) -> bool {
        match self.inside(named, size_of(name), all) {
            Some(rect) => self.at(name, named.ink, rect),
            None => return self.beside(named, name),
        }
        true
    }

    /// At the edges of its zone.
    fn beside(&mut self, named: &Named, name: &str) -> bool {
        let Named { clear, itself, ink, .. } = *named;
        let size = size_of(name);
        let middle = itself.center();
        let across = [middle.x - 0.5 * size.width, clear.x0, clear.x1 - size.width];
        let level = middle.y - 0.5 * size.height;
        let mut corners: Vec<(f64, f64)> =
            across.iter().flat_map(|x| [(*x, clear.y0 - size.height), (*x, clear.y1)]).collect();
        corners.extend([(clear.x1, level), (clear.x0 - size.width, level)]);
        // At an edge of the page the name goes inwards.
        let above = clear.y0 - size.height;
        if clear.x0 < EDGE_MM {
            corners.push((EDGE_MM, above));
        }
        if clear.x1 > self.width - EDGE_MM {
            corners.push((self.width - EDGE_MM - size.width, above));
        }
        self.put(name, ink, &corners)
    }

    /// Within a zone, as near its middle as no line of the page and no other word crosses it. The
    /// zone itself is taken, so that only lines, words and what lies in it are in the way.
    fn inside(&mut self, named: &Named, size: Size, all: &[Named]) -> Option<Rect> {
        let zone = named.itself;
        let (wide, high) = (zone.width() - size.width, zone.height() - size.height);
        if wide < 0.0 || high < 0.0 {
            return None;
        }
        let mut corners: Vec<(f64, f64)> = (0..=INSIDE)
            .flat_map(|k| (0..=INSIDE).map(move |l| (k, l)))
            .map(|(k, l)| [k, l].map(|n| f64::from(n) / f64::from(INSIDE)))
            .map(|[right, down]| (zone.x0 + right * wide, zone.y0 + down * high))
            .collect();
        let middle = (zone.x0 + 0.5 * wide, zone.y0 + 0.5 * high);
        let off = |at: &(f64, f64)| (at.0 - middle.0).hypot(at.1 - middle.1);
        corners.sort_by(|a, b| off(a).total_cmp(&off(b)));
        let others: Vec<Rect> =
            all.iter().map(|other| other.clear).filter(|clear| *clear != named.clear).collect();
        let is_clear = |corner: &(f64, f64)| {
            let rect = Rect::from_origin_size(*corner, size);
            others.iter().all(|other| other.intersect(rect).area() <= 0.0)
        };
        let found = self.within.place(size, corners.into_iter().filter(is_clear));
        if let Some(rect) = found {
            self.room.take(rect);
        }
        found
    }

    /// As near as there is room, with a line to its zone.
    fn with_leader(&mut self, named: &Named, name: &str) -> bool {
        let (middle, size) = (named.itself.center(), size_of(name));
        let steps = (1..=30).map(|k| 3.0 * f64::from(k));
        let corners: Vec<(f64, f64)> = steps
            .flat_map(|far| (0..16).map(move |k| (far, f64::from(k) * PI / 8.0)))
            .map(|(far, rad)| middle + far * Vec2::from_angle(rad))
            .map(|at| (at.x - 0.5 * size.width, at.y - 0.5 * size.height))
            .collect();
        let way = |rect: Rect| {
            let from = (middle.x.clamp(rect.x0, rect.x1), middle.y.clamp(rect.y0, rect.y1));
            Line::new(from, middle)
        };
        // What leads there crosses no other word.
        let words: Vec<Rect> = self.out.words.iter().map(|(rect, _)| *rect).collect();
        let free = corners.into_iter().filter(|corner| {
            let way = way(Rect::from_origin_size(*corner, size));
            words.iter().all(|words| !meets(way, *words))
        });
        let Some(rect) = self.room.place(size, free) else { return false };
        self.at(name, named.ink, rect);
        let way = way(rect);
        leader(&mut self.out, &[(way.p0.x, way.p0.y), (way.p1.x, way.p1.y)], named.ink);
        // Nor is it crossed by one that comes later.
        for k in 0..LEADER_PIECES {
            let [from, to] = [k, k + 1].map(|n| way.eval(f64::from(n) / f64::from(LEADER_PIECES)));
            self.room.take(Rect::from_points(from, to).inflate(HAIR_MM, HAIR_MM));
        }
        true
    }

    /// The frames of art, each part of one over the seam: at its edges, else farther off with a
    /// line to it. They are a layer of their own.
    fn frames(&mut self, page: &Page<'_>) -> Drawing {
        let before = std::mem::take(&mut self.out);
        self.out.words.clone_from(&before.words);
        for frame in &page.setting.frames {
            let boxes: Vec<Rect> = parts(page, frame)
                .into_iter()
                .filter_map(|part| page.box_of(&part.concat()))
                .collect();
            let long = |part: &Rect| part.width() + part.height();
            let longest = boxes.iter().map(long).fold(0.0, f64::max);
            // What merely reaches over the seam is seen to belong to the rest.
            for itself in boxes.into_iter().filter(|part| long(part) >= LEAST_PART * longest) {
                let name = cut(&frame_name(page, frame), NAME_MM, 0.5 * self.width);
                self.frame(&Named { clear: itself, itself, name, ink: FRAME });
            }
        }
        let mut of_frames = std::mem::replace(&mut self.out, before);
        of_frames.words.drain(..self.out.words.len());
        of_frames
    }

    fn frame(&mut self, named: &Named) {
        let (rect, size) = (named.itself.inflate(OFF_MM, OFF_MM), size_of(&named.name));
        let inner = named.itself.inset(-OFF_MM);
        let across = |rect: Rect| {
            let last = rect.x1 - size.width;
            [rect.x0, 0.5 * (rect.x0 + last), last]
        };
        let mut corners: Vec<(f64, f64)> = Vec::new();
        for y in [rect.y0 - size.height, rect.y1] {
            corners.extend(across(rect).map(|x| (x, y)));
        }
        if inner.width() >= size.width && inner.height() >= size.height {
            for y in [inner.y0, inner.y1 - size.height] {
                corners.extend(across(inner).map(|x| (x, y)));
            }
        }
        let level = rect.center().y - 0.5 * size.height;
        corners.extend([(rect.x1, level), (rect.x0 - size.width, level)]);
        // Past the corners, where a line of the page is in the way at the edges.
        let beyond = rect.x0 - size.width;
        let steps = (0..=ALONG_EDGE).map(|k| f64::from(k) / f64::from(ALONG_EDGE));
        let places = steps.map(|share| beyond + share * (rect.x1 - beyond));
        corners.extend(places.flat_map(|x| [(x, rect.y0 - size.height), (x, rect.y1)]));
        if self.put(&named.name, named.ink, &corners) || self.with_leader(named, &named.name) {
            return;
        }
        // Where no place is free, over what lies there, on a ground of its own.
        let rect = Rect::from_center_size(named.itself.center(), size);
        self.out.rect(rect, "fill=\"#ffffff\" stroke=\"none\"");
        self.at(&named.name, named.ink, rect);
    }

    /// Front, quarters and seam, at the end of their lines.
    fn turns(&mut self, page: &Page<'_>) {
        let lying = page.setting.stands == Stands::Lying;
        let lines = [(0.0, "front"), (-0.5 * PI, "-90°"), (0.5 * PI, "90°"), (PI, "seam")];
        let lines: &[(f64, &str)] = if page.setting.is_plane { &[(0.0, "middle")] } else { &lines };
        for &(turn, name) in lines {
            let size = size_of(name);
            let ends = [page.length_mm, 0.0].map(|s| {
                let (x, y) = page.place(s, turn * page.per_rad(&page.section(s)));
                let inside = |value: f64, long: f64, most: f64| {
                    value.clamp(EDGE_MM, (most - EDGE_MM - long).max(EDGE_MM))
                };
                let (x, y) = if lying { (x, y + 0.3) } else { (x + 0.3, y) };
                // Off the line of the station at that end.
                let (x, y) = if lying { (x + 0.3, y) } else { (x, y + 0.3) };
                (inside(x, size.width, self.width), inside(y, size.height, self.height))
            });
            self.put(name, INK, &ends);
        }
    }

    /// Place and diameter at each station's line.
    fn stations(&mut self, page: &Page<'_>) {
        let lying = page.setting.stands == Stands::Lying;
        for station in page.drawn_stations() {
            let s = page.blank.wall.s_of_at(station.at_mm);
            let around = page.per_rad(&page.section(s));
            let name = station_name(page, station);
            let size = size_of(&name);
            let inside = |value: f64, long: f64, most: f64| {
                value.clamp(EDGE_MM, (most - EDGE_MM - long).max(EDGE_MM))
            };
            let shares = [0.8, 0.7, 0.4, 0.3, -0.2, -0.7];
            let corners: Vec<(f64, f64)> = shares
                .iter()
                .flat_map(|share| {
                    let (x, y) = page.place(s, share * PI * around);
                    if lying {
                        [(x + 0.2, y), (x - size.width - 0.2, y)]
                    } else {
                        [(x, y - size.height - 0.2), (x, y + 0.2)]
                    }
                })
                // Those of the ends stay on the page.
                .map(|(x, y)| match lying {
                    true => (inside(x, size.width, self.width), y),
                    false => (x, inside(y, size.height, self.height)),
                })
                .collect();
            self.put(&name, INK, &corners);
        }
    }
}

/// What stands at a station's line.
pub(super) fn station_name(page: &Page<'_>, station: &Station) -> String {
    let unit = page.blank.unit();
    let at = unit.figure(station.at_mm, 2);
    match page.setting.is_plane {
        true => format!("at {at}"),
        false => format!("at {at}, ⌀ {}", unit.figure(2.0 * station.radius_mm, 2)),
    }
}

fn size_of(name: &str) -> Size {
    Size::new(text_width_mm(name, NAME_MM) + 2.0 * CLEAR_MM, 1.17 * NAME_MM + 2.0 * CLEAR_MM)
}
