//! What a round pen covers along a path, corners on the inner side included.

use kurbo::{
    Arc, BezPath, Cap, Join, ParamCurve as _, PathEl, PathSeg, Point, Stroke, StrokeOpts, Vec2,
};

/// A turn of less is no corner, rad.
const SMOOTH_RAD: f64 = 1e-3;

/// The area that a pen covers, to be filled by the nonzero rule.
///
/// Joins that are round or bevelled leave kurbo's inner edge without the corner itself: where a
/// piece next to one is shorter than that edge reaches, the two edges cross and leave a hole in
/// what is covered. Such subpaths are put together from their pieces and their joins.
pub(super) fn covered(path: &BezPath, style: &Stroke, tolerance: f64) -> BezPath {
    let options = StrokeOpts::default();
    let mut area = BezPath::new();
    for one in subpaths(path) {
        let pieces = Pieces::of(&one);
        if pieces.is_crowded(style) {
            pieces.cover(style, &options, tolerance, &mut area);
        } else {
            area.extend(kurbo::stroke(one.iter(), style, &options, tolerance));
        }
    }
    area
}

/// Each subpath by itself; what follows a closed one without a move begins where that began.
#[must_use]
pub fn subpaths(path: &BezPath) -> Vec<BezPath> {
    let mut all: Vec<BezPath> = Vec::new();
    let mut start = Point::ZERO;
    for &el in path.elements() {
        let after_close =
            all.last().is_none_or(|one| matches!(one.elements().last(), Some(PathEl::ClosePath)));
        match el {
            PathEl::MoveTo(p) => {
                start = p;
                all.push(BezPath::new());
            }
            _ if after_close => {
                all.push(BezPath::from_vec(vec![PathEl::MoveTo(start)]));
            }
            _ => {}
        }
        if let Some(one) = all.last_mut() {
            one.push(el);
        }
    }
    all
}

/// The pieces of one subpath that have a length, and whether the last meets the first.
struct Pieces {
    segments: Vec<PathSeg>,
    is_closed: bool,
}

/// Where two pieces meet: the corner and the unit tangents into it and out of it.
struct Corner {
    at: Point,
    into: Vec2,
    out: Vec2,
    /// The shorter of the two chords.
    room: f64,
}

impl Corner {
    fn turn_rad(&self) -> f64 {
        self.into.cross(self.out).atan2(self.into.dot(self.out))
    }

    /// Whether the join is mitred: SVG 2, 13.5.5, the ratio of miter to width is 1 / sin(θ/2), θ
    /// between the pieces.
    fn is_mitred(&self, style: &Stroke) -> bool {
        let (sin, cos) = (0.5 * self.turn_rad()).sin_cos();
        style.join == Join::Miter && sin.abs() > 0.0 && cos * style.miter_limit > 1.0
    }
}

impl Pieces {
    fn of(one: &BezPath) -> Self {
        let segments: Vec<PathSeg> =
            one.segments().filter(|piece| tangents(piece).is_some()).collect();
        Self { segments, is_closed: matches!(one.elements().last(), Some(PathEl::ClosePath)) }
    }

    fn corners(&self) -> impl Iterator<Item = Corner> + '_ {
        let count = self.segments.len();
        let joins = if self.is_closed { count } else { count.saturating_sub(1) };
        (0..joins).filter_map(move |k| {
            let (before, after) = (self.segments.get(k)?, self.segments.get((k + 1) % count)?);
            let (into, out) = (tangents(before)?.1, tangents(after)?.0);
            let chord = |piece: &PathSeg| piece.start().distance(piece.end());
            Some(Corner { at: after.start(), into, out, room: chord(before).min(chord(after)) })
        })
    }

    /// Whether the inner edge of a piece may be shorter than its corners take away from it: each
    /// takes half the width times the tangent of half its turn.
    fn is_crowded(&self, style: &Stroke) -> bool {
        self.corners().any(|corner| {
            let turn = corner.turn_rad().abs();
            turn > SMOOTH_RAD
                && !corner.is_mitred(style)
                && corner.room < style.width * (0.5 * turn).tan()
        })
    }

    fn cover(&self, style: &Stroke, options: &StrokeOpts, tolerance: f64, area: &mut BezPath) {
        let last = self.segments.len().saturating_sub(1);
        for (k, piece) in self.segments.iter().enumerate() {
            let is_end = |end: usize| k == end && !self.is_closed;
            let mut one = style.clone();
            one.start_cap = if is_end(0) { style.start_cap } else { Cap::Butt };
            one.end_cap = if is_end(last) { style.end_cap } else { Cap::Butt };
            let path = BezPath::from_path_segments([*piece].into_iter());
            area.extend(kurbo::stroke(path.iter(), &one, options, tolerance));
        }
        for corner in self.corners() {
            match style.join {
                Join::Round => area.extend(sector(&corner, style, tolerance)),
                _ => area.extend(wedge(&corner, style)),
            }
        }
    }
}

