//! Every swatch is fit by its own judge, on every fixture, and stays within the ends of the rotary.

use std::path::Path;

use serde_json::Value;

use crate::command::{fixture, run_in};
use crate::program;

/// The rotary's word on `degrees`.
const A: usize = 3;

const SWATCHES: [&[&str]; 6] = [
    &["--arrow"],
    &["--turn"],
    &["--lag"],
    &["--focus-ladder"],
    &["--wedge", "7"],
    &["--powers", "20,40", "--speeds", "100,150"],
];

/// What machines without it need to burn areas and labels.
const HOW: &str = "\n[area]\nspeed = 150\npower = 40\nlines_per_inch = 300\n\
                   [line]\nspeed = 60\npower = 20\n";

/// The fixture machines, and the first of them in inches, reversed, and between ends.
fn machines(folder: &Path) -> Vec<&'static str> {
    let read = |name: &str| std::fs::read_to_string(fixture(&format!("machines/{name}"))).unwrap();
    let degrees = read("degrees.toml");
    let swap = |from: &str, to: &str| {
        assert!(degrees.contains(from));
        degrees.replace(from, to)
    };
    let inches = "units = \"in\"\n[x]\nspeed = 20\nacceleration = 200\n[y]\nspeed = 20\n\
                  acceleration = 120\n[rotary]\nword = \"A\"\nunits_per_turn = 360\n\
                  steps_per_turn = 12800\nspeed = 360\nacceleration = 2000\n[[lens]]\n\
                  name = \"medium\"\nfocal_length = 2.5\nspot = 0.005\ndepth_of_focus = 0.08\n\
                  [area]\nspeed = 6\npower = 40\nlines_per_inch = 300\n[line]\nspeed = 2.4\n\
                  power = 20\n";
    let all = [
        ("degrees.toml", degrees.clone()),
        ("along-y.toml", read("along-y.toml") + HOW),
        ("roller.toml", read("roller.toml") + HOW),
        ("swapped.toml", read("swapped.toml") + HOW),
        ("inches.toml", inches.to_owned()),
        ("reversed.toml", swap("word = \"A\"", "word = \"A\"\nreverse = true")),
        ("ends.toml", swap("word = \"A\"", "word = \"A\"\nmin = -200\nmax = 900")),
    ];
    all.map(|(name, text)| {
        std::fs::write(folder.join(name), text).unwrap();
        name
    })
    .to_vec()
}

/// Burns a swatch into a file and has the file checked: no error, and for ticks no word on how far
/// their lines lie apart.
#[track_caller]
fn fits(folder: &Path, blank: &str, machine: &str, more: &[&str], swatch: &[&str]) {
    let case = format!("{blank} {machine} {more:?} {swatch:?}");
    let blank = fixture(&format!("blanks/{blank}.toml"));
    let files = ["-b", blank.to_str().unwrap(), "-m", machine];
    let burn = [&["swatch"], &files[..], more, swatch, &["-o", "s.nc"]].concat();
    let burned = run_in(folder, &burn, b"");
    assert_eq!(burned.status, Some(0), "{case}: {}", burned.err);
    let check = [&["check", "s.nc"], &files[..], more, &["--json"]].concat();
    let checked = run_in(folder, &check, b"");
    assert_eq!(checked.status, Some(0), "{case}: {}", checked.out_text());
    let report: Value = serde_json::from_str(checked.out_text()).unwrap();
    for finding in report["findings"].as_array().unwrap() {
        let code = finding["code"].as_str().unwrap();
        let expected = code == "defocus" && swatch[0] != "--focus-ladder";
        assert!(expected, "{case}: {finding}");
    }
}

#[test]
fn on_every_machine() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for machine in machines(folder) {
        for toward in ["x+", "x-"] {
            for swatch in SWATCHES {
                fits(folder, "can", machine, &["--toward", toward], swatch);
            }
        }
    }
}

#[test]
fn on_every_blank() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machines(folder);
    for blank in ["can", "cup", "bottle", "tumbler", "ornament"] {
        for (swatch, machine) in SWATCHES.iter().zip(["degrees.toml", "ends.toml"].iter().cycle()) {
            fits(folder, blank, machine, &[], swatch);
        }
        fits(folder, blank, "ends.toml", &[], &["--turn"]);
    }
}

/// The words of the rotary in a swatch, and its report, on a rotary between two ends.
fn turns(folder: &Path, (min, max): (i32, i32), more: &[&str]) -> ((f64, f64), Value, String) {
    let degrees = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let ends = format!("word = \"A\"\nmin = {min}\nmax = {max}");
    std::fs::write(folder.join("m.toml"), degrees.replace("word = \"A\"", &ends)).unwrap();
    let can = fixture("blanks/can.toml");
    let files = ["swatch", "-b", can.to_str().unwrap(), "-m", "m.toml", "--report", "r.json"];
    let outcome = run_in(folder, &[&files[..], more].concat(), b"").done();
    let words = program::read(outcome.out_text()).moves.into_iter().map(|one| one.to[A]);
    let ends = words.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), word| {
        (least.min(word), most.max(word))
    });
    let report = std::fs::read_to_string(folder.join("r.json")).unwrap();
    (ends, serde_json::from_str(&report).unwrap(), outcome.err)
}

