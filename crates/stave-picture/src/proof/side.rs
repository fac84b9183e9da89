//! The ware as it lies in the machine, seen from the front: tilt, focus band, head and rotary.

use std::f64::consts::TAU;

use stave_setup::Blank;
use stave_toolpath::number::fixed;
use stave_wall::{Crest, Section};

use super::Lies;
use super::around::head;
use super::outline::{thinned, thinned_with_s};
use crate::draw::{Drawing, INK, SOFT, WARE, ZONE, leader, text_width_mm};
use crate::svg::isolated;

/// The focus band.
const BAND: &str = "#bcd3dd";
const BAND_EDGE: &str = "#2f6577";
/// Words may stand so far over the right edge of the view's box, mm.
const OVER_MM: f64 = 6.0;
/// Half the length of the shortest stretch that is drawn, mm.
const DOT_MM: f64 = 0.1;
/// How the ware runs is looked at in so many steps over the turns that burn.
const TURNS: u32 = 180;
/// What of the burned stretch is sharp.
const SHARP: &str = "#1478a8";

/// Draws the view into a box of paper: upper left corner and size, mm.
pub(crate) fn draw(blank: &Blank, lies: &Lies, corner: (f64, f64), size: (f64, f64)) -> Drawing {
    let view = View::new(blank, lies, corner, size);
    let mut paper = view.draw();
    if let Some(((left, right), top)) = view.nozzle_name_at() {
        let (name, size_mm) = ("nozzle", 2.3);
        let wide = text_width_mm(name, size_mm);
        let beside = right + 1.2;
        let clear = view.clear_of_rises(beside, (top, top + 3.0 + 0.3 * size_mm), wide);
        // What stands out may take all there is to the right.
        let x = if clear + wide > corner.0 + size.0 + OVER_MM { left - 1.2 - wide } else { clear };
        if x > beside {
            let y = top + 3.0 - 0.35 * size_mm;
            leader(&mut paper, &[(x - 0.8, y), (right, y)], SOFT);
        }
        paper.text((x, top + 3.0), size_mm, &format!("fill=\"{SOFT}\""), name);
    }
    paper
}

pub(crate) struct View<'a> {
    pub(super) blank: &'a Blank,
    pub(super) lies: &'a Lies,
    pub(crate) crest: Crest,
    pub(crate) scale: f64,
    sign: f64,
    /// Paper's place of X 0, H 0.
    origin: (f64, f64),
}

impl<'a> View<'a> {
    pub(crate) fn new(
        blank: &'a Blank,
        lies: &'a Lies,
        corner: (f64, f64),
        size: (f64, f64),
    ) -> Self {
        let mut view = Self {
            blank,
            lies,
            crest: Crest::new(lies.tilt_rad),
            scale: 1.0,
            sign: if lies.mirrored { -1.0 } else { 1.0 },
            origin: (0.0, 0.0),
        };
        let mut points = view.section_outline();
        points.extend(view.rises().into_iter().flatten());
        points.extend(view.head().into_iter().flat_map(|(_, corners)| corners));
        points.extend(view.beside().into_iter().flat_map(|(_, corners)| corners));
        let low =
            points.iter().fold((f64::INFINITY, f64::INFINITY), |m, p| (m.0.min(p.0), m.1.min(p.1)));
        let high = points
            .iter()
            .fold((f64::NEG_INFINITY, f64::NEG_INFINITY), |m, p| (m.0.max(p.0), m.1.max(p.1)));
        view.scale = (size.0 / (high.0 - low.0)).min(size.1 / (high.1 - low.1)).min(2.0);
        let spare =
            (size.0 - view.scale * (high.0 - low.0), size.1 - view.scale * (high.1 - low.1));
        view.origin = (
            corner.0 + 0.5 * spare.0 - view.scale * low.0,
            corner.1 + 0.5 * spare.1 - view.scale * low.1,
        );
        view
    }

    /// From machine X and height, mm, to the paper.
    pub(crate) fn paper(&self, along_mm: f64, height_mm: f64) -> (f64, f64) {
        (self.origin.0 + self.scale * self.sign * along_mm, self.origin.1 - self.scale * height_mm)
    }

