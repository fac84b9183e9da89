//! `stave estimate`: what it tells of wrapped programs, several at once, and what it refuses.

use crate::command::{LAID, Outcome, fixture, run, run_in, stave};
use serde_json::Value;
use std::process::Command;

fn path(name: &str) -> String {
    fixture(name).display().to_string()
}

fn estimate(more: &[&str], input: &str) -> Outcome {
    let machine = path("machines/degrees.toml");
    let mut arguments = vec!["estimate", "-m", &machine];
    arguments.extend(more);
    run(&arguments, input.as_bytes())
}

fn json(outcome: &Outcome) -> serde_json::Value {
    serde_json::from_str(outcome.out_text()).unwrap()
}

fn wrapped(program: &str, machine: &str) -> String {
    let (blank, machine, job) = (
        path("blanks/bottle.toml"),
        path(&format!("machines/{machine}.toml")),
        path("jobs/step.toml"),
    );
    let flat = std::fs::read(fixture(&format!("programs/{program}.nc"))).unwrap();
    run(&["wrap", "-b", &blank, "-m", &machine, "-j", &job, "-q", LAID[0], LAID[1]], &flat)
        .done()
        .out_text()
        .to_owned()
}

#[test]
fn a_wrapped_program_is_burned_at_the_speed_asked() {
    let blank = path("blanks/bottle.toml");
    for machine in ["degrees", "roller", "swapped"] {
        let file = path(&format!("machines/{machine}.toml"));
        let program = wrapped("crest", machine);
        let outcome =
            run(&["estimate", "-m", &file, "-b", &blank, "--json"], program.as_bytes()).done();
        let of = json(&outcome);
        let number = |key: &str| of[key].as_f64().unwrap();
        // The program asks 40 mm/s of every burn, and 1305 mm are burned on the flat; true-width
        // keeps widths.
        assert!(
            (number("surface_speed_max_mm_per_s") / 40.0 - 1.0).abs() < 0.011,
            "{machine}: {of}"
        );
        assert!((number("burn_mm") / 1305.3 - 1.0).abs() < 0.01, "{machine}");
        assert!((number("at_feeds_s") / (1305.3 / 40.0) - 1.0).abs() < 0.01, "{machine}");
        let parts = number("burn_s") + number("travel_s") + number("dwell_s");
        assert!((number("duration_s") - parts).abs() < 1e-9 * parts, "{machine}");
        assert!(number("duration_s") > number("at_feeds_s"), "{machine}");
        assert_eq!(of["operations"].as_array().unwrap().len(), 19, "{machine}");
        assert_eq!(of["operations"][3]["name"], "stroke 4 of 19");
        assert_eq!(of["warnings"].as_array().unwrap().len(), 0);
    }
}

#[test]
fn several_programs_have_a_line_each_and_a_sum() {
    let (crest, rope) = (path("programs/crest.nc"), path("programs/rope.nc"));
    let single =
        |one: &str| json(&estimate(&[one, "--json"], "").done())["duration_s"].as_f64().unwrap();
    let both = json(&estimate(&[&crest, &rope, "--json"], "").done());
    let sum = both["duration_s"].as_f64().unwrap();
    assert!((sum - single(&crest) - single(&rope)).abs() < 1e-9 * sum);
    assert_eq!(both["programs"].as_array().unwrap().len(), 2);
    let text = estimate(&[&crest, &rope], "").done();
    let text = text.out_text();
    for line in ["programs/crest.nc ", "programs/rope.nc ", "  sum "] {
        assert_eq!(text.lines().filter(|l| l.contains(line)).count(), 1, "{text}");
    }
    // The large figures are for a terminal.
    assert!(!text.contains('█'), "{text}");
}

#[test]
fn a_quote_is_that_of_the_batch() {
    let terms = [
        "--rate",
        "36",
        "--handling",
        "40",
        "--set-up",
        "600",
        "--pieces",
        "10",
        "--start",
        "23:50",
        "--json",
    ];
    let quote = json(&estimate(&terms, "M4 S1\nG1 X0.5 F600\nG4 P19.9\nM2\n").done());
    // 20.0 s on the machine (to a tenth) and 40 of handling, ten times, and the set-up: 1200 s,
    // 12.00 at 0.01 a second.
    let duration = quote["duration_s"].as_f64().unwrap();
    assert!((duration - 20.0).abs() < 0.05, "{duration}");
    let quote = &quote["quote"];
    assert_eq!(quote["batch_s"], 1200.0);
    assert_eq!((&quote["cost"], &quote["price_per_piece"]), (&12.0.into(), &1.2.into()));
    assert_eq!(
        (&quote["finish"]["time"], &quote["finish"]["days_later"]),
        (&"00:10".into(), &1.into())
    );
    let shown = estimate(&terms[..10], "M4 S1\nG1 X0.5 F600\nG4 P19.9\nM2\n").done();
    assert!(
        shown.out_text().contains("600.0 s set-up + 10 × 60.0 s = 1200.0 s (20 min 00 s)"),
        "{}",
        shown.out_text()
    );
}

