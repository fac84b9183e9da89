//! Flat patterns of the wall, to cut out of paper and hold against the blank.

mod sheets;
mod words;

use std::f64::consts::PI;

use kurbo::BezPath;
use stave_setup::{Blank, LengthUnit, Zone};
use stave_wall::{Development, Station, Wall, WallShape};

pub use self::sheets::{PaperError, paper_sheets};
use crate::draw::{
    Drawing, INK, SOFT, ZONE, ZONE_FILL, bar_told, broken, check_bar_mm, dated, scale_bar,
    text_width_mm,
};
use crate::svg::isolated;

/// Room around and between patterns, mm.
const EDGE_MM: f64 = 10.0;
/// Room above a pattern for its name.
const NAME_MM: f64 = 7.0;
/// A chord of a pattern's edge strays from it by less than this, mm.
const CHORD_MM: f64 = 0.005;
/// How broad the tab is that one cut edge is glued by, and how much its corners are cut away.
const TAB_MM: (f64, f64) = (7.0, 4.0);
const WORDS_MM: f64 = 3.5;
const SMALL_MM: f64 = 2.6;
const TITLE_MM: f64 = 4.6;
const LINE_MM: f64 = 3.8;

/// Stations that lie on one taper within this are cut in one piece: paper shows no less, mm.
const ONE_TAPER_MM: f64 = 0.01;

/// A line of points, mm.
type Points = Vec<(f64, f64)>;

/// The pattern of what is developable in one piece, its corners in mm of the sheet with y down.
struct Pattern {
    name: String,
    outline: Points,
    front: [(f64, f64); 2],
    quarters: [[(f64, f64); 2]; 2],
    tab: Points,
    zones: Vec<(String, Points)>,
    /// What the blank wants kept clear around them.
    clear: Vec<Points>,
    low: (f64, f64),
    high: (f64, f64),
    /// The `at` to which its upper edge belongs.
    larger_at_mm: f64,
    /// In which its figures are told.
    unit: LengthUnit,
}

/// The bar that a print is checked by, mm, and what is said of it.
fn bar(unit: LengthUnit) -> (f64, String) {
    let long_mm = check_bar_mm(unit);
    (long_mm, format!("{} by a ruler, else print at 100 %", bar_told(unit, long_mm)))
}

/// The developments of a straight wall's frusta, those of one taper as one sleeve, one below the
/// other, in mm that print true, with a
/// bar to check the print.
///
/// Each is cut along turn 180° and has a tab there; the dashed line is turn 0, zones lie where they
/// lie on the wall, an arrow points to the larger `at`. A pattern whose edges meet around the blank
/// shows that its two diameters and its slant were measured right. The date stands with the title,
/// if there is one. `None` for a smooth wall: what is curved both ways has no flat pattern.
///
/// # References
/// E. M. Longfield, *Sheet Metal Drafting* (McGraw-Hill 1921): frustum of a right cone.
///
/// ```
/// let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 70\n";
/// let blank = stave_setup::read_blank(text, "cup.toml")?;
/// let svg = stave_picture::paper(&blank, "2026-11-30").unwrap();
/// assert!(svg.contains("at 0 to 90 mm"));
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn paper(blank: &Blank, date: &str) -> Option<String> {
    let Drawn { drawing, size, .. } = drawn(&blank.name, date, &patterns(blank)?, None);
    Some(drawing.document(size, &format!("{}: flat patterns", blank.name)))
}

/// All patterns on one large page.
struct Drawn {
    drawing: Drawing,
    /// Of the page, mm.
    size: (f64, f64),
    /// The outlines of the patterns and their tabs, where they lie on it.
    outlines: Vec<BezPath>,
}

