//! `stave measure`: readings and side views in, blanks out.

use crate::command::{fixture, run, run_in};
use crate::meridian::Meridian;
use crate::settings;

/// The wall of a blank file's text, by these tests' own reader.
fn wall(blank: &str) -> Meridian {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("blank.toml");
    std::fs::write(&path, blank).unwrap();
    settings::wall(&path)
}

fn worst_off(blank: &str, of: &Meridian, from: f64, to: f64) -> f64 {
    let found = wall(blank);
    let at = (0..=200).map(|k| from + (to - from) * f64::from(k) / 200.0);
    at.map(|at| (found.at_z(at).r - of.at_z(at).r).abs()).fold(0.0, f64::max)
}

#[test]
fn the_bottle_from_caliper_and_tape() {
    let readings = fixture("measured/bottle.txt");
    let outcome =
        run(&["measure", readings.to_str().unwrap(), "--name", "stepped bottle"], b"").done();
    let bottle = settings::wall(&fixture("blanks/bottle.toml"));
    assert!(worst_off(outcome.out_text(), &bottle, 0.0, 175.0) < 0.02);
    insta::assert_snapshot!(outcome.err, @"
          at   diameter   by        readings   ± mm   ± by its place
           0         66   caliper          3   0.06             0.02
          40       67.5   caliper          3   0.06             0.03
          95         70   caliper          3   0.06             1.51
         101         86   caliper          3   0.06             1.51
         140         88   tape             3   0.18             0.03
         175       88.5   tape             3   0.18             0.01
    Lengths are mm. A wrap all round closes to ±0.57 mm, if the readings are
    what they should be.
    note: ± holds 95 in 100, from a caliper of ±0.05 mm, a tape of ±0.5 mm around and a place \
        known to ±0.5 mm, and from how far repeated readings scatter
    ");
    insta::assert_snapshot!(outcome.out_text());
}

#[test]
fn readings_that_look_wrong_are_named() {
    let readings = b"# digits swapped at 60, a tape across the step, one of three misread at the \
                     rim\n\
        0 diameter 66.0\n20 diameter 66.8\n40 diameter 67.5\n60 diameter 86.4\n\
        80 diameter 69.3\n95 diameter 70\n98 circumference 249\n101 diameter 86\n\
        120 diameter 87\n140 diameter 88\n160 diameter 88.3\n175 diameter 88.5 88.6 83.5\n";
    let outcome = run(&["measure"], readings).done();
    let wrong: Vec<&str> =
        outcome.err.lines().filter(|line| line.starts_with("looks wrong")).collect();
    insta::assert_snapshot!(wrong.join("\n"), @"
    looks wrong: at 175 mm: its 3 readings lie 5.1 mm of diameter apart: the diameter of 83.5 mm \
        is likely misread, or of another place, and left out; or the ware is not round: read it \
        around the turn, `AT @ TURN diameter`, at 0, 60 and 120 degrees
    looks wrong: at 60 mm: a diameter of 86.4 mm lies off the trend: by its neighbours it would be \
        near 68.4 mm; measure it again
    looks wrong: at 98 mm: a tape cannot lie flat here: under its 10 mm the wall's diameter \
        changes by 16.2 mm, and it bears on the widest, 6.85 mm more than at its middle; use a \
        caliper, or tape where the wall is even
    ");
    assert_eq!(outcome.out_text().matches("# Looks wrong").count(), 3, "{}", outcome.out_text());
}

/// A radius that was read three times is still half of what it should be, and what was misread once
/// of three times is not in the blank.
#[test]
fn reading_again_cures_no_slip() {
    let readings = b"0 diameter 37.5 37.51 37.5\n40 diameter 75 75.02 75\n60 diameter 75 7.5 75\n\
        80 diameter 75 75.01 75\n100 diameter 75 74.99 75\n120 diameter 75 75.01 75\n";
    let outcome = run(&["measure"], readings).done();
    assert!(outcome.err.contains("at 0 mm: a diameter of 37.5 mm is near half"), "{}", outcome.err);
    assert!(outcome.err.contains("its readings agree, so see how"), "{}", outcome.err);
    assert!(outcome.err.contains("the diameter of 7.5 mm is likely misread"), "{}", outcome.err);
    assert!(outcome.out_text().contains("at = 60\ndiameter = 75\n"), "{}", outcome.out_text());
}

/// Who says so below readings means those above too.
#[test]
fn units_are_said_before_the_readings() {
    let late = run(&["measure"], b"0 diameter 2.6\nunits in\n2 diameter 2.7\n");
    assert_eq!(late.status, Some(2), "{}", late.err);
    assert!(late.err.contains("standard input:2:1: `units` must stand before"), "{}", late.err);
    let first = run(&["measure"], b"units in\n0 diameter 2.5\n4 diameter 3\n").done();
    assert!(first.out_text().contains("at = 101.6\ndiameter = 76.2\n"), "{}", first.out_text());
}

#[test]
fn inches_and_options() {
    let arguments =
        ["measure", "--units", "in", "--diameter", "0=2.5", "--circumference", "4.5=10.9956"];
    let outcome = run(&arguments, b"").done();
    let cup = settings::wall(&fixture("blanks/cup.toml"));
    assert!(worst_off(outcome.out_text(), &cup, 0.0, 114.3) < 1e-3, "{}", outcome.out_text());
    // The cup's side stands at 6 degrees: a tape bears on its wide edge there.
    assert!(outcome.err.contains("at 114.3 mm: a tape cannot lie flat here"), "{}", outcome.err);
}

#[test]
fn a_side_view_with_a_handle() {
    let view = fixture("measured/bottle-side.svg");
    let view = view.to_str().unwrap();
    let bottle = settings::wall(&fixture("blanks/bottle.toml"));
    for known in ["rule=100", "height=175"] {
        let arguments =
            ["measure", "--outline", view, "--known", known, "--side", "left", "--within", "0.05"];
        let outcome = run(&arguments, b"").done();
        assert!(
            worst_off(outcome.out_text(), &bottle, 0.0, 175.0) < 0.08,
            "{}",
            outcome.out_text()
        );
        assert!(!outcome.err.contains("looks wrong"), "{}", outcome.err);
    }
    let both = run(&["measure", "--outline", view, "--known", "height=175"], b"").done();
    assert!(
        both.err.contains("where one shows a handle, take the other with --side"),
        "{}",
        both.err
    );
    let smooth = run(
        &[
            "measure",
            "--outline",
            view,
            "--known",
            "rule=100",
            "--side",
            "left",
            "--wall",
            "smooth",
        ],
        b"",
    );
    assert!(smooth.done().err.contains("take --wall straight"));
}

#[test]
fn a_side_view_lying_and_leaning() {
    // A cone from 60 to 80 mm over 100, lying, its wide end to the right, leaning by 2 degrees,
    // drawn true.
    let corners =
        [(0.0, 30.0), (100.0, 40.0), (100.0, -40.0), (0.0, -30.0)].map(|(x, y): (f64, f64)| {
            let (sin, cos) = 2_f64.to_radians().sin_cos();
            format!("{:.5},{:.5}", 20.0 + x * cos - y * sin, 60.0 + x * sin + y * cos)
        });
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='150mm' height='130mm' viewBox='0 0 150 \
         130'><polygon points='{}'/></svg>",
        corners.join(" ")
    );
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("cone.svg"), svg).unwrap();
    let arguments = [
        "measure",
        "--outline",
        "cone.svg",
        "--known",
        "width=80",
        "--stands",
        "lying",
        "-o",
        "cone.toml",
    ];
    let outcome = run_in(folder.path(), &arguments, b"").done();
    assert!(outcome.err.contains("the axis leans by "), "{}", outcome.err);
    let blank = std::fs::read_to_string(folder.path().join("cone.toml")).unwrap();
    assert!(blank.contains("name = \"cone\""), "{blank}");
    let cone = Meridian::new(&[(0.0, 30.0), (100.0, 40.0)], true);
    assert!(worst_off(&blank, &cone, 1.0, 99.0) < 0.3, "{blank}");
}

