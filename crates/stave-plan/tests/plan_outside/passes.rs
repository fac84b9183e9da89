//! The streaming planner against a plain one that relaxes every speed until nothing changes.

use crate::reference::{Reference, brute_force};
use crate::table::{burn, plan, plan_by};
use proptest::prelude::*;
use stave_plan::{Asked, AxisLimit, Corners, Move, Planner, Settled};
use stave_tests::cases;

const AXES: [AxisLimit; 3] = [
    AxisLimit { speed_per_s: 500.0, acceleration_per_s2: 5000.0, jerk_per_s3: None },
    AxisLimit { speed_per_s: 300.0, acceleration_per_s2: 3000.0, jerk_per_s3: None },
    AxisLimit { speed_per_s: 360.0, acceleration_per_s2: 2000.0, jerk_per_s3: None },
];

fn moves() -> impl Strategy<Value = Vec<Move<3>>> {
    let step = prop_oneof![
        // A curve's chords, a scan line, anything.
        (-1.0..1.0_f64, -1.0..1.0_f64, -1.0..1.0_f64).prop_map(|(x, y, a)| [
            1.0 + 0.1 * x,
            0.1 * y,
            0.1 * a
        ]),
        (-50.0..50.0_f64).prop_map(|x| [x, 0.0, 0.0]),
        (-5.0..5.0_f64, -5.0..5.0_f64, -5.0..5.0_f64).prop_map(|(x, y, a)| [x, y, a]),
        Just([0.0, 0.0, 0.0]),
    ];
    let scale = prop_oneof![Just(1.0), Just(0.01), Just(0.1)];
    let asked = prop_oneof![
        Just(Asked::Limits),
        (1.0..800.0_f64).prop_map(Asked::Speed),
        (0.0..0.2_f64).prop_map(Asked::Duration),
    ];
    (prop::collection::vec((step, asked), 0..700), scale, prop::bool::ANY).prop_map(
        |(steps, scale, same)| {
            let first = steps.first().map_or(Asked::Limits, |s| s.1);
            steps
                .into_iter()
                .map(|(d, asked)| burn(d.map(|v| v * scale), if same { first } else { asked }))
                .collect()
        },
    )
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn agrees_with_the_plain_planner(
        moves in moves(),
        tolerance in prop_oneof![Just(0.0), Just(0.02), 0.0..1.0_f64],
        curves in prop::bool::ANY,
    ) {
        let expected: Vec<Reference> = brute_force(&AXES, (tolerance, curves), &moves);
        let found = plan_by(AXES, (tolerance, curves), &moves);
        prop_assert_eq!(expected.len(), found.len());
        let mut total = (0.0, 0.0);
        for (e, f) in expected.iter().zip(&found) {
            prop_assert!(
                (e.duration_s - f.duration_s).abs() <= 1e-9 * e.duration_s + 1e-12,
                "{e:?} {f:?}"
            );
            prop_assert!((e.entry - f.entry_squared.sqrt()).abs() <= 1e-7 * e.peak + 1e-9);
            prop_assert!((e.peak - f.peak_squared.sqrt()).abs() <= 1e-7 * e.peak);
            prop_assert!(
                (e.ramp_s - f.ramp_s).abs() <= 1e-6 * e.duration_s + 1e-9,
                "{e:?} {f:?}"
            );
            total = (total.0 + e.duration_s, total.1 + f.duration_s);
        }
        prop_assert!((total.0 - total.1).abs() <= 1e-10 * total.0, "{:?}", total);
    }

    /// Every axis keeps its limits, and speed never jumps from one move to the next.
    #[test]
    fn no_limit_is_passed(moves in moves()) {
        let found = plan(AXES, 0.02, &moves);
        let moving: Vec<_> = moves.iter().filter(|m| m.delta != [0.0; 3]).collect();
        let mut speed = 0.0;
        for (m, s) in moving.iter().zip(&found) {
            prop_assert!((s.entry_squared - speed).abs() < 1e-9);
            speed = s.exit_squared;
            for (axis, limit) in AXES.iter().enumerate() {
                let share = m.delta[axis].abs() / s.length;
                prop_assert!(s.peak_squared.sqrt() * share <= limit.speed_per_s * (1.0 + 1e-12));
                // u changes by 2 a L at most.
                let a = (s.exit_squared - s.entry_squared).abs() / (2.0 * s.length) * share;
                prop_assert!(a <= limit.acceleration_per_s2 * (1.0 + 1e-6), "{a}");
            }
        }
        prop_assert!(speed == 0.0);
    }

    /// Cutting moves into pieces changes no time, with a jerk limit or without.
    #[test]
    fn splitting_changes_nothing(
        moves in moves(),
        cuts in prop::collection::vec(1_u32..9, 700),
        jerk in prop_oneof![Just(None), Just(Some(40_000.0))],
        curves in prop::bool::ANY,
    ) {
        let axes = AXES.map(|axis| AxisLimit { jerk_per_s3: jerk, ..axis });
        let moves = &moves[..moves.len().min(60)];
        let mut split = Vec::new();
        for (one, &n) in moves.iter().zip(&cuts) {
            let n_f = f64::from(n);
            for _ in 0..n {
                let asked = match one.asked {
                    Asked::Duration(s) => Asked::Duration(s / n_f),
                    other => other,
                };
                split.push(Move { delta: one.delta.map(|v| v / n_f), asked, ..*one });
                split.push(burn([0.0; 3], Asked::Duration(1.0)));
            }
        }
        let time =
            |moves: &[Move<3>]| crate::table::seconds(&plan_by(axes, (0.02, curves), moves));
        let (whole, pieces) = (time(moves), time(&split));
        prop_assert!((whole - pieces).abs() <= 1e-9 * whole, "{whole} {pieces}");
    }

    /// A small window never makes a program faster, and says when it gave way.
    #[test]
    fn a_full_window_is_slower_and_told(moves in moves()) {
        let mut planner = Planner::with_window(AXES, 0.02, 16).unwrap();
        let mut small = Vec::new();
        for one in &moves {
            planner.push(one, &mut |s: &Settled| small.push(*s)).unwrap();
            prop_assert!(planner.waiting() <= 16);
        }
        planner.stop(&mut |s: &Settled| small.push(*s));
        prop_assert_eq!(planner.waiting(), 0);
        let large = plan(AXES, 0.02, &moves);
        prop_assert_eq!(small.len(), large.len());
        let sum = |all: &[Settled]| all.iter().map(|s| s.duration_s).sum::<f64>();
        let (s, l) = (sum(&small), sum(&large));
        prop_assert!(s >= l * (1.0 - 1e-12), "{s} {l}");
        if planner.times_full() == 0 {
            prop_assert!((s - l).abs() <= 1e-12 * l);
        }
        let mut speed = 0.0;
        for s in &small {
            prop_assert!((s.entry_squared - speed).abs() <= 1e-9 * speed);
            prop_assert!(
                (s.exit_squared - s.entry_squared).abs() / (2.0 * s.length)
                    <= 5000.0 * 3.0_f64.sqrt() * (1.0 + 1e-6)
            );
            speed = s.exit_squared;
        }
    }
}

