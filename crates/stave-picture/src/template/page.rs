//! Where things of the wall lie on the page to draw on.

use std::f64::consts::PI;

use kurbo::Rect;
use stave_setup::{Blank, Stands, Zone};
use stave_wall::{Section, Station, WallShape};

use super::TemplateSetting;
use crate::ware::{facets, stations_apart};

/// The wall's outline on a narrowing page is drawn with points no further apart than this, mm.
const LOOK_MM: f64 = 0.5;
/// How close the lines of a smooth wall's stations may come: a name must go between.
const STATIONS_APART_MM: f64 = 6.0;

pub(crate) struct Page<'a> {
    pub(crate) blank: &'a Blank,
    pub(crate) setting: &'a TemplateSetting,
    pub(crate) length_mm: f64,
    pub(crate) half_around_mm: f64,
}

impl<'a> Page<'a> {
    pub(crate) fn new(blank: &'a Blank, setting: &'a TemplateSetting) -> Self {
        Self {
            blank,
            setting,
            length_mm: blank.wall.length_mm(),
            half_around_mm: PI * setting.reference_radius_mm,
        }
    }

    pub(crate) fn size(&self) -> (f64, f64) {
        match self.setting.stands {
            Stands::Lying => (self.length_mm, 2.0 * self.half_around_mm),
            _ => (2.0 * self.half_around_mm, self.length_mm),
        }
    }

    /// The stations that have a line on the page. Each of a straight wall is an edge of it; those
    /// of a smooth wall are places where it was measured, and lines closer than a name's height
    /// say nothing that can be read: both ends and the widest stay, and of the rest what is apart.
    pub(crate) fn drawn_stations(&self) -> Vec<&'a Station> {
        match self.blank.wall.shape() {
            WallShape::Straight => self.blank.stations.iter().collect(),
            _ => stations_apart(self.blank, STATIONS_APART_MM),
        }
    }

    /// From the flat plane to the page: x to the right, y down.
    pub(crate) fn place(&self, u: f64, v: f64) -> (f64, f64) {
        match self.setting.stands {
            Stands::Lying => (u, self.half_around_mm - v),
            Stands::Inverted => (self.half_around_mm + v, u),
            Stands::Upright => (self.half_around_mm - v, self.length_mm - u),
        }
    }

    /// mm of page for a radian at a place.
    pub(crate) fn per_rad(&self, section: &Section) -> f64 {
        if self.setting.narrows { section.radius_mm } else { self.setting.reference_radius_mm }
    }

    pub(crate) fn section(&self, s_mm: f64) -> Section {
        self.blank.wall.section(s_mm.clamp(0.0, self.length_mm), &mut 0)
    }

    /// Page points along a line of even turn, between two places of the meridian.
    pub(crate) fn meridian(&self, turn_rad: f64, from_s: f64, to_s: f64) -> Vec<(f64, f64)> {
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

    /// The patch between two turns and two places, closed; what lies past the seam is left out.
    pub(crate) fn patch(&self, turn: (f64, f64), s: (f64, f64), margin_mm: f64) -> Vec<(f64, f64)> {
        let (low, high) = ((s.0 - margin_mm).max(0.0), (s.1 + margin_mm).min(self.length_mm));
        let side = |turn_rad: f64, sign: f64| {
            let wide = |s: f64| {
                let turn_rad = turn_rad + sign * margin_mm / self.section(s).radius_mm;
                turn_rad.clamp(-PI, PI)
            };
            if margin_mm == 0.0 {
                return self.meridian(turn_rad.clamp(-PI, PI), low, high);
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

    /// The flat places of the ware where the page is that of its wall: as a zone of no height and
    /// no margin each.
    pub(crate) fn facets(&self) -> Vec<Zone> {
        if self.setting.is_plane { Vec::new() } else { facets(self.blank).collect() }
    }

    /// A zone's place along the meridian and its turns on this page, once or, over the seam, twice;
    /// none where it lies off the wall.
    pub(crate) fn shown(&self, zone: &Zone) -> Vec<((f64, f64), (f64, f64))> {
        let wall = &self.blank.wall;
        let s = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
        if s.1 <= 0.0 || s.0 >= self.length_mm {
            return Vec::new();
        }
        let whole_turns = ((zone.turn_rad.0 + PI) / (2.0 * PI)).floor();
        let turns = [0.0, -1.0].map(|shift| {
            let by = 2.0 * PI * (shift - whole_turns);
            (zone.turn_rad.0 + by, zone.turn_rad.1 + by)
        });
        turns.into_iter().filter(|turn| turn.1 >= -PI).map(|turn| (s, turn)).collect()
    }

    /// What is kept clear around a zone, mm.
    pub(crate) fn margin_mm(&self, zone: &Zone) -> f64 {
        zone.margin_mm.unwrap_or(self.setting.margin_mm)
    }

    /// The box around points, cut at the page's edges.
    pub(crate) fn box_of(&self, points: &[(f64, f64)]) -> Option<Rect> {
        let first = *points.first()?;
        let start = Rect::from_points(first, first);
        let (width, height) = self.size();
        let all = points.iter().fold(start, |all, point| all.union_pt(*point));
        Some(all.intersect(Rect::new(0.0, 0.0, width, height)))
    }

    /// How long what comes out as 10 mm around the ware is to be drawn at a station, mm.
    pub(crate) fn ten_mm(&self, s_mm: f64) -> f64 {
        let off = |place: &&(f64, f64)| (place.0 - s_mm).abs();
        let known = self.setting.ten_mm.iter();
        known.min_by(|a, b| off(a).total_cmp(&off(b))).map_or(10.0, |place| place.1)
    }
}
