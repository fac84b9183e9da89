//! `stave place`: where the piece really lies, planted and found again.

use crate::command::{fixture, run_in};
use serde_json::Value;
use std::path::Path;

/// `place` on a can of 60 mm: its words are its places, X along and A around.
fn place(folder: &Path, points: &str, more: &[&str]) -> crate::command::Outcome {
    std::fs::write(folder.join("points.txt"), points).unwrap();
    let can = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n";
    std::fs::write(folder.join("can.toml"), can).unwrap();
    let bench = fixture("machines/degrees.toml");
    let setup = ["place", "points.txt", "-b", "can.toml", "-m", bench.to_str().unwrap()];
    run_in(folder, &[&setup[..], more].concat(), b"")
}

fn json(folder: &Path, points: &str, more: &[&str]) -> Value {
    let outcome = place(folder, points, &[more, &["--json"]].concat()).done();
    serde_json::from_str(outcome.out_text()).unwrap()
}

fn near(found: &Value, expected: f64, within: f64) {
    let found = found.as_f64().unwrap();
    assert!((found - expected).abs() <= within, "{found} is not {expected}");
}

/// The rotary word of so many mm around a can of 60 mm.
fn around(mm: f64) -> f64 {
    mm / 30.0 * 180.0 / std::f64::consts::PI
}

#[test]
fn a_planted_place_is_found_again() {
    let folder = tempfile::tempdir().unwrap();
    let points = format!(
        "# a print of two marks\ndrawn 5 -8 met X{} A{}\ndrawn 45mm 10 met a{} x{}\n",
        5.0 + 31.5,
        around(-8.0) + 20.0,
        around(10.0) + 20.0,
        45.0 + 31.5
    );
    for lay in ["true-width", "even-angle", "true-shape", "label"] {
        let found = json(folder.path(), &points, &["--lay", lay]);
        near(&found["at"], 31.5, 1e-6);
        near(&found["turn_deg"], 20.0, 1e-6);
        near(&found["second_turn_deg"], -160.0, 1e-6);
        near(&found["error_mm"], 0.0, 1e-6);
        near(&found["lean_deg"], 0.0, 1e-6);
        near(&found["scale"], 1.0, 1e-9);
    }
    // What is printed is a job, and with it the drawing's point is burned where it was met.
    let toml = place(folder.path(), &points, &["-o", "place.toml"]).done();
    assert!(toml.out.is_empty() && toml.err.contains("a second side: turn = -160"), "{}", toml.err);
    let bench = fixture("machines/degrees.toml");
    let flat = b"M4 S300\nG0 X5 Y-8\nG1 X45 Y10 F600\nM5\nM2\n";
    let setup = ["wrap", "-b", "can.toml", "-m", bench.to_str().unwrap(), "-j", "place.toml"];
    let wrapped = run_in(folder.path(), &setup, flat).done();
    let from = format!("X36.5 A{:.4}", around(-8.0) + 20.0);
    assert!(wrapped.out_text().contains(&from), "{from}\n{}", wrapped.out_text());
}

/// Four corners, turned and made larger about their middle: the figures are had by hand.
#[test]
fn what_is_left_is_told_and_not_applied() {
    let folder = tempfile::tempdir().unwrap();
    // Turned by 2 degrees about the middle and 1 % larger.
    let (sine, cosine) = 2_f64.to_radians().sin_cos();
    let meant = [(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0)];
    let mut points = String::new();
    for (u, v) in meant {
        let (x, y) = (u - 20.0, v - 10.0);
        let (along, across) =
            (1.01 * (cosine * x - sine * y) + 50.0, 1.01 * (sine * x + cosine * y) + 6.0);
        points += &format!("drawn {u} {v} met X{along} A{}\n", around(across));
    }
    let found = json(folder.path(), &points, &[]);
    near(&found["lean_deg"], 2.0, 1e-6);
    near(&found["scale"], 1.01, 1e-9);
    // The middle of the drawing (20, 10) comes to (50, 6).
    near(&found["at"], 30.0, 1e-6);
    near(&found["turn_deg"], around(-4.0), 1e-6);
    // All four are as far from their middle, √500 mm; a corner strays by |1.01 e^{2°i} − 1| of it.
    let strays = (1.01 * cosine - 1.0).hypot(1.01 * sine) * 500_f64.sqrt();
    near(&found["error_mm"], strays, 1e-6);
}

