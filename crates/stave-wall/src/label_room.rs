//! How large a label may be.

use std::f64::consts::PI;
use std::fmt;

use crate::geodesic::{Arrival, Start, Walk};
use crate::{LayError, Wall, WallShape};

/// Headings looked along everywhere, from one meridian over the parallel to the other; the other
/// half is its mirror image. They lie half a step off the meridian and the parallel.
const HEADINGS: usize = 360;
/// Beside a heading that comes to lie along a shoulder, others are looked along ever closer to it,
/// each half as far off as the one before, this often.
const CLOSER: i32 = 14;
/// Strides along a geodesic before a limit is closed in on.
const STRIDES: usize = 256;
/// A fold that overlaps itself on the wall by less than this, mm, is let pass: twice the tolerance
/// that burns are cut to.
const LEAST_FOLD_MM: f64 = 0.02;
/// A label may reach so far past the wall's end, mm: between headings the end is known to that, and
/// whether a burn lies on the wall is asked of its places.
const END_SLACK_MM: f64 = 0.002;
/// How many headings either side of a fold are looked at for where the label meets itself.
const BESIDE: usize = 120;

/// What stops a label.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LabelLimit {
    /// Nothing within reach: as far as the wall is long and half its girth.
    Nothing,
    /// Neighbouring geodesics meet: the wall is too curved, and the label would fold.
    Fold,
    /// The label goes half way round and meets itself.
    Itself,
    /// The wall ends.
    End,
}

impl LabelLimit {
    /// Whether it is a line on the wall that a label comes to, so that two places of it tell where
    /// it is between them.
    fn is_line(self) -> bool {
        matches!(self, LabelLimit::Itself | LabelLimit::End)
    }
}

impl fmt::Display for LabelLimit {
    /// The start of a sentence that goes on with a length.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            LabelLimit::Nothing => "there is room for",
            LabelLimit::Fold => "the wall is so curved that it folds beyond",
            LabelLimit::Itself => "it meets itself behind the blank beyond",
            LabelLimit::End => "the wall ends after",
        })
    }
}

/// How far a label reaches from its anchor, by direction.
///
/// Behind a shoulder lies a wedge that more than one geodesic reaches: those that cross it nearly
/// along it are bent back over those that do not. The wedge is looked for on the fronts, the
/// points a distance from the anchor: where a front crosses itself, all that lies between is past
/// the wedge's rim, and its map turns over or lies twice on the same wall.
///
/// A fold that lies over itself by less than 0.02 mm is let pass: right at an edge of a straight
/// wall that bulges there, the geodesics nearly along the edge always meet, and a label centred on
/// a bulge of 2 degrees shifts by a hundredth of a millimetre there.
#[derive(Debug, Clone)]
pub struct LabelRoom {
    /// By growing heading from the way of growing `s`.
    rays: Vec<Ray>,
    /// The least room of them all, mm: what lies nearer to the anchor needs no look.
    disc_mm: f64,
}

/// How far a label reaches along one heading.
#[derive(Debug, Clone, Copy)]
struct Ray {
    heading_rad: f64,
    room_mm: f64,
    limit: LabelLimit,
    /// The room at the tip of the wedge that this heading runs into; else its own.
    tip_mm: f64,
}

