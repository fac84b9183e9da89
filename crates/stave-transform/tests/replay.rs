//! What the machine burns, replayed on the wall, against the exact image of the flat moves: both
//! ways, and at what speed.

// A panic in a test's helper is a failed test.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use stave_tests::cases;
use std::f64::consts::TAU;

use proptest::prelude::*;
use stave_rig::{ROTARY, X};
use stave_setup::{JobFile, Setup, read_blank, read_machine};
use stave_toolpath::{Arc, Feed, Plane, Position, Step, StepKind, StepSink};
use stave_transform::{Burn, Curve, FlatPoint, Misfit, Wrapper};
use stave_wall::{Anchor, Crest, Lay, LaySetting};

const TOLERANCE_MM: f64 = 0.01;
/// Words have four decimals: half a count of each, and what looking at points leaves between them.
const SLACK_MM: f64 = 0.001;
const SPEED_MM_PER_S: f64 = 20.0;

const STEPPED: &str = r#"
name = "stepped"
wall = "straight"
station = [
  { at = 0.0, diameter = 66.0 }, { at = 40.0, diameter = 67.5 }, { at = 95.0, diameter = 70.0 },
  { at = 101.0, diameter = 86.0 }, { at = 140.0, diameter = 88.0 }, { at = 175.0, diameter = 88.5 },
]
"#;
const ROUND: &str = r#"
name = "round"
wall = "smooth"
station = [
  { at = 0.0, diameter = 40.0 }, { at = 20.0, diameter = 62.0 }, { at = 60.0, diameter = 80.0 },
  { at = 100.0, diameter = 70.0 }, { at = 150.0, diameter = 52.0 }, { at = 175.0, diameter = 50.0 },
]
"#;
const MACHINE: &str = r#"
name = "bench"
[controller]
full_power = 1000
[x]
speed = 500.0
acceleration = 5000.0
[y]
speed = 500.0
acceleration = 3000.0
[rotary]
word = "A"
units_per_turn = 360.0
speed = 360.0
acceleration = 2000.0
"#;

fn setup(blank: &str, options: &[(&str, &str)]) -> Setup {
    let mut job = JobFile::default();
    for (name, value) in options {
        job.set_option(name, value).unwrap();
    }
    Setup::new(read_blank(blank, "blank").unwrap(), read_machine(MACHINE, "machine").unwrap(), job)
        .unwrap()
}

/// The steps that move, in order.
struct Moves(Vec<Step>);

impl StepSink for Moves {
    type Error = std::convert::Infallible;
    fn step(&mut self, step: &Step) -> Result<(), Self::Error> {
        if step.kind.moves() {
            self.0.push(*step);
        }
        Ok(())
    }
}

/// The wall point under the beam for an X word and an A word, both as written.
struct Replay {
    setup: Setup,
    crest: Crest,
    zero_mm: f64,
    table: Vec<(f64, f64)>,
}

impl Replay {
    fn new(setup: Setup) -> Self {
        let wall = &setup.blank.wall;
        let crest = Crest::new(setup.job.tilt_rad);
        let mut hint = 0;
        let zero_mm = crest.along_mm(&wall.section(wall.s_of_at(setup.job.zero.at_mm), &mut hint));
        let steps = 10_000;
        let mut s: Vec<f64> =
            (0..=steps).map(|k| wall.length_mm() * f64::from(k) / f64::from(steps)).collect();
        s.extend_from_slice(wall.span_ends_mm());
        s.sort_by(f64::total_cmp);
        let table = s
            .into_iter()
            .map(|s| (crest.along_mm(&wall.section(s, &mut hint)) - zero_mm, s))
            .collect();
        Self { crest, zero_mm, table, setup }
    }

