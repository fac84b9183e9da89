//! Any program on any wall: random ones, replayed, and shrunk to the least that fails.

use crate::case::Case;
use crate::command::fixture;
use crate::lay::{LAYS, LayKind};
use crate::program;
use crate::replay::{Also, fewest, replay};
use proptest::prelude::*;
use stave_tests::cases;
use std::fmt::Write;

/// One step of a flat program. Lengths in thousandths of a mm.
#[derive(Clone, Debug)]
enum Step {
    Travel(i32, i32),
    Line(i32, i32),
    /// A short step from where the program stands.
    Nudge(i32, i32),
    /// An arc to a point a chord away, by radius as a share of the half chord, the short or the
    /// long way round.
    Arc {
        to: (i32, i32),
        bulge: f64,
        clockwise: bool,
        long: bool,
    },
    /// A full circle about a point at this offset.
    Circle(i32, i32, bool),
    Power(u32),
    Feed(u32),
}

fn point() -> impl Strategy<Value = (i32, i32)> {
    (0..40_000, -40_000..40_000)
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        2 => point().prop_map(|(x, y)| Step::Travel(x, y)),
        4 => point().prop_map(|(x, y)| Step::Line(x, y)),
        3 => (-900..900, -900..900).prop_map(|(x, y)| Step::Nudge(x, y)),
        2 => (point(), 1.02_f64..6.0, any::<bool>(), any::<bool>())
            .prop_map(|(to, bulge, clockwise, long)| Step::Arc { to, bulge, clockwise, long }),
        1 => (-6000..6000, -6000..6000, any::<bool>())
            .prop_map(|(i, j, clockwise)| Step::Circle(i, j, clockwise)),
        1 => (0_u32..1000).prop_map(Step::Power),
        1 => (60_u32..20_000).prop_map(Step::Feed),
    ]
}

/// The steps as a program; what would leave 0 to 45 mm along or 50 mm either way is left out.
fn text(steps: &[Step]) -> String {
    let mut text = String::from("G21 G90 G17\nM4 S500\nF3000\n");
    let mm = |n: i32| f64::from(n) / 1000.0;
    let (mut x, mut y) = (0, 0);
    for step in steps {
        let (x0, y0) = (x, y);
        let mut go = |word: &str, to: (i32, i32)| {
            writeln!(text, "{word} X{} Y{}", mm(to.0), mm(to.1)).unwrap();
            (x, y) = to;
        };
        match *step {
            Step::Travel(a, b) => go("G0", (a, b)),
            Step::Line(a, b) => go("G1", (a, b)),
            Step::Nudge(a, b) => {
                let to = ((x0 + a).clamp(0, 40_000), (y0 + b).clamp(-40_000, 40_000));
                go("G1", to);
            }
            Step::Arc { to, bulge, clockwise, long } => {
                let half = (mm(to.0) - mm(x)).hypot(mm(to.1) - mm(y)) / 2.0;
                // A circle through both ends must stay on the wall, whichever way round.
                let radius = half * bulge;
                let middle = (mm(x).midpoint(mm(to.0)), mm(y).midpoint(mm(to.1)));
                let reach = if long { 2.0 * radius } else { half };
                let inside = middle.0 - reach > 0.0
                    && middle.0 + reach < 45.0
                    && middle.1.abs() + reach < 50.0;
                if half > 0.05 && inside {
                    let sign = if long { -1.0 } else { 1.0 };
                    let word = if clockwise { "G2" } else { "G3" };
                    writeln!(text, "{word} X{} Y{} R{:.5}", mm(to.0), mm(to.1), sign * radius)
                        .unwrap();
                    (x, y) = to;
                }
            }
            Step::Circle(i, j, clockwise) => {
                let radius = mm(i).hypot(mm(j));
                let centre = (mm(x + i), mm(y + j));
                let inside = centre.0 - radius > 0.0
                    && centre.0 + radius < 45.0
                    && centre.1.abs() + radius < 50.0;
                if radius > 0.05 && inside {
                    let word = if clockwise { "G2" } else { "G3" };
                    writeln!(text, "{word} X{} Y{} I{} J{}", mm(x), mm(y), mm(i), mm(j)).unwrap();
                }
            }
            Step::Power(s) => writeln!(text, "S{s}").unwrap(),
            Step::Feed(f) => writeln!(text, "F{f}").unwrap(),
        }
    }
    text.push_str("M5\nM2\n");
    text
}

/// A wall as a blank file: stations at least 1.5 mm apart that never rise or fall by more than
/// about 60 degrees.
fn blank() -> impl Strategy<Value = String> {
    let step = (1.5_f64..30.0, -1.7_f64..1.7);
    (any::<bool>(), 20.0_f64..50.0, proptest::collection::vec(step, 1..7)).prop_map(
        |(straight, first, steps)| {
            let mut stations = vec![(-12.5, first)];
            for (dz, slope) in steps {
                let (z, r) = stations[stations.len() - 1];
                let next: f64 = r + dz * slope;
                stations.push((z + dz, if (12.0..70.0).contains(&next) { next } else { r }));
            }
            // Room for the art, whatever the stations gave.
            let (z, r) = stations[stations.len() - 1];
            stations.push((z + 150.0, r));
            let mut text = format!(
                "name = \"any\"\nwall = \"{}\"\n",
                if straight { "straight" } else { "smooth" }
            );
            for (z, r) in stations {
                write!(text, "[[station]]\nat = {z:.3}\ndiameter = {:.3}\n", 2.0 * r).unwrap();
            }
            text
        },
    )
}