/// All patterns on one large page. Where it is to be parted between rows of so
/// many mm, one edge to edge with the next, no pattern lies across two rows: it begins with one.
fn drawn(name: &str, date: &str, patterns: &[Pattern], row_mm: Option<f64>) -> Drawn {
    let unit = patterns.first().map_or(LengthUnit::Mm, |pattern| pattern.unit);
    let (bar_mm, bar_words) = bar(unit);
    let widest = patterns.iter().map(Pattern::wide_mm).fold(bar_mm + 80.0, f64::max);
    let named = patterns.iter().map(|p| text_width_mm(&p.name, WORDS_MM)).fold(0.0, f64::max);
    let width = widest.max(named) + 2.0 * EDGE_MM;
    let wide = width - 2.0 * EDGE_MM;
    let mut out = Drawing::default();
    let title = dated(&format!("{}: flat patterns", isolated(name)), date, TITLE_MM, wide / 1.14);
    out.text((EDGE_MM, EDGE_MM + 4.0), TITLE_MM, "font-weight=\"bold\"", &title);
    let mut y = EDGE_MM + 9.0;
    let mut outlines = Vec::new();
    for pattern in patterns {
        y = on_one_row(y, NAME_MM + pattern.tall_mm(), row_mm);
        out.text((EDGE_MM, y + 4.0), WORDS_MM, "", &pattern.name);
        y += NAME_MM;
        let shift = (0.5 * width - 0.5 * (pattern.low.0 + pattern.high.0), y - pattern.low.1);
        pattern.draw(&mut out, shift);
        outlines.extend([&pattern.outline, &pattern.tab].map(|points| ring(points, shift)));
        y += pattern.tall_mm() + EDGE_MM;
    }
    let mut lines = vec![
        "Cut along the full lines and glue the tab under the other end: there the seam is, at turn \
         180°. Long dashes are the front, short dashes the quarters; arrows point to the end with \
         the larger \"at\"."
            .to_owned(),
        "Ends that meet around the ware say that its diameters and its slant were measured right."
            .to_owned(),
    ];
    if patterns.iter().any(|pattern| !pattern.zones.is_empty()) {
        let margins = patterns.iter().any(|pattern| !pattern.clear.is_empty());
        let margins = if margins { ", nor what the dashes around it hold" } else { "" };
        lines.push(format!("Orange is not to be burned{margins}."));
    }
    // The sheet on the left holds them, on whatever paper.
    let lines = broken(&lines.join(" "), SMALL_MM, wide.min(170.0));
    let tall = 4.0 + LINE_MM * (1.0 + lines.iter().fold(0.0, |sum, _| sum + 1.0));
    y = on_one_row(y, tall, row_mm);
    scale_bar(&mut out, (EDGE_MM, y + 1.5), bar_mm, "bar", &bar_words);
    y += 4.0;
    for line in &lines {
        y += LINE_MM;
        out.text((EDGE_MM, y), SMALL_MM, "", line);
    }
    Drawn { drawing: out, size: (width, y + EDGE_MM), outlines }
}

/// Points, moved, as a closed path.
fn ring(points: &[(f64, f64)], (dx, dy): (f64, f64)) -> BezPath {
    let mut path = BezPath::new();
    for (k, &(x, y)) in points.iter().enumerate() {
        let to = (x + dx, y + dy);
        if k == 0 { path.move_to(to) } else { path.line_to(to) }
    }
    path.close_path();
    path
}

/// The pattern of every run of spans that is one taper; `None` for a smooth wall.
fn patterns(blank: &Blank) -> Option<Vec<Pattern>> {
    if blank.wall.shape() != WallShape::Straight {
        return None;
    }
    let tapers = tapers(&blank.stations).into_iter();
    let numbered = tapers.enumerate();
    numbered
        .map(|(k, ends)| {
            let wall = Wall::from_stations(&ends, WallShape::Straight).ok()?;
            pattern((&wall, blank.unit()), &blank.zones, k + 1)
        })
        .collect()
}

/// The ends of each run of stations that lie on one taper, as long as can be.
fn tapers(stations: &[Station]) -> Vec<[Station; 2]> {
    let mut found = Vec::new();
    let mut first = 0;
    while first + 1 < stations.len() {
        let reach = |last: &usize| is_one_taper(&stations[first..=*last]);
        let last = (first + 1..stations.len()).take_while(reach).last().unwrap_or(first + 1);
        found.push([stations[first], stations[last]]);
        first = last;
    }
    found
}

fn is_one_taper(stations: &[Station]) -> bool {
    let [first, between @ .., last] = stations else { return true };
    let per_mm = (last.radius_mm - first.radius_mm) / (last.at_mm - first.at_mm);
    between.iter().all(|station| {
        let on_it = first.radius_mm + per_mm * (station.at_mm - first.at_mm);
        (station.radius_mm - on_it).abs() <= ONE_TAPER_MM
    })
}