/// What a round join adds: the sector on the outer side (SVG 2, 13.5.5), and not all of the pen's
/// disc, which reaches past the end of a piece that is shorter than it.
fn sector(corner: &Corner, style: &Stroke, tolerance: f64) -> BezPath {
    let (turn_rad, half_mm) = (corner.turn_rad(), 0.5 * style.width);
    let outer = -turn_rad.signum();
    let side = outer * Vec2::new(-corner.into.y, corner.into.x);
    // Wound as kurbo winds what it covers, whichever way it turns.
    let (start_rad, sweep_rad) = match turn_rad < 0.0 {
        true => (side.atan2() + turn_rad, -turn_rad),
        false => (side.atan2(), turn_rad),
    };
    let arc = Arc::new(corner.at, (half_mm, half_mm), start_rad, sweep_rad, 0.0);
    let mut path = BezPath::new();
    path.move_to(corner.at);
    path.line_to(corner.at + half_mm * Vec2::from_angle(start_rad));
    path.extend(arc.append_iter(tolerance));
    path.close_path();
    path
}

/// What a join that is not round adds on the outer side, wound as kurbo winds what it covers.
fn wedge(corner: &Corner, style: &Stroke) -> BezPath {
    let outer = -0.5 * style.width * corner.turn_rad().signum();
    let side = |along: Vec2| corner.at + outer * Vec2::new(-along.y, along.x);
    let (from, to) = (side(corner.into), side(corner.out));
    let mut points = vec![corner.at, from];
    if corner.is_mitred(style) {
        let reach = 0.5 * style.width * (0.5 * corner.turn_rad()).tan().abs();
        points.push(from + reach * corner.into);
    }
    points.push(to);
    if (from - corner.at).cross(to - corner.at) < 0.0 {
        points.reverse();
    }
    let mut path = BezPath::new();
    for (k, point) in points.into_iter().enumerate() {
        if k == 0 { path.move_to(point) } else { path.line_to(point) }
    }
    path.close_path();
    path
}

/// The unit tangents at the beginning and the end of a piece. `None` where it has no length.
fn tangents(piece: &PathSeg) -> Option<(Vec2, Vec2)> {
    let cubic = piece.to_cubic();
    let points = [cubic.p0, cubic.p1, cubic.p2, cubic.p3];
    let unit = |along: Vec2| (along.hypot2() > 0.0).then(|| along.normalize());
    let begin = points.iter().skip(1).find_map(|p| unit(*p - cubic.p0))?;
    let end = points.iter().rev().skip(1).find_map(|p| unit(cubic.p3 - *p))?;
    Some((begin, end))
}

#[cfg(test)]
mod tests {
    use kurbo::{Affine, Shape as _};

    use super::*;

    fn pen(join: Join) -> Stroke {
        Stroke::new(1.5).with_join(join).with_caps(Cap::Round)
    }

    /// Whether a point lies within half a width of the path: what a pen with round joins and caps
    /// covers, by definition.
    fn is_near(path: &BezPath, point: Point, half: f64) -> bool {
        use kurbo::ParamCurveNearest as _;
        path.segments().any(|piece| piece.nearest(point, 1e-9).distance_sq <= half * half)
    }

    #[test]
    fn a_round_pen_covers_what_lies_within_half_its_width() -> Result<(), kurbo::SvgParseError> {
        for d in [
            "M12 12.75h.005v.006H12v-.006Z",
            "M0 0h0.3l0.2 0.4l-0.4 0.1z",
            "M0 0L6 0.3L0 0.5",
            "M0 0C1 0 1 0.2 0.1 0.1L0.3 0.4",
            "M0 0H4V3H1Z",
        ] {
            let path = BezPath::from_svg(d)?;
            let area = covered(&path, &pen(Join::Round), 1e-3);
            let bounds = path.bounding_box().inflate(1.0, 1.0);
            for k in 0..2000_u32 {
                let share = |step: f64| (f64::from(k) * step).fract();
                let at = Point::new(
                    bounds.x0 + bounds.width() * share(0.618_033_988_749),
                    bounds.y0 + bounds.height() * share(0.754_877_666_247),
                );
                let (less, more) = (is_near(&path, at, 0.745), is_near(&path, at, 0.755));
                if less == more {
                    assert_eq!(area.winding(at) != 0, less, "{d} at {at:?}");
                }
            }
        }
        Ok(())
    }

