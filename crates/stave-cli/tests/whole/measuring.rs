//! Swatches that measure: burned by these tests on a machine with faults, from the words alone, and
//! read as a person reads them, they give the faults back.

use crate::command::{fixture, run_in};
use crate::program::{self, Kind, Move};
use serde_json::Value;
use std::path::Path;

/// The rotary's word.
const A: usize = 3;

/// A copy of the fixture machine whose rotary says so many units a turn.
fn machine(folder: &Path, units_per_turn: f64) {
    let bench = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let units = format!("units_per_turn = {units_per_turn:?}\nbacklash = 0.9");
    let bench = bench.replace("units_per_turn = 360.0", &units);
    // Neither is to be applied.
    let bench = bench.replace("m2 = 1.2", "m2 = 1.2\nlag = 0.0009");
    std::fs::write(folder.join("bench.toml"), bench).unwrap();
}

/// The program of a test, and its report.
fn burn(folder: &Path, test: &[&str]) -> (String, Value) {
    let can = fixture("blanks/can.toml");
    let files = ["swatch", "-b", can.to_str().unwrap(), "-m", "bench.toml", "--report", "r.json"];
    let outcome = run_in(folder, &[&files[..], test].concat(), b"").done();
    // Of the wedge the motor steps of the can change the spacing.
    let told = outcome.err.matches("warning ").count();
    let spaced = outcome.err.matches("warning spacing-steps").count();
    assert!(told == spaced && (told == 0 || test.contains(&"--wedge")), "{}", outcome.err);
    let report = std::fs::read_to_string(folder.join("r.json")).unwrap();
    (outcome.out_text().to_owned(), serde_json::from_str(&report).unwrap())
}

/// What a mark burns.
struct Mark<'a> {
    value: f64,
    burns: Vec<&'a Burn>,
}

/// A burn, and where the work stood: the word that took it there from below.
struct Burn {
    m: Move,
    work: f64,
}

/// All that a program burns on a rotary with play, which is taken up at first.
fn burns(text: &str, play: f64) -> Vec<Burn> {
    let read = program::read(text);
    assert!(read.ended && read.beam.is_none());
    let mut work = 0.0_f64;
    let mut burns = Vec::new();
    for m in read.moves {
        work = work.max(m.to[A]).min(m.to[A] + play);
        if m.kind == Kind::Burn {
            burns.push(Burn { work, m });
        }
    }
    burns
}

/// The marks of a group, which together hold every burn but the labels.
fn marks<'a>(group: &Value, burns: &'a [Burn]) -> Vec<Mark<'a>> {
    let all = group["marks"].as_array().unwrap();
    let of = |mark: &Value| {
        let line = |k: usize| mark["lines"][k].as_u64().unwrap() as usize;
        let lines = line(0)..=line(1);
        let burns: Vec<&Burn> = burns.iter().filter(|one| lines.contains(&one.m.line)).collect();
        assert!(!burns.is_empty(), "{mark}");
        Mark { value: mark["value"].as_f64().unwrap(), burns }
    };
    all.iter().map(of).collect()
}

/// The value of the mark whose parts lie nearest to each other.
fn read_off(marks: &[Mark<'_>], apart: impl Fn(&Mark<'_>) -> f64) -> f64 {
    let best = marks.iter().min_by(|a, b| apart(a).abs().total_cmp(&apart(b).abs())).unwrap();
    best.value
}

/// How far the two ticks of a mark lie apart on a rotary of so many units a turn.
fn ticks_apart(mark: &Mark<'_>, true_units: f64) -> f64 {
    let (first, last) = (mark.burns.first().unwrap(), mark.burns.last().unwrap());
    for one in [first, last] {
        assert_eq!(one.m.from[A], one.m.to[A], "a tick is burned while the work stands");
    }
    let turned = (last.work - first.work) / true_units;
    (turned - turned.round()) * true_units
}