    pub(crate) fn on(&self, section: &Section, above_mm: f64) -> (f64, f64) {
        let raised = Section { radius_mm: section.radius_mm + above_mm, ..*section };
        self.paper(self.crest.along_mm(&raised), self.crest.height_mm(&raised))
    }

    pub(crate) fn under(&self, section: &Section) -> (f64, f64) {
        let below = Section { radius_mm: -section.radius_mm, ..*section };
        self.paper(self.crest.along_mm(&below), self.crest.height_mm(&below))
    }

    fn section_outline(&self) -> Vec<(f64, f64)> {
        let wall = &self.blank.wall;
        let sections = thinned(&wall.sections_between(0.0, wall.length_mm()), 0.02);
        let mut points: Vec<_> = sections.iter().map(|section| self.on(section, 0.0)).collect();
        points.extend(sections.iter().rev().map(|section| self.under(section)));
        points
    }

    /// What sticks out of the wall, turned up.
    pub(crate) fn rises(&self) -> Vec<Vec<(f64, f64)>> {
        let wall = &self.blank.wall;
        let zones = self.blank.zones.iter().filter(|zone| zone.rise_mm > 0.0);
        zones
            .map(|zone| {
                let s = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
                let sections = thinned(&wall.sections_between(s.0, s.1), 0.02);
                let mut points: Vec<_> =
                    sections.iter().map(|section| self.on(section, 0.0)).collect();
                points.extend(sections.iter().rev().map(|section| self.on(section, zone.rise_mm)));
                points
            })
            .collect()
    }

    /// Height of the focus where the nozzle is drawn.
    pub(super) fn focus_at(&self, section: &Section) -> f64 {
        self.lies.focus_height_mm.unwrap_or_else(|| self.crest.height_mm(section))
    }

    /// The nozzle's lowest part.
    pub(crate) fn nozzle_box(&self) -> Option<[(f64, f64); 4]> {
        let (radius, gap) = self.lies.nozzle_mm?;
        let section = self.blank.wall.section(self.lies.nozzle_s_mm, &mut 0);
        let (x, tip) = (self.crest.along_mm(&section), self.focus_at(&section) + gap);
        let high = head(self.lies).first().map_or(0.0, |piece| piece.above_mm.1);
        Some([
            self.paper(x - radius, tip),
            self.paper(x + radius, tip),
            self.paper(x + radius, tip + high),
            self.paper(x - radius, tip + high),
        ])
    }

    fn body(&self, paper: &mut Drawing) {
        for rise in self.rises() {
            paper.shape(
                &rise,
                &format!(
                    "fill=\"none\" stroke=\"{ZONE}\" stroke-width=\"0.25\" \
                          stroke-dasharray=\"1 0.7\""
                ),
            );
        }
        paper.shape(
            &self.section_outline(),
            &format!(
                "fill=\"{WARE}\" stroke=\"{INK}\" stroke-width=\"0.35\" stroke-linejoin=\"round\""
            ),
        );
        let (first, last) = self.blank.wall.at_range_mm();
        let over = 0.06 * (last - first);
        let axis = |at_mm: f64| Section { at_mm, radius_mm: 0.0, cos_slope: 1.0, sin_slope: 0.0 };
        let ends = [self.on(&axis(first - over), 0.0), self.on(&axis(last + over), 0.0)];
        paper.line(
            &ends,
            &format!("stroke=\"{SOFT}\" stroke-width=\"0.18\" stroke-dasharray=\"3 0.8 0.6 0.8\""),
        );
    }

    fn focus(&self, paper: &mut Drawing) {
        let wall = &self.blank.wall;
        let (from, to) = self.lies.burned_here_s_mm().unwrap_or((0.0, wall.length_mm()));
        let sections = thinned(&wall.sections_between(from, to), 0.02);
        let (Some(first), Some(last)) = (sections.first(), sections.last()) else { return };
        if let Some(depth) = self.lies.half_depth_mm {
            for points in self.bands((from, to), depth) {
                paper.shape(
                    &points,
                    &format!(
                        "class=\"focus\" fill=\"{BAND}\" fill-opacity=\"0.75\" \
                         stroke=\"{BAND_EDGE}\" stroke-width=\"0.15\""
                    ),
                );
            }
        }
        if let Some(height) = self.lies.focus_height_mm {
            let ends = [
                self.paper(self.crest.along_mm(first), height),
                self.paper(self.crest.along_mm(last), height),
            ];
            paper.line(
                &ends,
                &format!(
                    "stroke=\"{BAND_EDGE}\" stroke-width=\"0.25\" stroke-dasharray=\"1.6 0.6\""
                ),
            );
        }
    }

