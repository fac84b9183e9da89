//! The page to draw on: the wall rolled out flat, true to the print.

use std::f64::consts::PI;

use stave_setup::{Blank, Stands, Zone};
use stave_toolpath::art::GUIDES_ID;
use stave_toolpath::number::fixed;
use stave_wall::Section;

use crate::svg::{escaped, mm, path};

/// Where the wall is steeper than this against the axis the page is shaded, rad: art there is drawn
/// out or pressed together to the eye.
const STEEP_RAD: f64 = 30.0 * PI / 180.0;
/// The wall's outline on a narrowing page is drawn with points no further apart than this, mm.
const LOOK_MM: f64 = 0.5;
/// How broad the strip is that shows where the lens is sharp.
const FOCUS_STRIP_MM: f64 = 2.0;
/// How long the words beside the bar are, at most.
const WORDS_MM: f64 = 75.0;

/// How the page is laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct TemplateSetting {
    /// The radius at which the page is true around, mm.
    pub reference_radius_mm: f64,
    /// How the ware stands on the page.
    pub stands: Stands,
    /// Whether the outline narrows with the wall: for a drawing laid as a whole by `true-width`.
    pub narrows: bool,
    /// What is kept clear around a zone that names no margin, mm.
    pub margin_mm: f64,
    /// The stretches of the meridian in which the lens is sharp, mm from the first station; none
    /// where that is not known.
    pub sharp_s_mm: Vec<(f64, f64)>,
}

/// The page for a blank, as an SVG document in mm that prints true: `π` times the reference
/// diameter around, the length of the wall's meridian along. Art drawn on it needs no placing.
///
/// It shows the stations with their diameters and, at each, how long 10 mm of art lies on the page;
/// zones with their margins; front, quarter lines and seam; shading where the wall is steep; and a
/// bar of 50 mm to check the print.
#[must_use]
pub fn template(blank: &Blank, setting: &TemplateSetting) -> String {
    let page = Page::new(blank, setting);
    let (width, height) = page.size();
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 \
         {w} {h}\">\n\
         <title>{}: page to draw on</title>\n\
         <g id=\"{GUIDES_ID}\" data-stave=\"guides\" fill=\"none\" stroke=\"#000000\" \
                 stroke-width=\"0.2\" \
         font-family=\"sans-serif\" font-size=\"3\">\n",
        escaped(&blank.name),
        w = mm(width),
        h = mm(height),
    );
    for (name, drawn) in [
        ("slope", page.slope()),
        ("outline", page.outline()),
        ("focus", page.focus()),
        ("turns", page.turns()),
        ("zones", page.zones()),
        ("stations", page.stations()),
        ("scale", page.scale()),
    ] {
        out.push_str(&format!("<g id=\"{GUIDES_ID}-{name}\">\n{drawn}</g>\n"));
    }
    out.push_str("</g>\n</svg>\n");
    out
}

struct Page<'a> {
    blank: &'a Blank,
    setting: &'a TemplateSetting,
    length_mm: f64,
    half_around_mm: f64,
}

impl<'a> Page<'a> {
    fn new(blank: &'a Blank, setting: &'a TemplateSetting) -> Self {
        Self {
            blank,
            setting,
            length_mm: blank.wall.length_mm(),
            half_around_mm: PI * setting.reference_radius_mm,
        }
    }

    fn size(&self) -> (f64, f64) {
        match self.setting.stands {
            Stands::Lying => (self.length_mm, 2.0 * self.half_around_mm),
            _ => (2.0 * self.half_around_mm, self.length_mm),
        }
    }

    /// From the flat plane to the page: x to the right, y down.
    fn place(&self, u: f64, v: f64) -> (f64, f64) {
        match self.setting.stands {
            Stands::Lying => (u, self.half_around_mm - v),
            Stands::Inverted => (self.half_around_mm + v, u),
            Stands::Upright => (self.half_around_mm - v, self.length_mm - u),
        }
    }

    /// mm of page for a radian at a place.
    fn per_rad(&self, section: &Section) -> f64 {
        if self.setting.narrows { section.radius_mm } else { self.setting.reference_radius_mm }
    }

    fn section(&self, s_mm: f64) -> Section {
        self.blank.wall.section(s_mm.clamp(0.0, self.length_mm), &mut 0)
    }

