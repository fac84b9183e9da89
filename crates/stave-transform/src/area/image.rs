//! Outlines carried to the wall.

use kurbo::Point;
use stave_wall::{Lay, LayKind, Wall};

use super::scan::{Edge, Way};
use crate::scene::Chain;

/// Straight runs of the flat plane are looked at in steps no longer than this, mm, so that no kink
/// at a station passes between two looks.
const LONGEST_MM: f64 = 2.0;
/// A run is halved no more often than this.
const MOST_HALVINGS: u32 = 16;

/// Carries outlines to the wall by one lay, as places `[turn, s]` whose chords stray at most
/// `tolerance_mm` from the image.
pub(crate) struct Imager<'a> {
    pub(crate) wall: &'a Wall,
    pub(crate) lay: &'a Lay,
    /// Which way the lines run that the outlines are to meet.
    pub(crate) way: Way,
    pub(crate) tolerance_mm: f64,
}

/// A flat point, its image, and the wall's radius there.
#[derive(Clone, Copy)]
struct Corner {
    flat: Point,
    image: [f64; 2],
    radius_mm: f64,
}

impl Imager<'_> {
    fn corner(&self, flat: Point, hint: &mut usize) -> Corner {
        let laid = self.lay.map(self.wall, flat.x, flat.y, hint);
        Corner { flat, image: [laid.turn_rad, laid.s_mm], radius_mm: laid.section.radius_mm }
    }

    /// Adds the edges of closed outlines as those of `path`, and tells `each` their corners, the
    /// first again at the end; false where a place has no image.
    pub(crate) fn edges(
        &self,
        rings: &[Chain],
        path: u32,
        into: &mut Vec<Edge>,
        each: &mut dyn FnMut(&[[f64; 2]]),
    ) -> bool {
        let mut hint = 0;
        let mut corners: Vec<[f64; 2]> = Vec::new();
        for ring in rings {
            let Some(&first) = ring.points.first() else { continue };
            corners.clear();
            let start = self.corner(first, &mut hint);
            corners.push(start.image);
            let mut from = start;
            for &point in ring.points[1..].iter().chain(std::iter::once(&first)) {
                let to = if point == first { start } else { self.corner(point, &mut hint) };
                self.run(&from, &to, &mut hint, &mut corners);
                from = to;
            }
            if corners.iter().flatten().any(|value| !value.is_finite()) {
                return false;
            }
            let places = |pair: &[[f64; 2]]| [self.way.of_wall(pair[0]), self.way.of_wall(pair[1])];
            into.extend(corners.windows(2).filter_map(|pair| {
                let [from, to] = places(pair);
                Edge::between(from, to, path)
            }));
            each(&corners);
        }
        true
    }

    /// Adds the corners after `from` up to `to`.
    fn run(&self, from: &Corner, to: &Corner, hint: &mut usize, into: &mut Vec<[f64; 2]>) {
        // Even angles keep straight lines straight.
        if self.lay.setting().kind == LayKind::EvenAngle {
            into.push(to.image);
            return;
        }
        let length = from.flat.distance(to.flat);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let steps = (length / LONGEST_MM).ceil().clamp(1.0, 1e5) as u32;
        let mut start = *from;
        for k in 1..=steps {
            let share = f64::from(k) / f64::from(steps);
            let end =
                if k == steps { *to } else { self.corner(from.flat.lerp(to.flat, share), hint) };
            self.halve(&start, &end, MOST_HALVINGS, hint, into);
            start = end;
        }
    }

    fn halve(
        &self,
        a: &Corner,
        b: &Corner,
        halvings: u32,
        hint: &mut usize,
        into: &mut Vec<[f64; 2]>,
    ) {
        if halvings == 0 || self.straight(a, b, hint) {
            into.push(b.image);
            return;
        }
        let middle = self.corner(a.flat.midpoint(b.flat), hint);
        self.halve(a, &middle, halvings - 1, hint, into);
        self.halve(&middle, b, halvings - 1, hint, into);
    }

    fn straight(&self, a: &Corner, b: &Corner, hint: &mut usize) -> bool {
        let shares: &[f64] =
            if a.flat.distance(b.flat) < 0.1 { &[0.5] } else { &[0.25, 0.5, 0.75] };
        shares.iter().all(|&share| {
            let there = self.corner(a.flat.lerp(b.flat, share), hint);
            let turn = a.image[0] + (b.image[0] - a.image[0]) * share;
            let s = a.image[1] + (b.image[1] - a.image[1]) * share;
            let away = (there.image[1] - s).hypot((there.image[0] - turn) * there.radius_mm);
            // Not a number is as straight as it will get.
            away <= self.tolerance_mm || !away.is_finite()
        })
    }
}