/// Where what begins at `y` and is so tall lies on one row: there, or where the next row begins.
fn on_one_row(y: f64, tall_mm: f64, row_mm: Option<f64>) -> f64 {
    let Some(row_mm) = row_mm else { return y };
    let next = ((y / row_mm).floor() + 1.0) * row_mm;
    if y + tall_mm > next && tall_mm <= row_mm { next } else { y }
}

impl Pattern {
    fn wide_mm(&self) -> f64 {
        self.high.0 - self.low.0
    }

    fn tall_mm(&self) -> f64 {
        self.high.1 - self.low.1
    }

    fn draw(&self, out: &mut Drawing, (dx, dy): (f64, f64)) {
        let moved = |points: &[(f64, f64)]| -> Points {
            points.iter().map(|(x, y)| (x + dx, y + dy)).collect()
        };
        let thin = format!("stroke=\"{SOFT}\" stroke-width=\"0.15\"");
        out.line(&moved(&self.tab), &format!("class=\"tab\" {thin}"));
        let dashed = format!("fill=\"none\" stroke=\"{ZONE}\" stroke-width=\"0.2\"");
        for clear in &self.clear {
            let style = format!("class=\"clear\" {dashed} stroke-dasharray=\"1 1\"");
            out.shape(&moved(clear), &style);
        }
        for (_, zone) in &self.zones {
            let style = format!("fill=\"{ZONE_FILL}\" stroke=\"{ZONE}\" stroke-width=\"0.2\"");
            out.shape(&moved(zone), &style);
        }
        for quarter in &self.quarters {
            out.line(&moved(quarter), &format!("{thin} stroke-dasharray=\"1 1\""));
        }
        let dashed = format!("stroke=\"{INK}\" stroke-width=\"0.2\" stroke-dasharray=\"3 2\"");
        out.line(&moved(&self.front), &dashed);
        let cut = format!("class=\"pattern\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"0.2\"");
        out.shape(&moved(&self.outline), &cut);
        self.words(out, &moved(&self.front), dx, dy);
    }
}

/// The pattern of a wall of one span, and which of the ware's it is.
fn pattern((wall, unit): (&Wall, LengthUnit), zones: &[Zone], number: usize) -> Option<Pattern> {
    let sheet = Development::of_span(wall, 0)?;
    let (from_s, to_s) = (0.0, wall.length_mm());
    let ends = [wall.section_in(0, from_s), wall.section_in(0, to_s)];
    // Seen from outside with the larger `at` up: the sheet's x grows with the turn, which is to the
    // left.
    let point = |s: f64, turn: f64| {
        let (x, y) = sheet.point_mm(s, turn);
        (-x, -y)
    };
    // An edge is an arc of r/|sin φ| and |sin φ| a turn: chords of sagitta k span √(8 k r sin φ)/r
    // of turn.
    let sagging =
        ends.iter().map(|end| end.radius_mm).fold(0.0, f64::max) * ends[0].sin_slope.abs();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let steps = (2.0 * PI * (sagging * ends[0].sin_slope.abs().max(1e-9) / (8.0 * CHORD_MM)).sqrt()
        + 8.0)
        .clamp(8.0, 4000.0) as u32;
    let turn = |k: u32| -PI + 2.0 * PI * f64::from(k) / f64::from(steps);
    let mut outline: Vec<_> = (0..=steps).map(|k| point(from_s, turn(k))).collect();
    outline.extend((0..=steps).rev().map(|k| point(to_s, turn(k))));
    let tab = tab(point(from_s, PI), point(to_s, PI), point(from_s, 0.9 * PI));
    let radius = |s: f64| wall.section_in(0, s).radius_mm;
    let around = |zone: &Zone, margin_mm: f64| -> Vec<Points> {
        let widened = (margin_mm / ends[0].radius_mm).max(margin_mm / ends[1].radius_mm);
        let patches = patches(wall, zone, margin_mm, widened).into_iter();
        let patch = patches.map(|(s, turns)| {
            let edge = |s: f64| {
                let by = margin_mm / radius(s);
                ((turns.0 - by).clamp(-PI, PI), (turns.1 + by).clamp(-PI, PI))
            };
            patch(point, s, [edge(s.0), edge(s.1)])
        });
        patch.collect()
    };
    let clear = zones.iter().flat_map(|zone| {
        let margin_mm = zone.margin_mm.filter(|margin_mm| *margin_mm > 0.0);
        margin_mm.map_or_else(Vec::new, |margin_mm| around(zone, margin_mm))
    });
    let clear = clear.collect();
    let named = |zone: &Zone| {
        let patches = around(zone, 0.0).into_iter();
        patches.map(|patch| (zone.name.clone(), patch)).collect::<Vec<_>>()
    };
    let zones = zones.iter().flat_map(named).collect();
    let low = (f64::INFINITY, f64::INFINITY);
    let high = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    let all = || outline.iter().chain(&tab);
    let low = all().fold(low, |m, p| (m.0.min(p.0), m.1.min(p.1)));
    let high = all().fold(high, |m, p| (m.0.max(p.0), m.1.max(p.1)));
    let name = format!(
        "{}. at {} to {}, diameters {} and {}, slant {}",
        number,
        unit.figure(ends[0].at_mm, 2),
        unit.told(ends[1].at_mm, 2),
        unit.figure(2.0 * ends[0].radius_mm, 2),
        unit.told(2.0 * ends[1].radius_mm, 2),
        unit.told(sheet.slant_mm(), 2)
    );
    let line = |turn: f64| [point(from_s, turn), point(to_s, turn)];
    let quarters = [line(0.5 * PI), line(-0.5 * PI)];
    let (front, larger_at_mm) = (line(0.0), ends[1].at_mm);
    Some(Pattern {
        name,
        outline,
        front,
        quarters,
        tab,
        zones,
        clear,
        low,
        high,
        larger_at_mm,
        unit,
    })
}

