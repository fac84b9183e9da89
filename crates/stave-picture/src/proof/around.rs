//! What is around the work as it lies in the machine: the head over it, the rotary beside it.

use super::Lies;
use super::side::View;
use crate::draw::{Drawing, INK, SOFT};
use kurbo::Rect;
use stave_setup::ObstacleShape;
use stave_wall::Section;

/// How much of the nozzle is drawn where nothing else is above it, and of the carriage, mm.
const NOZZLE_MM: f64 = 22.0;
const CARRIAGE_MM: f64 = 9.0;
/// How far past the ends of the ware anything is drawn, as a share of its length.
const PAST: f64 = 0.35;
/// The least height that words in the carriage need, and their size, mm of paper.
const WORDS_MM: f64 = 2.3;
const ROTARY: &str = "#d9d7d0";
const CARRIAGE: &str = "#eceae4";

/// A part of the head as it is drawn: along the rail from the beam, above the tip, mm.
pub(crate) struct HeadPiece {
    pub(crate) carriage: bool,
    pub(crate) along_mm: (f64, f64),
    pub(crate) above_mm: (f64, f64),
}

/// The nozzle from its tip up, and the carriage; nothing where no nozzle is fitted.
pub(crate) fn head(lies: &Lies) -> Vec<HeadPiece> {
    let Some((radius_mm, _)) = lies.nozzle_mm else { return Vec::new() };
    let mut pieces = vec![(false, (-radius_mm, radius_mm), 0.0)];
    // What of the nozzle is up in the carriage is not seen.
    let carriage = lies.head.iter().filter(|one| one.carriage).map(|one| one.above_mm);
    let below_mm = carriage.fold(f64::INFINITY, f64::min);
    let seen = lies.head.iter().filter(|one| one.carriage || one.above_mm < below_mm);
    pieces.extend(seen.map(|one| (one.carriage, one.along_mm, one.above_mm)));
    let ends = pieces.iter().skip(1).map(|piece| Some(piece.2)).chain([None]);
    let until = |(carriage, _, above): &(bool, (f64, f64), f64), next: Option<f64>| {
        next.unwrap_or(above + if *carriage { CARRIAGE_MM } else { NOZZLE_MM })
    };
    pieces
        .iter()
        .zip(ends)
        .map(|(piece, next)| HeadPiece {
            carriage: piece.0,
            along_mm: piece.1,
            above_mm: (piece.2, until(piece, next)),
        })
        .collect()
}

/// What of a stretch lies near the ware, and whether each of its ends does.
struct Near {
    from: f64,
    to: f64,
    ends: (bool, bool),
}

/// `None` for what is nowhere near.
fn near((from, to): (f64, f64), (first, last): (f64, f64)) -> Option<Near> {
    let past = PAST * (last - first);
    let (least, most) = (first - past, last + past);
    let near = Near { from: from.max(least), to: to.min(most), ends: (from >= least, to <= most) };
    (near.from < near.to).then_some(near)
}

/// A box on the paper by its corners in order: its ground, and its edges but for those past which
/// it goes on.
fn boxed(
    paper: &mut Drawing,
    corners: &[(f64, f64); 4],
    ends: (bool, bool),
    ground: &str,
    edge: &str,
) {
    paper.shape(corners, &format!("{ground} stroke=\"none\""));
    let [a, b, c, d] = *corners;
    let mut line = |points: &[(f64, f64)]| paper.line(points, edge);
    match ends {
        (true, true) => line(&[a, b, c, d, a]),
        (true, false) => line(&[b, a, d, c]),
        (false, true) => line(&[a, b, c, d]),
        (false, false) => {
            line(&[a, b]);
            line(&[c, d]);
        }
    }
}

