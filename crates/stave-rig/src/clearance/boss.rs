//! A zone that rises above the wall, as the nozzle meets it.
//!
//! Turned so that its nearer edge stands at an angle `e` from the top (0 while some of it is
//! uppermost), every point of the zone that matters can be shifted sideways, at its own height and
//! place along the rail, onto the plane of that edge: there `y = q tan e`, `q` being the distance
//! of the point from the axis, seen from the side. So from the side the zone is its own outline
//! `(z, P(z) cos e)`, `P` the wall's radius and the rise, and it is under the circle where `d² + q²
//! tan² e ≤ R²`, `d` the distance along the rail. The highest point under the circle is then that
//! of a straight-edged outline within a convex patch: a corner, the place where an edge leaves the
//! patch, or the top of the patch itself.
//!
//! Points below the axis never matter, since the wall's own crest stands above them.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use stave_setup::Zone;
use stave_wall::{Wall, WallShape};

use super::crest_line::{BULGE_MM, few_sections, whole_outline};
use super::sector::Sector;

/// A zone that rises, or what else turns with the work.
#[derive(Clone, Debug)]
pub(crate) struct Boss {
    /// `(z, P)`, mm, z growing.
    outline: Vec<(f64, f64)>,
    middle_rad: f64,
    half_rad: f64,
    sin_tilt: f64,
    cos_tilt: f64,
    bulge_mm: f64,
}

/// The patch of the rail that one stretch of motion covers.
struct Patch {
    low: f64,
    high: f64,
    radius_mm: f64,
    tan_edge: f64,
}

impl Patch {
    /// What of a straight line from `a` to `b`, points `(X, q)`, lies in the patch: the shares at
    /// which it goes in and out.
    fn shares(&self, a: (f64, f64), b: (f64, f64)) -> Option<(f64, f64)> {
        let (dx, dq) = (b.0 - a.0, b.1 - a.1);
        let mut breaks = [0.0, 1.0, 1.0, 1.0];
        let mut count = 1;
        let mut crossings = [self.low, self.high];
        if dx < 0.0 {
            crossings.swap(0, 1);
        }
        for x in crossings {
            let u = (x - a.0) / dx;
            if dx != 0.0 && u > 0.0 && u < 1.0 {
                breaks[count] = u;
                count += 1;
            }
        }
        breaks[count] = 1.0;
        let mut inside: Option<(f64, f64)> = None;
        for pair in breaks[..=count].windows(2) {
            let middle = a.0 + dx * 0.5 * (pair[0] + pair[1]);
            // The distance along the rail is measured from here; over the patch's own length it is
            // nothing.
            let (x, dx) = if middle < self.low {
                (a.0 - self.low, dx)
            } else if middle > self.high {
                (a.0 - self.high, dx)
            } else {
                (0.0, 0.0)
            };
            let (q, dq) = (a.1 * self.tan_edge, dq * self.tan_edge);
            let Some((from, to)) = not_above_zero(
                dx * dx + dq * dq,
                x * dx + q * dq,
                x * x + q * q - self.radius_mm * self.radius_mm,
            ) else {
                continue;
            };
            let (from, to) = (from.max(pair[0]), to.min(pair[1]));
            if from <= to {
                inside = Some(
                    inside.map_or((from, to), |(first, last)| (first.min(from), last.max(to))),
                );
            }
        }
        inside
    }

    /// The point `(X, q)` of the patch that is highest under a tilt; `None` where the patch has no
    /// top.
    fn top(&self, sin_tilt: f64, cos_tilt: f64) -> Option<(f64, f64)> {
        if self.tan_edge <= 0.0 {
            return None;
        }
        // Along the round end: x = R cos β, q = (R / tan e) sin β; the height is X tan τ + q / cos
        // τ.
        let angle = (1.0 / (self.tan_edge * cos_tilt)).atan2((sin_tilt / cos_tilt).abs());
        let x = self.radius_mm * angle.cos();
        let along = if sin_tilt >= 0.0 { self.high + x } else { self.low - x };
        Some((along, self.radius_mm * angle.sin() / self.tan_edge))
    }
}

/// Where `a u² + 2 b u + c ≤ 0`, for `a ≥ 0`.
fn not_above_zero(a: f64, b: f64, c: f64) -> Option<(f64, f64)> {
    if a > 0.0 {
        let under = b * b - a * c;
        if under < 0.0 {
            return None;
        }
        let root = under.sqrt();
        // The larger of the two in size first, the other by the product of the roots: neither loses
        // digits.
        let far = -(b + root.copysign(b));
        let (u, v) = if far == 0.0 { (0.0, 0.0) } else { (far / a, c / far) };
        Some((u.min(v), u.max(v)))
    } else {
        (c <= 0.0).then_some((f64::NEG_INFINITY, f64::INFINITY))
    }
}

/// How far a wall may stand out past its outline of few points, mm.
fn bulge_mm(wall: &Wall) -> f64 {
    if wall.shape() == WallShape::Smooth { BULGE_MM } else { 0.0 }
}