#[test]
fn what_was_measured_can_be_wrapped_on() {
    let folder = tempfile::tempdir().unwrap();
    let readings = fixture("measured/bottle.txt");
    run_in(folder.path(), &["measure", readings.to_str().unwrap(), "-o", "b.toml"], b"").done();
    let machine = fixture("machines/degrees.toml");
    let arguments = ["wrap", "-b", "b.toml", "-m", machine.to_str().unwrap(), "--place-at", "40"];
    run_in(folder.path(), &arguments, b"M4 S9\nG1 X20 F600\nM5\nM2\n").done();
}

#[test]
fn what_cannot_be_meant() {
    let view = fixture("measured/bottle-side.svg");
    let view = view.to_str().unwrap();
    let cases: [(&[&str], &str, &str); 12] = [
        (&[], "", "at least two stations, but the readings are of 0 places"),
        (&["--diameter", "0=66"], "", "at least two stations, but the readings are of 1 place"),
        (&["--diameter", "66"], "", "--diameter: \"66\" is given, but must be AT=VALUE"),
        (&["-"], "0 diameter 66\n0 radius 5\n", "standard input:2:3: \"radius\" stands here"),
        (&["-"], "0 diameter inf\n", "\"inf\" is no length"),
        (&["no-such-file"], "", "cannot read no-such-file"),
        (&["--diameter", "0=6", "--tape-error", "-1"], "", "--tape-error"),
        (&["--outline", view], "", "--known"),
        (
            &["--outline", view, "--known", "175"],
            "",
            "must be height=LENGTH, width=LENGTH or ID=LENGTH",
        ),
        (&["--outline", view, "--known", "height=0"], "", "the length must be more than 0"),
        (
            &["--outline", view, "--known", "height=175", "--id", "rule"],
            "",
            "no extent along the axis or across it",
        ),
        (&["--outline", view, "--known", "oar=175"], "", "no drawn element has the id \"oar\""),
    ];
    for (arguments, input, expected) in cases {
        let outcome = run(&[&["measure"], arguments].concat(), input.as_bytes());
        assert_eq!(outcome.status, Some(2), "{arguments:?}: {}", outcome.err);
        assert!(outcome.err.contains(expected), "{arguments:?}: {}", outcome.err);
        assert!(outcome.out.is_empty(), "{arguments:?}");
    }
}

#[test]
fn a_name_that_no_file_takes_is_refused() {
    let readings = b"0 diameter 60\n40 diameter 60\n";
    for name in ["", "a\nb"] {
        let outcome = run(&["measure", "--name", name, "-"], readings);
        assert_eq!(outcome.status, Some(2), "{}", outcome.err);
        assert!(outcome.err.contains("--name: must be a text of 1 to 200"), "{}", outcome.err);
    }
    let quoted = run(&["measure", "--name", "the \"tin\" \\ lid", "-"], readings).done();
    assert!(quoted.out_text().contains(r#"name = "the \"tin\" \\ lid""#), "{}", quoted.out_text());
}
