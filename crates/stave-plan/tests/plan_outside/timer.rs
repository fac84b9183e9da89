//! The clock of a run of steps, against closed forms.

use proptest::prelude::*;
use stave_plan::{
    Asked, AxisLimit, Move, MoveKind, Nobody, Planner, SectionTime, TimedStep, Timer, Totals,
};
use stave_setup::Machine;
use stave_toolpath::{Corner, LinePart, PauseWord, Stand, Step, StepKind, StepSink};

/// A machine whose linear axes all do 500 mm/s with 1000 mm/s², and the rotary 90 units a second.
fn machine(corner_tolerance: f64) -> Machine {
    let axis = "speed = 500\nacceleration = 1000\n";
    let text = format!(
        "[controller]\ncorner_tolerance = {corner_tolerance:?}\n[x]\n{axis}[y]\n{axis}[z]\n{axis}\
         up = \"away\"\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 90\n\
         acceleration = 1000\n"
    );
    stave_setup::read_machine(&text, "bench.toml").unwrap()
}

fn stand(words: [f64; 4]) -> Stand {
    Stand { words, place: None }
}

/// A burn at so many mm/s of X, Y and Z.
fn burn(from: [f64; 4], to: [f64; 4], speed: f64) -> Step {
    let way = (0..4).map(|axis| (to[axis] - from[axis]).powi(2)).sum::<f64>().sqrt();
    Step {
        kind: StepKind::Burn,
        from: stand(from),
        to: stand(to),
        drives_z: true,
        beam: None,
        power_s: None,
        time_s: way / speed,
        asked_s: way / speed,
        length_mm: way,
        corner: Corner::Tolerance,
        joined: false,
        even_dose: false,
        line: 1,
        section: 0,
    }
}

fn still(kind: StepKind, words: [f64; 4], time_s: f64) -> Step {
    Step { kind, time_s, ..burn(words, words, 1.0) }
}

fn run(machine: &Machine, steps: &[Step]) -> Vec<SectionTime> {
    let mut timer = Timer::new(machine, true, Nobody).unwrap();
    for step in steps {
        timer.step(step).unwrap();
    }
    timer.finish().unwrap().0
}

fn seconds(machine: &Machine, steps: &[Step]) -> f64 {
    run(machine, steps).iter().map(|one| one.totals.duration_s() + one.dwell_s).sum()
}

/// From rest to rest over `length` at `speed` with the acceleration `a`.
fn alone(length: f64, speed: f64, a: f64) -> f64 {
    if length * a >= speed * speed { length / speed + speed / a } else { 2.0 * (length / a).sqrt() }
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-9 * expected.abs() + 1e-12, "{found}, not {expected}");
}

const HOME: [f64; 4] = [0.0; 4];

