//! A stretch of a scan line carried back to a picture, and the runs of the picture that it crosses.

use std::f64::consts::TAU;

use kurbo::Point;
use stave_toolpath::Picture;
use stave_wall::{Lay, LayKind, Wall, WallShape};

/// Where the way back is curved it is looked at in steps no longer than this, mm.
const LONGEST_MM: f64 = 3.0;
/// A step is halved no more often than this.
const MOST_HALVINGS: u32 = 14;

/// Carries stretches of lines of constant turn back to a picture.
pub(crate) struct Tracer<'a> {
    pub(crate) wall: &'a Wall,
    pub(crate) lay: &'a Lay,
    pub(crate) picture: &'a Picture,
    /// How far a place may lie from where it belongs in the flat plane, mm.
    pub(crate) tolerance_mm: f64,
}

/// A place of the line and its image in the picture's own plane.
#[derive(Clone, Copy)]
struct Node {
    s_mm: f64,
    own: Point,
}

/// Where the walk through the picture's rows has come to.
#[derive(Default)]
struct Walk {
    hint: usize,
}

impl Tracer<'_> {
    /// Calls `each` with the ends and the level of every run of the picture along the line at
    /// `turn_rad`, in order of `s`.
    pub(crate) fn run(
        &self,
        turn_rad: f64,
        from_s_mm: f64,
        to_s_mm: f64,
        each: &mut impl FnMut(f64, f64, u16),
    ) {
        let turn_rad = self.lap(turn_rad, 0.5 * (from_s_mm + to_s_mm));
        let mut walk = Walk::default();
        let mut a = from_s_mm;
        let ends = self.wall.span_ends_mm();
        let mut next = ends.partition_point(|end| *end <= from_s_mm + 1e-9);
        while a < to_s_mm {
            let b = ends.get(next).map_or(to_s_mm, |end| end.min(to_s_mm));
            self.span(turn_rad, a, b, &mut walk, each);
            (a, next) = (b, next + 1);
        }
    }

    /// The turn, whole turns added, under which the line crosses the picture: what goes past a seam
    /// that closes burns on the lines of the other side.
    fn lap(&self, turn_rad: f64, s_mm: f64) -> f64 {
        let bounds = self.picture.bounds_flat().inflate(1e-6, 1e-6);
        let laps = [0.0, 1.0, -1.0, 2.0, -2.0].map(|lap| turn_rad + lap * TAU);
        let crosses = |turn: &f64| {
            self.lay
                .flat(self.wall, s_mm, *turn)
                .is_some_and(|(u, v)| bounds.contains(Point::new(u, v)))
        };
        laps.into_iter().find(crosses).unwrap_or(turn_rad)
    }

    /// A stretch between two neighbouring stations.
    fn span(
        &self,
        turn_rad: f64,
        from_s_mm: f64,
        to_s_mm: f64,
        walk: &mut Walk,
        each: &mut impl FnMut(f64, f64, u16),
    ) {
        let Some(mut a) = self.node(turn_rad, from_s_mm) else { return };
        let straight = self.wall.shape() == WallShape::Straight;
        // Between two stations of a straight wall these two carry a meridian to a straight line,
        // evenly.
        let even = match self.lay.setting().kind {
            LayKind::EvenAngle => true,
            LayKind::TrueWidth => straight,
            LayKind::TrueShape | LayKind::Label => false,
        };
        if even {
            if let Some(b) = self.node(turn_rad, to_s_mm) {
                self.cells(&a, &b, walk, each);
            }
            return;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let steps = ((to_s_mm - from_s_mm) / LONGEST_MM).ceil().clamp(1.0, 1e6) as u32;
        for k in 1..=steps {
            let s_mm = if k == steps {
                to_s_mm
            } else {
                from_s_mm + (to_s_mm - from_s_mm) * f64::from(k) / f64::from(steps)
            };
            let Some(b) = self.node(turn_rad, s_mm) else { return };
            self.halve(turn_rad, &a, &b, MOST_HALVINGS, walk, each);
            a = b;
        }
    }

    fn node(&self, turn_rad: f64, s_mm: f64) -> Option<Node> {
        let (u_mm, v_mm) = self.lay.flat(self.wall, s_mm, turn_rad)?;
        Some(Node { s_mm, own: self.picture.own(u_mm, v_mm) })
    }

    fn halve(
        &self,
        turn_rad: f64,
        a: &Node,
        b: &Node,
        halvings: u32,
        walk: &mut Walk,
        each: &mut impl FnMut(f64, f64, u16),
    ) {
        let middle = self.node(turn_rad, 0.5 * (a.s_mm + b.s_mm));
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
            self.halve(turn_rad, a, &middle, halvings - 1, walk, each);
            self.halve(turn_rad, &middle, b, halvings - 1, walk, each);
        }
    }

    /// A straight way through the picture: from row to row, from run to run.
    fn cells(&self, a: &Node, b: &Node, walk: &mut Walk, each: &mut impl FnMut(f64, f64, u16)) {
        let way = b.own - a.own;
        let length = b.s_mm - a.s_mm;
        #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
        let mut row = a.own.y.floor() as i64;
        if way.y < 0.0 && a.own.y == a.own.y.floor() {
            row -= 1;
        }
        let below = way.x < 0.0;
        let mut x = if below { a.own.x.next_down() } else { a.own.x };
        let (mut t, mut s_mm) = (0.0, a.s_mm);
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
                if b.s_mm > s_mm {
                    each(s_mm, b.s_mm, run.level);
                }
                return;
            }
            if end > t {
                let to_s_mm = a.s_mm + end * length;
                each(s_mm, to_s_mm, run.level);
                (t, s_mm) = (end, to_s_mm);
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
            smooth: bool,
            levels in prop::collection::vec(
                prop::collection::vec((0.3..9.0_f32, 0_u16..5), 1..20), 1..12
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
            let tracer = Tracer { wall: &wall, lay: &lay, picture: &picture, tolerance_mm: 0.002 };
            let mut found: Vec<(f64, f64, u16)> = Vec::new();
            tracer.run(turn, ends.0, ends.1, &mut |from, to, level| found.push((from, to, level)));
            // All of the line, without a gap.
            prop_assert_eq!(found.first().unwrap().0, ends.0);
            prop_assert_eq!(found.last().unwrap().1, ends.1);
            for pair in found.windows(2) {
                prop_assert_eq!(pair[0].1, pair[1].0);
            }
            for k in 0..400 {
                let s = ends.0 + (ends.1 - ends.0) * (f64::from(k) + 0.5) / 400.0;
                let (u, v) = lay.flat(&wall, s, turn).unwrap();
                let own = picture.own(u, v);
                let run = picture.run_at(own.y.floor() as i64, own.x, 0);
                let here = found.iter().find(|run| run.0 <= s && s < run.1).unwrap();
                // Near an edge either is right.
                let near_row = (own.y - own.y.round()).abs() * pitch < 0.01;
                let near_end = (own.x - run.from).abs() < 0.01 || (own.x - run.to).abs() < 0.01;
                let right = here.2 == run.level || near_row || near_end;
                prop_assert!(right, "{s} {here:?} {run:?} {own:?}");
            }
        }
    }
}