/// What waits is what was pushed and has not come back; and where a window is too short for the
/// machine to stop in, the stop lies at its end: no move is faster than the way to there allows.
#[test]
fn a_window_shorter_than_a_stop_plans_one_within_it() {
    const COUNT: usize = 2000;
    for jerk_per_s3 in [None, Some(1e9)] {
        let axis = AxisLimit { jerk_per_s3, ..AXES[0] };
        let mut planner = Planner::with_window([axis; 3], 0.02, 16).unwrap();
        let mut settled = Vec::new();
        for pushed in 1..=COUNT {
            let one = burn([0.01, 0.0, 0.0], Asked::Speed(400.0));
            planner.push(&one, &mut |s: &Settled| settled.push(*s)).unwrap();
            assert_eq!(planner.waiting(), pushed - settled.len());
        }
        // Half of what waits goes each time, so that it fills again after 8 moves at the least.
        assert!((1..=COUNT as u64 / 8).contains(&planner.times_full()), "{}", planner.times_full());
        planner.stop(&mut |s: &Settled| settled.push(*s));
        assert_eq!((planner.waiting(), settled.len()), (0, COUNT));
        // A stop from that speed takes 16 moves of 0.01 mm: v² = 2 a · 0.16 mm.
        let most = 2.0 * 5000.0 * 0.16;
        let fastest = settled.iter().map(|s| s.peak_squared).fold(0.0, f64::max);
        assert!(fastest <= most * (1.0 + 1e-9), "{fastest}");
        assert!(fastest >= 0.25 * most, "{fastest}");
        for pair in settled.windows(2) {
            assert!((pair[0].exit_squared - pair[1].entry_squared).abs() <= 0.03 * most);
        }
    }
}

