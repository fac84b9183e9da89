//! Whatever is pushed, what comes back is finite, in order and complete; and the sums say what
//! binds.

use crate::table::{axis, burn, plan, seconds};
use proptest::prelude::*;
use stave_plan::{Asked, AxisLimit, Corners, Move, MoveKind, Planner, Settled, Totals};
use stave_tests::cases;

fn any_size() -> impl Strategy<Value = f64> {
    prop_oneof![
        Just(0.0),
        -1.0..1.0_f64,
        (-120.0..110.0_f64, prop::bool::ANY).prop_map(|(e, minus)| if minus {
            -(10.0_f64.powf(e))
        } else {
            10.0_f64.powf(e)
        }),
        any::<f64>(),
    ]
}

fn any_limit() -> impl Strategy<Value = f64> {
    (-9.0..12.0_f64).prop_map(|e| 10.0_f64.powf(e))
}

fn any_asked() -> impl Strategy<Value = Asked> {
    prop_oneof![
        Just(Asked::Limits),
        any_size().prop_map(Asked::Speed),
        any_size().prop_map(Asked::Duration),
        Just(Asked::Speed(60.0)),
    ]
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn nothing_comes_back_that_is_not_a_time(
        limits in prop::collection::vec(
            (any_limit(), any_limit(), prop::option::of(any_limit())), 2,
        ),
        tolerance in prop_oneof![Just(0.0), 0.0..1.0_f64, any_limit()],
        moves in prop::collection::vec((any_size(), any_size(), any_asked(), 0..40_u32), 0..300),
        window in 0..100_usize,
    ) {
        let axes = [0, 1].map(|i: usize| {
            let (speed, acceleration, jerk): (f64, f64, Option<f64>) = limits[i];
            AxisLimit { jerk_per_s3: jerk, ..axis(speed, acceleration) }
        });
        let mut planner = Planner::with_window(axes, tolerance, window).unwrap();
        let mut out: Vec<Settled> = Vec::new();
        let mut tags = Vec::new();
        for (i, &(x, y, asked, event)) in moves.iter().enumerate() {
            match event {
                0 => planner.stop(&mut |s: &Settled| out.push(*s)),
                1 => planner.set_corners(Corners::Exact),
                2 => planner.set_corners(Corners::Stop),
                3 => planner.set_corners(Corners::Tolerance),
                _ => {}
            }
            let one = Move { tag: u32::try_from(i).unwrap(), ..burn([x, y], asked) };
            if let Ok(pushed) = planner.push(&one, &mut |s: &Settled| out.push(*s))
                && pushed.length > 0.0
            {
                tags.push(one.tag);
            }
            prop_assert!(planner.waiting() <= window.max(16));
        }
        planner.stop(&mut |s: &Settled| out.push(*s));
        prop_assert_eq!(tags, out.iter().map(|s| s.tag).collect::<Vec<_>>());
        for s in &out {
            prop_assert!(s.duration_s.is_finite() && s.duration_s >= 0.0, "{s:?}");
            prop_assert!(s.ramp_s >= 0.0 && s.ramp_s <= s.duration_s, "{s:?}");
            for square in [s.entry_squared, s.exit_squared, s.peak_squared] {
                prop_assert!(square.is_finite() && square >= 0.0, "{s:?}");
            }
        }
    }

    /// A window of jerk-limited moves that is full plans a stop, keeps its word about memory, and
    /// is no faster.
    #[test]
    fn a_full_window_with_jerk(
        turns in prop::collection::vec(-0.4..0.4_f64, 1..200),
        asked in 10.0..400.0_f64,
    ) {
        let axes = [AxisLimit { jerk_per_s3: Some(20_000.0), ..axis(500.0, 3000.0) }; 2];
        let mut at = 0.0;
        let moves: Vec<Move<2>> = turns
            .iter()
            .map(|turn| {
                at += turn;
                burn([0.3 * f64::cos(at), 0.3 * f64::sin(at)], Asked::Speed(asked))
            })
            .collect();
        let free = plan(axes, 0.02, &moves);
        let mut planner = Planner::with_window(axes, 0.02, 16).unwrap();
        let mut small = Vec::new();
        for one in &moves {
            planner.push(one, &mut |s: &Settled| small.push(*s)).unwrap();
            prop_assert!(planner.waiting() <= 16);
        }
        planner.stop(&mut |s: &Settled| small.push(*s));
        prop_assert_eq!(small.len(), free.len());
        // Not always slower: a slower start can make a jerk-limited ramp shorter (see `ramp`).
        prop_assert!(seconds(&small) >= 0.97 * seconds(&free));
        for pair in small.windows(2) {
            prop_assert!(
                (pair[0].exit_squared - pair[1].entry_squared).abs()
                    <= 0.03 * pair[1].entry_squared + 1e-6
            );
        }
    }
}

#[test]
fn the_sums_say_which_axis_binds_and_what_is_below_the_asked_speed() {
    // x can do 100, y 50; y is asked for 80 and held to 50.
    let axes = [axis(100.0, 1000.0), axis(50.0, 500.0)];
    let mut planner = Planner::new(axes, 0.0).unwrap();
    let mut totals = Totals::<2>::default();
    let one = |delta, asked, kind| Move { kind, wall_mm: Some(7.0), ..burn(delta, asked) };
    for m in [
        one([60.0, 0.0], Asked::Limits, MoveKind::Travel),
        one([0.0, 50.0], Asked::Speed(80.0), MoveKind::Burn),
        one([20.0, 0.0], Asked::Speed(50.0), MoveKind::Burn),
        one([0.0, 25.0], Asked::Speed(25.0), MoveKind::Dark),
    ] {
        planner.push(&m, &mut totals).unwrap();
    }
    planner.stop(&mut totals);
    let near =
        |found: f64, expected: f64| assert!((found - expected).abs() < 1e-12, "{found} {expected}");
    // Each starts and stops; ramps of 0.1, 0.1, 0.05, 0.05 s either way.
    near(totals.travel.duration_s, 0.6 + 0.1);
    near(totals.burn.duration_s, 1.0 + 0.1 + 0.4 + 0.05);
    near(totals.dark.duration_s, 1.0 + 0.05);
    near(totals.duration_s(), 3.3);
    // x binds its whole travel and the ramps of its burn; y its whole burn and the ramps of its
    // dark move.
    near(totals.bound_s[0], 0.7 + 0.1);
    near(totals.bound_s[1], 1.1 + 0.1);
    assert_eq!(totals.slowest_axis().map(|(axis, _)| axis), Some(1));
    near(totals.burn.at_asked_s, 0.35);
    near(totals.below_asked(), 1.0 - (0.35 + 0.95) / 2.6);
    // 7 mm on the wall for 20 mm of axis at 50 mm/s is faster than 7 for 50 at 50.
    near(totals.greatest_wall_mm_per_s(), 50.0 * 7.0 / 20.0);
    near(totals.burn.mean_wall_mm_per_s(), 14.0 / 1.55);
    assert_eq!((totals.travel.moves, totals.burn.moves, totals.dark.moves), (1, 2, 1));
}
