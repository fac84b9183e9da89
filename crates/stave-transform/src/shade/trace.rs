//! A stretch of a scan line carried back to a picture, and the runs of the picture that it crosses.

use std::f64::consts::TAU;

use kurbo::Point;
use stave_toolpath::Picture;
use stave_wall::{Lay, LayKind, Wall, WallShape};

use crate::area::Way;

/// Where the way back is curved it is looked at in steps no longer than this, mm.
const LONGEST_MM: f64 = 3.0;
/// A step is halved no more often than this.
const MOST_HALVINGS: u32 = 14;

/// Carries stretches of lines back to a picture.
pub(crate) struct Tracer<'a> {
    pub(crate) wall: &'a Wall,
    pub(crate) lay: &'a Lay,
    pub(crate) picture: &'a Picture,
    /// Which way the lines run.
    pub(crate) way: Way,
    /// How far a place may lie from where it belongs in the flat plane, mm.
    pub(crate) tolerance_mm: f64,
}

/// A place of the line and its image in the picture's own plane.
#[derive(Clone, Copy)]
struct Node {
    at_mm: f64,
    own: Point,
    /// Its flat point, mm.
    flat: (f64, f64),
}

/// Where the walk through the picture's rows has come to.
#[derive(Default)]
struct Walk {
    hint: usize,
    /// The flat point come to last, mm.
    near: Option<(f64, f64)>,
}