/// A step in equal parts, each with its share of the time.
fn parted(step: &Step, parts: u32) -> Vec<Step> {
    let at = |k: u32| {
        let t = f64::from(k) / f64::from(parts);
        let (a, b) = (step.from.words, step.to.words);
        stand(std::array::from_fn(|axis| a[axis] + (b[axis] - a[axis]) * t))
    };
    let share = |value: f64| value / f64::from(parts);
    (0..parts)
        .map(|k| Step {
            from: at(k),
            to: at(k + 1),
            time_s: share(step.time_s),
            asked_s: share(step.asked_s),
            length_mm: share(step.length_mm),
            ..*step
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]
    #[test]
    fn a_move_in_parts_takes_the_same_time(
        moves in prop::collection::vec(
            ((-40.0..40.0_f64, -40.0..40.0_f64, -90.0..90.0_f64), 5.0..200.0_f64, 0..3_u8), 1..25),
        parts in prop::collection::vec(1..9_u32, 25),
        tolerance in prop::sample::select(vec![0.0, 0.005, 0.02, 0.5]),
    ) {
        let machine = machine(tolerance);
        let mut from = HOME;
        let mut whole = Vec::new();
        for ((x, y, a), speed, kind) in moves {
            let to = [x, y, 0.0, a];
            let kind = [StepKind::Burn, StepKind::Dark, StepKind::Travel][usize::from(kind)];
            whole.push(Step { kind, ..burn(from, to, speed) });
            from = to;
        }
        let split: Vec<Step> =
            whole.iter().zip(&parts).flat_map(|(step, parts)| parted(step, *parts)).collect();
        let (one, other) = (seconds(&machine, &whole), seconds(&machine, &split));
        prop_assert!((one - other).abs() < 1e-6 * one, "{one} {other}");
        // And so do its burned length and the moves' lengths.
        let burned = |steps: &[Step]| run(&machine, steps)[0].totals.burn.wall_mm;
        prop_assert!((burned(&whole) - burned(&split)).abs() < 1e-6);
    }
}

/// A circle of 20 mm around the origin as chords of one arc, from (20, 0).
fn circle(chords: u32, speed: f64) -> Vec<Step> {
    let at = |k: u32| {
        let turn = std::f64::consts::TAU * f64::from(k) / f64::from(chords);
        [20.0 * turn.cos(), 20.0 * turn.sin(), 0.0, 0.0]
    };
    (0..chords)
        .map(|k| {
            let corner = if k + 1 == chords { Corner::Tolerance } else { Corner::Arc };
            Step { joined: k > 0, corner, ..burn(at(k), at(k + 1), speed) }
        })
        .collect()
}

#[test]
fn the_chords_of_an_arc_are_one_move() {
    let machine = machine(0.02);
    let lead = burn([20.0, -80.0, 0.0, 0.0], [20.0, 0.0, 0.0, 0.0], 50.0);
    let out = burn([20.0, 0.0, 0.0, 0.0], [20.0, 80.0, 0.0, 0.0], 50.0);
    let mut steps = vec![lead];
    steps.extend(circle(400, 50.0));
    steps.push(out);
    let sections = run(&machine, &steps);
    assert_eq!(sections[0].moves, 3);
    // At 50 mm/s the circle asks for 125 mm/s², far less than there is: nothing slows it.
    let around = 400.0 * 2.0 * 20.0 * (std::f64::consts::PI / 400.0).sin();
    near(sections[0].totals.duration_s(), alone(160.0 + around, 50.0, 1000.0));
    // Within an arc the corners are rounded even where the path is kept: only its ends stop.
    let kept = |step: &Step| {
        let corner = if step.corner == Corner::Arc { Corner::Arc } else { Corner::Exact };
        Step { corner, ..*step }
    };
    let exact: Vec<Step> = circle(400, 50.0).iter().map(kept).collect();
    let apart: Vec<Step> =
        exact.iter().map(|step| Step { corner: Corner::Exact, ..*step }).collect();
    let (exact, apart) = (seconds(&machine, &exact), seconds(&machine, &apart));
    // It starts and ends along chords that lie a little askew to Y.
    let closed = alone(around, 50.0, 1000.0);
    assert!((exact - closed).abs() < 1e-5 * closed, "{exact} {closed}");
    // As corners kept exactly each chord starts and ends at rest.
    assert!(apart > 4.0 * exact, "{apart} {exact}");
}

#[test]
fn dots_and_dwells() {
    let machine = machine(0.02);
    let (here, there) = ([20.0, 0.0, 0.0, 0.0], [40.0, 0.0, 0.0, 0.0]);
    let dot = Step { line: 3, ..still(StepKind::Dot, here, 0.25) };
    let steps = [
        burn(HOME, here, 50.0),
        dot,
        still(StepKind::Dwell, here, 1.5),
        still(StepKind::Pause(PauseWord::M0), here, 0.0),
        burn(here, there, 50.0),
    ];
    let mut seen: Vec<(u64, f64, f64)> = Vec::new();
    let follow = |timed: &TimedStep| seen.push((timed.step.line, timed.start_s, timed.duration_s));
    let mut timer = Timer::new(&machine, true, follow).unwrap();
    for step in &steps {
        timer.step(step).unwrap();
    }
    assert_eq!(timer.pauses(), 1);
    near(timer.at_feeds_s(), 0.8);
    let (sections, _) = timer.finish().unwrap();
    let one = &sections[0];
    assert_eq!((one.moves, one.dwell_s, one.dot_s), (2, 1.75, 0.25));
    // Each move begins and ends at rest; the dot is timed, the dwell only passes.
    let each = alone(20.0, 50.0, 1000.0);
    near(one.totals.duration_s(), 2.0 * each);
    let wanted = [(1, 0.0, each), (3, each, 0.25), (1, each + 1.75, each)];
    assert_eq!(seen.len(), wanted.len());
    for (found, wanted) in seen.iter().zip(wanted) {
        assert_eq!(found.0, wanted.0);
        near(found.1, wanted.1);
        near(found.2, wanted.2);
    }
}

#[test]
fn what_stops_and_what_does_not() {
    let machine = machine(0.02);
    let (here, there) = ([20.0, 0.0, 0.0, 0.0], [40.0, 0.0, 0.0, 0.0]);
    let (through, apart) = (alone(40.0, 50.0, 1000.0), 2.0 * alone(20.0, 50.0, 1000.0));
    let between = |corner: Corner| {
        seconds(&machine, &[Step { corner, ..burn(HOME, here, 50.0) }, burn(here, there, 50.0)])
    };
    for corner in [Corner::Tolerance, Corner::Arc, Corner::Exact] {
        near(between(corner), through);
    }
    // An exact stop is one even where the way goes straight on.
    near(between(Corner::Stop), apart);
    for kind in [StepKind::Beam, StepKind::Stop, StepKind::Dwell, StepKind::Pause(PauseWord::M1)] {
        let steps = [burn(HOME, here, 50.0), still(kind, here, 0.0), burn(here, there, 50.0)];
        near(seconds(&machine, &steps), apart);
    }
    // The corner is that of the move that ends in it, not of the one after.
    let last = Step { corner: Corner::Stop, ..burn(here, there, 50.0) };
    near(seconds(&machine, &[burn(HOME, here, 50.0), last]), through);
}

#[test]
fn an_axis_that_holds_a_move_back_is_named() {
    let machine = machine(0.02);
    let mut held = Vec::new();
    let follow = |timed: &TimedStep| held.push(timed.held_by);
    let mut timer = Timer::new(&machine, true, follow).unwrap();
    let turned = [0.0, 0.0, 0.0, 180.0];
    timer.step(&burn(HOME, turned, 1000.0)).unwrap();
    timer.step(&burn(turned, [10.0, 0.0, 0.0, 180.0], 50.0)).unwrap();
    let travel = Step { kind: StepKind::Travel, ..burn([10.0, 0.0, 0.0, 180.0], HOME, 1.0) };
    timer.step(&travel).unwrap();
    drop(timer.finish().unwrap());
    assert_eq!(held, [Some(3), None, None]);
}

#[test]
fn what_cannot_be_planned_is_told_at_the_end() {
    let machine = machine(0.02);
    let mut timer = Timer::new(&machine, true, Nobody).unwrap();
    timer.step(&burn(HOME, [f64::INFINITY, 0.0, 0.0, 0.0], 50.0)).unwrap();
    assert!(timer.finish().is_err());
}

/// A machine whose line takes so many lines or bytes a second.
fn slow_line(rates: &str) -> Machine {
    let text = format!(
        "[controller]\n{rates}\n[x]\nspeed = 500\nacceleration = 1000\n[y]\nspeed = \
         500\nacceleration = 1000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = \
         90\nacceleration = 1000\n"
    );
    stave_setup::read_machine(&text, "bench.toml").unwrap()
}

/// 50 mm at 50 mm/s in 500 lines of 12 bytes each.
fn dense(machine: &Machine) -> (f64, Option<stave_plan::Starved>) {
    let mut timer = Timer::new(machine, true, Nobody).unwrap();
    for step in parted(&burn(HOME, [50.0, 0.0, 0.0, 0.0], 50.0), 500) {
        timer.on_line(LinePart { lines: 1.0, bytes: 12.0 });
        timer.step(&step).unwrap();
    }
    let starved = timer.starved();
    let (sections, both, _) = timer.finish_both().unwrap();
    let seconds = sections[0].totals.duration_s();
    near(both.arcs_s, seconds);
    near(both.corners_s, seconds);
    (seconds, starved)
}

/// 500 lines a second are needed, 6000 bytes. Where 100 lines a second are taken, 500 lines take 5
/// s at 10 mm/s, and the ramps come on top.
#[test]
fn a_line_that_is_short_of_lines_or_bytes_slows_what_it_feeds() {
    let (free, none) = dense(&slow_line("lines_per_second = 500\nbytes_per_second = 6000"));
    near(free, alone(50.0, 50.0, 1000.0));
    assert!(none.is_none());
    for (rates, bytes, limit) in
        [("lines_per_second = 100", false, 100.0), ("bytes_per_second = 1200", true, 1200.0)]
    {
        let (seconds, starved) = dense(&slow_line(rates));
        near(seconds, alone(50.0, 10.0, 1000.0));
        let starved = starved.unwrap();
        assert_eq!((starved.bytes, starved.limit_per_s, starved.moves), (bytes, limit, 500));
        near(starved.needed_per_s, 5.0 * limit);
    }
    // What an axis holds back needs no more lines than it goes by: 45° at 10 deg/s asked of one
    // that does 90 in a second, in parts.
    let machine = slow_line("lines_per_second = 100");
    let mut timer = Timer::new(&machine, true, Nobody).unwrap();
    for step in parted(&burn(HOME, [0.0, 0.0, 0.0, 45.0], 1000.0), 40) {
        timer.on_line(LinePart { lines: 1.0, bytes: 12.0 });
        timer.step(&step).unwrap();
    }
    assert!(timer.starved().is_none());
    // Without a line there is nothing to wait for.
    let step = burn(HOME, [0.001, 0.0, 0.0, 0.0], 100.0);
    near(seconds(&machine, &[step]), alone(0.001, 100.0, 1000.0));
}

/// A circle of 20 mm at 500 mm/s asked, by chords ten times finer than the tolerance: the corners
/// alone would be taken at the speed asked, the curve at √(a r) = 141 mm/s.
#[test]
fn both_rules_for_curves_are_timed_whichever_is_the_machines() {
    let chords = 1000;
    let points: Vec<[f64; 4]> = (0..=chords)
        .map(|k| {
            let (sine, cosine) =
                (std::f64::consts::TAU * f64::from(k) / f64::from(chords)).sin_cos();
            [20.0 * cosine, 20.0 * sine, 0.0, 0.0]
        })
        .collect();
    let mut times = Vec::new();
    for curves in ["arcs", "corners"] {
        let machine = slow_line(&format!("curves = \"{curves}\""));
        let mut timer = Timer::new(&machine, true, Nobody).unwrap();
        for pair in points.windows(2) {
            timer.step(&burn(pair[0], pair[1], 500.0)).unwrap();
        }
        timer.step(&still(StepKind::Dwell, points[0], 0.5)).unwrap();
        let (sections, both, _) = timer.finish_both().unwrap();
        let own = sections[0].totals.duration_s() + 0.5;
        near(own, if curves == "arcs" { both.arcs_s } else { both.corners_s });
        times.push((both.arcs_s, both.corners_s));
    }
    near(times[0].0, times[1].0);
    near(times[0].1, times[1].1);
    let (arcs, corners) = (times[0].0 - 0.5, times[0].1 - 0.5);
    // A lap at √(a r) is 2π √(r/a); where both axes share, a is up to √2 times as much.
    let lap = std::f64::consts::TAU * (20.0_f64 / 1000.0).sqrt();
    assert!(arcs > 0.84 * lap && arcs < 1.2 * lap, "{arcs} {lap}");
    assert!(corners < 0.75 * arcs, "{corners} {arcs}");
}

/// The seconds of a path by a planner of its own, under one rule for curves.
fn planned_s(points: &[[f64; 4]], speed: f64, curves: bool) -> f64 {
    let axis = AxisLimit { speed_per_s: 500.0, acceleration_per_s2: 1000.0, jerk_per_s3: None };
    let mut planner = Planner::new([axis; 2], 0.02).unwrap();
    planner.set_curves(curves);
    let mut totals = Totals::<2>::default();
    for pair in points.windows(2) {
        let delta = [pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]];
        let asked = Asked::Duration(delta[0].hypot(delta[1]) / speed);
        let one = Move { delta, asked, kind: MoveKind::Burn, wall_mm: None, tag: 0 };
        planner.push(&one, &mut totals).unwrap();
    }
    planner.stop(&mut totals);
    totals.duration_s()
}