#[test]
fn what_is_wrong_is_told() {
    let refused = |more: &[&str], input: &str, words: &[&str]| {
        let outcome = estimate(more, input);
        assert_eq!(outcome.status, Some(2), "{}", outcome.err);
        assert!(outcome.out.is_empty());
        for word in words {
            assert!(outcome.err.contains(word), "no {word} in {}", outcome.err);
        }
    };
    refused(&[], "<svg xmlns='http://www.w3.org/2000/svg'/>", &["drawing", "-b", "-j"]);
    refused(&[], "G21\nM4 S5\nG1 X5\nM2\n", &["standard input:3:4", "no feed rate", "^"]);
    refused(&[], "G1 C5 F100\nM2\n", &["moves C", "\"degrees on A\"", "word A"]);
    refused(&["--rate", "-3"], "M2\n", &["--rate", "0 to 1e9"]);
    refused(&["--start", "25:00"], "M2\n", &["--start", "08:30"]);
    refused(&["no/such/file.nc"], "", &["cannot read no/such/file.nc"]);
    let can = path("blanks/can.toml");
    refused(&["-b", &can, "--place-facet", "lid"], "M2\n", &["--place-facet", "\"lid\""]);
    refused(&["-b", &can, "--tilt", "steep"], "M2\n", &["--tilt", "steep"]);
}

#[test]
fn a_program_for_another_blank_is_noted_and_timed() {
    let program = wrapped("gauge", "degrees");
    let outcome = estimate(&["-b", &path("blanks/can.toml")], &program).done();
    assert!(
        outcome
            .err
            .contains("wrapped for the blank \"stepped bottle\", and this one is \"tea tin\""),
        "{}",
        outcome.err
    );
    assert!(!outcome.out.is_empty());
}

#[test]
fn nothing_to_time_takes_no_time() {
    let outcome = estimate(&[], "G21\nM2\n").done();
    assert!(outcome.out_text().contains("0.0 s"));
    assert!(outcome.err.is_empty(), "{}", outcome.err);
}

#[test]
fn the_bar_is_for_terminals_only() {
    // Long enough to be told of on a terminal; here standard error is a pipe.
    let program = "G1 X1 F600\nX0\n".repeat(20_000);
    assert!(estimate(&[], &program).done().err.is_empty());
}

#[test]
fn the_makefile_tells_how_long_each_program_takes() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["Makefile", "tea.nc", "cider.nc"] {
        std::fs::copy(fixture(&format!("makefile/{name}")), folder.path().join(name)).unwrap();
    }
    let stave = format!("STAVE={}", stave().display());
    let setup = ["BLANK", "MACHINE", "JOB"].map(|key| {
        let file = match key {
            "BLANK" => "blanks/bottle.toml",
            "MACHINE" => "machines/degrees.toml",
            _ => "jobs/bottle.toml",
        };
        format!("{key}={}", path(file))
    });
    let output = Command::new("make")
        .args(["-s", "estimate", &stave])
        .args(&setup)
        .current_dir(folder.path())
        .output()
        .unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(
        text.contains("tea.wrapped.nc")
            && text.contains("cider.wrapped.nc")
            && text.contains("sum"),
        "{text}"
    );
    let there = run_in(
        folder.path(),
        &["estimate", "-m", &path("machines/degrees.toml"), "tea.wrapped.nc"],
        b"",
    )
    .done();
    assert!(there.out_text().contains("tea.wrapped.nc"));
}

/// `fixtures/machines/degrees.toml` with more under `[controller]`, in `folder`.
fn bench_with(folder: &std::path::Path, keys: &str) -> String {
    let text = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let path = folder.join("bench.toml");
    std::fs::write(&path, text.replacen("[controller]\n", &format!("[controller]\n{keys}\n"), 1))
        .unwrap();
    path.to_str().unwrap().to_owned()
}

