//! Steps of the nozzle, the carriage, and what of the rotary stands up, against brute force: points
//! in space, turned and tilted one by one, under each part of the head one by one.

#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;
use stave_rig::{Clearance, Head, HeadOverWork, HeadPart, Nearest, Pose};
use stave_setup::{Obstacle, ObstacleShape, Zone, read_blank};
use stave_tests::cases;
use stave_wall::{Station, Wall, WallShape};

/// A part of the head as the test knows it: what is over a point beside the beam.
#[derive(Clone, Copy, Debug)]
enum Part {
    Round(f64),
    Box([f64; 4]),
}

impl Part {
    /// `more` widens it every way.
    fn is_over(&self, along: f64, across: f64, more: f64) -> bool {
        match *self {
            Self::Round(radius) => along.hypot(across) <= radius + more,
            Self::Box([a, b, c, d]) => {
                along >= a - more && along <= b + more && across >= c - more && across <= d + more
            }
        }
    }
}

/// A face of something, in whatever three coordinates it has; one of them stays as it is.
#[derive(Clone, Copy, Debug)]
struct Face {
    what: What,
    ranges: [(f64, f64); 3],
}

/// What a face's coordinates mean.
#[derive(Clone, Copy, Debug)]
enum What {
    /// Along the meridian, turn, outward from the wall.
    Wall,
    /// Along the axis, turn, outward from the axis.
    Turning,
    /// Along the axis, across, up.
    Still,
}

fn faces_of(what: What, solid: [(f64, f64); 3]) -> Vec<Face> {
    let mut faces = Vec::new();
    for k in 0..3 {
        for end in [solid[k].0, solid[k].1] {
            let mut ranges = solid;
            ranges[k] = (end, end);
            faces.push(Face { what, ranges });
        }
    }
    faces
}

/// The greatest height of a face under a part where the head stands: looks on a grid of the face,
/// then around the best looks ever more closely. Nothing is known here but how a point turns, tilts
/// and comes under the part.
fn brute(wall: &Wall, tilt: f64, (part, more): (Part, f64), face: &Face, pose: &Pose) -> f64 {
    let (sin, cos) = tilt.sin_cos();
    let flat = face.ranges.map(|(from, to)| from == to);
    let look = |p: [f64; 2]| {
        let shares = match flat {
            [true, _, _] => [0.0, p[0], p[1]],
            [_, true, _] => [p[0], 0.0, p[1]],
            _ => [p[0], p[1], 0.0],
        };
        let at: [f64; 3] = std::array::from_fn(|k| {
            face.ranges[k].0 + (face.ranges[k].1 - face.ranges[k].0) * shares[k]
        });
        let turned = |out: f64, turn: f64| (out * turn.sin(), out * turn.cos());
        let away = at[1] - pose.turn_rad;
        let (z, (aside, up)) = match face.what {
            What::Wall => {
                let section = wall.section(at[0], &mut 0);
                (section.at_mm, turned(section.radius_mm + at[2], away))
            }
            What::Turning => (at[0], turned(at[2], away)),
            What::Still => (at[0], (at[1], at[2])),
        };
        let along = z * cos - up * sin - pose.along_mm;
        if part.is_over(along, aside, more) { z * sin + up * cos } else { f64::NEG_INFINITY }
    };
    let around = |middle: [f64; 2], half: f64, steps: i32, into: &mut Vec<(f64, [f64; 2])>| {
        let at =
            |i: usize, k: i32| (middle[i] + half * f64::from(k) / f64::from(steps)).clamp(0.0, 1.0);
        for i in -steps..=steps {
            for j in -steps..=steps {
                let p = [at(0, i), at(1, j)];
                into.push((look(p), p));
            }
        }
    };
    let mut looks = Vec::new();
    around([0.5; 2], 0.5, 120, &mut looks);
    looks.retain(|look| look.0.is_finite());
    looks.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut starts: Vec<(f64, [f64; 2])> = Vec::new();
    for look in looks {
        let near = |start: &(f64, [f64; 2])| (0..2).all(|i| (start.1[i] - look.1[i]).abs() < 0.03);
        if starts.len() < 12 && !starts.iter().any(near) {
            starts.push(look);
        }
    }
    let mut highest = f64::NEG_INFINITY;
    for mut best in starts {
        let mut half = 0.02;
        while half > 1e-7 {
            let mut looks = Vec::new();
            around(best.1, half, 8, &mut looks);
            best = looks
                .into_iter()
                .fold(best, |best, look| if look.0 > best.0 { look } else { best });
            half *= 0.85;
        }
        highest = highest.max(best.0);
    }
    highest
}