/// What `wrap` itself writes for a drawing's points is met as meant under every lay, whatever wall
/// it lies on: it neither leans nor has another size.
#[test]
fn the_words_of_a_program_lie_as_they_are_meant() {
    let folder = tempfile::tempdir().unwrap();
    let bench = fixture("machines/degrees.toml");
    let corners = [(0.0, 0.0), (50.0, 0.0), (50.0, 30.0), (0.0, 30.0), (25.0, -30.0)];
    let short = |(u, v): (f64, f64)| format!("G0 X{u} Y{v}\nG1 X{} F600\n", u + 0.5);
    let flat = format!("M4 S300\n{}M5\nM2\n", corners.map(short).concat());
    for ware in ["cup", "bottle"] {
        let blank = fixture(&format!("blanks/{ware}.toml"));
        let files = ["-b", blank.to_str().unwrap(), "-m", bench.to_str().unwrap()];
        for lay in ["true-width", "even-angle", "true-shape", "label"] {
            let place = ["--place-at", "30", "--place-turn", "20", "--zero-at", "0"];
            let job = [&["--lay", lay, "--zero-turn", "0"][..], &place].concat();
            let wrap = [&["wrap", "--allow", "defocus-far"][..], &files, &job].concat();
            let wrapped = run_in(folder.path(), &wrap, flat.as_bytes());
            let words = words_after_travels(wrapped.done().out_text());
            assert_eq!(words.len(), corners.len(), "{ware} {lay}");
            let points: String = corners
                .iter()
                .zip(&words)
                .map(|((u, v), (x, a))| format!("drawn {u} {v} met X{x} A{a}\n"))
                .collect();
            std::fs::write(folder.path().join("points.txt"), points).unwrap();
            let place = [&["place", "points.txt", "--json"][..], &files, &job].concat();
            let outcome = run_in(folder.path(), &place, b"").done();
            let found: Value = serde_json::from_str(outcome.out_text()).unwrap();
            near(&found["at"], 30.0, 2e-3);
            near(&found["turn_deg"], 20.0, 2e-3);
            near(&found["error_mm"], 0.0, 2e-3);
            near(&found["lean_deg"], 0.0, 5e-3);
            near(&found["scale"], 1.0, 5e-5);
            assert_eq!(found["doubt"], Value::Null);
        }
    }
}

/// The words to which a program travels.
fn words_after_travels(program: &str) -> Vec<(f64, f64)> {
    let (mut x, mut a, mut found) = (0.0, 0.0, Vec::new());
    for line in program.lines().filter(|line| !line.starts_with('(')) {
        for word in line.split_whitespace() {
            match word.split_at(1) {
                ("X", value) => x = value.parse().unwrap(),
                ("A", value) => a = value.parse().unwrap(),
                _ => {}
            }
        }
        if line.starts_with("G0 ") {
            found.push((x, a));
        }
    }
    found
}

/// Far more left than a pointer is off by is not printed in silence.
#[test]
fn what_cannot_have_been_met_is_doubted() {
    let folder = tempfile::tempdir().unwrap();
    // A7.6394 for A76.394.
    let two = "drawn 0 0 met X20 A0\ndrawn 60 40 met X80 A7.6394\n";
    let outcome = place(folder.path(), two, &[]).done();
    assert!(outcome.err.contains("stave: looks wrong: 1"), "{}", outcome.err);
    assert!(outcome.err.contains("a third point shows which"), "{}", outcome.err);
    let three = format!("{two}drawn 60 0 met X80 A0\ndrawn 0 40 met X20 A76.394\n");
    let outcome = place(folder.path(), &three, &[]).done();
    assert!(outcome.err.contains("`drawn 60 40` is off most, by 27"), "{}", outcome.err);
    let found = json(folder.path(), &three, &[]);
    assert!(found["doubt"].as_str().unwrap().contains("a digit or a sign"));
    let wall = place(folder.path(), "wall 60 180 met X57 A170.5\nwall 20 180 met X17 A-170\n", &[]);
    assert!(wall.done().err.contains("looks wrong"));
}

#[test]
fn marks_of_the_wall_say_where_the_zero_is() {
    let folder = tempfile::tempdir().unwrap();
    // The handle's middle, at turn 180, is met at A170.5; a mark at 60 mm at X57.
    let points = "wall 60 180 met X57 A170.5\nwall 20 180deg met X17 A170.5\n";
    let found = json(folder.path(), points, &["--place-at", "30"]);
    near(&found["zero_at"], 3.0, 1e-6);
    near(&found["zero_turn_deg"], 9.5, 1e-6);
    near(&found["at"], 30.0, 1e-6);
    near(&found["error_mm"], 0.0, 1e-6);
}

#[test]
fn what_is_no_point_is_told_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    for (points, told) in [
        ("drawn 0 0 met X1 A2\n", "points.txt: two or more points are needed, and it has 1"),
        ("drawn 0 0 met X1\ndrawn 1 1 met X1 A2\n", "points.txt:1:1: a point is"),
        ("drawn 0 0 met X1 B2\ndrawn 1 1 met X1 A2\n", "the words of this machine are X and A"),
        ("wall 0 up met X1 A2\ndrawn 1 1 met X1 A2\n", "points.txt:1:8: a turn is a number"),
        ("drawn 0,0 met X80,5 A2\ndrawn 1 1 met X1 A2\n", "points.txt:1:7: \"0,0\" has a decimal"),
        (
            "drawn 0 0 met X1 A2\ndrawn 1, 1 met X80,5 A2\n",
            "points.txt:2:16: \"X80,5\" has a decimal comma: write X80.5, with a point",
        ),
        ("drawn 0 0 met X1 Ainf\ndrawn 1 1 met X1 A2\n", "each with a number"),
    ] {
        let outcome = place(folder.path(), points, &[]);
        assert_eq!(outcome.status, Some(2), "{points}");
        assert!(outcome.err.contains(told), "{}", outcome.err);
    }
    let far = place(folder.path(), "drawn 0 0 met X300 A0\ndrawn 1 0 met X301 A0\n", &[]);
    assert_eq!(far.status, Some(2));
    assert!(far.err.contains("off the wall"), "{}", far.err);
}