/// The tab on a cut edge from one corner to the other, away from a place of the pattern.
fn tab(from: (f64, f64), to: (f64, f64), inside: (f64, f64)) -> Points {
    let along = (to.0 - from.0, to.1 - from.1);
    let long = along.0.hypot(along.1).max(1e-9);
    let along = (along.0 / long, along.1 / long);
    let mut out = (-along.1, along.0);
    if out.0 * (inside.0 - from.0) + out.1 * (inside.1 - from.1) > 0.0 {
        out = (-out.0, -out.1);
    }
    let corner = TAB_MM.1.min(0.3 * long);
    let at = |(x, y): (f64, f64), by: f64| {
        (x + along.0 * by + out.0 * TAB_MM.0, y + along.1 * by + out.1 * TAB_MM.0)
    };
    vec![from, at(from, corner), at(to, -corner), to]
}

/// The parts of a zone, widened by a margin along and a turn around, that lie on a wall: places of
/// the meridian, and the zone's own turns; two over the seam.
fn patches(
    wall: &Wall,
    zone: &Zone,
    margin_mm: f64,
    widened_rad: f64,
) -> Vec<((f64, f64), (f64, f64))> {
    let (first, last) = wall.at_range_mm();
    let slope = wall.section_in(0, 0.0).cos_slope;
    // Past an end of this taper the margin is reckoned along it too: it may reach over from there.
    let along = |at_mm: f64| (at_mm - first) / slope;
    let most = along(last);
    let s = (
        (along(zone.at_mm.0) - margin_mm).clamp(0.0, most),
        (along(zone.at_mm.1) + margin_mm).clamp(0.0, most),
    );
    if s.1 - s.0 <= 1e-9 {
        return Vec::new();
    }
    let base = -2.0 * PI * ((zone.turn_rad.0 + PI) / (2.0 * PI)).floor();
    [base, base - 2.0 * PI, base + 2.0 * PI]
        .into_iter()
        .map(|by| (zone.turn_rad.0 + by, zone.turn_rad.1 + by))
        .filter(|turns| turns.1 + widened_rad > -PI + 1e-9 && turns.0 - widened_rad < PI - 1e-9)
        .map(|turns| (s, turns))
        .collect()
}

/// A patch of the wall between two places, at each of which it has two turns, on the sheet.
fn patch(
    point: impl Fn(f64, f64) -> (f64, f64),
    s: (f64, f64),
    [lower, upper]: [(f64, f64); 2],
) -> Points {
    let turn = |ends: (f64, f64), k: i32| ends.0 + (ends.1 - ends.0) * f64::from(k) / 48.0;
    let low = (0..=48).map(|k| point(s.0, turn(lower, k)));
    low.chain((0..=48).rev().map(|k| point(s.1, turn(upper, k)))).collect()
}

#[cfg(test)]
mod tests {
    use kurbo::Rect;