    /// What lies within the lens's depth about the focus: all along what burns, and where nothing
    /// does where the wall itself comes into it.
    fn bands(&self, all: (f64, f64), depth_mm: f64) -> Vec<Vec<(f64, f64)>> {
        let wall = &self.blank.wall;
        let Some(focus_mm) = self.lies.focus_height_mm else {
            let sections = thinned(&wall.sections_between(all.0, all.1), 0.02);
            let shifted = |section: &Section, by: f64| {
                self.paper(self.crest.along_mm(section), self.crest.height_mm(section) + by)
            };
            let up = sections.iter().map(|section| shifted(section, depth_mm));
            let down = sections.iter().rev().map(|section| shifted(section, -depth_mm));
            return vec![up.chain(down).collect()];
        };
        let stretches = match self.lies.burned_here_s_mm() {
            Some(burned) => vec![burned],
            None => self.sharp_within(all, focus_mm, depth_mm),
        };
        let along = |s_mm: f64| self.crest.along_mm(&wall.section(s_mm, &mut 0));
        let band = |(from, to): (f64, f64)| {
            let (a, b) = (along(from), along(to));
            let (low, high) = (focus_mm - depth_mm, focus_mm + depth_mm);
            [(a, high), (b, high), (b, low), (a, low)].map(|(x, h)| self.paper(x, h)).to_vec()
        };
        stretches.into_iter().map(band).collect()
    }

    /// What is burned, along the crest, and what of it is sharp; where nothing is, how far the beam
    /// goes.
    fn crest(&self, paper: &mut Drawing) {
        let mut line = |(from, to): (f64, f64), class: &str, colour: &str, weight: &str| {
            let dashes = if class == "walked" { " stroke-dasharray=\"1.6 1.2\"" } else { "" };
            let wall = &self.blank.wall;
            // A dot is seen too.
            let by = (DOT_MM - 0.5 * (to - from)).max(0.0);
            let (from, to) = ((from - by).max(0.0), (to + by).min(wall.length_mm()));
            let sections = wall.sections_between(from, to);
            let sections = thinned_with_s(&sections, 0.02);
            let points: Vec<_> =
                sections.iter().map(|(_, section)| self.on(section, 0.0)).collect();
            paper.line(
                &points,
                &format!(
                    "class=\"{class}\" stroke=\"{colour}\" stroke-width=\"{weight}\" \
                     stroke-linecap=\"round\" stroke-linejoin=\"round\"{dashes}"
                ),
            );
        };
        if let Some(walked) = self.lies.walked_s_mm {
            line(walked, "walked", INK, "0.6");
        }
        for stretch in self.lies.stretches_here_s_mm() {
            line(stretch, "burned", INK, "0.9");
        }
        for stretch in self.sharp_s_mm() {
            line(stretch, "sharp", SHARP, "0.6");
        }
    }

    /// How far the wall lies inside and outside its mean radius where something burns, or all
    /// around, mm.
    fn off_mm(&self, at_mm: f64) -> (f64, f64) {
        let running = &self.blank.running;
        let most_mm = running.most_mm(at_mm, at_mm);
        let turns = self.lies.burned_turn_rad.filter(|(from, to)| to - from < TAU);
        let Some((from, to)) = turns.filter(|_| most_mm > 0.0) else { return (-most_mm, most_mm) };
        let offs = (0..=TURNS)
            .map(|k| running.off_mm(at_mm, from + (to - from) * f64::from(k) / f64::from(TURNS)));
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        offs.fold(ends, |(low, high), off| (low.min(off), high.max(off)))
    }

    /// The parts of what is burned whose crest lies within the lens's depth about the focus, mm
    /// of meridian, as the ware runs; none where the focus stands at no height or the depth is not
    /// known.
    pub(crate) fn sharp_s_mm(&self) -> Vec<(f64, f64)> {
        let Some(depth_mm) = self.lies.half_depth_mm else { return Vec::new() };
        let burned = self.lies.stretches_here_s_mm();
        let Some(focus_mm) = self.lies.focus_height_mm else { return burned };
        let sharp = |stretch: (f64, f64)| self.sharp_within(stretch, focus_mm, depth_mm);
        burned.into_iter().flat_map(sharp).collect()
    }

