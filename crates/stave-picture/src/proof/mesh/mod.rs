//! What is burned as triangles on the wall, sharp however near it is looked at.

mod bands;
mod overlap;
mod packed;
mod strokes;
mod triangles;

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use super::burn_map::BurnMap;
use overlap::{Again, again};
pub(crate) use packed::{Packed, packed};
pub use strokes::Burns;
use strokes::{BurnPoint, Stroke};
use triangles::{Corner, Cutter, Triangles};

/// A section with more corners than this for a burned cell of the map is drawn from the map: it is
/// a picture, and smaller as one.
const CORNERS_A_CELL: f64 = 0.5;
/// Lines whose ends and lengths agree to this are one line, burned again, mm.
const AGAIN_MM: f64 = 0.02;
/// An area that is burned this many times as strongly by the map as by its lines was burned across
/// too.
const ACROSS: f64 = 1.5;
/// What nobody sees however near they look, mm.
const LEAST_FROM_CHORD_MM: f64 = 0.003;

/// What is burned as triangles.
#[derive(Debug, Default)]
pub(crate) struct Mesh {
    /// Corners, with the section each belongs to.
    pub(crate) corners: Vec<(Corner, u16)>,
    /// Three numbers of corners each.
    pub(crate) triangles: Vec<u32>,
    /// The sections that are in it, by number; the others are drawn from the map.
    pub(crate) sections: Vec<bool>,
    /// The width of a line, mm.
    pub(crate) spot_mm: f64,
}

impl Mesh {
    /// The mesh of what was burned, but for what is smaller as a picture.
    pub(crate) fn of(burns: &Burns, map: &BurnMap) -> Self {
        let mut by_section: Vec<Vec<Stroke>> = Vec::new();
        for stroke in once(burns.strokes()) {
            let section = usize::from(stroke.section);
            if by_section.len() <= section {
                by_section.resize_with(section + 1, Vec::new);
            }
            by_section[section].push(stroke);
        }
        let cells = map.cells_by_section();
        let sections = vec![false; cells.len()];
        let mut mesh = Self { sections, spot_mm: burns.spot_mm(), ..Self::default() };
        for (section, strokes) in by_section.into_iter().enumerate() {
            let number = u16::try_from(section).unwrap_or(u16::MAX);
            let Some(cells) = cells.get(section).copied().filter(|_| burns.takes(number)) else {
                continue;
            };
            // Where another operation burns a part of its areas, the map has the energy of both.
            let Some(part) = triangles(strokes, burns, map) else { continue };
            let corners = part.vertices.len();
            if corners > 0 && corners as f64 <= CORNERS_A_CELL * cells as f64 {
                mesh.sections[section] = true;
                mesh.take(&part, number);
            }
        }
        mesh
    }

    fn take(&mut self, part: &Triangles, section: u16) {
        let base = u32::try_from(self.corners.len()).unwrap_or(u32::MAX);
        self.corners.extend(part.vertices.iter().map(|corner| (*corner, section)));
        self.triangles.extend(part.indices.iter().map(|corner| base + corner));
    }
}

/// Lines and areas as triangles, each with all the energy that goes into it, whatever burns it;
/// `None` where parts of an area are burned again, and no energy holds for the whole of it.
fn triangles(strokes: Vec<Stroke>, burns: &Burns, map: &BurnMap) -> Option<Triangles> {
    let (patches, alone) = bands::parted(strokes, burns.wall(), burns.spot_mm());
    let mut cutter = Cutter::new(burns.wall(), burns.spot_mm());
    let mut out = Triangles::new();
    for patch in patches {
        let (corners, sides) = (out.vertices.len(), out.indices.len());
        cutter.patch(&patch, &mut out);
        let more = match again(&out, sides, burns.wall(), map) {
            Again::Small => burned_again(&patch.outline, map),
            Again::Nowhere => 1.0,
            Again::All(more) => more,
            Again::Parts => return None,
        };
        out.vertices.iter_mut().skip(corners).for_each(|corner| corner.density *= more);
    }
    alone.iter().for_each(|stroke| cutter.stroke(stroke, &mut out));
    Some(out)
}

/// How far what is left out may lie from a chord of an outline, mm: so much at the most, and on a
/// short chord so little that what is small and round stays round, whatever its size: a chord that
/// turns by a sixth of a radian strays by a 48th of its length. Steps of the writing are finer
/// still.
fn from_chord_mm(chord_mm: f64, most_mm: f64) -> f64 {
    most_mm.min((chord_mm / 48.0).max(LEAST_FROM_CHORD_MM))
}

/// By what a small area's energy is to be multiplied, because other lines cross it.
fn burned_again(outline: &[BurnPoint], map: &BurnMap) -> f64 {
    let count = outline.len().max(1) as f64;
    let mean = |of: fn(&BurnPoint) -> f64| outline.iter().map(of).sum::<f64>() / count;
    let (s_mm, turn_rad) = (mean(|point| point.s_mm), mean(|point| point.turn_rad));
    let by_map = map.cell(s_mm, turn_rad).map_or(0.0, |cell| map.density(cell));
    let share = by_map / mean(|point| point.energy);
    if share > ACROSS { share } else { 1.0 }
}

/// Lines that are burned more than once, each once, with all of its energy.
fn once(strokes: Vec<Stroke>) -> Vec<Stroke> {
    let mut known: HashMap<[i64; 7], usize> = HashMap::new();
    let mut out: Vec<Stroke> = Vec::with_capacity(strokes.len());
    for stroke in strokes {
        match known.entry(signature(&stroke.points)) {
            Entry::Vacant(place) => {
                place.insert(out.len());
                out.push(stroke);
            }
            Entry::Occupied(place) => {
                let first = &mut out[*place.get()].points;
                let mean = |points: &[BurnPoint]| {
                    points.iter().map(|point| point.energy).sum::<f64>() / points.len() as f64
                };
                let more = 1.0 + mean(&stroke.points) / mean(first);
                first.iter_mut().for_each(|point| point.energy *= more);
            }
        }
    }
    out
}

/// What is alike of a line and the same line, burned again either way.
fn signature(points: &[BurnPoint]) -> [i64; 7] {
    #[allow(clippy::cast_possible_truncation)]
    let whole = |value: f64| (value / AGAIN_MM).round() as i64;
    // Turns as lengths on ware of 50 mm: what is alike is alike on any.
    let place = |point: &BurnPoint| (whole(point.s_mm), whole(50.0 * point.turn_rad));
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return [0; 7] };
    let ends = [place(first), place(last)];
    let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
    let (mut length, mut s, mut turn) = (0.0, f64::INFINITY, f64::INFINITY);
    for pair in points.windows(2) {
        let ds = pair[1].s_mm - pair[0].s_mm;
        length += ds.hypot(50.0 * (pair[1].turn_rad - pair[0].turn_rad));
    }
    for point in points {
        (s, turn) = (point.s_mm.min(s), point.turn_rad.min(turn));
    }
    [low.0, low.1, high.0, high.1, whole(0.2 * length), whole(s), whole(50.0 * turn)]
}

#[cfg(test)]
mod tests;