#[test]
fn an_endless_line_waits_no_longer_than_its_stop() {
    let mut planner = Planner::new(AXES, 0.02).unwrap();
    let mut seconds = 0.0;
    let mut most = 0;
    for _ in 0..1_000_000 {
        planner
            .push(&burn([0.01, 0.0, 0.0], Asked::Speed(200.0)), &mut |s: &Settled| {
                seconds += s.duration_s;
            })
            .unwrap();
        most = most.max(planner.waiting());
    }
    planner.stop(&mut |s: &Settled| seconds += s.duration_s);
    assert_eq!(planner.times_full(), 0);
    // 200²/(2·5000) = 4 mm to stop: 400 moves, and the queue may double.
    assert!(most <= 1024, "{most}");
    assert!((seconds - (10_000.0 / 200.0 + 200.0 / 5000.0)).abs() < 1e-7);
}

#[test]
fn a_jerk_limited_endless_line_waits_no_longer_than_its_ramps() {
    let axes = AXES.map(|axis| AxisLimit { jerk_per_s3: Some(50_000.0), ..axis });
    let mut planner = Planner::new(axes, 0.02).unwrap();
    let mut seconds = 0.0;
    let mut most = 0;
    for _ in 0..300_000 {
        planner
            .push(&burn([0.01, 0.0, 0.0], Asked::Speed(200.0)), &mut |s: &Settled| {
                seconds += s.duration_s;
            })
            .unwrap();
        most = most.max(planner.waiting());
    }
    planner.stop(&mut |s: &Settled| seconds += s.duration_s);
    assert_eq!(planner.times_full(), 0);
    assert!(most < 200_000, "{most}");
    // v j = 1e7 < a²: the acceleration is not reached; each ramp takes 2 √(v/j).
    let ramp = 2.0 * (200.0_f64 / 50_000.0).sqrt();
    assert!((seconds - (3_000.0 / 200.0 + ramp)).abs() < 1e-8, "{seconds}");
}

#[test]
fn stops_and_exact_corners() {
    let time = |corners: Corners, pieces: &[[f64; 3]]| {
        let mut planner = Planner::new(AXES, 0.02).unwrap();
        planner.set_corners(corners);
        let mut seconds = 0.0;
        for &delta in pieces {
            planner
                .push(&burn(delta, Asked::Speed(100.0)), &mut |s: &Settled| seconds += s.duration_s)
                .unwrap();
        }
        planner.stop(&mut |s: &Settled| seconds += s.duration_s);
        seconds
    };
    let line = [[10.0, 0.0, 0.0], [10.0, 0.0, 0.0]];
    let corner = [[10.0, 0.0, 0.0], [0.0, 10.0, 0.0]];
    let ramp = |a: f64| 100.0 / a;
    assert!((time(Corners::Exact, &line) - (0.2 + ramp(5000.0))).abs() < 1e-12);
    assert!((time(Corners::Stop, &line) - (0.2 + 2.0 * ramp(5000.0))).abs() < 1e-12);
    let stopped = 0.2 + ramp(5000.0) + ramp(3000.0);
    assert!((time(Corners::Exact, &corner) - stopped).abs() < 1e-12);
    assert!((time(Corners::Stop, &corner) - stopped).abs() < 1e-12);
    assert!(time(Corners::Tolerance, &corner) < stopped - 1e-4);
}

#[test]
fn what_cannot_be_planned_is_refused() {
    let mut planner = Planner::new(AXES, 0.02).unwrap();
    let mut none = |_: &Settled| {};
    for delta in [[f64::NAN, 0.0, 0.0], [f64::INFINITY, 0.0, 0.0], [1e200, 0.0, 0.0]] {
        assert!(planner.push(&burn(delta, Asked::Limits), &mut none).is_err());
    }
    for asked in [
        Asked::Speed(0.0),
        Asked::Speed(-1.0),
        Asked::Speed(f64::NAN),
        Asked::Duration(f64::INFINITY),
    ] {
        assert!(planner.push(&burn([1.0, 0.0, 0.0], asked), &mut none).is_err(), "{asked:?}");
    }
    assert!(planner.push(&burn([0.0; 3], Asked::Duration(f64::NAN)), &mut none).is_ok());
    let bad = |speed: f64, tolerance: f64| {
        Planner::new([AxisLimit { speed_per_s: speed, ..AXES[0] }], tolerance)
            .map(|_| ())
            .unwrap_err()
            .to_string()
    };
    insta::assert_snapshot!(bad(0.0, 0.02), @"the speed of axis 0 is 0; give a number from 1e-9 \
                                              to 1e12");
    insta::assert_snapshot!(bad(1.0, -1.0), @"the corner tolerance is -1; give zero or more, at \
                                              most 1e12");
}