    /// Page points along a line of even turn, between two places of the meridian.
    fn meridian(&self, turn_rad: f64, from_s: f64, to_s: f64) -> Vec<(f64, f64)> {
        let mut places = vec![from_s, to_s];
        if self.setting.narrows {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps = ((to_s - from_s).abs() / LOOK_MM).ceil().clamp(1.0, 10_000.0) as u32;
            places.extend(
                (1..steps).map(|k| from_s + (to_s - from_s) * f64::from(k) / f64::from(steps)),
            );
            let ends = self.blank.wall.span_ends_mm().iter().copied();
            places.extend(ends.filter(|s| *s > from_s && *s < to_s));
        }
        places.sort_by(f64::total_cmp);
        places.dedup();
        places.iter().map(|&s| self.place(s, turn_rad * self.per_rad(&self.section(s)))).collect()
    }

    /// The patch between two turns and two places, closed.
    fn patch(&self, turn: (f64, f64), s: (f64, f64), margin_mm: f64) -> Vec<(f64, f64)> {
        let (low, high) = ((s.0 - margin_mm).max(0.0), (s.1 + margin_mm).min(self.length_mm));
        let side = |turn_rad: f64, sign: f64| {
            let wide = |s: f64| turn_rad + sign * margin_mm / self.section(s).radius_mm;
            if margin_mm == 0.0 {
                return self.meridian(turn_rad, low, high);
            }
            let mut places = vec![low, high];
            places
                .extend(self.blank.wall.span_ends_mm().iter().filter(|s| **s > low && **s < high));
            places.sort_by(f64::total_cmp);
            places
                .iter()
                .map(|&s| self.place(s, wide(s) * self.per_rad(&self.section(s))))
                .collect()
        };
        let mut points = side(turn.0, -1.0);
        points.extend(side(turn.1, 1.0).into_iter().rev());
        points
    }

    fn outline(&self) -> String {
        let mut points = self.meridian(-PI, 0.0, self.length_mm);
        points.extend(self.meridian(PI, 0.0, self.length_mm).into_iter().rev());
        format!("<path d=\"{}\"/>\n", path(&points, true))
    }