impl Boss {
    pub(crate) fn new(wall: &Wall, zone: &Zone, tilt_rad: f64) -> Self {
        let (from, to) = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
        let mut hint = 0;
        let mut sections = vec![wall.section(from, &mut hint)];
        if from < wall.length_mm() && to > 0.0 {
            sections.extend(few_sections(wall, from, to));
        }
        sections.push(wall.section(to, &mut hint));
        let outline = sections.iter().map(|s| (s.at_mm, s.radius_mm + zone.rise_mm)).collect();
        Self { bulge_mm: bulge_mm(wall), ..Self::of(outline, zone.turn_rad, tilt_rad) }
    }

    /// The wall itself.
    pub(crate) fn whole(wall: &Wall, tilt_rad: f64) -> Self {
        let outline = whole_outline(wall).iter().map(|s| (s.at_mm, s.radius_mm)).collect();
        Self { bulge_mm: bulge_mm(wall), ..Self::of(outline, (-PI, PI), tilt_rad) }
    }

    /// A sector of a solid of revolution by its outline `(z, P)`, mm, between two turns.
    pub(crate) fn of(outline: Vec<(f64, f64)>, turn_rad: (f64, f64), tilt_rad: f64) -> Self {
        let (sin_tilt, cos_tilt) = tilt_rad.sin_cos();
        Self {
            outline,
            middle_rad: 0.5 * (turn_rad.0 + turn_rad.1),
            half_rad: (0.5 * (turn_rad.1 - turn_rad.0)).min(PI),
            sin_tilt,
            cos_tilt,
            bulge_mm: 0.0,
        }
    }

    /// It, as a box meets it that reaches so far along the rail and across.
    pub(crate) fn under_box(&self, along_mm: (f64, f64), across_mm: (f64, f64)) -> Sector {
        Sector::new(
            &self.outline,
            (self.middle_rad, self.half_rad),
            along_mm,
            across_mm,
            (self.sin_tilt, self.cos_tilt),
            self.bulge_mm,
        )
    }

    /// From the axis to its outermost, mm.
    pub(crate) fn radius_mm(&self) -> f64 {
        self.outline.iter().map(|point| point.1).fold(0.0, f64::max)
    }

    /// The greatest height it can have, mm.
    pub(crate) fn top_mm(&self) -> f64 {
        let heights = self.outline.iter().map(|(z, p)| z * self.sin_tilt + p * self.cos_tilt);
        heights.fold(f64::NEG_INFINITY, f64::max) + self.bulge_mm
    }

    /// The angle from the top to its nearest edge at best, while the turn uppermost goes from one
    /// to the other, rad.
    fn edge_rad(&self, turns: (f64, f64)) -> f64 {
        let middle = 0.5 * (turns.0 + turns.1);
        let half = 0.5 * (turns.1 - turns.0).abs();
        let away = ((middle - self.middle_rad + PI).rem_euclid(TAU) - PI).abs();
        (away - self.half_rad - half).max(0.0)
    }

    /// The greatest height of it under the circle, mm, while the nozzle goes between two places
    /// along the rail and the work between two turns, each for itself; `None` where none of it
    /// comes under the circle.
    pub(crate) fn highest_mm(
        &self,
        rail: (f64, f64),
        turns: (f64, f64),
        radius_mm: f64,
    ) -> Option<f64> {
        let edge_rad = self.edge_rad(turns);
        if edge_rad >= FRAC_PI_2 {
            return None;
        }
        let (cos_edge, tan_edge) = (edge_rad.cos(), edge_rad.tan());
        let patch = Patch { low: rail.0, high: rail.1, radius_mm, tan_edge };
        let side = |(z, p): (f64, f64)| (z, p * cos_edge);
        let seen = |(z, q): (f64, f64)| (z * self.cos_tilt - q * self.sin_tilt, q);
        let height = |(x, q): (f64, f64)| (x * self.sin_tilt + q) / self.cos_tilt;
        let mut highest: Option<f64> = None;
        let mut consider = |h: f64| highest = Some(highest.map_or(h, |most: f64| most.max(h)));
        let mut edge = |a: (f64, f64), b: (f64, f64)| {
            let (a, b) = (seen(a), seen(b));
            if let Some((from, to)) = patch.shares(a, b) {
                let at = |u: f64| height((a.0 + (b.0 - a.0) * u, a.1 + (b.1 - a.1) * u));
                consider(at(from).max(at(to)));
            }
        };
        for pair in self.outline.windows(2) {
            edge(side(pair[0]), side(pair[1]));
        }
        for end in [self.outline.first(), self.outline.last()].into_iter().flatten() {
            edge((end.0, 0.0), side(*end));
        }
        if let Some(top) = patch.top(self.sin_tilt, self.cos_tilt) {
            let z = (top.0 + top.1 * self.sin_tilt) / self.cos_tilt;
            if self.radius_at(z).is_some_and(|p| top.1 <= p * cos_edge) {
                consider(height(top));
            }
        }
        highest.map(|h| h + self.bulge_mm)
    }

    /// The radius with the rise at a place along the axis, mm; `None` beside the zone.
    fn radius_at(&self, z: f64) -> Option<f64> {
        let next = self.outline.partition_point(|point| point.0 < z);
        let (a, b) = (self.outline.get(next.checked_sub(1)?)?, self.outline.get(next)?);
        Some(a.1 + (b.1 - a.1) * (z - a.0) / (b.0 - a.0))
    }
}