proptest! {
    /// Both rules are timed as if each had a planner of its own, wherever the path first bends.
    #[test]
    fn the_two_rules_part_at_the_first_bend_that_binds(
        straight in 0_usize..40,
        turns in prop::collection::vec((-50.0..50.0_f64, 0.05..4.0_f64), 1..60),
        speed in 5.0..400.0_f64,
    ) {
        let mut points = vec![[0.0; 4]];
        let mut heading = 0.0_f64;
        let on = std::iter::repeat_n((0.0, 0.7), straight);
        for (turn_deg, way) in on.chain(turns) {
            heading += f64::to_radians(turn_deg);
            let [x, y, ..] = points[points.len() - 1];
            points.push([x + way * heading.cos(), y + way * heading.sin(), 0.0, 0.0]);
        }
        let [arcs_s, corners_s] = [true, false].map(|curves| planned_s(&points, speed, curves));
        for curves in ["arcs", "corners"] {
            let text = format!(
                "[controller]\ncorner_tolerance = 0.02\ncurves = \"{curves}\"\n[x]\nspeed = 500\n\
                 acceleration = 1000\n[y]\nspeed = 500\nacceleration = 1000\n[rotary]\nword = \
                 \"A\"\nunits_per_turn = 360\nspeed = 90\nacceleration = 1000\n"
            );
            let machine = stave_setup::read_machine(&text, "bench.toml").unwrap();
            let mut timer = Timer::new(&machine, true, Nobody).unwrap();
            for pair in points.windows(2) {
                timer.step(&burn(pair[0], pair[1], speed)).unwrap();
            }
            let (sections, both, _) = timer.finish_both().unwrap();
            let own = if curves == "arcs" { arcs_s } else { corners_s };
            prop_assert!((both.arcs_s - arcs_s).abs() < 1e-9 * arcs_s);
            prop_assert!((both.corners_s - corners_s).abs() < 1e-9 * corners_s);
            prop_assert!((sections[0].totals.duration_s() - own).abs() < 1e-9 * own);
        }
    }
}