/// What starves is found whether a program is laid just now or read back, with the same figures;
/// the time counts it.
#[test]
fn a_line_too_slow_for_a_program_is_counted_and_found() {
    let folder = tempfile::tempdir().unwrap();
    let blank = fixture("blanks/can.toml");
    let mut flat = String::from("M4 S300\nG0 X10 Y0\n");
    for k in 1..=200 {
        flat += &format!("G1 X{:.2} F6000\n", 10.0 + 0.2 * f64::from(k));
    }
    flat += "M5\nM2\n";
    std::fs::write(folder.path().join("dense.nc"), flat).unwrap();
    // 0.2 mm at 100 mm/s: 500 lines a second, each `X12.2` and a line end at least.
    let run = |machine: &str, command: &[&str]| {
        let setup = ["-b", blank.to_str().unwrap(), "-m", machine, "--place-at", "10"];
        run_in(folder.path(), &[command, &setup].concat(), b"")
    };
    let seconds = |machine: &str| {
        let told = run_in(folder.path(), &["estimate", "dense.nc", "-m", machine, "--json"], b"");
        let json: Value = serde_json::from_str(told.done().out_text()).unwrap();
        json["duration_s"].as_f64().unwrap()
    };
    let free = seconds(fixture("machines/degrees.toml").to_str().unwrap());
    for (keys, limit, at_least) in
        [("lines_per_second = 50", 50.0, 500.0), ("bytes_per_second = 300", 300.0, 2500.0)]
    {
        let machine = bench_with(folder.path(), keys);
        // 200 lines at 50 a second are 4 s.
        assert!(seconds(&machine) > free + 3.0, "{keys}: {} {free}", seconds(&machine));
        let wrapped = run(&machine, &["wrap", "dense.nc", "-o", "dense.wrapped.nc"]).done();
        assert!(wrapped.err.contains("warning line-rate: 200 moves need more"), "{}", wrapped.err);
        for input in ["dense.nc", "dense.wrapped.nc"] {
            let checked = run(&machine, &["check", input, "--json"]).done();
            let json: Value = serde_json::from_str(checked.out_text()).unwrap();
            let findings = json["findings"].as_array().unwrap();
            let found = findings.iter().find(|one| one["code"] == "line-rate").unwrap();
            assert_eq!(found["limit"], limit, "{found}");
            assert!(found["value"].as_f64().unwrap() >= at_least, "{found}");
            assert_eq!(found["severity"], "warning");
            assert!(found["line"].is_u64() && found["at"].is_f64(), "{found}");
        }
    }
    let machine = bench_with(folder.path(), "lines_per_second = 600");
    let wrapped = run(&machine, &["wrap", "dense.nc", "-o", "dense.wrapped.nc"]).done();
    assert!(!wrapped.err.contains("line-rate"), "{}", wrapped.err);
}

/// Both rules for curves are in the JSON always, in the words where they differ.
#[test]
fn the_time_of_curves_is_told_by_both_rules() {
    let folder = tempfile::tempdir().unwrap();
    let mut wave = String::from("M4 S300\nG0 X0 Y0\n");
    for k in 1..=2000 {
        let x = 0.03 * f64::from(k);
        wave +=
            &format!("G1 X{x:.4} Y{:.4} F15000\n", 5.0 * (x / 20.0 * std::f64::consts::TAU).sin());
    }
    wave += "M5\nM2\n";
    std::fs::write(folder.path().join("wave.nc"), &wave).unwrap();
    std::fs::write(folder.path().join("line.nc"), "M4 S300\nG1 X50 F3000\nM5\nM2\n").unwrap();
    let estimate = |input: &str, curves: &str, more: &[&str]| {
        let machine = bench_with(folder.path(), &format!("curves = \"{curves}\""));
        let told = [&["estimate", input, "-m", &machine][..], more].concat();
        run_in(folder.path(), &told, b"").done()
    };
    let json = |input: &str, curves: &str| -> Value {
        serde_json::from_str(estimate(input, curves, &["--json"]).out_text()).unwrap()
    };
    let of = |json: &Value, key: &str| json[key].as_f64().unwrap();
    let (arcs, corners) = (json("wave.nc", "arcs"), json("wave.nc", "corners"));
    assert_eq!(of(&arcs, "duration_s"), of(&arcs, "duration_arcs_s"));
    assert_eq!(of(&corners, "duration_s"), of(&corners, "duration_corners_s"));
    for key in ["duration_arcs_s", "duration_corners_s"] {
        assert!((of(&arcs, key) - of(&corners, key)).abs() < 1e-9, "{key}");
    }
    assert!(of(&arcs, "duration_corners_s") < 0.9 * of(&arcs, "duration_arcs_s"));
    let words = estimate("wave.nc", "arcs", &[]);
    assert!(words.out_text().contains("curves as arcs"), "{}", words.out_text());
    assert!(words.out_text().contains("corners alone"), "{}", words.out_text());
    let line = json("line.nc", "arcs");
    assert_eq!(of(&line, "duration_arcs_s"), of(&line, "duration_corners_s"));
    assert!(!estimate("line.nc", "arcs", &[]).out_text().contains("corners alone"));
}