    fn sharp_within(
        &self,
        (from, to): (f64, f64),
        focus_mm: f64,
        depth_mm: f64,
    ) -> Vec<(f64, f64)> {
        let sections = self.blank.wall.sections_between(from, to);
        // The lowest that burns there is not to lie under the band, nor the highest over it.
        let beyond = |section: &Section| {
            let off_mm = self.crest.height_mm(section) - focus_mm;
            let (inside, outside) = self.off_mm(section.at_mm);
            [-depth_mm - (off_mm + inside), off_mm + outside - depth_mm]
        };
        let mut found: Vec<(f64, f64)> = Vec::new();
        for pair in sections.windows(2) {
            let [(s0, a), (s1, b)] = pair else { continue };
            let (begins, ends) = (beyond(a), beyond(b));
            // Between two sections the wall runs straight: where it comes into the band and out.
            let within = [0, 1].map(|k| held(begins[k], ends[k]));
            let (first, last) = (within[0].0.max(within[1].0), within[0].1.min(within[1].1));
            let (first, last) = (s0 + first * (s1 - s0), s0 + last * (s1 - s0));
            if last - first <= 1e-9 {
                continue;
            }
            match found.last_mut().filter(|before| first - before.1 <= 1e-6) {
                Some(before) => before.1 = last,
                None => found.push((first, last)),
            }
        }
        found
    }

    /// Ware, rotary, focus band, burned stretch and head.
    pub(crate) fn draw(&self) -> Drawing {
        let mut paper = Drawing::default();
        self.body(&mut paper);
        self.draw_beside(&mut paper);
        self.focus(&mut paper);
        self.crest(&mut paper);
        self.draw_head(&mut paper);
        paper
    }
}

/// The share of a way, from and to, over which what goes straight from `begins` to `ends` is no
/// more than nothing; it ends before it begins where that is so nowhere.
fn held(begins: f64, ends: f64) -> (f64, f64) {
    let share = -begins / (ends - begins);
    match (begins <= 0.0, ends <= 0.0) {
        (true, true) => (0.0, 1.0),
        (true, false) => (0.0, share),
        (false, true) => (share, 1.0),
        (false, false) => (1.0, 0.0),
    }
}

/// Said of a band of focus on ware that is not round or does not run true.
pub(crate) fn counted(blank: &Blank) -> &'static str {
    let (first, last) = blank.wall.at_range_mm();
    match blank.running.most_mm(first, last) > 0.0 {
        true => ", how the ware runs counted",
        false => "",
    }
}

/// How far the rotary is raised, in words.
pub(crate) fn tilt(lies: &Lies) -> String {
    format!("tilt {}°", fixed(lies.tilt_rad.to_degrees() + 0.0, 2))
}

/// What the view shows, in words.
pub(crate) fn caption(blank: &Blank, lies: &Lies) -> String {
    let focus = match (lies.focus_height_mm, lies.half_depth_mm) {
        (Some(_), Some(depth)) => {
            format!("blue: sharp, within ±{} mm of the focus{}", fixed(depth, 2), counted(blank))
        }
        (None, Some(depth)) => {
            format!("blue: sharp, Z follows, ±{} mm would do", fixed(depth, 2))
        }
        (Some(_), None) => "blue: focus; its depth is not known".to_owned(),
        (None, None) => "focus follows the wall".to_owned(),
    };
    let names: Vec<_> = lies.beside.iter().map(|shape| isolated(&shape.name)).collect();
    let beside = match names.as_slice() {
        [] => String::new(),
        names => format!("; grey: {}", names.join(", ")),
    };
    let rises = match blank.zones.iter().any(|zone| zone.rise_mm > 0.0) {
        true => "; dashed: what sticks out, turned up",
        false => "",
    };
    let burned = match (lies.burned_here_s_mm(), lies.walked_s_mm) {
        (Some(_), _) => "thick: what burns; ",
        (None, Some(_)) => "thick, dashed: where the beam goes; ",
        (None, None) => "",
    };
    format!("{burned}{focus}{beside}{rises}")
}

#[cfg(test)]
mod tests;