/// The nozzle's own radius, mm: over the wall wherever it goes.
const TIP_MM: f64 = 4.0;

fn pose() -> impl Strategy<Value = Pose> {
    (-5.0..100.0_f64, -1.0..1.0_f64, 0.0..6.0_f64).prop_map(|(along_mm, turn_rad, lift_mm)| Pose {
        along_mm,
        turn_rad,
        lift_mm,
    })
}

fn stretch(from: std::ops::Range<f64>, long: std::ops::Range<f64>) -> BoxedStrategy<(f64, f64)> {
    (from, long).prop_map(|(from, long)| (from, from + long)).boxed()
}

fn part() -> impl Strategy<Value = Part> {
    prop_oneof![
        (2.0..25.0_f64).prop_map(Part::Round),
        // The beam under it, or beside it.
        (stretch(-60.0..30.0, 5.0..70.0), stretch(-60.0..30.0, 5.0..70.0))
            .prop_map(|((a, b), (c, d))| Part::Box([a, b, c, d])),
    ]
}

/// What may be met: a zone, or something of the rotary; never below the axis, where the nozzle over
/// the wall is always lower than anything beside it.
#[derive(Clone, Debug)]
enum Thing {
    Zone { at: (f64, f64), turn: (f64, f64), rise: f64 },
    Obstacle { along: (f64, f64), shape: ObstacleShape },
}

fn thing() -> impl Strategy<Value = Thing> {
    let turn = || stretch(-3.0..TAU, 0.1..1.5);
    let along = || stretch(-30.0..80.0, 5.0..40.0);
    prop_oneof![
        (stretch(0.0..80.0, 5.0..30.0), turn(), 0.5..14.0_f64)
            .prop_map(|(at, turn, rise)| Thing::Zone { at, turn, rise }),
        (along(), 30.0..60.0_f64, proptest::option::of(turn())).prop_map(
            |(along, radius_mm, turn_rad)| Thing::Obstacle {
                along,
                shape: ObstacleShape::Turning { radius_mm, turn_rad },
            }
        ),
        (along(), stretch(-60.0..40.0, 2.0..60.0), 5.0..60.0_f64).prop_map(
            |(along, across_mm, height_mm)| Thing::Obstacle {
                along,
                shape: ObstacleShape::Still { across_mm, height_mm },
            }
        ),
    ]
}

/// The faces of a thing, the chuck's face at `held` and the ware from there to larger `at`, or the
/// other way.
fn faces(wall: &Wall, thing: &Thing, (held, sign): (f64, f64), pose: &Pose) -> Vec<Face> {
    let placed = |(from, to): (f64, f64)| {
        let ends = [held + sign * from, held + sign * to];
        (ends[0].min(ends[1]), ends[0].max(ends[1]))
    };
    match *thing {
        Thing::Zone { at, turn, rise } => {
            let s = (wall.s_of_at(at.0), wall.s_of_at(at.1));
            faces_of(What::Wall, [s, turn, (0.0, rise)])
        }
        Thing::Obstacle { along, shape } => match shape {
            ObstacleShape::Turning { radius_mm, turn_rad } => {
                let turn = turn_rad.unwrap_or((pose.turn_rad - PI, pose.turn_rad + PI));
                faces_of(What::Turning, [placed(along), turn, (0.0, radius_mm)])
            }
            ObstacleShape::Still { across_mm, height_mm } => {
                let across = (sign * across_mm.0, sign * across_mm.1);
                let across = (across.0.min(across.1), across.0.max(across.1));
                // It reaches down without an end; so far down nothing is met.
                faces_of(What::Still, [placed(along), across, (-60.0, height_mm)])
            }
        },
    }
}

/// A wall, a head and a thing that it may meet.
#[derive(Clone, Debug)]
struct Scene {
    wall: Wall,
    tilt: f64,
    part: Part,
    thing: Thing,
    /// Where the chuck's face is, and to which side of it the ware lies.
    held: (f64, f64),
}