    use super::words::box_of;
    use super::*;

    fn blank(stations: &[(f64, f64)]) -> Blank {
        let text: String = stations
            .iter()
            .map(|(at, d)| format!("[[station]]\nat = {at}\ndiameter = {d}\n"))
            .collect();
        stave_setup::read_blank(&text, "cup.toml").unwrap()
    }

    fn length(points: &[(f64, f64)]) -> f64 {
        points.windows(2).map(|pair| (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1)).sum()
    }

    #[test]
    fn the_edges_are_as_long_as_the_circles_they_go_around() {
        for stations in
            [[(0.0, 66.0), (95.0, 70.0)], [(0.0, 70.0), (6.0, 86.0)], [(0.0, 60.0), (50.0, 60.0)]]
        {
            let pattern = pattern((&blank(&stations).wall, LengthUnit::Mm), &[], 1).unwrap();
            let half = pattern.outline.len() / 2;
            for (edge, diameter) in [&pattern.outline[..half], &pattern.outline[half..]]
                .iter()
                .zip([stations[0].1, stations[1].1])
            {
                assert!((length(edge) - PI * diameter).abs() < 0.05, "{stations:?}");
            }
            let slant =
                (stations[1].0 - stations[0].0).hypot((stations[1].1 - stations[0].1) / 2.0);
            assert!((length(&pattern.front) - slant).abs() < 1e-9);
        }
    }

    #[test]
    fn every_frustum_has_its_pattern_and_a_curved_wall_none() {
        let svg = paper(&blank(&[(0.0, 66.0), (95.0, 70.0), (101.0, 86.0)]), "").unwrap();
        assert_eq!(svg.matches("class=\"pattern\"").count(), 2);
        let round = "wall = \"smooth\"\n[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = \
                     20\ndiameter = 70\n";
        assert!(paper(&stave_setup::read_blank(round, "ball.toml").unwrap(), "").is_none());
    }

    #[test]
    fn a_zone_lies_on_its_pattern_as_large_as_on_the_wall() {
        let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 80\ndiameter = 90\n\
                    [[zone]]\nname = \"mark\"\nat = [20, 40]\nturn = [170, 200]\n";
        let blank = stave_setup::read_blank(text, "cup.toml").unwrap();
        let pattern = pattern((&blank.wall, LengthUnit::Mm), &blank.zones, 1).unwrap();
        // Over the seam it lies at either edge; areas on a development are those on the wall:
        // between two places of a frustum, mean radius times angle times slant.
        assert_eq!(pattern.zones.len(), 2);
        let area = |points: &[(f64, f64)]| {
            let next = points.iter().cycle().skip(1);
            let twice: f64 = points.iter().zip(next).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum();
            0.5 * twice.abs()
        };
        let sum: f64 = pattern.zones.iter().map(|(_, zone)| area(zone)).sum();
        let slant = 20_f64.hypot(20.0 * 15.0 / 80.0);
        let mean_radius = 30.0 + 30.0 * 15.0 / 80.0;
        let on_the_wall = mean_radius * 30_f64.to_radians() * slant;
        assert!((sum - on_the_wall).abs() < 0.01, "{sum} {on_the_wall}");
    }

    /// Three stations on one taper are one sleeve as long as the wall, with the zone over the
    /// middle one whole; a station off it by more than paper shows parts it.
    #[test]
    fn what_is_one_taper_is_one_sleeve() {
        let zone = "[[zone]]\nname = \"mark\"\nat = [70, 110]\nturn = [100, 140]\nmargin = 3\n";
        for (middle, count) in [(65.0, 1), (65.01, 1), (65.4, 2)] {
            let text = [(0.0, 50.0), (90.0, middle), (180.0, 80.0), (200.0, 80.0)]
                .map(|(at, across)| format!("[[station]]\nat = {at}\ndiameter = {across}\n"));
            let blank = stave_setup::read_blank(&(text.concat() + zone), "cone.toml").unwrap();
            let patterns = patterns(&blank).unwrap();
            assert_eq!(patterns.len(), count + 1, "{middle}");
            let zones: Vec<usize> = patterns.iter().map(|pattern| pattern.zones.len()).collect();
            assert_eq!(zones, [vec![1; count], vec![0]].concat());
            if count == 1 {
                assert!((length(&patterns[0].front) - 180_f64.hypot(15.0)).abs() < 1e-3);
                assert!(patterns[0].name.starts_with("1. at 0 to 180 mm"));
                assert!(patterns[1].name.starts_with("2. at 180 to 200 mm"));
            }
        }
    }