    /// (s, turn, radius) for words.
    fn at(&self, x: f64, a_deg: f64) -> (f64, f64, f64) {
        let k = self.table.partition_point(|entry| entry.0 < x).clamp(1, self.table.len() - 1);
        let (low, high) = (self.table[k - 1], self.table[k]);
        let share = if high.0 > low.0 { (x - low.0) / (high.0 - low.0) } else { 0.0 };
        let s = low.1 + share * (high.1 - low.1);
        let mut hint = 0;
        let section = self.setup.blank.wall.section(s, &mut hint);
        let _ = (self.crest, self.zero_mm);
        (s, a_deg.to_radians(), section.radius_mm)
    }
}

fn distance(a: (f64, f64, f64), b: (f64, f64, f64)) -> f64 {
    (a.0 - b.0).hypot((a.1 - b.1) * 0.5 * (a.2 + b.2))
}

/// Distance from a point to a polyline on the wall.
fn to_polyline(p: (f64, f64, f64), line: &[(f64, f64, f64)]) -> f64 {
    line.windows(2)
        .map(|w| {
            let r = p.2;
            let (ax, ay) = (w[0].0 - p.0, (w[0].1 - p.1) * r);
            let (bx, by) = (w[1].0 - p.0, (w[1].1 - p.1) * r);
            let (dx, dy) = (bx - ax, by - ay);
            let squared = dx * dx + dy * dy;
            let t =
                if squared > 0.0 { (-(ax * dx + ay * dy) / squared).clamp(0.0, 1.0) } else { 0.0 };
            (ax + t * dx).hypot(ay + t * dy)
        })
        .fold(f64::INFINITY, f64::min)
}

fn check(
    blank: &str,
    lay: &str,
    tilt: &str,
    curve: &Curve<'_>,
    anchor: Anchor,
) -> Result<usize, Misfit> {
    let replay = Replay::new(setup(
        blank,
        &[("lay", lay), ("tilt", tilt), ("place-at", "20"), ("place-turn", "30")],
    ));
    let setup = &replay.setup;
    let wall = &setup.blank.wall;
    let mut wrapper = Wrapper::new(setup, anchor).unwrap();
    let mut moves = Moves(Vec::new());
    let burn = Burn { feed: Feed::PerMinute(SPEED_MM_PER_S * 60.0), power: Some(100.0) };
    if let Err(stave_transform::Halt::Misfit(misfit)) = wrapper.burn(curve, burn, &mut moves) {
        return Err(misfit);
    }
    let exact = Lay::new(
        wall,
        LaySetting {
            kind: setup.job.lay,
            origin_s_mm: wall.s_of_at(20.0),
            origin_turn_rad: 30_f64.to_radians(),
            reference_radius_mm: setup.job.reference_radius_mm,
            anchor,
        },
    )
    .unwrap();
    let mut hint = 0;
    let zero_turn = setup.job.zero.turn_rad;
    let looks = 1500;
    let mut at = |t: f64| {
        let p = curve.point(t);
        let laid = exact.map(wall, p.u, p.v, &mut hint);
        (laid.s_mm, laid.turn_rad - zero_turn, laid.section.radius_mm)
    };
    // The image has a corner at every station it crosses: between two looks a straight piece would
    // cut it off.
    let mut image = vec![at(0.0)];
    for k in 1..=looks {
        let (before_t, here_t) =
            (f64::from(k - 1) / f64::from(looks), f64::from(k) / f64::from(looks));
        let (before, here) = (at(before_t), at(here_t));
        let mut corners: Vec<f64> = wall
            .span_ends_mm()
            .iter()
            .filter(|s| (before.0 < **s) != (here.0 < **s))
            .map(|s| {
                let (mut low, mut high) = (before_t, here_t);
                for _ in 0..50 {
                    let middle = 0.5 * (low + high);
                    if (at(middle).0 < *s) == (before.0 < *s) {
                        low = middle;
                    } else {
                        high = middle;
                    }
                }
                0.5 * (low + high)
            })
            .collect();
        corners.sort_by(f64::total_cmp);
        image.extend(corners.into_iter().map(&mut at));
        image.push(here);
    }
    assert_eq!(moves.0[0].kind, StepKind::Travel);
    let mut burned = Vec::new();
    for pair in moves.0.windows(2) {
        assert_eq!(pair[1].kind, StepKind::Burn);
        assert_eq!(pair[0].to, pair[1].from);
        let (from, to) = (&pair[1].from.words, &pair[1].to.words);
        let steps = 24;
        let mut points = Vec::new();
        for k in 0..=steps {
            let t = f64::from(k) / f64::from(steps);
            let lerp = |axis: usize| from[axis] + (to[axis] - from[axis]) * t;
            points.push(replay.at(lerp(X), lerp(ROTARY)));
        }
        let length: f64 = points.windows(2).map(|w| distance(w[0], w[1])).sum();
        if length > 0.5 {
            let part_s = pair[1].time_s / f64::from(steps);
            for w in points.windows(2) {
                let speed = distance(w[0], w[1]) / part_s;
                let stray = (speed / SPEED_MM_PER_S - 1.0).abs();
                assert!(
                    stray < 0.0105,
                    "{lay} tilt {tilt}: a move strays {stray} from its speed at {:?} of {from:?} \
                     {to:?}",
                    w[0]
                );
            }
        }
        burned.extend(points);
    }
    for p in &burned {
        let away = to_polyline(*p, &image);
        assert!(
            away < TOLERANCE_MM + SLACK_MM,
            "{lay} tilt {tilt}: burned {away} mm off the image at {p:?}"
        );
    }
    for p in image.iter().step_by(7) {
        let away = to_polyline(*p, &burned);
        assert!(
            away < TOLERANCE_MM + SLACK_MM,
            "{lay} tilt {tilt}: image {away} mm off the burn at {p:?}"
        );
    }
    assert!(wrapper.stats().chord_error_max_mm <= TOLERANCE_MM * 1.03);
    Ok(moves.0.len() - 1)
}

