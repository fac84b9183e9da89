//! Outlines carried to the wall.

use std::cell::Cell;

use kurbo::{Point, Vec2};
use stave_wall::{Lay, LayKind, Wall};

use super::scan::{Edge, Way};
use crate::cut::KNOWN;
use crate::scene::{Chain, bulge_at, bulge_within};

/// Straight runs of the flat plane are looked at in steps no longer than this, mm, so that no kink
/// at a station passes between two looks.
const LONGEST_MM: f64 = 2.0;
/// No lay makes anything so many times as large, but where it is of no use.
const STRETCHED: f64 = 4.0;
/// A chord is held against its curve at so many places less one.
const LOOKS: u32 = 4;
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
    /// The farthest that any of them strays from the image of the drawing's curves, mm.
    pub(crate) strayed_mm: &'a Cell<f64>,
}

/// A run of an outline, and how far the drawing's curve lies to the left of its middle, mm.
#[derive(Clone, Copy)]
struct Run {
    from: Point,
    to: Point,
    bulge_mm: f64,
}

impl Run {
    /// The place of the drawing beside a place of the run.
    fn drawn(&self, share: f64) -> Point {
        let on = self.from.lerp(self.to, share);
        let way = self.to - self.from;
        let length = way.hypot();
        if length <= 0.0 || self.bulge_mm == 0.0 {
            return on;
        }
        on + Vec2::new(-way.y, way.x) * (bulge_at(self.bulge_mm, share) / length)
    }
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
            let ends = ring.points[1..].iter().chain(std::iter::once(&first));
            for (number, &point) in ends.enumerate() {
                let to = if point == first { start } else { self.corner(point, &mut hint) };
                let run = Run { from: from.flat, to: point, bulge_mm: ring.bulge_mm(number) };
                self.run(&run, (&from, &to), &mut hint, &mut corners);
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
    fn run(
        &self,
        run: &Run,
        (from, to): (&Corner, &Corner),
        hint: &mut usize,
        into: &mut Vec<[f64; 2]>,
    ) {
        // Even angles keep straight lines straight.
        if self.lay.setting().kind == LayKind::EvenAngle {
            self.look(run, (0.0, from), (1.0, to), 0.0, hint);
            into.push(to.image);
            return;
        }
        let length = from.flat.distance(to.flat);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let steps = (length / LONGEST_MM).ceil().clamp(1.0, 1e5) as u32;
        let (mut begun, mut start) = (0.0, *from);
        for k in 1..=steps {
            let share = f64::from(k) / f64::from(steps);
            let end =
                if k == steps { *to } else { self.corner(from.flat.lerp(to.flat, share), hint) };
            self.halve(run, (begun, &start), (share, &end), MOST_HALVINGS, hint, into);
            (begun, start) = (share, end);
        }
    }

    fn halve(
        &self,
        run: &Run,
        a: (f64, &Corner),
        b: (f64, &Corner),
        halvings: u32,
        hint: &mut usize,
        into: &mut Vec<[f64; 2]>,
    ) {
        let away_mm = self.away_mm(a.1, b.1, hint);
        if halvings == 0 || away_mm <= self.tolerance_mm {
            self.look(run, a, b, away_mm, hint);
            into.push(b.1.image);
            return;
        }
        let share = 0.5 * (a.0 + b.0);
        let middle = self.corner(a.1.flat.midpoint(b.1.flat), hint);
        self.halve(run, a, (share, &middle), halvings - 1, hint, into);
        self.halve(run, (share, &middle), b, halvings - 1, hint, into);
    }

    /// How far a straight run strays from its chord on the wall, mm, as far as a few looks tell.
    fn away_mm(&self, a: &Corner, b: &Corner, hint: &mut usize) -> f64 {
        let shares: &[f64] =
            if a.flat.distance(b.flat) < 0.1 { &[0.5] } else { &[0.25, 0.5, 0.75] };
        let mut most_mm = 0.0_f64;
        for &share in shares {
            let there = self.corner(a.flat.lerp(b.flat, share), hint);
            let turn = a.image[0] + (b.image[0] - a.image[0]) * share;
            let s = a.image[1] + (b.image[1] - a.image[1]) * share;
            let away_mm = (there.image[1] - s).hypot((there.image[0] - turn) * there.radius_mm);
            // Not a number is as straight as it will get.
            most_mm = most_mm.max(away_mm);
            if most_mm > self.tolerance_mm {
                break;
            }
        }
        most_mm
    }

    /// Looks how far the drawing's curve lies from a chord on the wall, where that may be farther
    /// than is known.
    fn look(
        &self,
        run: &Run,
        a: (f64, &Corner),
        b: (f64, &Corner),
        away_mm: f64,
        hint: &mut usize,
    ) {
        let bulge_mm = bulge_within(run.bulge_mm, a.0, b.0).abs();
        let known_mm = self.strayed_mm.get();
        if away_mm + STRETCHED * bulge_mm <= KNOWN * known_mm || !(away_mm + bulge_mm).is_finite() {
            return;
        }
        let mut most_mm = known_mm;
        for k in 1..LOOKS {
            let share = a.0 + (b.0 - a.0) * f64::from(k) / f64::from(LOOKS);
            let there = self.corner(run.drawn(share), hint);
            let [along, aside] = [b.1.image, there.image].map(|to| {
                let turned_mm = (to[0] - a.1.image[0]) * there.radius_mm;
                Vec2::new(turned_mm, to[1] - a.1.image[1])
            });
            let share = (along.dot(aside) / along.hypot2()).clamp(0.0, 1.0);
            let away_mm = (aside - along * share).hypot();
            if away_mm.is_finite() {
                most_mm = most_mm.max(away_mm);
            }
        }
        self.strayed_mm.set(most_mm);
    }
}
