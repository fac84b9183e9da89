//! What measures the unrolled wall: dimension lines, turns along one edge, stations along the
//! other.

use std::f64::consts::{PI, TAU};

use stave_setup::Stands;
use stave_toolpath::number::fixed;
use stave_wall::Station;

use super::Unrolled;
use crate::draw::{
    Dimension, Drawing, FIGURE_MM, HAIR, SOFT, dimensions_in_line, spread, text_width_mm,
};
use crate::proof::Lies;
use crate::ware::{end_names, stations_apart};

/// The size of the stations' names, mm.
const STATION_MM: f64 = 2.3;
/// From line to line of them, and how wide around a picture is at least whose seam and front are
/// named.
const LINE_MM: f64 = 2.8;
const LEAST_NAMED_MM: f64 = 24.0;
/// What lies and is lower than this has no room for the names of both its ends.
const LOW_MM: f64 = 14.0;

impl Unrolled<'_> {
    /// How large the burned part is, on the wall, and how far it stands from either end, along the
    /// axis: along at the left of the picture, around above it. For ware that lies the other way
    /// about.
    pub(crate) fn dimensions(&self, lies: &Lies) -> Drawing {
        let mut out = Drawing::default();
        let (Some((from, to)), Some((low, high))) = (lies.burned_s_mm, lies.burned_turn_rad) else {
            return out;
        };
        let wall = &self.blank.wall;
        let length = wall.length_mm();
        let unit = self.blank.unit();
        let thin = format!("stroke=\"{HAIR}\" stroke-width=\"0.12\"");
        let whole_turn = high - low >= TAU - 1e-6;
        // The least turn on the picture, which runs from −180° to 180°.
        let shift = -TAU * ((low + PI) / TAU).floor();
        let (low, high) = if whole_turn { (-PI, PI) } else { (low + shift, high + shift) };
        let width = unit.told(lies.burned_around_mm.unwrap_or_default(), 1);
        let lying = self.stands == Stands::Lying;
        let mut parts = Vec::with_capacity(3);
        for (a, b, is_burned) in [(0.0, from, false), (from, to, true), (to, length, false)] {
            if b - a < 0.05 {
                continue;
            }
            let (a_at, b_at) = (self.paper(a, PI), self.paper(b, PI));
            let long_mm = if is_burned { b - a } else { self.on_axis_mm((a, b)) };
            let figure = unit.figure(long_mm, 1);
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
            self.dimensions_around(&mut out, (from, to), (low, high), &width);
        }
        out
    }

    /// How wide the burned part is, and how far it stands on either side from what stands out of
    /// the wall, or where that is not on the picture from the seam: by how much turn, from a
    /// handle in mm too; on a flat place from its edges, mm.
    fn dimensions_around(
        &self,
        out: &mut Drawing,
        (from_mm, to_mm): (f64, f64),
        (low, high): (f64, f64),
        width: &str,
    ) {
        let thin = format!("stroke=\"{HAIR}\" stroke-width=\"0.12\"");
        let radius_mm = self.blank.wall.largest_radius_mm();
        let unit = self.blank.unit();
        let away = |rad: f64| match self.plane {
            true => unit.figure(rad * radius_mm, 1),
            false => format!("{}°", fixed(rad.to_degrees(), 1)),
        };
        let (before, after) = self.handle_gaps((low, high));
        let there_mm = self.blank.wall.section(0.5 * (from_mm + to_mm), &mut 0).radius_mm;
        let from_handle = |rad: f64| {
            let both = format!("{}, {}", unit.told(rad * there_mm, 1), away(rad));
            let (a, b) = (self.paper(to_mm, low), self.paper(to_mm, low + rad));
            // A narrow one has room for the turn alone; the mm stand in the table.
            let has_room = (a.0 - b.0).hypot(a.1 - b.1) >= text_width_mm(&both, FIGURE_MM);
            if has_room { both } else { away(rad) }
        };
        let first = match before {
            Some(gap) => (low - gap, low, from_handle(gap)),
            None => (-PI, low, away(low + PI)),
        };
        let last = match after {
            Some(gap) => (high, high + gap, from_handle(gap)),
            None => (high, PI, away(PI - high)),
        };
        let s_mm = to_mm;
        let lying = self.stands == Stands::Lying;
        let (x, y) = (self.corner.0 - 12.0, self.corner.1 - 2.6);
        let mut parts = Vec::with_capacity(3);
        let mut ends = vec![low, high];
        ends.extend(before.map(|gap| low - gap));
        ends.extend(after.map(|gap| high + gap));
        for (a, b, figure) in [first, (low, high, width.to_owned()), last] {
            if (b - a) * radius_mm < 0.05 {
                continue;
            }
            let (a, b) = (self.paper(s_mm, a), self.paper(s_mm, b));
            let (from, to) = match lying {
                true => ((x, a.1.min(b.1)), (x, a.1.max(b.1))),
                false => ((a.0.min(b.0), y), (a.0.max(b.0), y)),
            };
            parts.push(Dimension { from, to, figure });
        }
        for turn in ends {
            let at = self.paper(s_mm, turn);
            match lying {
                true => out.line(&[(x, at.1), (self.corner.0, at.1)], &thin),
                false => out.line(&[(at.0, y), (at.0, self.corner.1)], &thin),
            }
        }
        dimensions_in_line(out, parts);
    }

    /// How far the nearest of what stands out of the wall is from the burned part, before it and
    /// after it, where that is on the picture in one with it, rad.
    fn handle_gaps(&self, (low, high): (f64, f64)) -> (Option<f64>, Option<f64>) {
        if self.plane {
            return (None, None);
        }
        let handles = self.blank.handles();
        let gaps: Vec<(f64, f64)> =
            handles.iter().filter_map(|handle| handle.gaps_rad((low, high))).collect();
        let least = |gaps: Vec<f64>| gaps.into_iter().reduce(f64::min);
        let before = least(gaps.iter().map(|gap| gap.1).collect());
        let after = least(gaps.iter().map(|gap| gap.0).collect());
        (before.filter(|gap| low - gap >= -PI), after.filter(|gap| high + gap <= PI))
    }

    fn on_axis_mm(&self, (from_mm, to_mm): (f64, f64)) -> f64 {
        self.blank.wall.at_of_s(to_mm) - self.blank.wall.at_of_s(from_mm)
    }

    /// Whether the dimensions to either end would be others on the wall: then the sheet says that
    /// they are along the axis.
    pub(crate) fn ends_along_axis(&self, lies: &Lies) -> bool {
        let ends = |(from, to)| [(0.0, from), (to, self.blank.wall.length_mm())];
        let all = lies.burned_s_mm.into_iter().flat_map(ends);
        let told = |mm: f64| self.blank.unit().figure(mm, 1);
        all.into_iter().any(|end| told(end.1 - end.0) != told(self.on_axis_mm(end)))
    }

    /// Turns along one edge, stations along the other.
    pub(super) fn ruler(&self, paper: &mut Drawing) {
        let lying = self.stands == Stands::Lying;
        let (width, height) = self.size();
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
        let across = across.map(|(turn, mm)| (turn, self.blank.unit().told(mm, 1)));
        let turns: Vec<(f64, String)> = match self.plane {
            true => across.into(),
            false => turns.iter().map(|(turn, name)| (*turn, (*name).to_owned())).collect(),
        };
        let crowded = self.crowded(&turns);
        for (turn, name) in &turns {
            let at = self.paper(0.0, *turn);
            let is_named = if self.plane { turn.abs() > 3.0 } else { *turn == 0.0 };
            if crowded && !is_named {
                continue;
            }
            if lying {
                paper.text(
                    (self.corner.0 - 1.0, at.1 + 0.8),
                    2.3,
                    &format!("text-anchor=\"end\" fill=\"{SOFT}\""),
                    name,
                );
            } else {
                // The first keeps clear of the dimension lines to the left of the wall, the last
                // of the stations to its right.
                let first = at.0 < self.corner.0 + 0.1;
                let last = at.0 > self.corner.0 + width - 0.1;
                let anchor = match (first, last) {
                    // Beside a narrow flat place there is room.
                    (true, _) if crowded => "end",
                    (_, true) if crowded => "start",
                    (true, _) => "start",
                    (_, true) => "end",
                    _ => "middle",
                };
                paper.text(
                    (at.0, bottom + if crowded { 3.8 } else { 3.2 }),
                    2.3,
                    &format!("text-anchor=\"{anchor}\" fill=\"{SOFT}\""),
                    name,
                );
            }
        }
        self.station_names(paper, bottom);
        if !self.plane {
            self.name_edges(paper, bottom);
        }
    }

    /// Whether the names of turns would meet along their edge: of a wall only the front is named
    /// then, of a flat place its edges.
    fn crowded(&self, turns: &[(f64, String)]) -> bool {
        let (width, height) = self.size();
        let along = if self.stands == Stands::Lying { height } else { width };
        let wide = |name: &String| match self.stands {
            Stands::Lying => 1.2 * STATION_MM,
            _ => text_width_mm(name, STATION_MM) + 0.8,
        };
        turns.iter().map(|(_, name)| wide(name)).sum::<f64>() > along
    }

    /// The rim and the foot, the front and the seam: who burns has them in the hand.
    fn name_edges(&self, paper: &mut Drawing, bottom: f64) {
        let lying = self.stands == Stands::Lying;
        let (width, height) = self.size();
        let (left, top, right) = (self.corner.0, self.corner.1, self.corner.0 + width);
        let [first, last] = end_names(self.stands);
        let mut named = |at: (f64, f64), anchor: &str, name: &str| {
            let style = format!("text-anchor=\"{anchor}\" fill=\"{SOFT}\"");
            paper.text(at, STATION_MM, &style, name);
        };
        // A line below the turns and the stations, so that none of them meets another.
        let below = bottom + 3.2 + LINE_MM;
        if lying {
            named((left, bottom + 3.8 + LINE_MM), "start", first);
            // Beside a low piece there is room.
            let (x, anchor) = if width < LOW_MM { (right + 0.8, "start") } else { (right, "end") };
            named((x, bottom + 3.8 + LINE_MM), anchor, last);
            if height >= LEAST_NAMED_MM {
                let x = left - 1.0;
                named((x, top + 0.8 + LINE_MM), "end", "seam");
                named((x, top + 0.5 * height + 0.8 + LINE_MM), "end", "front");
                named((x, bottom + 0.8 - LINE_MM), "end", "seam");
            }
            return;
        }
        let (upper, lower) = match self.stands {
            Stands::Inverted => (first, last),
            _ => (last, first),
        };
        // Past the arrow of a distance that has no room between its ends.
        named((right + 4.4, top - 2.1), "start", upper);
        named((right + 4.4, bottom + 3.7), "start", lower);
        if width >= LEAST_NAMED_MM {
            named((left, below), "start", "seam");
            named((left + 0.5 * width, below), "middle", "front");
            named((right, below), "end", "seam");
        }
    }

    /// The stations that are drawn: all where their names have room, else what is apart.
    pub(super) fn drawn_stations(&self) -> Vec<&Station> {
        let all: Vec<&Station> = self.blank.stations.iter().collect();
        let (width, height) = self.size();
        let along = if self.stands == Stands::Lying { width } else { height };
        let apart = 1.2 * STATION_MM;
        match (all.len() as f64 - 1.0) * apart <= along {
            true => all,
            false => stations_apart(self.blank, apart / self.scale),
        }
    }

    /// The stations along the edge, drawn apart where they crowd, with a leader to their lines.
    fn station_names(&self, paper: &mut Drawing, bottom: f64) {
        let lying = self.stands == Stands::Lying;
        let (width, height) = self.size();
        let mut places: Vec<(f64, String)> = self
            .drawn_stations()
            .into_iter()
            .map(|station| {
                let at = self.paper(self.blank.wall.s_of_at(station.at_mm), 0.0);
                let (place, across) = (station.at_mm, 2.0 * station.radius_mm);
                let unit = self.blank.unit();
                let name = match self.plane {
                    true => format!("at {}", unit.figure(place, 2)),
                    false => format!("at {} ⌀{}", unit.figure(place, 2), unit.figure(across, 2)),
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
            for ((at, name), y) in places.iter().zip(shown) {
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
            paper.text((at, bottom + 3.8), STATION_MM, &style, &name);
        }
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Rect;
    use stave_setup::Stands;

    use super::super::super::sample::{self, parts};
    use super::super::super::{BurnMap, Burns, FlatPlace};
    use super::super::Unrolled;

    /// How far it stands around from the seam either side is told, and what its edges are called,
    /// however the ware stands; on a flat place from its edges.
    #[test]
    fn the_seam_the_front_and_the_ends_are_named_and_measured_from() {
        let blank = stave_setup::read_blank(sample::CAN, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        parts.lies.burned_s_mm = Some((20.0, 60.0));
        parts.lies.burned_turn_rad = Some((-0.5, 1.0));
        parts.lies.burned_around_mm = Some(52.5);
        for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
            parts.stands = stands;
            let flat = Unrolled {
                blank: &blank,
                stands,
                margins_mm: &[],
                scale: 0.3,
                corner: (30.0, 20.0),
                dots_per_mm: 1.0,
                plain: false,
                plane: false,
            };
            let mut paper = flat.dimensions(&parts.lies);
            flat.ruler(&mut paper);
            crate::draw::assert_words_apart(&paper, Rect::new(0.0, 0.0, 160.0, 120.0));
            for word in [">151.4°<", ">52.5 mm<", ">122.7°<", ">rim<", ">foot<", ">front<"] {
                assert!(paper.out.contains(word), "{stands:?}: {word}");
            }
            assert_eq!(paper.out.matches(">seam<").count(), 2);
        }
        parts.stands = Stands::Upright;
        let ware = stave_setup::read_blank(sample::MUG, "mug.toml").unwrap();
        parts.plane = Some(FlatPlace { facet: &ware.facets[0], ware: &ware });
        let sheet = parts.sheet_svg(false);
        // A quarter of the way around is 55 mm.
        assert!(sheet.contains(">92.5<") && sheet.contains(">75<") && !sheet.contains("seam"));
    }

    /// Ware with a handle is measured from its edges, in mm at the height of the art and in
    /// degrees; where the art lies at the handle's own turns, from the seam.
    #[test]
    fn what_stands_out_is_measured_from() {
        let handle = "[[zone]]\nname = \"handle\"\nat = [10, 70]\nturn = [170, 190]\nrise = 20\n";
        let text = format!("{}{handle}", sample::CAN);
        let blank = stave_setup::read_blank(&text, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        parts.lies.burned_s_mm = Some((20.0, 60.0));
        parts.lies.burned_around_mm = Some(52.5);
        let radius_mm = blank.wall.section(40.0, &mut 0).radius_mm;
        for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
            let flat = Unrolled {
                blank: &blank,
                stands,
                margins_mm: &[],
                scale: 0.6,
                corner: (30.0, 20.0),
                dots_per_mm: 1.0,
                plain: false,
                plane: false,
            };
            parts.lies.burned_turn_rad = Some((-60_f64.to_radians(), 30_f64.to_radians()));
            let paper = flat.dimensions(&parts.lies);
            for deg in [110.0_f64, 140.0] {
                let mm = stave_toolpath::number::fixed(radius_mm * deg.to_radians(), 1);
                let figure = format!(">{mm} mm, {deg}°<");
                assert!(paper.out.contains(&figure), "{stands:?}: {figure} in {}", paper.out);
            }
            parts.lies.burned_turn_rad = Some((-175_f64.to_radians(), 30_f64.to_radians()));
            let paper = flat.dimensions(&parts.lies);
            assert!(paper.out.contains(">150°<") && paper.out.contains(">5°<"), "{stands:?}");
        }
    }

    /// On a cone of 1:2 the wall is longer than the axis: what burns is told on the wall, how far
    /// it stands from the ends along the axis, and each figure says which.
    #[test]
    fn sizes_are_on_the_wall_and_distances_on_the_axis() {
        let text = "[[station]]\nat = 0\ndiameter = 30\n[[station]]\nat = 60\ndiameter = 90\n";
        let blank = stave_setup::read_blank(text, "cone.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        let from_mm = blank.wall.s_of_at(21.0);
        parts.lies.burned_s_mm = Some((from_mm, from_mm + 20.0));
        parts.lies.burned_turn_rad = Some((-0.4, 0.4));
        parts.lies.burned_around_mm = Some(46.0);
        let bench = parts.sheet_svg(false);
        // 20 mm of this wall are 17.9 of the axis, and 60 less that and 21 are left.
        for figure in
            [">20<", ">21<", ">21.1<", ">46 mm<", "where ⌀ is 90; to the ends: along the axis<"]
        {
            assert!(bench.contains(figure), "{figure}");
        }
        let said = "engraved 46 mm around by 20 mm along the wall";
        assert!(parts.sheet_svg(true).contains(said));
        assert!(parts.card_words().contains(&said.to_owned()));
        assert!(parts.page_html(true).contains(said));
        let can = super::super::super::sample::CAN;
        let blank = stave_setup::read_blank(can, "can.toml").unwrap();
        parts.blank = &blank;
        let bench = parts.sheet_svg(false);
        assert!(bench.contains("50 mm on the ware<") && !bench.contains("the axis"));
    }
}
