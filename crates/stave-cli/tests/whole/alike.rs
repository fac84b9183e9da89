//! One program, one reading: what the commands say of the same input agrees, and what one of them
//! refuses the others refuse.

use crate::command::{Outcome, fixture, run, run_in};
use crate::program::{self, Kind};
use serde_json::Value;

const CAN: [&str; 4] = ["-b", "fixtures/blanks/can.toml", "-m", "fixtures/machines/degrees.toml"];
const BOTTLE: [&str; 4] =
    ["-b", "fixtures/blanks/bottle.toml", "-m", "fixtures/machines/degrees.toml"];

/// A short line on the can, flat.
const LINE: &str = "G21 G90\nM4 S200\nG0 X5 Y2\nG1 X20 Y9 F1200\nM5\nM2\n";

/// `stave COMMAND` of what stands on standard input; a proof is drawn to nowhere.
fn of(command: &str, files: &[&str], more: &[&str], input: &[u8]) -> Outcome {
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("sheet.svg").display().to_string();
    let out: &[&str] = if command == "proof" { &["-o", &sheet] } else { &[] };
    run(&[&[command, "-"], files, more, out].concat(), input)
}

fn json(outcome: &Outcome) -> Value {
    serde_json::from_str(outcome.out_text()).expect(&outcome.err)
}

fn codes(report: &Value) -> Vec<&str> {
    report["findings"].as_array().unwrap().iter().map(|f| f["code"].as_str().unwrap()).collect()
}

/// The gap of the fitted nozzle, mm.
fn gap(report: &Value) -> f64 {
    report["nozzles"][0]["gap_mm"].as_f64().unwrap()
}

fn crest(job: &str, more: &[&str]) -> Vec<u8> {
    let job = format!("fixtures/jobs/{job}.toml");
    let wrap = ["wrap", "fixtures/programs/crest.nc", "-q", "-j", &job];
    run(&[&wrap[..], &BOTTLE, more].concat(), b"").done().out
}

#[test]
fn what_stands_before_line_1_changes_nothing() {
    let plain = crest("bottle", &[]);
    let moves = |outcome: Outcome| -> Vec<String> {
        let text = outcome.done();
        text.out_text().lines().filter(|l| !l.starts_with('(')).map(str::to_owned).collect()
    };
    let figures = |input: &[u8]| {
        let estimate = json(&of("estimate", &BOTTLE, &["--json"], input).done());
        let check = json(&of("check", &BOTTLE, &["--json"], input).done());
        let seconds = ["burn_mm", "travel_mm", "duration_s", "at_feeds_s"]
            .map(|key| estimate[key].as_f64().unwrap_or_else(|| panic!("{key}: {estimate}")));
        assert_eq!(codes(&check), [""; 0], "{check:#}");
        let walked = moves(of("walk", &BOTTLE, &[], input));
        let proof = of("proof", &BOTTLE, &[], input).done().err;
        assert!(!proof.contains("warning") && !proof.contains("error"), "{proof}");
        (seconds, gap(&check), walked)
    };
    let expected = figures(&plain);
    assert!(expected.2.len() > 10);
    for before in ["\n", "\r\n \n", "%\n", "(hello)\n", "; hello\n", "\u{feff}", "\u{feff}%\n\n"] {
        let input = [before.as_bytes(), &plain].concat();
        assert_eq!(figures(&input), expected, "{before:?}");
        for command in ["wrap", "lays"] {
            let again = of(command, &BOTTLE, &[], &input);
            assert_eq!(again.status, Some(2), "{command} after {before:?}: {}", again.err);
            // On a pipe a head may be out already: it never looks whole.
            let out = again.out_text();
            assert!(!out.contains("\nM2\n") && !out.contains("G1"), "{command}: {out}");
            assert!(again.err.contains("wrapped already"), "{before:?}: {}", again.err);
        }
    }
}

