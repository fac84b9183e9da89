//! The command's pipeline against closed forms: text in, times out.

use proptest::prelude::*;
use stave_plan::TimedStep;
use stave_rig::ROTARY;
use stave_setup::{Curves, Machine, read_blank, read_machine};

use super::*;

/// A machine whose axes all have 500 units/s and the acceleration given.
fn machine(acceleration: f64, counts: &str, tolerance: f64, word: &str) -> Machine {
    let axis = format!("speed = 500.0\nacceleration = {acceleration:?}\n");
    let text = format!(
        "name = \"bench\"\n[controller]\nfeed_counts = \"{counts}\"\ncorner_tolerance = \
         {tolerance:?}\n[x]\n{axis}\
         [y]\n{axis}[z]\n{axis}up = \"away\"\n[rotary]\nword = \"{word}\"\nunits_per_turn = \
                                      360.0\nspeed = 90.0\n\
         acceleration = {acceleration:?}\n"
    );
    read_machine(&text, "bench.toml").unwrap()
}

fn all_axes() -> Machine {
    machine(1000.0, "all-axes", 0.02, "A")
}

fn of(program: &str, machine: &Machine) -> Estimate {
    estimate(Source::program(program.as_bytes()), machine, &Options::default()).unwrap()
}

fn on_wall(program: &str, blank: &Blank, machine: &Machine) -> Estimate {
    let source = Source::program(program.as_bytes());
    estimate(source, TimedOn::Blank(blank, machine), &Options::default()).unwrap()
}

fn seconds(program: &str, machine: &Machine) -> f64 {
    of(program, machine).duration_s
}

/// From rest to rest over `length` at `speed` with the acceleration `a`.
fn alone(length: f64, speed: f64, a: f64) -> f64 {
    if length * a >= speed * speed { length / speed + speed / a } else { 2.0 * (length / a).sqrt() }
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-9 * expected.abs() + 1e-12, "{found}, not {expected}");
}

#[test]
fn f_counts_all_axes_or_the_linear_ones() {
    let program = "G1 X30 A40 F1800\nM2\n";
    // Over all words: 50 units at 30/s; both axes share the acceleration by 3/5 and 4/5, so 1250
    // along the way.
    near(seconds(program, &all_axes()), alone(50.0, 30.0, 1250.0));
    // Over X: 30 mm at 30 mm/s, so 50 units a second.
    let linear = machine(1000.0, "linear-axes", 0.02, "A");
    near(seconds(program, &linear), alone(50.0, 50.0, 1250.0));
    near(of(program, &linear).at_feeds_s, 1.0);
    // It turns: it may have been slowed when it was wrapped.
    assert_eq!(of(program, &linear).nominal_s, None);
    // The rotary alone goes by its own units either way, and no faster than it can.
    near(seconds("G1 A60 F1800\nM2\n", &linear), alone(60.0, 30.0, 1000.0));
    near(seconds("G1 A60 F180000\nM2\n", &linear), alone(60.0, 90.0, 1000.0));
    // On Y the rotary is linear to the controller.
    let by_y = machine(1000.0, "linear-axes", 0.02, "Y");
    near(seconds("G1 X30 Y40 F1800\nM2\n", &by_y), alone(50.0, 30.0, 1250.0));
}

#[test]
fn inverse_time_and_inches() {
    near(seconds("G93\nG1 X30 A40 F60\nM2\n", &all_axes()), 1.0 + 50.0 / 1250.0);
    near(seconds("G20\nG1 X2 F60\nM2\n", &all_axes()), alone(50.8, 25.4, 1000.0));
}

#[test]
fn travels_go_at_the_limits_of_the_axes() {
    near(seconds("G0 X300 A40\nM2\n", &all_axes()), {
        let length = 300_f64.hypot(40.0);
        alone(length, 500.0 * length / 300.0, 1000.0 * length / 300.0)
    });
    let estimate = of("G0 A45\nM2\n", &all_axes());
    near(estimate.travel_s, alone(45.0, 90.0, 1000.0));
    assert_eq!((estimate.burn_s, estimate.at_feeds_s, estimate.moves), (0.0, 0.0, 1));
    assert_eq!(estimate.slowest_axis(), Some(('A', 1.0)));
}

