//! `stave check`: everything that is wrong with a job, at once, with its place and what to do.

use crate::command::{Outcome, fixture, run, run_in};
use serde_json::Value;

fn check_on(blank: &str, input: &str, program: &[u8], more: &[&str]) -> Outcome {
    let (blank, machine) =
        (fixture(&format!("blanks/{blank}.toml")), fixture("machines/degrees.toml"));
    let files = ["check", "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap(), "--json"];
    let input: &[&str] = if input.is_empty() { &[] } else { &[input] };
    run(&[&files, input, more].concat(), program)
}

fn check(program: &str, more: &[&str]) -> Outcome {
    check_on("can", "-", program.as_bytes(), more)
}

/// Code and severity of every finding, with the report; the status must say what `fit` says.
#[track_caller]
fn findings(outcome: &Outcome) -> (Vec<(String, String)>, Value) {
    let report: Value = serde_json::from_str(outcome.out_text()).expect(&outcome.err);
    let text = |finding: &Value, key: &str| finding[key].as_str().unwrap().to_owned();
    let each = report["findings"].as_array().unwrap();
    let found: Vec<_> = each.iter().map(|f| (text(f, "code"), text(f, "severity"))).collect();
    let fit = found.iter().all(|(_, severity)| severity != "error");
    assert_eq!(report["fit"], Value::from(fit));
    assert_eq!(outcome.status, Some(i32::from(!fit)), "{}", outcome.err);
    for finding in each {
        assert!(finding["message"].as_str().unwrap().len() > 20, "{finding}");
    }
    (found, report)
}

fn has(found: &[(String, String)], code: &str, severity: &str) -> bool {
    found.iter().any(|(c, s)| c == code && s == severity)
}

const HEAD: &str = "G21 G90\nF1200\nM4 S0\n";

fn program(body: &str) -> String {
    format!("{HEAD}{body}\nM5\nM2\n")
}

#[test]
fn a_job_that_fits_has_no_finding() {
    let outcome = check(&program("G0 X30 Y0\nG1 X40 S500"), &[]);
    let (found, report) = findings(&outcome);
    assert_eq!(found, [], "{report}");
    // Its fitted nozzle clears a straight wall by just its own gap.
    assert_eq!(report["nozzles"][0]["gap_mm"], Value::from(6.0));
}

#[test]
fn what_a_flat_program_does_wrong_is_found() {
    for (body, code, severity) in [
        ("G0 X30 Y0\nG1 X140 S500", "off-wall", "error"),
        ("G0 X30 Y0\nG1 X40 S1500", "power", "error"),
        ("G0 X30 Y0\nG1 X40 S500 F900000", "speed-limit", "warning"),
        ("G0 X30 Y0\nG1 X40 S0", "nothing-burns", "warning"),
        ("G0 X30 Y0\nG1 Y300 S500", "overlap", "error"),
    ] {
        let (found, report) = findings(&check(&program(body), &[]));
        assert!(has(&found, code, severity), "{body}: {report:#}");
    }
    // Round by more than a turn, but each time elsewhere: no place burns twice. And travels of a
    // flat program are wrapped dark, whatever S stands.
    for body in ["G0 X30 Y0\nG1 X40 Y300 S500", "G0 X30 Y0 S500\nG1 X40\nG0 X20\nG1 X10"] {
        let (found, report) = findings(&check(&program(body), &[]));
        assert_eq!(found, [], "{body}: {report:#}");
    }
}

#[test]
fn all_of_it_is_told_with_its_lines() {
    let body = "G0 X30 Y0\nG1 X140 S500\nG0 X10\nG1 X20 S1400";
    let (found, report) = findings(&check(&program(body), &[]));
    assert!(has(&found, "off-wall", "error") && has(&found, "power", "error"), "{report:#}");
    let line = |code: &str| {
        let each = report["findings"].as_array().unwrap();
        each.iter().find(|f| f["code"] == code).unwrap()["line"].as_u64().unwrap()
    };
    assert_eq!((line("off-wall"), line("power")), (5, 7));
}

/// The art lies over the step of the bottle, where a nozzle and a lens have their troubles.
#[test]
fn the_step_of_the_bottle_is_out_of_focus_and_in_the_nozzle_s_way() {
    let body = "G0 X20 Y0\nG1 X94 S500";
    let (found, report) = findings(&check_on("bottle", "-", program(body).as_bytes(), &[]));
    assert!(has(&found, "defocus", "warning") && has(&found, "clearance", "error"), "{report:#}");
    let each = report["findings"].as_array().unwrap();
    let clearance = each.iter().find(|f| f["code"] == "clearance").unwrap();
    assert!(clearance["value"].as_f64().unwrap() < 0.0 && clearance["limit"].as_f64() == Some(0.0));
    assert!(clearance["message"].as_str().unwrap().contains("short barrel"), "{clearance}");
}

#[test]
fn a_burn_in_a_zone_is_an_error_unless_it_is_masked() {
    // Round the back at the height of the lower boss.
    let body = "G0 X118 Y0\nG1 Y140 S500\nG1 X122";
    let hit = check_on("bottle", "-", program(body).as_bytes(), &[]);
    let (found, report) = findings(&hit);
    assert!(has(&found, "zone", "error"), "{report:#}");
    let masked = check_on("bottle", "-", program(body).as_bytes(), &["--zones", "mask"]);
    let (found, report) = findings(&masked);
    assert!(!found.iter().any(|(code, _)| code == "zone"), "{report:#}");
    assert!(masked.err.contains("lie in zones and are left dark"), "{}", masked.err);
    // The mask keeps the beam off the boss, and not the nozzle.
    assert!(has(&found, "clearance", "error"), "{report:#}");
}

#[test]
fn a_wrapped_program_is_taken_as_it_is() {
    let files = ["-b", "fixtures/blanks/can.toml", "-m", "fixtures/machines/degrees.toml"];
    let flat = program("G0 X30 Y0\nG1 X40 S500\nG0 X10\nG1 X20 S500");
    let wrapped = run(&[&["wrap", "-q"][..], &files].concat(), flat.as_bytes()).done();
    let (found, report) = findings(&check(wrapped.out_text(), &[]));
    assert_eq!(found, [], "{report:#}");
    // A careless hand has taken out what switches the beam off.
    let off = |line: &&str| !["M5", "M2"].contains(line) && !line.starts_with("(stave end");
    let lit: Vec<&str> = wrapped.out_text().lines().filter(off).collect();
    let lit = lit.join("\n").replace(" S0", "") + "\n";
    let (found, report) = findings(&check(&lit, &[]));
    assert!(
        has(&found, "beam-on-end", "error") && has(&found, "beam-on-travel", "error"),
        "{report:#}"
    );
}

#[test]
fn a_drawing_is_judged_piece_by_piece() {
    let path =
        |more: &[&str]| check_on("can", "", b"", &[&["--path", "M0 0H20V20H0Z"], more].concat());
    let (found, report) = findings(&path(&[]));
    assert!(!found.iter().any(|(_, severity)| severity == "error"), "{report:#}");
    let (found, report) = findings(&path(&["--place-at", "100"]));
    assert!(has(&found, "off-wall", "error"), "{report:#}");
    assert!(report["findings"][0]["piece"].is_string() && report["findings"][0]["line"].is_null());
    let crest = fixture("art/crest.svg");
    let job = fixture("art/crest.toml");
    let outcome = check_on("bottle", crest.to_str().unwrap(), b"", &["-j", job.to_str().unwrap()]);
    let (found, report) = findings(&outcome);
    assert!(
        has(&found, "distortion", "warning") && has(&found, "clearance", "error"),
        "{report:#}"
    );
    let each = report["findings"].as_array().unwrap();
    assert!(each.iter().all(|f| f["line"].is_null()), "{report:#}");
}

/// What is accepted is an error still, and is said to be accepted, by every command.
#[test]
fn what_is_accepted_is_said_to_be() {
    let (blank, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let files = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("sheet.svg");
    let text = program("G0 X30 Y0\nG1 Y300 S500");
    let told = |command: &[&str], allow: &[&str]| {
        let outcome = run(&[command, &files, allow].concat(), text.as_bytes());
        (outcome.status, outcome.err.clone() + &String::from_utf8_lossy(&outcome.out))
    };
    for command in [&["wrap"][..], &["check"], &["proof", "-o", sheet.to_str().unwrap()]] {
        let (status, words) = told(command, &["--allow", "overlap"]);
        assert_eq!(status, Some(0), "{command:?}: {words}");
        let said = words.lines().any(|line| line.contains("accepted error"));
        assert!(said && words.contains("overlap"), "{command:?}: {words}");
        let (_, words) = told(command, &[]);
        assert!(words.contains("error") && !words.contains("accepted"), "{command:?}: {words}");
    }
    told(&["proof", "-o", sheet.to_str().unwrap()], &["--allow", "overlap"]);
    let drawn = std::fs::read_to_string(&sheet).unwrap();
    assert!(drawn.contains("Findings: 1 accepted error"), "the sheet says it as well");
    let (_, words) = told(&["check"], &["--allow", "overlap"]);
    assert!(words.contains("Fit: 0 errors, 1 accepted error, "), "{words}");
    // So does what programs read: of all that was found that one alone.
    for (allow, accepted) in [(&["--json", "--allow", "overlap"][..], true), (&["--json"], false)] {
        let outcome = run(&[&["check"], &files[..], allow].concat(), text.as_bytes());
        let report: serde_json::Value = serde_json::from_slice(&outcome.out).unwrap();
        for finding in report["findings"].as_array().unwrap() {
            assert_eq!(finding["accepted"], accepted && finding["code"] == "overlap", "{report:#}");
        }
        assert!(report["findings"][0]["code"] == "overlap", "{report:#}");
    }
}

#[test]
fn people_are_told_in_a_table() {
    let (blank, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let files = ["check", "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let outcome = run(&files, program("G0 X30 Y0\nG1 X140 S500").as_bytes());
    assert_eq!(outcome.status, Some(1));
    insta::assert_snapshot!(outcome.out_text());
}

/// Around the can of 74 mm from turn -59.6 to 309.6: twice from 300.4 on, at 30.3 mm. Its place is
/// told to the middle of a cell of a millimetre by a degree.
#[test]
fn what_burns_twice_is_told_where_it_does() {
    let around = 37.0 * std::f64::consts::PI / 180.0;
    let (from, to) = (-59.6 * around, 309.6 * around);
    let body = format!("G0 X30.3 Y{from:.4}\nM4 S300\nG1 Y{to:.4} F600\nM5\n");
    let (_, report) = findings(&check_on("can", "-", program(&body).as_bytes(), &[]));
    let all = report["findings"].as_array().unwrap();
    let twice = all.iter().find(|one| one["code"] == "overlap").unwrap();
    let figure = |key: &str| twice[key].as_f64().unwrap();
    assert!((figure("at") - 30.5).abs() < 1e-6, "{twice}");
    assert!((figure("turn") - 300.5).abs() < 1e-6, "{twice}");
    assert!((figure("value") - 9.2).abs() < 1e-3, "{twice}");
    assert!(twice["message"].as_str().unwrap().contains(": 9.2° around"), "{twice}");
}

/// Dashes shorter than any scan line, far from the zero, lie evenly beside each other.
#[test]
fn dashes_side_by_side_are_no_scan_lines() {
    let dashes = |length: f64| {
        let dash = |k: i32| {
            let v = 0.1 * f64::from(k);
            format!("G0 X80 Y{v:.1}\nG1 X{:.1} S300 F1200\n", 80.0 + length)
        };
        let body: String = (0..60).map(dash).collect();
        let text = program(&format!("M4 S0\n{body}M5\n"));
        let (found, _) = findings(&check_on("can", "-", text.as_bytes(), &[]));
        has(&found, "spacing-steps", "warning")
    };
    assert!(!dashes(0.3) && dashes(3.0));
}

/// That burns were left dark is told where some were.
#[test]
fn what_a_mask_leaves_dark_is_told_where_it_does() {
    let masked = |x: f64| {
        let body = format!("G0 X{x} Y62\nM4 S300\nG1 X{} F600\nM5\n", x + 30.0);
        let more = ["--zones", "mask", "--place-at", "0"];
        check_on("bottle", "-", program(&body).as_bytes(), &more).err
    };
    let told = "are left dark, as the job says";
    assert!(masked(0.0).contains(told) && !masked(50.0).contains(told), "{}", masked(50.0));
}

/// What is wrong after the first thing that keeps a program from being written is told too, and on
/// a pipe nothing of it is written.
#[test]
fn wrap_tells_all_that_check_finds() {
    let folder = tempfile::tempdir().unwrap();
    let bench = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let short = bench.replace("[x]\n", "[x]\nmax = 60.0\n");
    std::fs::write(folder.path().join("m.toml"), short).unwrap();
    // Past the end of X; more than full power; a turn and a quarter around the can.
    let text = program("M4 S300\nG1 X10 F600\nX70\nX30 S1200\nS300\nY290\nX20 M5");
    let can = fixture("blanks/can.toml");
    let codes = |command: &str, more: &[&str]| {
        let words = [command, "-", "-b", can.to_str().unwrap(), "-m", "m.toml"];
        let outcome = run_in(folder.path(), &[&words, more].concat(), text.as_bytes());
        assert_eq!(outcome.status, Some(1), "{command}: {}", outcome.err);
        outcome
    };
    let place = ["--place-at", "20"];
    let wrapped = codes("wrap", &place);
    let (found, _) = findings(&codes("check", &[&place[..], &["--json"]].concat()));
    for code in ["travel-limit", "power", "overlap"] {
        assert!(has(&found, code, "error"), "{code}: {found:?}");
        assert!(wrapped.err.contains(&format!("error {code}: ")), "{code}: {}", wrapped.err);
    }
    let written = wrapped.out_text();
    let (_, end) = written.rsplit_once("X10 S300 F600\n").unwrap();
    assert!(end.starts_with("M5\n(broken off: error ") && end.lines().count() == 2, "{end}");
    // What is accepted does not hide what is not.
    let accepted = codes("wrap", &[&place[..], &["--allow", "travel-limit,overlap"]].concat());
    let (_, end) = accepted.out_text().rsplit_once("X70\n").unwrap();
    assert!(end.starts_with("M5\n(broken off: error power: "), "{end}");
}

/// A tool change leaves the beam off: that what follows stays dark is told.
#[test]
fn a_tool_change_that_darkens_what_follows_is_told() {
    let told = |change: &str| {
        let text = program(&format!("M4 S300\nG1 X10 F600\n{change}\nX20\nM5"));
        check_on("can", "-", text.as_bytes(), &["--place-at", "20"]).err
    };
    let says = "line 6: M6 switches the beam off (RS274/NGC 3.6.3)";
    assert!(told("T2 M6").contains(says), "{}", told("T2 M6"));
    assert!(!told("M6 M4").contains(says) && !told("M5\nM6\nM4").contains(says));
}

#[test]
fn a_run_up_cut_off_at_the_end_of_an_axis_is_within_it() {
    let art = "<svg xmlns='http://www.w3.org/2000/svg' width='20mm' height='40mm' \
               viewBox='0 0 20 40'><rect width='20' height='40'/></svg>";
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("art.svg"), art).unwrap();
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let cup = fixture("blanks/cup.toml");
    for most in ["41.3", "42.4", "42.9", "43.3"] {
        let ends = machine.replacen("[x]\n", &format!("[x]\nmax = {most}\n"), 1);
        std::fs::write(folder.path().join("m.toml"), ends).unwrap();
        let allow = ["--allow", "defocus-far,clearance", "-o", "x.nc"];
        let job = ["art.svg", "-b", cup.to_str().unwrap(), "-m", "m.toml", "--place-at", "40"];
        let job = [&job[..], &["--tilt", "-6.5"]].concat();
        run_in(folder.path(), &[&["wrap"], &job[..], &allow].concat(), b"").done();
        let program = std::fs::read_to_string(folder.path().join("x.nc")).unwrap();
        let words = program.lines().filter(|line| !line.starts_with('('));
        let words = words.flat_map(|line| line.split(' ').filter_map(|w| w.strip_prefix('X')));
        let reached = words.map(|x| x.parse::<f64>().unwrap()).fold(f64::MIN, f64::max);
        assert_eq!(reached, most.parse::<f64>().unwrap(), "the run-up goes to the end");
    }
}