impl LabelRoom {
    /// Looks along the geodesics from a place of the meridian.
    pub(crate) fn look(wall: &Wall, anchor_s_mm: f64) -> LabelRoom {
        let far_mm = wall.length_mm() + PI * wall.largest_radius_mm();
        let ways: Vec<Way> = headings(wall, anchor_s_mm)
            .into_iter()
            .map(|heading_rad| Way::along(wall, anchor_s_mm, heading_rad, far_mm))
            .collect();
        let stride_mm = far_mm / STRIDES as f64;
        let mut rays: Vec<Ray> = ways
            .iter()
            .map(|way| Ray {
                heading_rad: way.heading_rad,
                room_mm: way.room_mm,
                limit: way.limit,
                tip_mm: way.room_mm,
            })
            .collect();
        for k in 0..STRIDES {
            for (first, last) in folds(wall, &ways, k) {
                for (ray, way) in rays[first..=last].iter_mut().zip(&ways[first..=last]) {
                    let before_mm = k as f64 * stride_mm;
                    // Where the heading's own fold has just been passed, its place is known.
                    let own = way.fold_mm.filter(|own| (before_mm - own).abs() < 2.0 * stride_mm);
                    let room_mm = own.unwrap_or(before_mm);
                    if ray.limit != LabelLimit::Fold && room_mm < ray.room_mm {
                        (ray.room_mm, ray.tip_mm, ray.limit) = (room_mm, room_mm, LabelLimit::Fold);
                    }
                }
            }
        }
        // A wedge begins where neighbouring geodesics first meet; what is known of its other rays
        // is known to a stride.
        let mut done = 0;
        for wedge in rays.chunk_by_mut(|a, b| a.limit == b.limit) {
            let ways = &ways[done..done + wedge.len()];
            done += wedge.len();
            if wedge[0].limit == LabelLimit::Fold {
                let least =
                    |lengths: &mut dyn Iterator<Item = f64>| lengths.fold(f64::INFINITY, f64::min);
                let own = |(ray, way): (&Ray, &Way)| way.fold_mm.filter(|own| *own == ray.room_mm);
                let met = least(&mut wedge.iter().zip(ways).filter_map(own));
                let seen = least(&mut wedge.iter().map(|ray| ray.room_mm));
                let tip_mm = if met.is_finite() { met } else { seen };
                for ray in wedge {
                    (ray.room_mm, ray.tip_mm) = (ray.room_mm.max(tip_mm), tip_mm);
                }
            }
        }
        LabelRoom { disc_mm: least(&rays).0, rays }
    }

    /// The radius of the largest disc about the anchor that lies on the wall, mm, and what stops a
    /// larger one.
    pub fn radius_mm(&self) -> (f64, LabelLimit) {
        least(&self.rays)
    }

    /// How far a label may reach towards a flat point, given from the anchor, mm, and what stops
    /// it.
    pub fn towards(&self, along_mm: f64, around_mm: f64) -> (f64, LabelLimit) {
        let heading_rad = around_mm.abs().atan2(along_mm);
        room(self.beside(heading_rad), heading_rad)
    }

    /// The rays that a heading lies between.
    fn beside(&self, heading_rad: f64) -> &[Ray] {
        let above = self.rays.partition_point(|ray| ray.heading_rad < heading_rad);
        let last = self.rays.len() - 1;
        &self.rays[above.saturating_sub(1)..=above.min(last)]
    }

    /// Whether flat points, given from the anchor, mm, all lie on the wall.
    pub(crate) fn check(&self, points: impl Iterator<Item = (f64, f64)>) -> Result<(), LayError> {
        self.check_lines(points.map(|point| [point, point]))
    }

    /// Whether flat straight lines, given from the anchor, mm, lie on the wall from end to end.
    pub(crate) fn check_lines(
        &self,
        lines: impl Iterator<Item = [(f64, f64); 2]>,
    ) -> Result<(), LayError> {
        let mut worst: Option<(f64, f64, f64, LabelLimit)> = None;
        let squared_mm2 = self.disc_mm * self.disc_mm;
        let beyond = |line: &[(f64, f64); 2]| {
            !line.iter().all(|(along, around)| along * along + around * around <= squared_mm2)
        };
        for line in lines.filter(beyond) {
            self.each_part(line, |(reach_mm, heading_rad), beside| {
                let (mut room_mm, limit) = room(beside, heading_rad);
                let slack_mm = if limit == LabelLimit::End { END_SLACK_MM } else { 0.0 };
                if reach_mm <= room_mm + slack_mm {
                    return;
                }
                if !limit.is_line() {
                    // All of a wedge is named by its tip.
                    let held = |a: &&Ray, b: &&Ray| a.room_mm.total_cmp(&b.room_mm);
                    let Some(ray) = beside.iter().min_by(held) else { return };
                    room_mm = ray.tip_mm;
                }
                let scale = room_mm / reach_mm;
                if worst.is_none_or(|(least, ..)| scale < least) {
                    worst = Some((scale, reach_mm, room_mm, limit));
                }
            });
        }
        match worst {
            None => Ok(()),
            Some((scale, reach_mm, room_mm, limit)) => Err(LayError::LabelTooLarge {
                reach_mm,
                room_mm,
                scale_percent: 100.0 * scale,
                limit,
            }),
        }
    }

