//! A solid of revolution, or a sector of one, as an upright box above it meets it.
//!
//! At one place along the axis a sector of radius `P` is the points `(y, q)`, `y` across and `q`
//! up, within `P` of the axis and between two angles from the top. Of those beyond `y = c`, on the
//! side to which angles grow, the highest under a box that reaches across from `c` to `d` has `q =
//! min(d / tan e, P cos e, √(P² − c²))`, `e` the sector's first angle (the edge cut off by the box,
//! the edge's outer end, the outside where the box begins), and none of it lies lower than where
//! the other edge comes in. So seen from the side, along each straight run of its outline, it is a
//! convex polygon; cut by the stretch of the rail that the box covers, it is highest at a corner.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::crest_line::BULGE_MM;

/// A sector under a box.
#[derive(Clone, Debug)]
pub(crate) struct Sector {
    /// `(z, P, √(P² − c²))`, mm, z growing; the last 0 where the sector does not reach the box.
    outline: Vec<(f64, f64, f64)>,
    middle_rad: f64,
    half_rad: f64,
    along_mm: (f64, f64),
    across_mm: (f64, f64),
    sin_tilt: f64,
    cos_tilt: f64,
    bulge_mm: f64,
}

/// A convex polygon of points `(z, q)`: a rectangle, cut by straight lines.
struct Polygon(Vec<(f64, f64)>);

impl Polygon {
    fn rectangle(z: (f64, f64), q: (f64, f64)) -> Self {
        if z.0 > z.1 || q.0 > q.1 {
            return Self(Vec::new());
        }
        Self(vec![(z.0, q.0), (z.1, q.0), (z.1, q.1), (z.0, q.1)])
    }

    /// Keeps what lies where `a z + b q ≤ c`.
    fn cut(&mut self, a: f64, b: f64, c: f64) {
        let over = |point: &(f64, f64)| a * point.0 + b * point.1 - c;
        if self.0.iter().all(|point| over(point) <= 0.0) {
            return;
        }
        let mut kept = Vec::with_capacity(self.0.len() + 1);
        for (k, from) in self.0.iter().enumerate() {
            let to = &self.0[(k + 1) % self.0.len()];
            let (at_from, at_to) = (over(from), over(to));
            if at_from <= 0.0 {
                kept.push(*from);
            }
            if at_from * at_to < 0.0 {
                let share = at_from / (at_from - at_to);
                kept.push((from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share));
            }
        }
        self.0 = kept;
    }

    fn highest(&self, sin_tilt: f64, cos_tilt: f64) -> Option<f64> {
        self.0.iter().map(|(z, q)| z * sin_tilt + q * cos_tilt).reduce(f64::max)
    }
}

/// The highest point of a still box that reaches down from `height_mm` above the axis, between two
/// places along the axis, where it lies between two places along the rail; mm.
pub(crate) fn still_box_highest_mm(
    along_mm: (f64, f64),
    height_mm: f64,
    rail_mm: (f64, f64),
    (sin_tilt, cos_tilt): (f64, f64),
) -> Option<f64> {
    let mut polygon = Polygon::rectangle(along_mm, (-super::BEYOND_MM, height_mm));
    polygon.cut(cos_tilt, -sin_tilt, rail_mm.1);
    polygon.cut(-cos_tilt, sin_tilt, -rail_mm.0);
    polygon.highest(sin_tilt, cos_tilt)
}

/// What of a sector lies on one side of the middle plane, as [`Sector::side_highest_mm`] needs it.
struct Side {
    /// The sector's angles from the top, rad, between 0 and half a turn.
    first_rad: f64,
    last_rad: f64,
    /// The box across, mm, neither less than 0.
    near_mm: f64,
    far_mm: f64,
}

impl Sector {
    /// Of an outline `(z, P)`, its angles' middle and half, and a box along and across the rail.
    /// `bulge_mm` is how far the solid may stand out past its outline.
    pub(crate) fn new(
        outline: &[(f64, f64)],
        (middle_rad, half_rad): (f64, f64),
        along_mm: (f64, f64),
        across_mm: (f64, f64),
        (sin_tilt, cos_tilt): (f64, f64),
        bulge_mm: f64,
    ) -> Self {
        let beside = across_mm.0.max(-across_mm.1).max(0.0);
        let mut fine = Vec::with_capacity(outline.len());
        for pair in outline.windows(2) {
            push_run(&mut fine, pair[0], pair[1], beside);
        }
        if let Some((z, p)) = outline.last() {
            fine.push((*z, *p, depth(*p, beside)));
        }
        Self {
            outline: fine,
            middle_rad,
            half_rad,
            along_mm,
            across_mm,
            sin_tilt,
            cos_tilt,
            bulge_mm: if beside > 0.0 { bulge_mm + BULGE_MM } else { bulge_mm },
        }
    }

    /// The greatest height of it under the box, mm, while the head goes between two places along
    /// the rail and the work between two turns, each for itself; `None` where none of it comes
    /// under the box.
    pub(crate) fn highest_mm(&self, rail: (f64, f64), turns: (f64, f64)) -> Option<f64> {
        let rail =
            (rail.0 + self.along_mm.0 - self.bulge_mm, rail.1 + self.along_mm.1 + self.bulge_mm);
        let middle_turn = 0.5 * (turns.0 + turns.1);
        let half = self.half_rad + 0.5 * (turns.1 - turns.0).abs();
        let away = (self.middle_rad - middle_turn + PI).rem_euclid(TAU) - PI;
        let mut highest: Option<f64> = None;
        for sign in [1.0, -1.0] {
            let (low, high) =
                if sign > 0.0 { self.across_mm } else { (-self.across_mm.1, -self.across_mm.0) };
            if high < 0.0 || (high == 0.0 && low < 0.0) {
                continue;
            }
            for turn in [-TAU, 0.0, TAU] {
                let from = sign * away - half + turn;
                let side = Side {
                    first_rad: from.max(0.0),
                    last_rad: (from + 2.0 * half).min(PI),
                    near_mm: low.max(0.0),
                    far_mm: high,
                };
                if side.first_rad > side.last_rad {
                    continue;
                }
                if let Some(height) = self.side_highest_mm(&side, rail) {
                    highest = Some(highest.map_or(height, |most: f64| most.max(height)));
                }
            }
        }
        highest.map(|height| height + self.bulge_mm)
    }