#[derive(Clone, Debug)]
struct Setting {
    lay: LayKind,
    machine: &'static str,
    tilt: f64,
    tolerance: f64,
    anchor: Option<(f64, f64)>,
    zero: Option<(f64, f64)>,
    toward_minus: bool,
}

fn setting() -> impl Strategy<Value = Setting> {
    let point = |a: std::ops::Range<i32>, b: std::ops::Range<i32>| {
        proptest::option::of((a, b).prop_map(|(a, b)| (f64::from(a) / 8.0, f64::from(b) / 8.0)))
    };
    (
        (0..3_usize).prop_map(|k| LAYS[k]),
        prop_oneof![Just("degrees"), Just("swapped"), Just("roller")],
        (-40..40_i32).prop_map(|t| f64::from(t) / 4.0),
        prop_oneof![Just(0.003), Just(0.01), Just(0.02), Just(0.05)],
        point(0..300, -200..200),
        point(-80..500, -700..700),
        any::<bool>(),
    )
        .prop_map(|(lay, machine, tilt, tolerance, anchor, zero, toward_minus)| Setting {
            lay,
            machine,
            tilt,
            tolerance,
            anchor,
            zero,
            toward_minus,
        })
}

/// The program lands where it should, in few moves.
fn holds(blank: &str, setting: &Setting, text: &str) -> Result<(), TestCaseError> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("any.toml");
    std::fs::write(&path, blank).unwrap();
    // The art begins 5 mm up the wall; an anchored true-shape may stretch it to the very end,
    // which is then refused.
    let case = Case {
        blank: path,
        machine: fixture(&format!("machines/{}.toml", setting.machine)),
        lay: setting.lay,
        anchor: setting.anchor,
        tilt: setting.tilt,
        tolerance: setting.tolerance,
        place: (-7.5, 40.0),
        zero: setting.zero,
        toward_minus: setting.toward_minus,
        even_dose: false,
        follow: false,
    };
    let outcome = case.wrap(text);
    if outcome.status == Some(1) {
        // Off the wall or out of reach: only where the wall is steep or the lay stretches.
        prop_assert!(
            outcome.err.contains("steeper") || outcome.err.contains("off the wall"),
            "{}",
            outcome.err
        );
        return Ok(());
    }
    prop_assert_eq!(outcome.status, Some(0), "{}\n{}", outcome.err, text);
    let (bench, flat) = (case.bench(), program::read(text));
    let wrapped = program::read(outcome.out_text());
    let report = replay(&bench, &flat, &wrapped, Also { power: true, focus: false });
    prop_assert_eq!(report.fault_count, 0, "{:#?}\n{}", report.faults, text);
    let fewest = fewest(&bench, &flat);
    prop_assert!(
        report.burns as f64 <= 1.1 * fewest as f64 + 2.0,
        "{} burns where greedy cutting gives {fewest}\n{text}",
        report.burns
    );
    Ok(())
}

/// Smooth walls with a short steep span, on which too many moves were made: the bounds tell little
/// there.
#[test]
fn a_short_steep_span_costs_few_moves() {
    let blank = |stations: &[(f64, f64)]| {
        let mut text = String::from("name = \"any\"\nwall = \"smooth\"\n");
        for (at, diameter) in stations {
            write!(text, "[[station]]\nat = {at}\ndiameter = {diameter}\n").unwrap();
        }
        text
    };
    let setting = |lay, tilt, tolerance, anchor| Setting {
        lay,
        machine: "degrees",
        tilt,
        tolerance,
        anchor,
        zero: None,
        toward_minus: false,
    };
    let program = |moves: &str| format!("G21 G90 G17\nM4 S500\nF3000\n{moves}M5\nM2\n");
    let edge = blank(&[(-12.5, 91.399), (-5.487, 99.628), (144.513, 99.628)]);
    let bulge = blank(&[
        (-12.5, 43.702),
        (15.431, 100.419),
        (39.433, 75.581),
        (40.933, 75.052),
        (47.703, 52.679),
        (197.703, 52.679),
    ]);
    let through_edge = "G1 X38.728 Y25.431\nG0 X0.526 Y-6.307\nG1 X20.068 Y-25.896\n";
    let over_bulge = "G0 X35.765 Y19.809\nG1 X11.863 Y4.407\nG0 X25.068 Y9.757\n\
                      G1 X7.321 Y24.109\nG0 X2.751 Y0\nG0 X0 Y0\n";
    let even_angle = setting(LayKind::EvenAngle, -7.0, 0.01, None);
    let true_shape = setting(LayKind::TrueShape, -9.75, 0.05, Some((6.0, 0.0)));
    for (blank, setting, moves) in
        [(edge, even_angle, through_edge), (bulge, true_shape, over_bulge)]
    {
        holds(&blank, &setting, &program(moves)).unwrap();
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        max_shrink_iters: 2000,
        ..cases(40)
    })]

    #[test]
    fn any_program_lands_where_it_should(
        blank in blank(),
        setting in setting(),
        steps in proptest::collection::vec(step(), 1..30),
    ) {
        holds(&blank, &setting, &text(&steps))?;
    }
}