#[test]
fn with_jerk_the_ramps_are_s_shaped() {
    let text = "[x]\nspeed = 100.0\nacceleration = 1000.0\njerk = 20000.0\n[y]\nspeed = \
                100.0\nacceleration = 1000.0\n\
                [rotary]\nword = \"A\"\nunits_per_turn = 360.0\nspeed = 90.0\nacceleration = \
                                   1000.0\n";
    let machine = read_machine(text, "m").unwrap();
    // Each ramp takes v/a + a/j; both halves together cost one of them.
    near(seconds("G0 X50\nM2\n", &machine), 0.5 + 0.1 + 0.05);
}

#[test]
fn what_stops_and_what_does_not() {
    let through = alone(40.0, 50.0, 1000.0);
    let apart = 2.0 * alone(20.0, 50.0, 1000.0);
    for between in
        ["S200", "F3000", "(a word)", "G21", "T3", "G90", "", "G64", "G1", "; more", "(MSG,look)"]
    {
        near(
            seconds(&format!("M4 S100\nG1 X20 F3000\n{between}\nX40\nM2\n"), &all_axes()),
            through,
        );
    }
    for between in ["M5", "M3 S100", "M8", "M123", "$H", "M0", "G4 P0", "M49"] {
        near(
            seconds(&format!("M4 S100\nG1 X20 F3000\n{between}\nG1 X40\nM2\n"), &all_axes()),
            apart,
        );
    }
    near(seconds("G61.1\nG1 X20 F3000\nX40\nM2\n", &all_axes()), apart);
    near(seconds("G61.1\nG61\nG1 X20 F3000\nX40\nM2\n", &all_axes()), through);
    near(seconds("G1 X20 F3000\nX0\nM2\n", &all_axes()), apart);
    // A slight corner: free under G64, a stop under G61 and where the controller rounds nothing.
    let bent = |mode: &str| format!("{mode}\nG1 X20 F3000\nX40 Y0.1\nM2\n");
    let a = 1000.0;
    let second = 20_f64.hypot(0.1);
    near(
        seconds(&bent("G61"), &all_axes()),
        alone(20.0, 50.0, a) + alone(second, 50.0, a * second / 20.0),
    );
    near(
        seconds(&bent("G64"), &machine(a, "all-axes", 0.0, "A")),
        seconds(&bent("G61"), &all_axes()),
    );
    assert!(seconds(&bent("G64"), &all_axes()) < seconds(&bent("G61"), &all_axes()) - 0.04);
}

#[test]
fn dwells_are_added_and_pauses_counted() {
    let estimate = of("M4 S5\nG1 X20 F3000\nG4 P2.5\nM0\nM1\nG1 X20\nM2\n", &all_axes());
    assert_eq!((estimate.dwell_s, estimate.pauses, estimate.moves, estimate.lines), (2.5, 2, 1, 7));
    near(estimate.duration_s, alone(20.0, 50.0, 1000.0) + 2.5);
    near(estimate.duration_s, estimate.burn_s + estimate.travel_s + estimate.dwell_s);
}

#[test]
fn burns_are_told_from_what_is_dark() {
    let estimate =
        of("M4 S5\nG1 X20 F3000\nX50 S0\nG0 X60\nM5\nG1 X80\nM3 S1\nX90\nM2\n", &all_axes());
    assert_eq!(estimate.burn_mm, Some(30.0));
    assert_eq!(estimate.travel_mm, Some(60.0));
    // The travel is entered at 50 mm/s and left at rest, for M5: over 10 mm it peaks at √((50² + 2
    // · 1000 · 10) / 2).
    let peak = 11_250_f64.sqrt();
    near(estimate.duration_s - estimate.feed_s, (2.0 * peak - 50.0) / 1000.0);
    assert_eq!(estimate.moves, 5);
    near(estimate.at_feeds_s, 80.0 / 50.0);
    // A flat program's feeds are what was asked.
    assert_eq!(estimate.nominal_s, Some(estimate.at_feeds_s));
}