#[test]
fn ticks_lie_as_many_turns_apart_as_the_rotary_goes() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    // Five turns, the table and the run-ups on either side.
    for (ends, apart) in [
        ((-400, 2300), Some(5)),
        // The same room lower down: burned whole turns away.
        ((-2600, 100), Some(5)),
        ((-200, 1300), Some(3)),
        ((-180, 560), None),
    ] {
        let (words, report, told) = turns(folder, ends, &["--turn"]);
        assert!(words.0 >= f64::from(ends.0) && words.1 <= f64::from(ends.1), "{ends:?} {words:?}");
        let groups = report["groups"].as_array().unwrap();
        assert_eq!(groups.len(), if apart.is_some() { 3 } else { 2 }, "{ends:?}");
        match apart {
            Some(turns) => {
                assert!(
                    told.contains(&format!("ticks are {turns} turns apart")),
                    "{ends:?} {told}"
                );
                // What the turns share out is one and a half percent either way.
                let first = groups[1]["marks"][0]["value"].as_f64().unwrap();
                let share = 0.015 / f64::from(turns);
                assert!((first / 360.0 - 1.0 + share).abs() < 2e-5, "{first}");
                let apart = words.1 - words.0;
                assert!((apart / 360.0).floor() >= f64::from(turns), "{apart}");
            }
            None => assert!(told.contains("leave no room for turns further apart"), "{told}"),
        }
    }
    // Not even a turn.
    let can = fixture("blanks/can.toml");
    let files = ["swatch", "-b", can.to_str().unwrap(), "-m", "m.toml", "--turn", "-o", "s.nc"];
    let degrees = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let ends = degrees.replace("word = \"A\"", "word = \"A\"\nmin = 0\nmax = 350");
    std::fs::write(folder.join("m.toml"), ends).unwrap();
    let refused = run_in(folder, &files, b"");
    assert_eq!(refused.status, Some(1), "{}", refused.err);
    assert!(
        refused.err.contains("`min` and `max` in the machine file leave no"),
        "{}",
        refused.err
    );
    assert!(!folder.join("s.nc").exists());
}

/// A rotary whose words begin at 0 has its swatch where they are.
#[test]
fn a_swatch_lies_where_the_rotary_goes() {
    let folder = tempfile::tempdir().unwrap();
    for swatch in &SWATCHES[..1] {
        let (words, report, _) = turns(folder.path(), (0, 350), swatch);
        assert!(words.0 >= 0.0 && words.1 <= 350.0, "{words:?}");
        assert!(report["turn_deg"].as_f64().unwrap() > 0.0);
    }
    for swatch in [SWATCHES[2], SWATCHES[4], SWATCHES[5]] {
        let (words, ..) = turns(folder.path(), (0, 350), swatch);
        assert!(words.0 >= 0.0 && words.1 <= 350.0, "{swatch:?} {words:?}");
    }
    // Where it is asked for, but for whole turns.
    let (words, ..) = turns(folder.path(), (180, 540), &["--arrow", "--place-turn", "0"]);
    assert!(words.0 >= 340.0 && words.1 <= 380.0, "{words:?}");
}

/// An axis along the work that ends beside its zero has its swatch where it goes.
#[test]
fn a_swatch_lies_where_the_axis_along_the_work_goes() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let degrees = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    for (limits, toward) in [("min = -30", "x+"), ("max = 30", "x-"), ("min = -40", "x+")] {
        let short = degrees.replacen("[x]\n", &format!("[x]\n{limits}\n"), 1);
        assert_ne!(short, degrees);
        std::fs::write(folder.join("short.toml"), short).unwrap();
        for swatch in SWATCHES.iter().filter(|swatch| swatch[0] != "--powers") {
            fits(folder, "can", "short.toml", &["--zero-at", "100", "--toward", toward], swatch);
        }
    }
    let can = fixture("blanks/can.toml");
    let words = ["swatch", "-b", can.to_str().unwrap(), "-m", "m.toml", "--arrow", "-o", "s.nc"];
    let ends = degrees.replacen("[x]\n", "[x]\nmin = -3\nmax = 3\n", 1);
    std::fs::write(folder.join("m.toml"), ends).unwrap();
    let refused = run_in(folder, &words, b"");
    assert_eq!(refused.status, Some(1), "{}", refused.err);
    assert!(refused.err.contains("`min` and `max` in the machine file leave no such stretch of"));
}