/// A program with one A word lies on the wall, not on the flat: on the cup's cone it is longer by
/// the secant of the slope.
#[test]
fn one_constant_rotary_word_makes_a_program_of_the_wall() {
    let input = b"G21 G90\nG0 X0 A30\nM4 S300\nG1 X60 F1200\nM5\nM2\n";
    let cup = ["-b", "fixtures/blanks/cup.toml", "-m", "fixtures/machines/degrees.toml"];
    let estimate = json(&of("estimate", &cup, &["--json"], input).done());
    let grows = (10.9956 / std::f64::consts::PI - 2.5) / 2.0 / 4.5;
    let expected = 60.0 * grows.hypot(1.0);
    let burned = estimate["burn_mm"].as_f64().unwrap();
    assert!((burned - expected).abs() < 1e-6, "{burned} for {expected}");
}

#[test]
fn a_flat_program_has_no_piece_to_be_anchored_at() {
    for command in ["wrap", "check", "proof", "walk", "lays"] {
        let outcome = of(command, &CAN, &["--anchor", "piece"], LINE.as_bytes());
        assert_eq!(outcome.status, Some(2), "{command}: {}", outcome.err);
        assert!(outcome.out.is_empty(), "{command}");
        assert!(outcome.err.contains("anchor \"piece\" needs art"), "{command}: {}", outcome.err);
    }
}

/// A program for a rotary on Y, on a machine whose rotary is A: in `check` a finding, elsewhere a
/// refusal, and each names both letters.
#[test]
fn a_program_that_turns_another_word_is_refused() {
    let swapped = ["-b", "fixtures/blanks/can.toml", "-m", "fixtures/machines/swapped.toml"];
    let input = of("wrap", &swapped, &["-q"], LINE.as_bytes()).done().out;
    let check = of("check", &CAN, &["--json"], &input);
    assert_eq!(check.status, Some(1), "{}", check.err);
    let report = json(&check);
    assert!(codes(&report).contains(&"wrong-rig"), "{report:#}");
    let said = report["findings"].as_array().unwrap().iter().find(|f| f["code"] == "wrong-rig");
    let said = said.unwrap()["message"].as_str().unwrap();
    assert!(said.contains(" Y") && said.contains(" A"), "{said}");
    for command in ["walk", "proof", "estimate"] {
        let outcome = of(command, &CAN, &[], &input);
        assert_eq!(outcome.status, Some(2), "{command}: {}", outcome.err);
        assert!(outcome.out.is_empty(), "{command}");
        assert!(outcome.err.contains(" Y"), "{command}: {}", outcome.err);
        assert!(outcome.err.contains(" A"), "{command}: {}", outcome.err);
    }
}

/// A dwell under M3 burns a dot: it has its place in extents and on the walk, and its seconds both
/// burn and dwell. Under M4, whose power follows the speed, there is none.
#[test]
fn a_dwell_under_m3_is_a_dot_everywhere() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).display().to_string();
    let turn = (3.0 / 37.0_f64).to_degrees();
    for (beam, s, burns) in [("M3", " S300", true), ("M3", "", true), ("M4", " S300", false)] {
        let flat = format!("G21 G90\n{beam}{s}\nG0 X20 Y3\nG4 P0.5\nM5\nM2\n");
        let (dot, wrapped, report) = (file("dot.nc"), file("wrapped.nc"), file("report.json"));
        std::fs::write(&dot, &flat).unwrap();
        run(&[&["wrap", &dot, "-o", &wrapped, "--report", &report][..], &CAN].concat(), b"").done();
        let report: Value =
            serde_json::from_str(&std::fs::read_to_string(&report).unwrap()).unwrap();
        for (key, place) in [("at_min", 20.0), ("at_max", 20.0), ("turn_max_deg", turn)] {
            match report[key].as_f64() {
                Some(found) => assert!(burns && (found - place).abs() < 0.01, "{key}: {found}"),
                None => assert!(!burns, "{beam}{s}: {key}"),
            }
        }
        for input in [&dot, &wrapped] {
            let said = |command: &str, more: &[&str]| {
                run(&[&[command, input][..], &CAN, more].concat(), b"")
            };
            let check = json(&said("check", &["--json"]));
            assert_eq!(codes(&check).contains(&"nothing-burns"), !burns, "{beam}{s}: {check:#}");
            let estimate = json(&said("estimate", &["--json"]).done());
            let dotted = if burns { 0.5 } else { 0.0 };
            assert_eq!(estimate["burn_s"].as_f64(), Some(dotted), "{input} {beam}{s}: {estimate}");
            assert_eq!(estimate["dwell_s"].as_f64(), Some(0.5), "{input} {beam}{s}: {estimate}");
            let walked = said("walk", &[]).done();
            let gone: Vec<_> = program::read(walked.out_text()).moves;
            assert_eq!(!gone.is_empty(), burns, "{input} {beam}{s}");
            if let Some(last) = gone.last() {
                assert!((last.to[0] - 20.0).abs() < 1e-3 && (last.to[3] - turn).abs() < 0.01);
            }
            let proof = said("proof", &["-o", &file("proof.svg")]).done().err;
            assert_eq!(proof.contains("nothing burns"), !burns, "{input} {beam}{s}: {proof}");
        }
        let lays = run(&[&["lays", &dot, "--json"][..], &CAN].concat(), b"");
        if burns {
            assert_eq!(json(&lays.done())["pieces"][0]["id"], "program");
        }
    }
}