fn flat(u: f64, v: f64) -> FlatPoint {
    FlatPoint { u, v, z: 0.0 }
}

proptest! {
    #![proptest_config(cases(12))]

    #[test]
    fn lines_come_out_exact(
        u0 in 0.0..150.0_f64,
        v0 in -60.0..60.0_f64,
        u1 in 0.0..150.0_f64,
        v1 in -60.0..60.0_f64,
        smooth in any::<bool>(),
        lay in 0..3_usize,
        tilted in any::<bool>(),
        at_point in any::<bool>(),
    ) {
        let lay = ["even-angle", "true-width", "true-shape"][lay];
        let anchor =
            if at_point { Anchor::Point { u_mm: 70.0, v_mm: 10.0 } } else { Anchor::Drawing };
        let curve = Curve::Line { from: flat(u0, v0), to: flat(u1, v1) };
        match check(
            if smooth { ROUND } else { STEPPED },
            lay,
            if tilted { "4" } else { "0" },
            &curve,
            anchor,
        ) {
            Ok(_) | Err(Misfit::OffWall { .. }) => {}
            Err(other) => prop_assert!(false, "{other}"),
        }
    }

    #[test]
    fn arcs_come_out_exact(
        cu in 20.0..130.0_f64,
        cv in -40.0..40.0_f64,
        radius in 0.5..40.0_f64,
        start in 0.0..TAU,
        sweep in -TAU..TAU,
        smooth in any::<bool>(),
        lay in 0..3_usize,
        tilted in any::<bool>(),
    ) {
        prop_assume!(sweep.abs() > 0.01);
        let lay = ["even-angle", "true-width", "true-shape"][lay];
        let on = |angle: f64| Position {
            x: cu + radius * angle.cos(),
            y: cv + radius * angle.sin(),
            ..Position::default()
        };
        let (from, to) = (on(start), on(start + sweep));
        let arc = Arc { plane: Plane::Xy, centre: [cu, cv, 0.0], sweep_rad: sweep };
        let curve = Curve::Arc { from: &from, to: &to, arc, along_y: false };
        match check(
            if smooth { ROUND } else { STEPPED },
            lay,
            if tilted { "4" } else { "0" },
            &curve,
            Anchor::Drawing,
        ) {
            Ok(_) | Err(Misfit::OffWall { .. }) => {}
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}

proptest! {
    #![proptest_config(cases(6))]

    /// Under a label a straight line of the flat plane may come back to a station that it has
    /// passed.
    #[test]
    fn labels_come_out_exact(
        u0 in 35.0..105.0_f64,
        v0 in -45.0..45.0_f64,
        u1 in 35.0..105.0_f64,
        v1 in -45.0..45.0_f64,
        smooth in any::<bool>(),
        tilted in any::<bool>(),
        arc in any::<bool>(),
    ) {
        let on = |u: f64, v: f64| Position { x: u, y: v, ..Position::default() };
        let (from, to) = (on(u0, v0), on(u1, v1));
        let centre = [0.5 * (u0 + u1), 0.5 * (v0 + v1), 0.0];
        let arc_of = Arc { plane: Plane::Xy, centre, sweep_rad: TAU / 2.0 };
        let curve = if arc {
            Curve::Arc { from: &from, to: &to, arc: arc_of, along_y: false }
        } else {
            Curve::Line { from: flat(u0, v0), to: flat(u1, v1) }
        };
        let anchor = Anchor::Point { u_mm: 70.0, v_mm: 0.0 };
        match check(
            if smooth { ROUND } else { STEPPED },
            "label",
            if tilted { "4" } else { "0" },
            &curve,
            anchor,
        ) {
            Ok(_) | Err(Misfit::OffWall { .. } | Misfit::Label(_)) => {}
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}

#[test]
fn a_label_larger_than_its_wall_is_refused_with_the_size_that_fits() {
    let curve = Curve::Line { from: flat(70.0, -150.0), to: flat(70.0, 150.0) };
    let error =
        check(STEPPED, "label", "0", &curve, Anchor::Point { u_mm: 70.0, v_mm: 0.0 }).unwrap_err();
    assert!(
        matches!(&error, Misfit::Label(_)) && error.to_string().contains("% of its size fits"),
        "{error}"
    );
    assert_eq!((error.code(), error.is_bad_input()), ("off-wall", false));
}

/// On a can every straight move is straight for every lay: one move, whatever its length.
#[test]
fn a_can_needs_no_cutting() {
    let can = "name = \"can\"\nwall = \"straight\"\nstation = [{ at = 0, diameter = 80 }, { at = \
               170, diameter = 80 }]\n";
    for lay in ["even-angle", "true-width", "true-shape", "label"] {
        let curve = Curve::Line { from: flat(0.0, -50.0), to: flat(120.0, 70.0) };
        assert_eq!(check(can, lay, "0", &curve, Anchor::Drawing).unwrap(), 1);
    }
}

/// A gap straight around a smooth wall has a length, and so a time: it once had neither.
#[test]
fn a_dark_move_around_a_smooth_wall_takes_its_time() {
    let setup = setup(ROUND, &[("lay", "even-angle"), ("place-at", "60")]);
    let mut wrapper = Wrapper::new(&setup, Anchor::Drawing).unwrap();
    let mut moves = Moves(Vec::new());
    let gap = Curve::Line { from: flat(0.0, 0.0), to: flat(0.0, 20.0) };
    let feed = Feed::PerMinute(SPEED_MM_PER_S * 60.0);
    assert!(wrapper.dark(&gap, Some(feed), &mut moves).is_ok());
    let dark = moves.0.last().unwrap();
    assert_eq!(dark.kind, StepKind::Dark);
    // At 60 mm the wall has its reference radius, so 20 mm flat are 20 mm there.
    assert!((dark.time_s - 20.0 / SPEED_MM_PER_S).abs() < 1e-4, "{} s", dark.time_s);
}