fn scene() -> impl Strategy<Value = Scene> {
    let radii = proptest::collection::vec(15.0..42.0_f64, 4);
    (radii, any::<bool>(), -0.25..0.25_f64, part(), thing(), any::<bool>()).prop_map(
        |(radii, smooth, tilt, part, thing, at_first)| {
            let stations: Vec<Station> = radii
                .iter()
                .zip(0..)
                .map(|(&radius_mm, k)| Station { at_mm: 35.0 * f64::from(k), radius_mm })
                .collect();
            let shape = if smooth { WallShape::Smooth } else { WallShape::Straight };
            let wall = Wall::from_stations(&stations, shape).unwrap();
            let held = if at_first { (10.0, 1.0) } else { (100.0, -1.0) };
            Scene { wall, tilt, part, thing, held }
        },
    )
}

impl Scene {
    /// The head over it, the part wider every way by so much.
    fn over(&self, more: f64) -> HeadOverWork {
        let tip = Head::cylinder(TIP_MM + more);
        let head = match self.part {
            Part::Round(radius) => tip.with_step(0.0, radius + more),
            Part::Box([a, b, c, d]) => {
                tip.with_carriage((a - more, b + more), (c - more, d + more), 0.0)
            }
        };
        let (zones, obstacles) = match self.thing {
            Thing::Zone { at, turn, rise } => {
                let name = "boss".into();
                let (at_mm, turn_rad) = (at, turn);
                (vec![Zone { name, at_mm, turn_rad, rise_mm: rise, margin_mm: None }], Vec::new())
            }
            Thing::Obstacle { along, shape } => {
                (Vec::new(), vec![Obstacle { name: "jaw".into(), along_mm: along, shape }])
            }
        };
        HeadOverWork::new(&self.wall, &zones, self.tilt, head).beside(
            &self.wall,
            &obstacles,
            self.held.0,
        )
    }

    /// The gap that is reckoned for a move.
    fn gap(&self, from: &Pose, to: &Pose, more: f64) -> f64 {
        let mut clearance = Clearance::new(self.over(more));
        clearance.go(from, to, ());
        clearance.least(0.0, 0.0).unwrap().gap_mm
    }

    /// The gap that brute force finds where the head stands.
    fn gap_by_brute(&self, pose: &Pose, more: f64) -> f64 {
        let wall = &self.wall;
        let mut highest = f64::NEG_INFINITY;
        for part in [Part::Round(TIP_MM), self.part] {
            // The wall as far as the part reaches, and as a tilt takes the crest from its place.
            let (before, after, beside) = match part {
                Part::Round(radius) => (radius, radius, 0.3),
                Part::Box([a, b, c, d]) => (-a, b, if c <= 0.0 && d >= 0.0 { 0.3 } else { 1.6 }),
            };
            let low = wall.s_of_at(pose.along_mm - before - 20.0);
            let high = wall.s_of_at(pose.along_mm + after + 20.0);
            let around = (pose.turn_rad - beside, pose.turn_rad + beside);
            let face = Face { what: What::Wall, ranges: [(low, high), around, (0.0, 0.0)] };
            for face in std::iter::once(face).chain(faces(wall, &self.thing, self.held, pose)) {
                highest = highest.max(brute(wall, self.tilt, (part, more), &face, pose));
            }
        }
        pose.lift_mm - highest
    }
}

proptest! {
    #![proptest_config(cases(12))]
    /// Where the head stands, the gap is never more than brute force finds, to a thousandth of a mm
    /// as it is promised, and less by no more than 0.05 mm, or by what a part wider by 0.03 mm
    /// makes: where a corner only just comes under it, the gap leaps.
    #[test]
    fn a_head_that_stands_agrees_with_brute_force(scene in scene(), pose in pose()) {
        let gap = scene.gap(&pose, &pose, 0.0);
        let found = [0.0, 0.03].map(|more| scene.gap_by_brute(&pose, more));
        prop_assert!(gap <= found[0] + 1e-3, "optimistic: {gap} {found:?}");
        prop_assert!(gap >= found[1] - 0.05, "too careful: {gap} {found:?}");
    }

    /// A head that moves is as near as it comes anywhere on its way.
    #[test]
    fn a_head_that_moves_agrees_with_heads_that_stand(
        scene in scene(),
        from in pose(),
        to in pose(),
    ) {
        let gap = scene.gap(&from, &to, 0.0);
        let mut found = [f64::INFINITY; 2];
        for k in 0..=400 {
            let mix = |a: f64, b: f64| a + (b - a) * f64::from(k) / 400.0;
            let pose = Pose {
                along_mm: mix(from.along_mm, to.along_mm),
                turn_rad: mix(from.turn_rad, to.turn_rad),
                lift_mm: mix(from.lift_mm, to.lift_mm),
            };
            // Between two looks the head goes on by less than half of what the second is wider.
            for (found, more) in found.iter_mut().zip([0.0, 0.3]) {
                *found = found.min(scene.gap(&pose, &pose, more));
            }
        }
        prop_assert!(gap <= found[0] + 1e-9, "optimistic: {gap} {found:?}");
        prop_assert!(gap >= found[1] - 0.15, "too careful: {gap} {found:?}");
    }
}