/// The dark walk is the step that is meant to be safe: it takes the height of the program that it
/// goes round, written or fixed, and the head comes no nearer than in the program.
#[test]
fn a_walk_is_as_clear_as_what_it_goes_round() {
    for (job, more, driven) in [
        ("bottle", &[][..], false),
        ("bottle", &["--focus", "follow"], true),
        ("follow", &[], true),
        ("step", &["--focus", "follow"], true),
    ] {
        let wrapped = crest(job, more);
        let has_z = |text: &[u8]| {
            let text = std::str::from_utf8(text).unwrap();
            text.lines().any(|line| !line.starts_with('(') && line.contains('Z'))
        };
        assert_eq!(has_z(&wrapped), driven, "{job} {more:?}");
        let program = json(&of("check", &BOTTLE, &["--json"], &wrapped));
        for around in ["box", "hull"] {
            let allow = ["--around", around, "--allow", "clearance"];
            let walked = of("walk", &BOTTLE, &allow, &wrapped).done();
            let named = format!("{job} {more:?} {around}");
            assert_eq!(has_z(&walked.out), driven, "{named}");
            assert!(program::read(walked.out_text()).moves.iter().all(|m| m.kind != Kind::Burn));
            let report = json(&of("check", &BOTTLE, &["--json"], &walked.out));
            assert!(!codes(&report).contains(&"nothing-burns"), "{named}: {report:#}");
            let (least, before) = (gap(&report), gap(&program));
            assert!(least > before - 0.05, "{named}: {least} mm, the program's {before} mm");
        }
    }
}

/// A drawing and its program are judged alike, and so are a flat program and what is wrapped of it.
#[test]
fn what_is_wrapped_is_judged_as_what_it_was_made_of() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out.nc").display().to_string();
    for (input, files) in [
        ("programs/crest.nc", ["-b", "blanks/bottle.toml", "-j", "jobs/step.toml"]),
        ("programs/gauge.nc", ["-b", "blanks/cup.toml", "-j", "jobs/cup.toml"]),
        ("art/step.svg", ["-b", "blanks/bottle.toml", "-j", "art/step.toml"]),
        ("art/crest.svg", ["-b", "blanks/can.toml", "-j", "art/crest.toml"]),
    ] {
        let run = |arguments: &[&str]| {
            let machine = ["-m", "machines/degrees.toml"];
            run_in(&fixture(""), &[arguments, &machine].concat(), b"")
        };
        let wrap = ["wrap", input, "-o", &out, "--allow", "defocus-far,clearance"];
        run(&[&wrap[..], &files].concat()).done();
        let before = json(&run(&[&["check", input, "--json"], &files[..]].concat()));
        let after = json(&run(&["check", &out, "--json", files[0], files[1]]));
        // What a lay does to art only the input can know, and what was asked of its lines.
        let only_before = [
            "distortion",
            "spacing-steps",
            "spacing-spot",
            "speed-limit",
            "bare",
            "unpicked",
            "thin",
            "quicker",
        ];
        let judged = |report: &Value| {
            let mut found = codes(report).iter().map(|c| (*c).to_owned()).collect::<Vec<_>>();
            found.retain(|code| !only_before.contains(&code.as_str()));
            found.sort();
            found
        };
        assert_eq!(judged(&before), judged(&after), "{input}");
        assert!((gap(&before) - gap(&after)).abs() < 1e-3, "{input}: {before:#}, {after:#}");
    }
}