    /// The parts of a line between the headings looked along: how far each reaches, mm, by which
    /// heading, and the rays it lies between. On a line the distance from the anchor is greatest at
    /// an end.
    fn each_part<'r>(
        &'r self,
        [from, to]: [(f64, f64); 2],
        mut part: impl FnMut((f64, f64), &'r [Ray]),
    ) {
        let heading = |p: (f64, f64)| p.1.abs().atan2(p.0);
        // Over the meridian through the anchor the other half mirrors this one.
        if from.1 * to.1 < 0.0 {
            let share = from.1 / (from.1 - to.1);
            let middle = (from.0 + share * (to.0 - from.0), 0.0);
            for half in [[from, middle], [middle, to]] {
                self.each_part(half, &mut part as &mut dyn FnMut((f64, f64), &'r [Ray]));
            }
            return;
        }
        let (from, to) = ((from.0, from.1.abs()), (to.0, to.1.abs()));
        let (from, to) = if heading(from) <= heading(to) { (from, to) } else { (to, from) };
        let range = (heading(from), heading(to));
        let reach = |p: (f64, f64)| p.0.hypot(p.1);
        part((reach(from), range.0), self.beside(range.0));
        part((reach(to), range.1), self.beside(range.1));
        let first = self.rays.partition_point(|ray| ray.heading_rad <= range.0);
        let last = self.rays.partition_point(|ray| ray.heading_rad < range.1);
        for k in first..last {
            let heading_rad = self.rays[k].heading_rad;
            let (sin, cos) = heading_rad.sin_cos();
            // Where the line crosses this heading.
            let (one, other) = (from.1 * cos - from.0 * sin, to.1 * cos - to.0 * sin);
            let share = if one == other { 0.0 } else { (one / (one - other)).clamp(0.0, 1.0) };
            let at = (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1));
            let at = (reach(at), heading_rad);
            part(at, &self.rays[k.saturating_sub(1)..=k]);
            part(at, &self.rays[k..=(k + 1).min(self.rays.len() - 1)]);
        }
    }
}

/// The room along a heading between rays. The wall's end, and the meridian behind, run straight
/// from one to the other, as nearly as can be told; of folds the lesser room holds for both.
fn room(beside: &[Ray], heading_rad: f64) -> (f64, LabelLimit) {
    let [a, b] = beside else { return least(beside) };
    if a.limit != b.limit || !a.limit.is_line() {
        return least(beside);
    }
    let [from, to, whole] =
        [heading_rad - a.heading_rad, b.heading_rad - heading_rad, b.heading_rad - a.heading_rad]
            .map(f64::sin);
    let across = a.room_mm * from + b.room_mm * to;
    if across <= 0.0 {
        return least(beside);
    }
    (a.room_mm * b.room_mm * whole / across, a.limit)
}

fn least(rays: &[Ray]) -> (f64, LabelLimit) {
    rays.iter()
        .map(|ray| (ray.room_mm, ray.limit))
        .min_by(|one, other| one.0.total_cmp(&other.0))
        .unwrap_or((0.0, LabelLimit::Nothing))
}

/// The headings looked along, rad, in order: evenly, and ever closer to those that come to lie
/// along a shoulder. By Clairaut that is where `r sin α` at the anchor is the shoulder's radius.
fn headings(wall: &Wall, anchor_s_mm: f64) -> Vec<f64> {
    let step = PI / HEADINGS as f64;
    let mut headings: Vec<f64> = (0..HEADINGS).map(|i| step * (i as f64 + 0.5)).collect();
    let radius_mm = wall.section(anchor_s_mm, &mut 0).radius_mm;
    let mut along = vec![0.5 * PI];
    if wall.shape() == WallShape::Straight {
        for (span, &s_mm) in wall.span_ends_mm().iter().enumerate() {
            let slope = |span: usize| wall.section_in(span, s_mm).sin_slope;
            let ends = [0, wall.span_count()].contains(&span);
            let (before, after) = if ends { (0.0, 0.0) } else { (slope(span - 1), slope(span)) };
            let sine = wall.section(s_mm, &mut 0).radius_mm / radius_mm;
            if before > after && sine < 1.0 {
                along.extend([sine.asin(), PI - sine.asin()]);
            }
        }
    }
    for heading in along {
        for k in 0..CLOSER {
            let off = step * 0.5_f64.powi(k);
            headings.extend([heading - off, heading + off]);
        }
    }
    headings.retain(|heading| (0.0..PI).contains(heading));
    headings.sort_by(f64::total_cmp);
    headings.dedup_by(|a, b| *a - *b < 1e-9);
    headings
}

/// A geodesic from the anchor as far as the wall and half a turn go.
struct Way {
    heading_rad: f64,
    room_mm: f64,
    limit: LabelLimit,
    /// Where its Jacobi field first comes down to 0, mm from the anchor.
    fold_mm: Option<f64>,
    /// Its place and turn after every stride, and whether it has folded.
    after: Vec<(f64, f64, bool)>,
}

impl Way {
    fn along(wall: &Wall, anchor_s_mm: f64, heading_rad: f64, far_mm: f64) -> Way {
        let (sin, cos) = heading_rad.sin_cos();
        let mut walk = Walk::new(wall, Start { s_mm: anchor_s_mm, heading: (cos, sin) });
        let stop = |arrival: &Arrival| {
            if !(0.0..=wall.length_mm()).contains(&arrival.s_mm) {
                Some(LabelLimit::End)
            } else if arrival.turn_rad.abs() >= PI {
                Some(LabelLimit::Itself)
            } else {
                None
            }
        };
        let stride_mm = far_mm / STRIDES as f64;
        let mut way = Way {
            heading_rad,
            room_mm: far_mm,
            limit: LabelLimit::Nothing,
            fold_mm: None,
            after: Vec::with_capacity(STRIDES),
        };
        for k in 0..STRIDES {
            let (before, gone_mm) = (walk.clone(), k as f64 * stride_mm);
            let arrival = walk.advance(wall, stride_mm);
            // In ever smaller strides up to what happens within this one.
            let close_in = |happens: &dyn Fn(&Arrival) -> bool| {
                let (mut at, mut step, mut further) = (before.clone(), 0.5 * stride_mm, 0.0);
                while step > 1e-9 * far_mm {
                    let mut next = at.clone();
                    if !happens(&next.advance(wall, step)) {
                        (at, further) = (next, further + step);
                    }
                    step *= 0.5;
                }
                gone_mm + further
            };
            if arrival.folded && way.fold_mm.is_none() {
                way.fold_mm = Some(close_in(&|arrival| arrival.folded));
            }
            if let Some(limit) = stop(&arrival) {
                (way.room_mm, way.limit) = (close_in(&|arrival| stop(arrival).is_some()), limit);
                break;
            }
            way.after.push((arrival.s_mm, arrival.turn_rad, arrival.folded));
        }
        way
    }
}

/// The runs of headings, first and last, whose fronts after a stride lie past the rim of a wedge.
fn folds(wall: &Wall, ways: &[Way], stride: usize) -> Vec<(usize, usize)> {
    let front = |k: usize| ways.get(k).and_then(|way| way.after.get(stride)).copied();
    let folded = |k: usize| front(k).is_some_and(|place| place.2);
    let mut found = Vec::new();
    let mut k = 0;
    while k < ways.len() {
        if !folded(k) {
            k += 1;
            continue;
        }
        let mut last = k;
        while folded(last + 1) {
            last += 1;
        }
        let run = crossing(&front, k, last).unwrap_or((k, last));
        let places: Vec<(f64, f64)> =
            (run.0..=run.1).filter_map(front).map(|(s, turn, _)| (s, turn)).collect();
        if size_mm(wall, &places) >= LEAST_FOLD_MM {
            found.push(run);
        }
        k = last.max(run.1) + 1;
    }
    found
}

/// Where a front crosses itself about a run of folded headings: what lies between.
fn crossing(
    front: &dyn Fn(usize) -> Option<(f64, f64, bool)>,
    first: usize,
    last: usize,
) -> Option<(usize, usize)> {
    let line = |k: usize| Some([front(k)?, front(k + 1)?].map(|(s, turn, _)| (s, turn)));
    for before in (first.saturating_sub(BESIDE)..first).rev() {
        let one = line(before)?;
        for after in last..last + BESIDE {
            let Some(other) = line(after) else { break };
            if cross(one, other) {
                return Some((before + 1, after));
            }
        }
    }
    None
}

/// Whether two lines cross.
fn cross([a, b]: [(f64, f64); 2], [c, d]: [(f64, f64); 2]) -> bool {
    let side = |p: (f64, f64), q: (f64, f64), r: (f64, f64)| {
        (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0)
    };
    side(a, b, c) * side(a, b, d) <= 0.0 && side(c, d, a) * side(c, d, b) <= 0.0
}

/// The longer side of the box around places on the wall, mm.
fn size_mm(wall: &Wall, places: &[(f64, f64)]) -> f64 {
    let range = |values: &mut dyn Iterator<Item = f64>| {
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        (high - low).max(0.0)
    };
    let radius_mm = places.first().map_or(0.0, |place| wall.section(place.0, &mut 0).radius_mm);
    let along = range(&mut places.iter().map(|place| place.0));
    let around = range(&mut places.iter().map(|place| place.1));
    along.max(around * radius_mm)
}