/// A flat engraving with its blank: both times that it takes once it is laid are those that `wrap`
/// tells; what is no scan lines has none.
#[test]
fn what_scanning_again_saves_is_told() {
    let (blank, job) = (path("blanks/cup.toml"), path("jobs/cup.toml"));
    let (machine, pennant) = (path("machines/degrees.toml"), path("programs/pennant.nc"));
    let on = ["-b", &blank, "-j", &job];
    let of = json(&estimate(&[&on[..], &["--json", &pennant]].concat(), "").done());
    let folder = tempfile::tempdir().unwrap();
    for (way, key) in [("follow", "follow_s"), ("again", "again_s")] {
        let wrap = ["wrap", &pennant, "-m", &machine, "--scan", way, "--report", "report.json"];
        let wrap = [&wrap[..], &on, &["-o", "out.nc"]].concat();
        run_in(folder.path(), &wrap, b"").done();
        let report = std::fs::read(folder.path().join("report.json")).unwrap();
        let report: Value = serde_json::from_slice(&report).unwrap();
        assert_eq!(of["scan"][key], report["estimate"]["duration_s"], "{way}: {of}");
    }
    assert!(of["scan"]["again_s"].as_f64().unwrap() < of["scan"]["follow_s"].as_f64().unwrap());
    let told = estimate(&[&on[..], &[pennant.as_str()]].concat(), "").done();
    let words = told.out_text();
    assert!(
        words.contains("  laid, followed") && words.contains("  laid, --scan again"),
        "{words}"
    );
    // A stream cannot be read again, and other programs have no scan lines.
    let flat = std::fs::read_to_string(fixture("programs/pennant.nc")).unwrap();
    assert!(json(&estimate(&[&on[..], &["--json"]].concat(), &flat).done()).get("scan").is_none());
    let rope = path("programs/rope.nc");
    let of = json(&estimate(&[&on[..], &["--json", &rope]].concat(), "").done());
    assert!(of.get("scan").is_none(), "{of}");
}

/// An axis so slow that all of a long line is a ramp: more moves wait than are looked ahead to
/// (65,536, and as many again), a stop is planned, and it is told; short of that nothing is.
#[test]
fn a_full_look_ahead_is_told() {
    let machine = "[x]\nspeed = 500\nacceleration = 0.001\n[y]\nspeed = 500\nacceleration = 1\n\
                   [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 100\n";
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("slow.toml");
    std::fs::write(&path, machine).unwrap();
    let told = |moves: u32| {
        let line = |k: u32| format!("G1 X{:.3}\n", 0.001 * f64::from(k));
        let lines: String = (1..=moves).map(line).collect();
        let text = format!("G21 G90\nM4 S300\nF6000\n{lines}M5\nM2\n");
        run(&["estimate", "-m", path.to_str().unwrap()], text.as_bytes()).done().err
    };
    assert!(told(140_000).contains("the look-ahead was full 1 times"), "{}", told(140_000));
    assert!(!told(60_000).contains("look-ahead"), "{}", told(60_000));
}

/// A drawing is estimated as the program that it makes, with the way to its first burn.
#[test]
fn a_drawing_is_estimated_as_its_program() {
    let folder = tempfile::tempdir().unwrap();
    let (blank, machine, job) =
        (path("blanks/can.toml"), path("machines/degrees.toml"), path("art/crest.toml"));
    let files = ["-b", &blank, "-m", &machine, "-j", &job];
    let of = |command: &[&str]| run_in(folder.path(), &[command, &files].concat(), b"").done();
    let drawing = path("art/crest.svg");
    of(&["wrap", &drawing, "-o", "o.nc"]);
    let drawn = json(&of(&["estimate", &drawing, "--json"]));
    let read = json(&of(&["estimate", "o.nc", "--json"]));
    assert_eq!((&drawn["lines"], &drawn["moves"]), (&read["lines"], &read["moves"]));
    let alike = |drawn: &serde_json::Value, read: &serde_json::Value| {
        for key in ["travel_mm", "burn_mm", "duration_s"] {
            let (a, b) = (drawn[key].as_f64().unwrap(), read[key].as_f64().unwrap());
            assert!((a / b - 1.0).abs() < 1e-6, "{key}: {a} and {b}");
        }
    };
    alike(&drawn, &read);
    // Job settings beat the job here as in `wrap`.
    let turned = ["--place-turn", "90"];
    of(&[&["wrap", &drawing, "-o", "turned.nc"], &turned[..]].concat());
    let there = json(&of(&[&["estimate", &drawing, "--json"], &turned[..]].concat()));
    alike(&there, &json(&of(&["estimate", "turned.nc", "--json"])));
    assert_ne!(there["travel_mm"], drawn["travel_mm"]);
}