    /// The margin of a zone lies around it as wide as the file says, on the next pattern too where
    /// it reaches over to that, and over the seam.
    #[test]
    fn margins_are_drawn_around_zones() {
        let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 50\ndiameter = 60\n\
                    [[station]]\nat = 90\ndiameter = 90\n\
                    [[zone]]\nname = \"mark\"\nat = [20, 48]\nturn = [150, 178]\nmargin = 4\n\
                    [[zone]]\nname = \"bare\"\nat = [20, 40]\nturn = [0, 10]\n";
        let blank = stave_setup::read_blank(text, "cup.toml").unwrap();
        let patterns = patterns(&blank).unwrap();
        // Past the seam by 4 mm less 2° of a radius of 30 mm.
        assert_eq!(patterns[0].clear.len(), 2);
        let [one, over] = [0, 1].map(|k| box_of(&patterns[0].clear[k]).unwrap());
        let (wide, beyond) = (30.0 * 30_f64.to_radians() + 4.0, 4.0 - 30.0 * 2_f64.to_radians());
        assert!((one.width() - wide).abs() < 1e-6 && (one.height() - 34.0).abs() < 1e-6, "{one}");
        assert!((over.width() - beyond).abs() < 1e-6, "{over} {beyond}");
        // Two mm and a little of it reach over to the cone above.
        assert_eq!((patterns[1].clear.len(), patterns[1].zones.len()), (2, 0));
        let svg = paper(&blank, "").unwrap();
        assert_eq!(svg.matches("class=\"clear\"").count(), 4);
    }

    #[test]
    fn no_words_meet_and_every_zone_and_arrow_is_there() {
        let text = "[[station]]\nat = 0\ndiameter = 66\n[[station]]\nat = 95\ndiameter = 70\n\
                    [[station]]\nat = 101\ndiameter = 86\n[[zone]]\nname = \"boss\"\n\
                    at = [20, 40]\nturn = [120, 160]\n[[zone]]\nname = \"a long name\"\n\
                    at = [50, 60]\nturn = [175, 185]\n[[zone]]\nname = \"handle\"\n\
                    at = [10, 85]\nturn = [-9, 9]\n";
        let blank = stave_setup::read_blank(text, "cup.toml").unwrap();
        for row_mm in [None, Some(120.0)] {
            let patterns = patterns(&blank).unwrap();
            let drawn = drawn(&blank.name, "2026-11-30", &patterns, row_mm);
            let Drawn { drawing, size: (width, height), .. } = drawn;
            crate::draw::assert_words_apart(&drawing, Rect::new(0.0, 0.0, width, height));
            let count = |name: &str| drawing.words.iter().filter(|(_, word)| word == name).count();
            // Over the seam a zone has two parts, and both are named.
            assert_eq!((count("boss"), count("a long name"), count("handle")), (1, 2, 1));
            // Not over the handle: where the line is too short for a sentence "front" is enough.
            let handle = &patterns[0].zones.iter().find(|(name, _)| name == "handle").unwrap().1;
            let wide = box_of(handle).unwrap().width();
            let (front, _) =
                drawing.words.iter().find(|(_, word)| word.starts_with("front;")).unwrap();
            assert!((front.center().x - 0.5 * width).abs() > 0.5 * wide, "{front:?} {wide}");
            assert_eq!(drawing.out.matches("class=\"up\"").count(), 2);
        }
    }

    /// Parted, a pattern that a sheet holds is on one row of sheets with its name.
    #[test]
    fn a_pattern_begins_with_the_row_that_holds_it() {
        assert_eq!(on_one_row(30.0, 60.0, None), 30.0);
        assert_eq!(on_one_row(30.0, 60.0, Some(100.0)), 30.0);
        assert_eq!(on_one_row(50.0, 60.0, Some(100.0)), 100.0);
        assert_eq!(on_one_row(130.0, 70.0, Some(100.0)), 130.0);
        assert_eq!(on_one_row(130.0, 71.0, Some(100.0)), 200.0);
        // Taller than a row it is parted wherever it begins.
        assert_eq!(on_one_row(50.0, 101.0, Some(100.0)), 50.0);
    }
}
