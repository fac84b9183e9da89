//! The words on the page: a bar to check a print by, zones, turns, stations. Each stands where it
//! meets no zone and no other; what finds no room is left to the margin.

use std::f64::consts::PI;

use kurbo::{Rect, Size};
use stave_setup::Stands;
use stave_toolpath::art::GUIDES_ID;
use stave_toolpath::number::fixed;
use stave_wall::Station;

use super::page::Page;
use crate::draw::{Drawing, INK, Room, cut, scale_bar, text_width_mm};

/// How large words are, mm, and what is kept clear around them.
const NAME_MM: f64 = 3.0;
const CLEAR_MM: f64 = 0.6;
/// The outermost millimetres of a page are seldom printed.
const EDGE_MM: f64 = 2.0;
const ZONE_INK: &str = "#8a3400";
const BAR_WORDS: &str = "mm: if a ruler says otherwise, print at 100 %";
const BAR_WORDS_MM: f64 = 2.5;

/// All words on the page.
pub(crate) fn names(page: &Page<'_>) -> Drawing {
    let (width, height) = page.size();
    let inside = Rect::new(0.0, 0.0, width, height).inset(-EDGE_MM);
    let mut words = Words { out: Drawing::default(), room: Room::new(inside), width, height };
    let boxes = zone_boxes(page);
    boxes.iter().for_each(|(clear, _, _)| words.room.take(*clear));
    words.bar();
    for (clear, itself, name) in &boxes {
        words.zone(*clear, *itself, name);
    }
    words.turns(page);
    words.stations(page);
    words.out
}

/// The zones on the page: with their margins, without, and their names; of the two parts of one
/// over the seam each.
fn zone_boxes<'a>(page: &Page<'a>) -> Vec<(Rect, Rect, &'a str)> {
    let mut found = Vec::new();
    for zone in &page.blank.zones {
        for (s, turn) in page.shown(zone) {
            let clear = page.box_of(&page.patch(turn, s, page.margin_mm(zone)));
            let itself = page.box_of(&page.patch(turn, s, 0.0));
            if let (Some(clear), Some(itself)) = (clear, itself)
                && itself.width() > 0.0
            {
                found.push((clear, itself, zone.name.as_str()));
            }
        }
    }
    found
}

struct Words {
    out: Drawing,
    room: Room,
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

    /// As near the lower left corner as can be.
    fn bar(&mut self) {
        let long_mm = if self.width >= 54.0 + 2.0 * EDGE_MM { 50.0 } else { 10.0 };
        let words = format!("{} {BAR_WORDS}", fixed(long_mm, 0));
        let beside = text_width_mm(&words, BAR_WORDS_MM) + 3.5;
        let size = Size::new(long_mm + beside, 5.0);
        let (width, height) = (self.width, self.height);
        let steps =
            |most: f64| (0..400).map(|k| 5.0 * f64::from(k)).take_while(move |d| *d <= most);
        let corners = steps(height).flat_map(move |up| {
            steps(width).map(move |right| (EDGE_MM + 1.0 + right, height - EDGE_MM - 6.0 - up))
        });
        let (at, words) = match self.room.place(size, corners) {
            Some(rect) => ((rect.x0, rect.center().y), words),
            None => ((EDGE_MM, height - EDGE_MM - 2.0), String::new()),
        };
        scale_bar(&mut self.out, at, long_mm, &format!("{GUIDES_ID}-scale-bar"), &words);
    }

    /// Inside its zone, else beside it.
    fn zone(&mut self, clear: Rect, itself: Rect, name: &str) {
        let name = cut(name, NAME_MM, 0.5 * self.width);
        let size = size_of(&name);
        let middle = itself.center();
        if itself.width() >= size.width && itself.height() >= size.height {
            let corner = (middle.x - 0.5 * size.width, middle.y - 0.5 * size.height);
            self.at(&name, ZONE_INK, Rect::from_origin_size(corner, size));
            return;
        }
        let across = [middle.x - 0.5 * size.width, clear.x0, clear.x1 - size.width];
        let level = middle.y - 0.5 * size.height;
        let mut corners: Vec<(f64, f64)> =
            across.iter().flat_map(|x| [(*x, clear.y0 - size.height), (*x, clear.y1)]).collect();
        corners.extend([(clear.x1, level), (clear.x0 - size.width, level)]);
        // At an edge of the page the name goes inwards.
        corners.extend([
            (EDGE_MM, clear.y0 - size.height),
            (self.width - EDGE_MM - size.width, clear.y0 - size.height),
        ]);
        self.put(&name, ZONE_INK, &corners);
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
                (inside(x, size.width, self.width), inside(y, size.height, self.height))
            });
            self.put(name, INK, &ends);
        }
    }

    /// Place and diameter at each station's line.
    fn stations(&mut self, page: &Page<'_>) {
        let lying = page.setting.stands == Stands::Lying;
        for station in &page.blank.stations {
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
                        [(x, y - size.height), (x, y)]
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
    let at = fixed(station.at_mm, 2);
    match page.setting.is_plane {
        true => format!("at {at}"),
        false => format!("at {at}, ⌀ {}", fixed(2.0 * station.radius_mm, 2)),
    }
}

fn size_of(name: &str) -> Size {
    Size::new(text_width_mm(name, NAME_MM) + 2.0 * CLEAR_MM, 1.17 * NAME_MM + 2.0 * CLEAR_MM)
}