impl View<'_> {
    /// The corners of what of the rotary is drawn, each with its name.
    pub(crate) fn beside(&self) -> Vec<(&str, [(f64, f64); 4])> {
        let range = self.blank.wall.at_range_mm();
        let shapes = self.lies.beside.iter();
        let drawn = shapes.filter_map(|shape| {
            let near = near(shape.at_mm, range)?;
            let (low, high) = match shape.form {
                ObstacleShape::Turning { radius_mm, turn_rad: None } => (-radius_mm, radius_mm),
                ObstacleShape::Turning { radius_mm, .. } => (0.0, radius_mm),
                ObstacleShape::Still { height_mm, .. } => {
                    ((-self.blank.wall.largest_radius_mm()).min(height_mm), height_mm)
                }
            };
            let corner = |at_mm: f64, radius_mm: f64| {
                self.on(&Section { at_mm, radius_mm, cos_slope: 1.0, sin_slope: 0.0 }, 0.0)
            };
            let corners = [
                corner(near.from, low),
                corner(near.to, low),
                corner(near.to, high),
                corner(near.from, high),
            ];
            Some((shape.name.as_str(), corners))
        });
        drawn.collect()
    }

    pub(super) fn draw_beside(&self, paper: &mut Drawing) {
        let range = self.blank.wall.at_range_mm();
        let shapes = self.lies.beside.iter().filter(|shape| near(shape.at_mm, range).is_some());
        for (shape, (_, corners)) in shapes.zip(self.beside()) {
            let ends = near(shape.at_mm, range).map_or((true, true), |near| near.ends);
            let dashes = match shape.form {
                // It is up only at some turns.
                ObstacleShape::Turning { turn_rad: Some(_), .. } => " stroke-dasharray=\"1 0.7\"",
                _ => "",
            };
            let edge = format!("stroke=\"{SOFT}\" stroke-width=\"0.25\"{dashes}");
            let ground = format!("class=\"beside\" fill=\"{ROTARY}\" fill-opacity=\"0.8\"");
            boxed(paper, &corners, ends, &ground, &edge);
        }
    }

    /// The corners of the pieces of the head that are drawn, from the lower left as the machine has
    /// it, and whether each is the carriage.
    pub(crate) fn head(&self) -> Vec<(bool, [(f64, f64); 4])> {
        let Some((_, gap)) = self.lies.nozzle_mm else { return Vec::new() };
        let section = self.blank.wall.section(self.lies.nozzle_s_mm, &mut 0);
        let (x, tip) = (self.crest.along_mm(&section), self.focus_at(&section) + gap);
        head(self.lies)
            .iter()
            .filter_map(|piece| {
                let along = (x + piece.along_mm.0, x + piece.along_mm.1);
                let near = near(along, self.rail_range())?;
                let (low, high) = (tip + piece.above_mm.0, tip + piece.above_mm.1);
                let corners =
                    [(near.from, low), (near.to, low), (near.to, high), (near.from, high)];
                Some((piece.carriage, corners.map(|(x, h)| self.paper(x, h))))
            })
            .collect()
    }

    /// Least and greatest place along the rail that the ware takes.
    fn rail_range(&self) -> (f64, f64) {
        let wall = &self.blank.wall;
        let ends = [0.0, wall.length_mm()].map(|s| self.crest.along_mm(&wall.section(s, &mut 0)));
        (ends[0].min(ends[1]), ends[0].max(ends[1]))
    }

    pub(super) fn draw_head(&self, paper: &mut Drawing) {
        let range = self.rail_range();
        for (carriage, corners) in self.head().iter().rev() {
            let [a, b, c, d] = *corners;
            if *carriage {
                let ground =
                    format!("class=\"carriage\" fill=\"{CARRIAGE}\" fill-opacity=\"0.85\"");
                paper.shape(corners, &format!("{ground} stroke=\"none\""));
                let edge = format!("stroke=\"{INK}\" stroke-width=\"0.3\"");
                paper.line(&[a, b], &edge);
                for (foot, top) in [(a, d), (b, c)] {
                    // Where it goes on past what is drawn it has no edge.
                    let past = PAST * (range.1 - range.0) * self.scale;
                    let ends = [range.0, range.1].map(|x| self.paper(x, 0.0).0);
                    let (least, most) = (ends[0].min(ends[1]) - past, ends[0].max(ends[1]) + past);
                    if foot.0 > least + 1e-6 && foot.0 < most - 1e-6 {
                        paper.line(&[foot, top], &edge);
                    }
                }
                let (left, high) = (a.0.min(b.0), a.1 - c.1);
                if high > 1.25 * WORDS_MM {
                    let style = format!("fill=\"{SOFT}\"");
                    paper.text((left + 1.2, a.1 - 0.3 * high), WORDS_MM, &style, "carriage");
                }
            } else {
                paper.shape(corners, "fill=\"#ffffff\" fill-opacity=\"0.7\" stroke=\"none\"");
                paper.line(&[d, a, b, c], &format!("stroke=\"{INK}\" stroke-width=\"0.35\""));
            }
        }
    }

    /// Beside what the nozzle's name stands: from, to along the paper of all of the nozzle, and the
    /// upper edge of its highest part, mm of paper.
    pub(crate) fn nozzle_name_at(&self) -> Option<((f64, f64), f64)> {
        let head = self.head();
        let nozzle = head.iter().filter(|(carriage, _)| !carriage).map(|(_, corners)| corners);
        let across = || nozzle.clone().flatten().map(|corner| corner.0);
        let sides = (across().fold(f64::MAX, f64::min), across().fold(f64::MIN, f64::max));
        let top = nozzle.clone().next_back()?[2].1;
        Some((sides, top))
    }

    /// Where words so wide between two heights keep clear of the outlines of what sticks out of the
    /// wall: from `x` on.
    pub(crate) fn clear_of_rises(&self, x: f64, heights: (f64, f64), wide: f64) -> f64 {
        let first = Rect::new(f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        let boxes = self.rises().into_iter();
        let boxes = boxes.map(|rise| rise.iter().fold(first, |all, at| all.union_pt(*at)));
        let mut boxes: Vec<Rect> = boxes.collect();
        boxes.sort_by(|a, b| a.x0.total_cmp(&b.x0));
        boxes.into_iter().fold(x, |x, rise| {
            let words = Rect::new(x, heights.0, x + wide, heights.1);
            if words.overlaps(rise) { rise.x1 + 1.5 } else { x }
        })
    }
}