impl Tracer<'_> {
    /// Calls `each` with the ends and the level of every run of the picture along the line that
    /// lies at `across`, in their order.
    pub(crate) fn run(
        &self,
        across: f64,
        from_mm: f64,
        to_mm: f64,
        each: &mut impl FnMut(f64, f64, u16),
    ) {
        let lap_rad = self.lap(across, 0.5 * (from_mm + to_mm));
        let line = (across, lap_rad);
        let mut walk = Walk::default();
        if self.way != Way::Along {
            return self.span(line, from_mm, to_mm, &mut walk, each);
        }
        let mut a = from_mm;
        let ends = self.wall.span_ends_mm();
        let mut next = ends.partition_point(|end| *end <= from_mm + 1e-9);
        while a < to_mm {
            let b = ends.get(next).map_or(to_mm, |end| end.min(to_mm));
            self.span(line, a, b, &mut walk, each);
            (a, next) = (b, next + 1);
        }
    }

    /// The whole turns, rad, after which the line crosses the picture: what goes past a seam that
    /// closes burns on the other side of it.
    fn lap(&self, across: f64, at_mm: f64) -> f64 {
        let bounds = self.picture.bounds_flat().inflate(1e-6, 1e-6);
        let (s_mm, turn_rad) = self.way.to_wall(across, at_mm);
        let laps = [0.0, 1.0, -1.0, 2.0, -2.0].map(|lap| lap * TAU);
        let crosses = |lap_rad: &f64| {
            self.lay
                .flat(self.wall, s_mm, turn_rad + lap_rad)
                .is_some_and(|(u, v)| bounds.contains(Point::new(u, v)))
        };
        laps.into_iter().find(crosses).unwrap_or(0.0)
    }

    /// A stretch between two neighbouring stations, or at one place of the wall.
    fn span(
        &self,
        line: (f64, f64),
        from_mm: f64,
        to_mm: f64,
        walk: &mut Walk,
        each: &mut impl FnMut(f64, f64, u16),
    ) {
        let Some(mut a) = self.node(line, from_mm, walk.near) else { return };
        let straight = self.wall.shape() == WallShape::Straight;
        // Between two stations of a straight wall these two carry a meridian to a straight line,
        // evenly; all but labels so carry what lies at one place.
        let around = self.way != Way::Along;
        let even = match self.lay.setting().kind {
            LayKind::EvenAngle => true,
            LayKind::TrueWidth => straight || around,
            LayKind::TrueShape => around,
            LayKind::Label => false,
        };
        if even {
            if let Some(b) = self.node(line, to_mm, None) {
                self.cells(&a, &b, walk, each);
            }
            return;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let steps = ((to_mm - from_mm) / LONGEST_MM).ceil().clamp(1.0, 1e6) as u32;
        let mut before = None;
        for k in 1..=steps {
            let at_mm = if k == steps {
                to_mm
            } else {
                from_mm + (to_mm - from_mm) * f64::from(k) / f64::from(steps)
            };
            // It goes on about as it came.
            let ahead = before.map_or(a.flat, |(u, v)| (2.0 * a.flat.0 - u, 2.0 * a.flat.1 - v));
            let Some(b) = self.node(line, at_mm, Some(ahead)) else { return };
            self.halve(line, &a, &b, MOST_HALVINGS, walk, each);
            (before, a) = (Some(a.flat), b);
            walk.near = Some(b.flat);
        }
    }

    /// A place of the line; `near` is a flat point near its own, where one is known.
    fn node(
        &self,
        (across, lap_rad): (f64, f64),
        at_mm: f64,
        near: Option<(f64, f64)>,
    ) -> Option<Node> {
        let (s_mm, turn_rad) = self.way.to_wall(across, at_mm);
        let turn_rad = turn_rad + lap_rad;
        let flat = match near {
            Some(near) => self.lay.flat_near(self.wall, s_mm, turn_rad, near),
            None => self.lay.flat(self.wall, s_mm, turn_rad),
        }?;
        Some(Node { at_mm, own: self.picture.own(flat.0, flat.1), flat })
    }

    fn halve(
        &self,
        line: (f64, f64),
        a: &Node,
        b: &Node,
        halvings: u32,
        walk: &mut Walk,
        each: &mut impl FnMut(f64, f64, u16),
    ) {
        let between = (0.5 * (a.flat.0 + b.flat.0), 0.5 * (a.flat.1 + b.flat.1));
        let middle = self.node(line, 0.5 * (a.at_mm + b.at_mm), Some(between));
        let Some(middle) = middle.filter(|_| halvings > 0) else {
            return self.cells(a, b, walk, each);
        };
        let away = middle.own - a.own.midpoint(b.own);
        let [p, q, r, s, _, _] = self.picture.to_flat().as_coeffs();
        let away_mm = (p * away.x + r * away.y).hypot(q * away.x + s * away.y);
        if away_mm <= self.tolerance_mm {
            // The middle is known: two chords are nearer than one.
            self.cells(a, &middle, walk, each);
            self.cells(&middle, b, walk, each);
        } else {
            self.halve(line, a, &middle, halvings - 1, walk, each);
            self.halve(line, &middle, b, halvings - 1, walk, each);
        }
    }

    /// A straight way through the picture: from row to row, from run to run.
    fn cells(&self, a: &Node, b: &Node, walk: &mut Walk, each: &mut impl FnMut(f64, f64, u16)) {
        let way = b.own - a.own;
        let length = b.at_mm - a.at_mm;
        #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
        let mut row = a.own.y.floor() as i64;
        if way.y < 0.0 && a.own.y == a.own.y.floor() {
            row -= 1;
        }
        let below = way.x < 0.0;
        let mut x = if below { a.own.x.next_down() } else { a.own.x };
        let (mut t, mut at_mm) = (0.0, a.at_mm);
        loop {
            let run = self.picture.run_at(row, x, walk.hint);
            walk.hint = run.index;
            #[allow(clippy::cast_precision_loss, reason = "rows are few")]
            let leaves_row = if way.y > 0.0 {
                ((row + 1) as f64 - a.own.y) / way.y
            } else if way.y < 0.0 {
                (row as f64 - a.own.y) / way.y
            } else {
                f64::INFINITY
            };
            let leaves_run = if way.x > 0.0 {
                (run.to - a.own.x) / way.x
            } else if below {
                (run.from - a.own.x) / way.x
            } else {
                f64::INFINITY
            };
            let end = leaves_row.min(leaves_run).max(t);
            if end >= 1.0 || end.is_nan() {
                if b.at_mm > at_mm {
                    each(at_mm, b.at_mm, run.level);
                }
                return;
            }
            if end > t {
                let to_mm = a.at_mm + end * length;
                each(at_mm, to_mm, run.level);
                (t, at_mm) = (end, to_mm);
            }
            if leaves_run <= leaves_row {
                x = if below { run.from.next_down() } else { run.to };
            } else {
                row += if way.y > 0.0 { 1 } else { -1 };
                x = a.own.x + end * way.x;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Affine;
    use proptest::prelude::*;
    use stave_toolpath::PictureRow;
    use stave_wall::{Anchor, LaySetting, Station};

    fn wall(shape: WallShape) -> Wall {
        let stations = [(0.0, 30.0), (40.0, 36.0), (70.0, 34.0), (110.0, 45.0)];
        let stations = stations.map(|(at_mm, radius_mm)| Station { at_mm, radius_mm });
        Wall::from_stations(&stations, shape).unwrap()
    }

    proptest! {
        #[test]
        fn every_place_of_a_line_has_the_level_of_the_picture_there(
            kind in prop::sample::select(LayKind::ALL.to_vec()),
            smooth: bool, around: bool,
            levels in prop::collection::vec(
                prop::collection::vec(
                    ((300..9000_u16).prop_map(|k| f32::from(k) * 1e-3), 0_u16..5), 1..20
                ), 1..12
            ),
            turned in 0.0..6.3_f64, pitch in 0.5..3.0_f64,
            turn in -0.4..0.4_f64, ends in (20.0..50.0_f64, 50.0..95.0_f64),
        ) {
            let wall = wall(if smooth { WallShape::Smooth } else { WallShape::Straight });
            let lay = Lay::new(&wall, LaySetting {
                kind, origin_s_mm: 55.0, origin_turn_rad: 0.0, reference_radius_mm: 40.0,
                anchor: Anchor::Point { u_mm: 0.0, v_mm: 0.0 },
            }).unwrap();
            let rows = levels.iter().map(|row| {
                let mut end = 0.0;
                let runs = row.iter().map(|(length, level)| { end += length; (end, *level) });
                PictureRow::new(0.0, runs)
            });
            let stretched = Affine::scale_non_uniform(1.0, pitch);
            let to_flat = Affine::rotate(turned) * stretched * Affine::translate((-15.0, -4.0));
            let picture = Picture::of_rows(to_flat, rows.collect());
            // Around, the line lies at the place in the middle, and goes as far around.
            let (way, across) = if around {
                (Way::Around { radius_mm: 45.0 }, 0.5 * (ends.0 + ends.1))
            } else {
                (Way::Along, turn)
            };
            let ends = if around { (ends.0 - 50.0, ends.1 - 50.0) } else { ends };
            let tracer =
                Tracer { wall: &wall, lay: &lay, picture: &picture, way, tolerance_mm: 0.002 };
            let mut found: Vec<(f64, f64, u16)> = Vec::new();
            let mut each = |from, to, level| found.push((from, to, level));
            tracer.run(across, ends.0, ends.1, &mut each);
            // All of the line, without a gap.
            prop_assert_eq!(found.first().unwrap().0, ends.0);
            prop_assert_eq!(found.last().unwrap().1, ends.1);
            for pair in found.windows(2) {
                prop_assert_eq!(pair[0].1, pair[1].0);
            }
            for k in 0..400 {
                let at = ends.0 + (ends.1 - ends.0) * (f64::from(k) + 0.5) / 400.0;
                let (s, turn) = way.to_wall(across, at);
                let (u, v) = lay.flat(&wall, s, turn).unwrap();
                let own = picture.own(u, v);
                let run = picture.run_at(own.y.floor() as i64, own.x, 0);
                let here = found.iter().find(|run| run.0 <= at && at < run.1).unwrap();
                // Near an edge either is right.
                let near_row = (own.y - own.y.round()).abs() * pitch < 0.01;
                let near_end = (own.x - run.from).abs() < 0.01 || (own.x - run.to).abs() < 0.01;
                let right = here.2 == run.level || near_row || near_end;
                prop_assert!(right, "{at} {here:?} {run:?} {own:?}");
            }
        }
    }
}