/// A trapezoid of speed, from the ends of its three parts: the share of its way against the sum of
/// small steps of its speed.
#[test]
fn the_share_done_is_the_speed_summed_up() {
    let dot = still(StepKind::Dot, HOME, 2.0);
    for ([entry, peak, exit], up_s, along_s, down_s) in [
        ([0.0, 50.0, 0.0], 0.05, 0.95, 0.05),
        ([20.0, 50.0, 10.0], 0.3, 0.5, 0.4),
        ([10.0, 50.0, 50.0], 0.4, 0.0, 0.0),
        ([50.0, 50.0, 5.0], 0.0, 0.2, 0.45),
        ([30.0, 30.0, 30.0], 0.0, 0.7, 0.0),
        ([0.0, 40.0, 25.0], 0.8, 0.3, 0.3),
    ] {
        let duration_s = up_s + along_s + down_s;
        let timed = TimedStep {
            step: dot,
            start_s: 3.0,
            duration_s,
            held_by: None,
            speeds_per_s: [entry, peak, exit],
            ramp_s: up_s + down_s,
        };
        let speed = |t: f64| {
            if t < up_s {
                entry + (peak - entry) * t / up_s
            } else if t <= up_s + along_s || down_s == 0.0 {
                peak
            } else {
                peak + (exit - peak) * (t - up_s - along_s) / down_s
            }
        };
        let steps = 20_000;
        let step_s = duration_s / f64::from(steps);
        let middle = |k: u32| speed((f64::from(k) + 0.5) * step_s);
        let whole: f64 = (0..steps).map(middle).sum();
        let mut way = 0.0;
        for k in 0..steps {
            let share = timed.share_done(f64::from(k) * step_s);
            assert!((share - way / whole).abs() < 1e-6, "{:?} {k}: {share}", timed.speeds_per_s);
            way += middle(k);
        }
        assert_eq!((timed.share_done(-1.0), timed.share_done(duration_s + 1.0)), (0.0, 1.0));
    }
    // What stands is done by the clock; what takes no time is done.
    let stands = |duration_s| TimedStep {
        step: dot,
        start_s: 0.0,
        duration_s,
        held_by: None,
        speeds_per_s: [0.0; 3],
        ramp_s: 0.0,
    };
    assert_eq!(stands(2.0).share_done(0.5), 0.25);
    assert_eq!(stands(0.0).share_done(0.5), 1.0);
}