    /// A square of 0.2 with a pen of 1.5: bevelled it is an octagon, mitred a square.
    #[test]
    fn joins_of_a_small_square_have_their_exact_area() -> Result<(), kurbo::SvgParseError> {
        let path = Affine::rotate(0.3) * BezPath::from_svg("M0 0H.2V.2H0Z")?;
        let covers = |join: Join| {
            let area = covered(&path, &pen(join), 1e-4);
            let count = (0..40_000_u32).filter(|k| {
                let (x, y) = (f64::from(k % 200), f64::from(k / 200));
                area.winding(Point::new(0.02 * x - 2.0 + 0.003, 0.02 * y - 2.0 + 0.007)) != 0
            });
            f64::from(u32::try_from(count.count()).unwrap_or(0)) * 0.0004
        };
        assert!((covers(Join::Miter) - 1.7_f64.powi(2)).abs() < 0.03);
        let bevelled = 1.7_f64.powi(2) - 2.0 * 0.75_f64.powi(2);
        assert!((covers(Join::Bevel) - bevelled).abs() < 0.03, "{}", covers(Join::Bevel));
        Ok(())
    }

    #[test]
    fn a_corner_with_room_is_left_to_kurbo() -> Result<(), kurbo::SvgParseError> {
        let path = BezPath::from_svg("M0 0H40V30H10Z M5 5H9")?;
        let style = pen(Join::Round);
        let plain = kurbo::stroke(path.iter(), &style, &StrokeOpts::default(), 1e-3);
        assert_eq!(covered(&path, &style, 1e-3), plain);
        Ok(())
    }

    /// Where the last leg is shorter than the pen, a round join must not reach past a butt end: the
    /// strip, the sector outside the corner, and the leg, whose end lies within the strip's height.
    #[test]
    fn a_round_join_is_a_sector() -> Result<(), kurbo::SvgParseError> {
        use std::f64::consts::PI;
        for (sign, turn) in [(1.0, 0.5 * PI), (-1.0, 0.5 * PI), (1.0, 0.2), (-1.0, 0.2)] {
            let leg = 0.2 * Vec2::from_angle(sign * turn);
            let mut path = BezPath::from_svg("M0 0H10")?;
            path.line_to(Point::new(10.0, 0.0) + leg);
            let style = Stroke::new(4.0).with_join(Join::Round).with_caps(Cap::Butt);
            let area = covered(&path, &style, 1e-4);
            let step = 0.01;
            let mut count = 0.0;
            for x in 700..1300_u32 {
                for y in 0..600_u32 {
                    let at = Point::new(f64::from(x) * step, f64::from(y) * step - 3.0);
                    count += f64::from(u8::from(area.winding(at + Vec2::new(3e-3, 4e-3)) != 0));
                }
            }
            // From 7 on: the strip, the sector, and what of the leg's strip lies outside both.
            let beyond = path_of_leg(turn, sign);
            let wanted = 3.0 * 4.0 + 0.5 * 4.0 * turn + beyond;
            let got = count * step * step;
            assert!((got - wanted).abs() < 0.02, "turn {turn}: {got} and not {wanted}");
        }
        Ok(())
    }

    /// What a leg of 0.2 under a pen of 4 adds to the strip before it and the sector, by counting
    /// places: in its own strip, off the first strip and off the disc's sector.
    fn path_of_leg(turn: f64, sign: f64) -> f64 {
        let (along, step) = (Vec2::from_angle(sign * turn), 0.005);
        let across = Vec2::new(-along.y, along.x);
        let mut area = 0.0;
        for k in 0..40_u32 {
            for m in 0..800_u32 {
                let reach = step * (f64::from(k) + 0.5);
                let off = step * (f64::from(m) + 0.5) - 2.0;
                let at = reach * along + off * across;
                let in_strip = at.x <= 0.0 && at.y.abs() <= 2.0;
                // The sector lies on the outer side, before the leg's own begin.
                area += if in_strip { 0.0 } else { step * step };
            }
        }
        area
    }
}