    fn slope(&self) -> String {
        let sections = self.blank.wall.sections_between(0.0, self.length_mm);
        let mut out = String::new();
        let mut steep: Option<(f64, f64)> = None;
        let mut shade = |from: f64, to: f64| {
            let points = self.patch((-PI, PI), (from, to), 0.0);
            out.push_str(&format!(
                "<path d=\"{}\" fill=\"#e3e3e3\" stroke=\"none\"/>\n",
                path(&points, true)
            ));
        };
        for pair in sections.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            if b.0 <= a.0 {
                continue;
            }
            let slope = a.1.slope_rad().abs().max(b.1.slope_rad().abs());
            match (slope > STEEP_RAD, steep) {
                (true, Some((from, _))) => steep = Some((from, b.0)),
                (true, None) => steep = Some((a.0, b.0)),
                (false, Some((from, to))) => {
                    shade(from, to);
                    steep = None;
                }
                (false, None) => {}
            }
        }
        if let Some((from, to)) = steep {
            shade(from, to);
        }
        out
    }

    fn turns(&self) -> String {
        let mut out = String::new();
        let lines = [
            (0.0, "front", ""),
            (-0.5 * PI, "-90°", "2 1"),
            (0.5 * PI, "90°", "2 1"),
            (PI, "seam", ""),
        ];
        for (turn, name, dashes) in lines {
            let points = self.meridian(turn, 0.0, self.length_mm);
            if !dashes.is_empty() || turn == 0.0 {
                out.push_str(&format!(
                    "<path d=\"{}\" stroke=\"#777777\" stroke-dasharray=\"{}\"/>\n",
                    path(&points, false),
                    if dashes.is_empty() { "6 1 1 1" } else { dashes },
                ));
            }
            let mark = if turn == PI { turn * 0.96 } else { turn };
            let (x, y) = self
                .place(0.985 * self.length_mm, mark * self.per_rad(&self.section(self.length_mm)));
            out.push_str(&self.text(x + 1.0, y, name));
        }
        out
    }

    fn text(&self, x: f64, y: f64, text: &str) -> String {
        // The outermost millimetres of a page are seldom printed, and text must not hang over.
        let (width, height) = self.size();
        format!(
            "<text x=\"{}\" y=\"{}\" fill=\"#000000\" stroke=\"none\">{}</text>\n",
            mm(x.clamp(1.0, (width - 8.0).max(1.0))),
            mm(y.clamp(4.0, (height - 1.5).max(4.0))),
            escaped(text)
        )
    }

    /// Where the lens is sharp: a strip along either edge of the page.
    fn focus(&self) -> String {
        let mut out = String::new();
        for &(from, to) in &self.setting.sharp_s_mm {
            for side in [-1.0, 1.0] {
                let edge = |s: f64, inside_mm: f64| {
                    self.place(s, side * (PI * self.per_rad(&self.section(s)) - inside_mm))
                };
                let strip = [
                    edge(from, 0.0),
                    edge(to, 0.0),
                    edge(to, FOCUS_STRIP_MM),
                    edge(from, FOCUS_STRIP_MM),
                ];
                out.push_str(&format!(
                    "<path class=\"sharp\" d=\"{}\" fill=\"#bcd3dd\" stroke=\"#2f6577\"/>\n",
                    path(&strip, true)
                ));
            }
            let (x, y) = self.place(
                0.5 * (from + to),
                PI * self.per_rad(&self.section(0.5 * (from + to))) - 3.0,
            );
            out.push_str(&self.text(x, y, "sharp"));
        }
        out
    }

    fn zones(&self) -> String {
        self.blank.zones.iter().map(|zone| self.zone(zone)).collect()
    }

    fn zone(&self, zone: &Zone) -> String {
        let wall = &self.blank.wall;
        let s = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
        if s.1 <= 0.0 || s.0 >= self.length_mm {
            return String::new();
        }
        let margin = zone.margin_mm.unwrap_or(self.setting.margin_mm);
        let mut out = String::new();
        // A zone over the seam shows at both edges of the page; what lies past an edge is outside
        // the document's view.
        let whole_turns = ((zone.turn_rad.0 + PI) / (2.0 * PI)).floor();
        for shift in [0.0, -1.0] {
            let by = 2.0 * PI * (shift - whole_turns);
            let turn = (zone.turn_rad.0 + by, zone.turn_rad.1 + by);
            if turn.1 < -PI {
                continue;
            }
            let clear = path(&self.patch(turn, s, margin), true);
            let burned = path(&self.patch(turn, s, 0.0), true);
            out.push_str(&format!(
                "<path d=\"{clear}\" stroke=\"#b34700\" stroke-dasharray=\"1 1\"/>\n\
                 <path d=\"{burned}\" fill=\"#f2d6c2\" stroke=\"#b34700\"/>\n"
            ));
            let middle = 0.5 * (turn.0.max(-PI) + turn.1.min(PI));
            let at = 0.5 * (s.0.max(0.0) + s.1.min(self.length_mm));
            let (x, y) = self.place(at, middle * self.per_rad(&self.section(at)));
            out.push_str(&self.text(x - 5.0, y + 1.0, &zone.name));
        }
        out
    }

    fn stations(&self) -> String {
        let mut out = String::new();
        let count = self.blank.stations.len();
        for (i, station) in self.blank.stations.iter().enumerate() {
            let s = self.blank.wall.s_of_at(station.at_mm);
            let section = self.section(s);
            let around = PI * self.per_rad(&section);
            let ends = [self.place(s, around), self.place(s, -around)];
            out.push_str(&format!("<path d=\"{}\" stroke=\"#bbbbbb\"/>\n", path(&ends, false)));
            // Ten millimetres of art on the wall, as long as it lies on this page.
            let bar = 10.0 * self.per_rad(&section) / section.radius_mm;
            let inner = if i + 1 == count { s - 0.8 } else { s + 0.8 };
            let start = 0.8 * around;
            let ends = [self.place(inner, start), self.place(inner, start - bar)];
            out.push_str(&format!(
                "<path class=\"ten\" d=\"{}\" stroke=\"#00509e\" stroke-width=\"0.6\"/>\n",
                path(&ends, false)
            ));
            let (x, y) = self.place(inner, 0.78 * around - bar);
            out.push_str(&self.text(
                x + 1.0,
                y,
                &format!(
                    "at {} ⌀ {} (blue: 10 mm)",
                    fixed(station.at_mm, 2),
                    fixed(2.0 * station.radius_mm, 2)
                ),
            ));
        }
        out
    }

    /// Where a bar so long and its words lie over no zone: as near the lower left corner as can be.
    fn clear_of_zones(&self, long_mm: f64, width: f64, height: f64) -> (f64, f64) {
        let words = long_mm.max(WORDS_MM);
        let corner = (2.0 + FOCUS_STRIP_MM, height - 7.0);
        let taken: Vec<kurbo::Rect> = self.zone_boxes();
        let clear = |&(x, y): &(f64, f64)| {
            let bar = kurbo::Rect::new(x - 1.0, y - 6.0, x + words + 1.0, y + 2.0);
            taken.iter().all(|zone| zone.intersect(bar).area() <= 0.0)
        };
        let step = 5.0;
        let places = |length: f64| {
            std::iter::successors(Some(0.0), move |at: &f64| Some(at + step))
                .take_while(move |at| *at <= length)
        };
        let up = places(height - 20.0);
        up.flat_map(|up| {
            places(width - words - 4.0).map(move |right| (corner.0 + right, corner.1 - up))
        })
        .find(clear)
        .unwrap_or(corner)
    }

    /// The zones' margins on the page, each as a box.
    fn zone_boxes(&self) -> Vec<kurbo::Rect> {
        let wall = &self.blank.wall;
        let mut boxes = Vec::new();
        for zone in &self.blank.zones {
            let s = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
            let margin = zone.margin_mm.unwrap_or(self.setting.margin_mm);
            let whole_turns = ((zone.turn_rad.0 + PI) / (2.0 * PI)).floor();
            for shift in [0.0, -1.0] {
                let by = 2.0 * PI * (shift - whole_turns);
                let patch = self.patch((zone.turn_rad.0 + by, zone.turn_rad.1 + by), s, margin);
                let Some(first) = patch.first() else { continue };
                let start = kurbo::Rect::new(first.0, first.1, first.0, first.1);
                boxes.push(patch.iter().fold(start, |all, point| all.union_pt(*point)));
            }
        }
        boxes
    }

    fn scale(&self) -> String {
        let (width, height) = self.size();
        let long = if width >= 54.0 { 50.0 } else { 10.0 };
        let (x, y) = self.clear_of_zones(long, width, height);
        let bar = [
            (x, y - 1.0),
            (x, y + 1.0),
            (x, y),
            (x + long, y),
            (x + long, y - 1.0),
            (x + long, y + 1.0),
        ];
        format!(
            "<path id=\"{GUIDES_ID}-scale-bar\" d=\"{}\" stroke-width=\"0.3\"/>\n{}",
            path(&bar, false),
            self.text(
                x,
                y - 1.5,
                &format!("{} mm: check with a ruler before you trust the print", mm(long))
            )
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blank() -> Blank {
        let text = "name = \"a <b>\"\n[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = \
                    40\ndiameter = 120\n\
                    [[zone]]\nname = \"boss\"\nat = [10, 20]\nturn = [170, 190]\nrise = 5\nmargin \
                                       = 1\n";
        stave_setup::read_blank(text, "b.toml").unwrap()
    }

    fn setting() -> TemplateSetting {
        TemplateSetting {
            reference_radius_mm: 60.0,
            stands: Stands::Upright,
            narrows: false,
            margin_mm: 0.0,
            sharp_s_mm: Vec::new(),
        }
    }

    #[test]
    fn the_page_is_the_wall_rolled_out() {
        // A 3-4-5 triangle: 40 along the axis and 30 of radius are 50 along the meridian; π · 120
        // around.
        let page = template(&blank(), &setting());
        assert!(page.contains("width=\"376.9911mm\" height=\"50mm\""), "{page}");
        let lying = template(&blank(), &TemplateSetting { stands: Stands::Lying, ..setting() });
        assert!(lying.contains("width=\"50mm\" height=\"376.9911mm\""));
        assert!(page.contains("a &lt;b&gt;"));
    }

    #[test]
    fn ten_millimetres_are_twice_as_long_where_the_wall_is_half_as_wide() {
        let bars = |page: &str| -> Vec<f64> {
            let lines = page.lines().filter(|line| line.contains("class=\"ten\""));
            let ends = lines.map(|line| {
                let d = line.split("d=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap();
                let x = |part: &str| {
                    part.trim_start_matches(['M', 'L']).split(' ').next().unwrap().parse::<f64>()
                };
                let (from, to) = d.split_once(" L").unwrap();
                (x(to).unwrap() - x(from).unwrap()).abs()
            });
            ends.collect()
        };
        let page = bars(&template(&blank(), &setting()));
        assert!((page[0] - 20.0).abs() < 1e-3 && (page[1] - 10.0).abs() < 1e-3, "{page:?}");
        let narrow = bars(&template(&blank(), &TemplateSetting { narrows: true, ..setting() }));
        assert!(narrow.iter().all(|bar| (bar - 10.0).abs() < 1e-3), "{narrow:?}");
    }

    #[test]
    fn page_maps_are_those_of_the_design() {
        let blank = blank();
        let at = |stands| {
            let setting = TemplateSetting { stands, ..setting() };
            Page::new(&blank, &setting).place(20.0, 30.0)
        };
        let half = 60.0 * PI;
        assert_eq!(at(Stands::Upright), (half - 30.0, 30.0));
        assert_eq!(at(Stands::Inverted), (half + 30.0, 20.0));
        assert_eq!(at(Stands::Lying), (20.0, half - 30.0));
    }

    #[test]
    fn a_zone_over_the_seam_shows_at_both_edges() {
        assert_eq!(template(&blank(), &setting()).matches("fill=\"#f2d6c2\"").count(), 2);
    }
}
