//! What measures the unrolled wall: dimension lines, turns along one edge, stations along the
//! other.

use std::f64::consts::{PI, TAU};

use stave_setup::Stands;
use stave_toolpath::number::fixed;
use stave_wall::Station;

use super::Unrolled;
use crate::draw::{
    Dimension, Drawing, HAIR, SOFT, dimension, dimensions_in_line, spread, text_width_mm,
};
use crate::proof::Lies;
use crate::ware::stations_apart;

/// The size of the stations' names, mm.
const STATION_MM: f64 = 2.3;

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
        let mm = |value: f64| fixed(value, 1);
        let thin = format!("stroke=\"{HAIR}\" stroke-width=\"0.12\"");
        let whole_turn = high - low >= TAU - 1e-6;
        // The least turn on the picture, which runs from −180° to 180°.
        let shift = -TAU * ((low + PI) / TAU).floor();
        let (low, high) = if whole_turn { (-PI, PI) } else { (low + shift, high + shift) };
        let width = format!("{} mm", mm(lies.burned_around_mm.unwrap_or_default()));
        let lying = self.stands == Stands::Lying;
        let mut parts = Vec::with_capacity(3);
        for (a, b, is_burned) in [(0.0, from, false), (from, to, true), (to, length, false)] {
            if b - a < 0.05 {
                continue;
            }
            let (a_at, b_at) = (self.paper(a, PI), self.paper(b, PI));
            let figure = mm(if is_burned { b - a } else { self.on_axis_mm((a, b)) });
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

    fn on_axis_mm(&self, (from_mm, to_mm): (f64, f64)) -> f64 {
        self.blank.wall.at_of_s(to_mm) - self.blank.wall.at_of_s(from_mm)
    }

    /// Whether the dimensions to either end would be others on the wall: then the sheet says that
    /// they are along the axis.
    pub(crate) fn ends_along_axis(&self, lies: &Lies) -> bool {
        let ends = |(from, to)| [(0.0, from), (to, self.blank.wall.length_mm())];
        let all = lies.burned_s_mm.into_iter().flat_map(ends);
        all.into_iter().any(|end| fixed(end.1 - end.0, 1) != fixed(self.on_axis_mm(end), 1))
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
                // The first keeps clear of the dimension lines to the left of the wall, the last
                // of the stations to its right.
                let first = at.0 < self.corner.0 + 0.1;
                let last = at.0 > self.corner.0 + width - 0.1;
                let anchor = match (first, last) {
                    (true, _) => "start",
                    (_, true) => "end",
                    _ => "middle",
                };
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
    use super::super::super::sample::parts;
    use super::super::super::{BurnMap, Burns};

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