const CAN: &str = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";

fn turning(along_mm: (f64, f64), radius_mm: f64) -> Obstacle {
    let shape = ObstacleShape::Turning { radius_mm, turn_rad: None };
    Obstacle { name: "jaw".into(), along_mm, shape }
}

fn at(along_mm: f64) -> Pose {
    Pose { along_mm, turn_rad: 0.0, lift_mm: 0.0 }
}

/// A jaw 52 mm from the axis ends 8 mm up the ware; the can's radius is 40, the tip 6 mm above it.
#[test]
fn what_meets_what_is_told() {
    let can = read_blank(CAN, "can.toml").unwrap();
    let head = || {
        Head::cylinder(5.0).with_step(10.0, 14.0).with_carriage((-40.0, 40.0), (-30.0, 30.0), 20.0)
    };
    let least = |obstacle: Obstacle, along_mm: f64| {
        let over = HeadOverWork::new(&can.wall, &can.zones, 0.0, head());
        let mut clearance = Clearance::new(over.beside(&can.wall, &[obstacle], 0.0));
        clearance.go(&at(along_mm), &at(60.0), 1);
        let least = clearance.least(40.0, 6.0).unwrap();
        (least.part, least.nearest, least.gap_mm)
    };
    let near = |(part, nearest, gap_mm): (HeadPart, Nearest, f64),
                wanted: (HeadPart, Nearest, f64)| {
        assert_eq!((part, nearest), (wanted.0, wanted.1), "{gap_mm}");
        assert!((gap_mm - wanted.2).abs() <= 0.021, "{gap_mm} {}", wanted.2);
    };
    let jaw = || turning((-30.0, 8.0), 52.0);
    let obstacle = Nearest::Obstacle(0);
    // The tip's circle reaches the jaw: 46 over 52.
    near(least(jaw(), 12.0), (HeadPart::Tip, obstacle, -6.0));
    // The step's alone: 56 over 52.
    near(least(jaw(), 14.0), (HeadPart::Step(0), obstacle, 4.0));
    // The carriage's alone, 66 over 52, but the tip is 6 mm above the wall everywhere.
    near(least(jaw(), 30.0), (HeadPart::Tip, Nearest::Wall, 6.0));
    near(least(turning((-30.0, 8.0), 63.0), 30.0), (HeadPart::Carriage, obstacle, 3.0));
    near(least(turning((-30.0, 8.0), 63.0), 49.0), (HeadPart::Tip, Nearest::Wall, 6.0));
}

/// A still box beside the work is met by the carriage where they lie on the same side, and however
/// the work turns.
#[test]
fn a_still_box_stays_where_it_is() {
    let can = read_blank(CAN, "can.toml").unwrap();
    let post = |across_mm| Obstacle {
        name: "post".into(),
        along_mm: (20.0, 30.0),
        shape: ObstacleShape::Still { across_mm, height_mm: 70.0 },
    };
    let head = || Head::cylinder(5.0).with_carriage((-10.0, 10.0), (10.0, 60.0), 20.0);
    let least = |across_mm, held_at_mm: f64| {
        let over = HeadOverWork::new(&can.wall, &can.zones, 0.0, head());
        let mut clearance = Clearance::new(over.beside(&can.wall, &[post(across_mm)], held_at_mm));
        clearance.go(&at(0.0), &Pose { turn_rad: 3.0, ..at(99.0) }, 1);
        clearance.least(40.0, 6.0).unwrap().gap_mm
    };
    assert!((least((45.0, 55.0), 0.0) - (66.0 - 70.0)).abs() <= 0.021);
    assert!((least((-55.0, -45.0), 0.0) - 6.0).abs() <= 0.021);
    // Held at its other end, the rotary stands the other way round.
    assert!((least((45.0, 55.0), 100.0) - 6.0).abs() <= 0.021);
    assert!((least((-55.0, -45.0), 100.0) - (66.0 - 70.0)).abs() <= 0.021);
}
