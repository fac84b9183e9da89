//! The planner against the crate rsruckig (time-optimal third-order motion between states, after L.
//! Berscheid and T. Kroeger, RSS 2021), on random moves.

use crate::table::{axis, burn, plan};
use proptest::prelude::*;
use rsruckig::prelude::*;
use stave_plan::{Asked, AxisLimit};
use stave_tests::cases;

/// Of ruckig: `[distance, start speed, end speed]` for each axis, and its limits, all axes in
/// phase.
fn ruckig<const N: usize>(states: [[f64; 3]; N], axes: [AxisLimit; N]) -> Option<f64> {
    let mut otg = Ruckig::<N, ThrowErrorHandler>::new(None, 0.001);
    let mut input = InputParameter::new(None);
    input.synchronization = if N > 1 { Synchronization::Phase } else { Synchronization::None };
    for (i, (state, limit)) in states.iter().zip(axes).enumerate() {
        input.target_position[i] = state[0];
        input.current_velocity[i] = state[1];
        input.target_velocity[i] = state[2];
        input.max_velocity[i] = limit.speed_per_s;
        input.max_acceleration[i] = limit.acceleration_per_s2;
        input.max_jerk[i] = limit.jerk_per_s3.unwrap_or(f64::INFINITY);
    }
    let mut trajectory = Trajectory::new(None);
    // It gives up on a few in a thousand; those cases are left out.
    otg.calculate(&input, &mut trajectory).ok()?;
    Some(trajectory.get_duration())
}

fn gave_up() -> TestCaseError {
    TestCaseError::reject("ruckig gave up")
}

fn limits() -> impl Strategy<Value = AxisLimit> {
    (1.0..500.0_f64, 10.0..8000.0_f64, 100.0..200_000.0_f64).prop_map(
        |(speed, acceleration, jerk)| AxisLimit {
            jerk_per_s3: Some(jerk),
            ..axis(speed, acceleration)
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { max_global_rejects: 20, ..cases(100) })]

    #[test]
    fn rest_to_rest(limit in limits(), distance in 0.001..300.0_f64, with_jerk in prop::bool::ANY) {
        let limit = AxisLimit { jerk_per_s3: limit.jerk_per_s3.filter(|_| with_jerk), ..limit };
        let Some(expected) = ruckig([[distance, 0.0, 0.0]], [limit]) else { return Err(gave_up()) };
        let found = plan([limit], 0.02, &[burn([distance], Asked::Limits)])[0].duration_s;
        prop_assert!((found - expected).abs() <= 1e-7 * expected, "{found} {expected}");
    }

    /// A straight line of three axes, against ruckig with its axes in phase. That is the same where
    /// one axis has the lowest limit of all three kinds; otherwise ruckig lets the axes leave the
    /// line, and is faster.
    #[test]
    fn lines(
        limit in limits(),
        factors in (0.1..10.0_f64, 0.1..10.0_f64),
        others in (limits(), limits()),
        x in 0.1..100.0_f64,
        y in -100.0..-0.1_f64,
        z in 0.1..20.0_f64,
    ) {
        let states = [[x, 0.0, 0.0], [y, 0.0, 0.0], [z, 0.0, 0.0]];
        let scaled = |by: f64| AxisLimit {
            speed_per_s: limit.speed_per_s * by,
            acceleration_per_s2: limit.acceleration_per_s2 * by,
            jerk_per_s3: limit.jerk_per_s3.map(|j| j * by),
        };
        let found = |axes| plan(axes, 0.02, &[burn([x, y, z], Asked::Limits)])[0].duration_s;
        let alike = [limit, scaled(factors.0), scaled(factors.1)];
        let Some(expected) = ruckig(states, alike) else { return Err(gave_up()) };
        let time = found(alike);
        prop_assert!((time - expected).abs() <= 1e-7 * expected, "{time} {expected}");
        let unlike = [limit, others.0, others.1];
        let Some(least) = ruckig(states, unlike) else { return Err(gave_up()) };
        let time = found(unlike);
        prop_assert!(time >= least * (1.0 - 1e-7), "{time} {least}");
    }

    /// Between speeds: neighbours on the same line that are asked to go at them.
    #[test]
    fn between_speeds(
        limit in limits(),
        distance in 0.1..300.0_f64,
        from in 0.05..0.9_f64,
        to in 0.05..0.9_f64,
        with_jerk in prop::bool::ANY,
    ) {
        let limit = AxisLimit { jerk_per_s3: limit.jerk_per_s3.filter(|_| with_jerk), ..limit };
        let v = limit.speed_per_s;
        let lead = |share: f64| {
            let ramp = v / limit.acceleration_per_s2
                + limit
                    .jerk_per_s3
                    .map_or(0.0, |j| limit.acceleration_per_s2 / j + 2.0 * (v / j).sqrt());
            burn([2.0 * share * v * ramp], Asked::Speed(share * v))
        };
        let found =
            plan([limit], 0.02, &[lead(from), burn([distance], Asked::Limits), lead(to)])[1];
        let (v0, v1) = (found.entry_squared.sqrt(), found.exit_squared.sqrt());
        // Where the distance is too short for the change of speed the neighbours go slower.
        prop_assert!(v0 <= from * v * (1.0 + 1e-9) && v1 <= to * v * (1.0 + 1e-9));
        // A hair more way: where the ramp takes it all, rounding alone would make ruckig go back
        // and forth.
        let Some(expected) = ruckig([[distance * (1.0 + 1e-9), v0, v1]], [limit]) else {
            return Err(gave_up());
        };
        prop_assert!(
            (found.duration_s - expected).abs() <= 1e-5 * expected,
            "{} {expected} {v0} {v1}",
            found.duration_s
        );
    }
}