#[test]
fn what_cannot_be_timed_is_told_with_its_place() {
    let told = |program: &str| {
        estimate(Source::program(program.as_bytes()), &all_axes(), &Options::default())
            .unwrap_err()
            .to_string()
    };
    insta::assert_snapshot!(told("M4 S1\nG1 X4\nM2\n"), @r"
    standard input:2:4: this burns, but no feed rate has been given; write an F word before it
      G1 X4
         ^
    ");
    insta::assert_snapshot!(told("G1 X4 B3 F100\nM2\n"), @r#"
    standard input:1:7: the program moves B, and the rotary of "bench" has the word A: it was made for another machine; take the machine file it was made for, or wrap it anew
      G1 X4 B3 F100
            ^
    "#);
    // What is dark goes at the axes' limits without one, as `wrap` lays it.
    near(seconds("G1 X4\nM2\n", &all_axes()), alone(4.0, 500.0, 1000.0));
    let flat = "standard input: line 1 says tilt=flat, which cannot be meant";
    assert_eq!(told("(stave wrapped 1 tilt=flat)\nM2\n"), flat);
}

#[test]
fn z_without_limits_is_noted() {
    let text = "[x]\nspeed = 100.0\nacceleration = 1000.0\n[y]\nspeed = 100.0\nacceleration = \
                1000.0\n\
                [rotary]\nword = \"A\"\nunits_per_turn = 360.0\nspeed = 90.0\nacceleration = \
                                   1000.0\n";
    let estimate = of("G1 X10 Z5 F600\nM2\n", &read_machine(text, "m.toml").unwrap());
    assert_eq!(estimate.warnings, ["Z moves, and \"m\" has no [z]: no limits of Z are counted"]);
}

#[test]
fn sections_go_from_comment_to_comment() {
    let program = "(stave wrapped 1 blank=b machine=bench tilt=0 place=0,0 zero=0,0)\n\
                   (CAUTION: laser light blinds and sets fire. Never leave a running job)\n\
                   G21\nM4 S0\nG0 X5\n\
                   (crest)\nG1 X10 S9 F600\n(nothing here)\n; rim\nG1 X30\nG4 P1\nM2\n";
    let estimate = of(program, &all_axes());
    let sections: Vec<_> =
        estimate.operations.iter().map(|s| (s.name.as_str(), s.line, s.moves)).collect();
    assert_eq!(sections, [("", 5, 1), ("crest", 7, 1), ("rim", 10, 1)]);
    assert_eq!(estimate.operations[2].dwell_s, 1.0);
    near(estimate.operations.iter().map(|s| s.duration_s).sum(), estimate.duration_s);
    near(estimate.operations.iter().map(|s| s.burn_s).sum(), estimate.burn_s);
}

#[test]
fn endless_sections_end_in_one() {
    let lines: String = (1..=1500).map(|k| format!("(row {k})\nX{k}\n")).collect();
    let estimate = of(&format!("F600\nG1\n{lines}M2\n"), &all_axes());
    assert_eq!(estimate.operations.len(), 1001);
    assert_eq!(estimate.operations[999].name, "row 1000");
    assert_eq!(
        (estimate.operations[1000].name.as_str(), estimate.operations[1000].moves),
        ("all that follows", 500)
    );
    assert_eq!(estimate.moves, 1500);
}

#[test]
fn lengths_are_those_on_the_wall() {
    let cone = read_blank(
        "name = \"cone\"\n[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 40\ndiameter = \
         140\n",
        "cone.toml",
    )
    .unwrap();
    let program = "(stave wrapped 1 blank=cone machine=bench tilt=0 place=0,0 zero=0,0)\n\
                   M4 S5\nG1 A90 F600\nX40\nM2\n";
    let estimate = on_wall(program, &cone, &all_axes());
    // A quarter of the foot, and the side of the cone, 50 mm.
    near(estimate.burn_mm.unwrap(), 20.0 * std::f64::consts::PI + 50.0);
    near(
        estimate.surface_speed_mean_mm_per_s.unwrap(),
        estimate.burn_mm.unwrap() / estimate.burn_s,
    );
    // X at 10 mm/s is 12.5 on the side; the turn at 10 degrees/s is 40 π/18 mm/s at the foot.
    near(estimate.surface_speed_max_mm_per_s.unwrap(), 12.5);
    // The blank unknown, lengths are; times are not.
    let blind = of(program, &all_axes());
    assert_eq!(
        (blind.burn_mm, blind.travel_mm, blind.surface_speed_max_mm_per_s),
        (None, None, None)
    );
    near(blind.duration_s, estimate.duration_s);
    // Any rotary program will do: zero at the first station, no tilt.
    let foreign = program.split_once('\n').unwrap().1;
    let same = on_wall(foreign, &cone, &all_axes());
    near(same.burn_mm.unwrap(), estimate.burn_mm.unwrap());
    let mut other = all_axes();
    other.name = "another".into();
    let warned = on_wall(program, &cone, &other);
    assert_eq!(
        warned.warnings,
        ["the program was wrapped for the machine \"bench\", and this one is \"another\""]
    );
}

#[test]
fn a_rotary_on_y_has_its_own_limits_once_wrapped() {
    let machine = machine(1000.0, "all-axes", 0.02, "Y");
    let flat = "G0 Y90\nM2\n";
    near(seconds(flat, &machine), alone(90.0, 500.0, 1000.0));
    let wrapped = format!("(stave wrapped 1 tilt=0 place=0,0 zero=0,0)\n{flat}");
    near(seconds(&wrapped, &machine), alone(90.0, 90.0, 1000.0));
}

#[test]
fn every_move_is_handed_on_with_its_time() {
    let program = "M4 S5\nG1 X20 F3000\nX20\nG4 P3\nG2 X40 Y0 I10 J0\nG0 A90\nG1 A180 F60000\nM2\n";
    let machine = all_axes();
    let mut moves: Vec<TimedStep> = Vec::new();
    let follow = |one: &TimedStep| moves.push(*one);
    let timer = Timer::new(&machine, true, follow).unwrap();
    let mut run = Finished::new(&machine, Known::Flat, false, false, timer);
    gcode::read(program.as_bytes(), &gcode::ReadOptions::default(), &mut run).unwrap();
    drop(run.sink.finish().unwrap());
    let estimate = of(program, &machine);
    near(moves.iter().map(|m| m.duration_s).sum::<f64>() + 3.0, estimate.duration_s);
    assert_eq!(moves[0].step.line, 2);
    near(moves[0].step.time_s, 0.4);
    let arc: Vec<_> = moves.iter().filter(|m| m.step.line == 5).collect();
    assert!(arc.len() > 4);
    near(arc[0].start_s, moves[0].duration_s + 3.0);
    near(arc.iter().map(|m| m.step.time_s).sum(), std::f64::consts::PI * 10.0 / 50.0);
    assert!(!arc[0].step.joined && arc[1..].iter().all(|m| m.step.joined));
    for pair in moves[1..].windows(2) {
        near(pair[0].start_s + pair[0].duration_s, pair[1].start_s);
        assert_eq!(pair[0].step.to, pair[1].step.from);
    }
    let last = moves.last().unwrap();
    assert_eq!((last.step.line, last.held_by), (7, Some(ROTARY)));
    assert_eq!(last.step.to.words[ROTARY], 180.0);
    assert!(moves[..moves.len() - 1].iter().all(|m| m.held_by.is_none()));
}

/// A circle of radius 20 mm in chords, begun and ended on it at full speed by lead-ins along the
/// tangent.
fn chords(count: u32, feed: f64) -> String {
    use std::fmt::Write;
    let mut program = format!("G0 X20 Y-80\nM4 S1\nG1 Y0 F{feed}\n(circle)\n");
    for k in 1..=count {
        let a = std::f64::consts::TAU * f64::from(k) / f64::from(count);
        writeln!(program, "X{:.9} Y{:.9}", 20.0 * a.cos(), 20.0 * a.sin()).unwrap();
    }
    program + "(away)\nY80\nM2\n"
}

#[test]
fn a_circle_of_2000_chords_is_centripetal_where_the_tolerance_is_a_chords_sagitta() {
    let half = std::f64::consts::PI / 2000.0;
    let sagitta = 20.0 * (1.0 - half.cos());
    let (a, r) = (1000.0_f64, 20.0);
    let circle = |tolerance: f64, curves: Curves| {
        let mut machine = machine(a, "all-axes", tolerance, "A");
        machine.controller.curves = curves;
        let estimate = of(&chords(2000, 30_000.0), &machine);
        estimate.operations.iter().find(|s| s.name == "circle").unwrap().duration_s
    };
    // v² = a r δ cos(α/2) / k where n lies along an axis, up to √2 a between: n turns with the
    // circle, and so does a_n = a / max |n_i|. The mean of 1/√a_n over an eighth of a turn, against
    // 1/√a, is that of √cos from 0 to 45 degrees.
    let eighth = std::f64::consts::FRAC_PI_4;
    let mean =
        (0..1000).map(|k| ((f64::from(k) + 0.5) / 1000.0 * eighth).cos().sqrt()).sum::<f64>()
            / 1000.0;
    // Four times the tolerance asks for more change of speed between the axes than they have; with
    // a quarter of it the circle is entered and left faster than it is run.
    for (share, within) in [(1.0_f64, 1e-3), (0.25, 4e-3), (4.0, 6e-3)] {
        // Where curves are curves no tolerance makes it faster than centripetal.
        for (curves, share_of_speed) in [(Curves::Corners, share), (Curves::Arcs, share.min(1.0))] {
            let v = (a * r * share_of_speed).sqrt();
            let closed = std::f64::consts::TAU * r / v * mean;
            let found = circle(sagitta * share, curves);
            assert!((found / closed - 1.0).abs() < within, "{share}: {found}, not {closed}");
        }
    }
}

#[test]
fn an_arc_is_run_at_the_centripetal_speed() {
    // The same circle as one G3, whatever the tolerance: chords of just that sagitta.
    let arc = |tolerance: f64, mode: &str| {
        let program = format!(
            "{mode}\nG0 X20 Y-80\nM4 S1\nG1 Y0 F30000\n(circle)\nG3 I-20 J0\n(away)\nG1 Y80\nM2\n"
        );
        let estimate = of(&program, &machine(1000.0, "all-axes", tolerance, "A"));
        assert!((estimate.burn_mm.unwrap() - (160.0 + 40.0 * std::f64::consts::PI)).abs() < 1e-9);
        estimate.operations.iter().find(|s| s.name == "circle").unwrap().duration_s
    };
    let whole = std::f64::consts::TAU * (20.0_f64 / 1000.0).sqrt();
    for tolerance in [1e-4, 1e-3, 0.01, 0.05] {
        let found = arc(tolerance, "G64");
        assert!(found < whole && found > 0.9 * whole, "{tolerance}: {found} {whole}");
    }
    // Kept exactly it begins and ends at rest, and is run on in between.
    for found in [arc(0.0, "G64"), arc(0.01, "G61")] {
        assert!(found > 0.9 * whole && found < 1.25 * whole, "{found} {whole}");
    }
}

/// Words of straight moves, each cut in so many pieces, with lines between that move nothing.
fn program(moves: &[(f64, f64, f64, bool)], pieces: &[u32], idle: &[&str]) -> String {
    use std::fmt::Write;
    let mut text = String::from("G21 G90 F6000\nM4 S9\n");
    let mut from = (0.0, 0.0, 0.0);
    for (k, (x, y, a, travel)) in moves.iter().enumerate() {
        let n = pieces[k % pieces.len()];
        for piece in 1..=n {
            let t = f64::from(piece) / f64::from(n);
            let at = |from: f64, to: f64| from + (to - from) * t;
            let word = if *travel { "G0" } else { "G1" };
            let (x, y, a) = (at(from.0, *x), at(from.1, *y), at(from.2, *a));
            writeln!(text, "{word} X{x:.11} Y{y:.11} A{a:.11}").unwrap();
            if n > 1 {
                writeln!(text, "{}", idle[(k + piece as usize) % idle.len()]).unwrap();
            }
        }
        from = (*x, *y, *a);
    }
    text + "M2\n"
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn splitting_and_words_that_move_nothing_change_no_time(
        moves in prop::collection::vec(
            (-40.0..40.0_f64, -40.0..40.0_f64, -90.0..90.0_f64, prop::bool::ANY), 1..25),
        pieces in prop::collection::vec(1..8_u32, 25),
        counts in prop::sample::select(vec!["all-axes", "linear-axes"]),
        tolerance in prop::sample::select(vec![0.005, 0.02, 0.5]),
    ) {
        let machine = machine(800.0, counts, tolerance, "A");
        let whole = of(&program(&moves, &[1], &[""]), &machine);
        let idle = ["G21", "(a comment)", "S9", "G1", "", "F6000", "G90 G64", "N5", "; end of \
            line", "T1"];
        let split = of(&program(&moves, &pieces, &idle), &machine);
        prop_assert!((whole.duration_s - split.duration_s).abs() < 1e-6 * whole.duration_s, "{} \
            {}", whole.duration_s, split.duration_s);
        prop_assert!((whole.burn_mm.unwrap_or(0.0) - split.burn_mm.unwrap_or(0.0)).abs() < 1e-6);
        prop_assert!((whole.at_feeds_s - split.at_feeds_s).abs() < 1e-6 * whole.at_feeds_s + 1e-9);
    }
}

#[test]
fn sums_add_up() {
    let one = of("(a)\nM4 S1\nG1 X20 F3000\nG4 P1\nM0\nM2\n", &all_axes());
    let two = of("(b)\nM4 S1\nG1 A20 F3000\nG0 A0\nM2\n", &all_axes());
    let sum = Estimate::sum(&[one.clone(), two.clone()]);
    near(sum.duration_s, one.duration_s + two.duration_s);
    assert_eq!((sum.moves, sum.lines, sum.pauses, sum.dwell_s), (3, 11, 1, 1.0));
    // The second one's lengths are not known, so those of both are not.
    assert_eq!((sum.burn_mm, sum.surface_speed_mean_mm_per_s), (None, None));
    assert_eq!(sum.operations.len(), 2);
    let (x, a) = (one.axes[0].bound_s, two.axes[0].bound_s);
    let bound: Vec<_> = sum.axes.iter().map(|axis| (axis.axis, axis.bound_s)).collect();
    assert_eq!(bound, [('X', x), ('A', a)]);
    let feed = one.feed_s + two.feed_s;
    near(
        sum.below_asked_share,
        (one.below_asked_share * one.feed_s + two.below_asked_share * two.feed_s) / feed,
    );
}

#[test]
fn an_estimate_with_its_quote_as_json() {
    let one = "(crest)\nM4 S9\nG1 X400 F600\nG0 X0\n(rim)\nG1 X200 Y3 F1200\nM0\nG4 P70\nM2\n";
    let one = Source::program(one.as_bytes()).named("crest.nc");
    let one = estimate(one, &all_axes(), &Options::default()).unwrap();
    let terms = Terms { pieces: 2, rate_per_hour: Some(30.0), ..Terms::default() };
    insta::assert_snapshot!(
        "json",
        estimates_to_json(std::slice::from_ref(&one), Some(&Quote::new(one.duration_s, &terms)))
            .unwrap()
    );
}