    fn side_highest_mm(&self, side: &Side, rail: (f64, f64)) -> Option<f64> {
        let Side { first_rad, last_rad, near_mm, far_mm } = *side;
        if near_mm == 0.0 && first_rad >= FRAC_PI_2 {
            // Below the axis, over which the box stands: the wall's own crest is higher.
            return None;
        }
        // The edge where the box ends, or below the axis where it begins.
        let cap_mm = if first_rad < FRAC_PI_2 { far_mm } else { near_mm } / first_rad.tan();
        let cos_first = if first_rad < FRAC_PI_2 { first_rad.cos() } else { 0.0 };
        let widest = last_rad.min(FRAC_PI_2).max(first_rad);
        // The radius from which on the sector reaches the box.
        let reaches_mm = near_mm / widest.sin();
        let mut highest: Option<f64> = None;
        for pair in self.between(rail) {
            let ((z0, p0, s0), (z1, p1, s1)) = (pair[0], pair[1]);
            let floor_mm = match near_mm {
                0.0 => 0.0,
                near if last_rad < FRAC_PI_2 => near / last_rad.tan(),
                _ => -(far_mm / last_rad.tan().abs()).min(s0.max(s1)),
            };
            let mut polygon = Polygon::rectangle((z0, z1), (floor_mm, cap_mm.min(p0.max(p1))));
            let line = |a: f64, b: f64| {
                let slope = if z1 > z0 { (b - a) / (z1 - z0) } else { 0.0 };
                (slope, a - slope * z0)
            };
            let (slope, base) = line(p0, p1);
            if cos_first > 0.0 {
                polygon.cut(-slope * cos_first, 1.0, base * cos_first);
            }
            if near_mm > 0.0 {
                polygon.cut(-slope, 0.0, base - reaches_mm + self.bulge_mm);
                let (slope, base) = line(s0, s1);
                polygon.cut(-slope, 1.0, base);
            }
            polygon.cut(self.cos_tilt, -self.sin_tilt, rail.1);
            polygon.cut(-self.cos_tilt, self.sin_tilt, -rail.0);
            if let Some(height) = polygon.highest(self.sin_tilt, self.cos_tilt) {
                highest = Some(highest.map_or(height, |most: f64| most.max(height)));
            }
        }
        highest
    }

    /// The runs of the outline that may lie between two places along the rail.
    fn between(&self, rail: (f64, f64)) -> impl Iterator<Item = &[(f64, f64, f64)]> {
        let widest = self.outline.iter().map(|point| point.1).fold(0.0, f64::max);
        let lean = widest * self.sin_tilt.abs();
        let (low, high) = ((rail.0 - lean) / self.cos_tilt, (rail.1 + lean) / self.cos_tilt);
        let first = self.outline.partition_point(|point| point.0 < low).saturating_sub(1);
        let last = self.outline.partition_point(|point| point.0 <= high).saturating_add(1);
        self.outline[first.min(self.outline.len())..last.min(self.outline.len())].windows(2)
    }
}

/// How far up a circle of radius `p` goes so far beside its middle; 0 where it does not reach.
fn depth(p: f64, beside: f64) -> f64 {
    (p * p - beside * beside).max(0.0).sqrt()
}

/// The points from `a` on, up to but not with `b`, such that chords of `√(P² − c²)` stray by no
/// more than [`BULGE_MM`].
fn push_run(fine: &mut Vec<(f64, f64, f64)>, a: (f64, f64), b: (f64, f64), beside: f64) {
    let point = |t: f64| {
        let (z, p) = (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t);
        (z, p, depth(p, beside))
    };
    let mut ends = vec![0.0];
    if beside > 0.0 && a.1 != b.1 {
        // Where it comes to reach the box, and then in equal steps of the depth, over which the
        // outline is a hyperbola with its apex there.
        let (s0, s1) = (depth(a.1, beside), depth(b.1, beside));
        let reach = (beside - a.1) / (b.1 - a.1);
        if reach > 0.0 && reach < 1.0 {
            ends.push(reach);
        }
        let way = (s1 - s0).abs();
        // A chord over a step `h` of the depth strays along the axis by `h² z″ / 8 ≤ h² / 8 c k`,
        // `k` the slope of the outline.
        let slope = ((b.1 - a.1) / (b.0 - a.0)).abs();
        let most = (8.0 * beside * BULGE_MM * slope).sqrt();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let steps = (way / most).ceil().clamp(1.0, 4096.0) as u32;
        for k in 1..steps {
            let s = s0 + (s1 - s0) * f64::from(k) / f64::from(steps);
            let t = (s.hypot(beside) - a.1) / (b.1 - a.1);
            if t > 0.0 && t < 1.0 {
                ends.push(t);
            }
        }
        ends.sort_by(f64::total_cmp);
    }
    fine.extend(ends.into_iter().map(point));
}