#[test]
fn units_and_play_are_got_back() {
    const UNITS: f64 = 362.3;
    const PLAY: f64 = 0.34;
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machine(folder, 360.0);
    let (text, report) = burn(folder, &["--turn"]);
    assert_eq!(report["test"], "turn");
    let group = |report: &Value, k: usize| report["groups"][k].clone();
    assert_eq!(group(&report, 0)["key"], "rotary.units_per_turn");
    assert_eq!(group(&report, 2)["key"], "rotary.backlash");
    let all = burns(&text, PLAY);
    let coarse = read_off(&marks(&group(&report, 0), &all), |mark| ticks_apart(mark, UNITS));
    // The marks stand 0.2 % apart.
    assert!((coarse / UNITS - 1.0).abs() < 0.0011, "{coarse}");
    let ends = |k: usize| {
        let marks = marks(&group(&report, k), &all);
        (marks[0].value, marks[marks.len() - 1].value)
    };
    assert_eq!((ends(0), ends(1)), ((355.68, 364.32), (358.92, 361.08)));
    assert_eq!(ends(2), (0.0, 1.0));
    // With what was read in the file the row of five turns tells ten times as much.
    machine(folder, coarse);
    let (text, report) = burn(folder, &["--turn"]);
    let all = burns(&text, PLAY);
    let fine = read_off(&marks(&group(&report, 1), &all), |mark| ticks_apart(mark, UNITS));
    assert!((fine / UNITS - 1.0).abs() < 0.00027, "{fine}");
    machine(folder, fine);
    let (text, report) = burn(folder, &["--turn"]);
    let all = burns(&text, PLAY);
    let play = read_off(&marks(&group(&report, 2), &all), |mark| ticks_apart(mark, UNITS));
    assert!((play - PLAY).abs() < 0.051, "{play}");
    // Every burn is a label's or a mark's.
    let before = text.lines().position(|line| line.starts_with("(mark ")).unwrap();
    let held: usize =
        (0..3).flat_map(|k| marks(&group(&report, k), &all)).map(|mark| mark.burns.len()).sum();
    assert_eq!(held, all.iter().filter(|one| one.m.line > before).count());
}

#[test]
fn the_lag_is_got_back_at_every_speed() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machine(folder, 360.0);
    let (text, report) = burn(folder, &["--lag", "--speeds", "120,240,400"]);
    let all = burns(&text, 0.0);
    let groups = report["groups"].as_array().unwrap();
    assert_eq!(groups.len(), 3);
    for (group, lag) in groups.iter().zip([0.00043, 0.00068, 0.00112]) {
        assert_eq!((&group["key"], &group["unit"]), (&"beam.lag".into(), &"s".into()));
        let speed = group["speed_mm_per_s"].as_f64().unwrap();
        let marks = marks(group, &all);
        // Light that comes so much later, and goes so much later.
        let ends = |mark: &Mark<'_>, forth: bool| {
            let one_way = mark.burns.iter().filter(|b| (b.m.to[0] > b.m.from[0]) == forth);
            let late = |b: &&&Burn| {
                let shift = b.m.speed().unwrap() * lag * if forth { 1.0 } else { -1.0 };
                b.m.from[0].min(b.m.to[0]) + shift
            };
            let lows: Vec<f64> = one_way.clone().map(|b| late(&b)).collect();
            assert!(lows.iter().all(|low| (low - lows[0]).abs() < 1e-3), "{lows:?}");
            lows[0]
        };
        let found = read_off(&marks, |mark| ends(mark, true) - ends(mark, false));
        assert!((found - lag).abs() < 0.000_051, "{speed}: {found}");
        let at = marks[0].burns[0].m.speed().unwrap();
        assert!((at / speed - 1.0).abs() < 0.002, "{at} {speed}");
    }
}

#[test]
fn the_ladder_goes_through_the_focus() {
    const FOCUS_MM: f64 = -1.1;
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machine(folder, 360.0);
    let (text, report) = burn(folder, &["--focus-ladder"]);
    let all = burns(&text, 0.0);
    let group = &report["groups"][0];
    assert_eq!((&group["key"], &group["unit"]), (&"focus".into(), &"mm".into()));
    let marks = marks(group, &all);
    assert!(marks.len() >= 5 && marks.iter().any(|mark| mark.value == 0.0));
    for mark in &marks {
        assert!(mark.burns.iter().all(|b| (b.m.to[2] - mark.value).abs() < 1e-9), "{}", mark.value);
    }
    // Thinnest where the head is nearest to what is in focus.
    let step = marks[1].value - marks[0].value;
    let found = read_off(&marks, |mark| mark.burns[0].m.to[2] - FOCUS_MM);
    assert!((found - FOCUS_MM).abs() <= 0.5 * step + 1e-9, "{found}");
    // Without a Z axis the person sets each height.
    let (can, roller) = (fixture("blanks/can.toml"), fixture("machines/roller.toml"));
    let files = ["swatch", "-b", can.to_str().unwrap(), "-m", roller.to_str().unwrap()];
    let more = ["--focus-ladder", "--label", "20,60"];
    let outcome = run_in(folder, &[&files[..], &more].concat(), b"").done();
    let text = outcome.out_text();
    assert_eq!(text.lines().filter(|line| *line == "M0").count(), marks.len());
    assert_eq!(text.matches("then go on)").count(), marks.len());
    assert!(!text.lines().any(|line| line.starts_with('G') && line.contains('Z')));
}

#[test]
fn a_wedge_has_its_steps() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machine(folder, 360.0);
    let (text, report) = burn(folder, &["--wedge", "9", "--powers", "49", "--size", "5"]);
    let all = burns(&text, 0.0);
    let marks = marks(&report["groups"][0], &all);
    assert_eq!(marks.len(), 9);
    let of_report = report["groups"][0]["marks"].as_array().unwrap();
    for (k, (mark, told)) in marks.iter().zip(of_report).enumerate() {
        // From `least_power`, 4 %, up.
        assert!((mark.value - (4.0 + 5.0 * (k + 1) as f64)).abs() < 1e-9, "{}", mark.value);
        assert!(mark.burns.len() > 50);
        for b in &mark.burns {
            let power = told["power_percent"].as_f64().unwrap();
            assert!((b.m.power.unwrap() - 10.0 * power).abs() < 1e-3);
            assert!(((b.m.to[0] - b.m.from[0]).abs() - 5.0).abs() < 1e-3);
        }
    }
}

/// A roller's scale, on a machine that takes more than a word to the millimetre.
#[test]
fn the_scale_of_a_roller_is_got_back() {
    const SCALE: f64 = 0.9931;
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let (can, roller) = (fixture("blanks/can.toml"), fixture("machines/roller.toml"));
    let files = ["swatch", "-b", can.to_str().unwrap(), "-m", roller.to_str().unwrap()];
    let more = ["--turn", "--label", "20,60", "--report", "r.json"];
    let outcome = run_in(folder, &[&files[..], &more].concat(), b"").done();
    let report = std::fs::read_to_string(folder.join("r.json")).unwrap();
    let report: Value = serde_json::from_str(&report).unwrap();
    let group = &report["groups"][0];
    assert_eq!(group["key"], "rotary.scale");
    let moves: Vec<Move> = program::read(outcome.out_text())
        .moves
        .into_iter()
        .filter(|m| m.kind == Kind::Burn)
        .collect();
    // Y is mm of surface where it touches, where the wall is widest.
    let wall = crate::settings::wall(&fixture("blanks/can.toml"));
    let around = std::f64::consts::TAU * wall.largest_radius() * SCALE;
    let apart = |mark: &Value| {
        let line = |k: usize| mark["lines"][k].as_u64().unwrap() as usize;
        let ticks: Vec<&Move> =
            moves.iter().filter(|m| (line(0)..=line(1)).contains(&m.line)).collect();
        let turned = (ticks[ticks.len() - 1].to[1] - ticks[0].to[1]) / around;
        (turned - turned.round()).abs()
    };
    let marks = group["marks"].as_array().unwrap();
    let best = marks.iter().min_by(|a, b| apart(a).total_cmp(&apart(b))).unwrap();
    let found = best["value"].as_f64().unwrap();
    assert!((found - SCALE).abs() < 0.0011, "{found}");
}

#[test]
fn what_cannot_be_meant() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machine(folder, 360.0);
    let can = fixture("blanks/can.toml");
    for (asked, status, told) in [
        (&["--lag", "--speeds", "100"][..], 2, "--speeds: must be two or more, growing"),
        (&["--lag", "--speeds", "200,100"], 2, "--speeds: must be two or more, growing"),
        (&["--lag", "--speeds", "100,600"], 1, "the X axis of \"degrees on A\" does at most 500"),
        (&["--wedge", "1"], 2, "--wedge: must be from 2 to 64 steps"),
        (&["--wedge", "9", "--powers", "20,30"], 2, "--powers: a wedge takes a single one"),
        (&["--turn", "--lag"], 2, "cannot be used with"),
        (&[], 2, "--powers"),
    ] {
        let files = ["swatch", "-b", can.to_str().unwrap(), "-m", "bench.toml"];
        let outcome = run_in(folder, &[&files[..], asked].concat(), b"");
        assert_eq!(outcome.status, Some(status), "{asked:?}: {}", outcome.err);
        assert!(outcome.err.contains(told), "{asked:?}: {}", outcome.err);
        assert!(outcome.out.is_empty(), "{asked:?}");
    }
}
