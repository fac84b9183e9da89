//! What is to be set before a run: the comment in the head of every program, and the line on
//! standard error that says the same.

use crate::command::{LAID, Outcome, fixture, run_in};
use std::path::Path;

/// Runs a command in a folder with a blank and a machine of the fixtures, to `out.nc`.
fn made(folder: &Path, arguments: &[&str], (blank, machine): (&str, &str)) -> (String, Outcome) {
    let (blank, machine) = (fixture(blank), fixture(machine));
    let files = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap(), "-o", "out.nc"];
    let outcome = run_in(folder, &[arguments, &files].concat(), b"").done();
    (std::fs::read_to_string(folder.join("out.nc")).unwrap(), outcome)
}

/// The comment, its room for any figure taken out, which standard error says too.
fn set_line((program, outcome): &(String, Outcome)) -> String {
    let mut lines = program.lines().filter_map(|line| line.strip_prefix("(set: "));
    let line = lines.next().unwrap_or_else(|| panic!("{program}"));
    assert!(lines.next().is_none());
    let line = line.strip_suffix(')').unwrap();
    let words = line.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = format!("stave: set: {words}\n");
    assert!(outcome.err.contains(&said), "{words}: {}", outcome.err);
    words
}

#[test]
fn swatch_and_walk_say_it_as_wrap_does() {
    let folder = tempfile::tempdir().unwrap();
    let files = ("blanks/bottle.toml", "machines/degrees.toml");
    let crest = fixture("programs/crest.nc");
    let place = ["--place-at", "107", "--tilt", "-1"];
    let of = |command: &[&str]| set_line(&made(folder.path(), command, files));
    let all = |command: &[&str]| of(&[command, &place, &LAID].concat());
    let wrapped = all(&["wrap", crest.to_str().unwrap()]);
    assert!(wrapped.starts_with("tilt -1 deg, focus at 1"), "{wrapped}");
    assert!(wrapped.contains(" mm, zero at 107 mm turn 0 deg"), "{wrapped}");
    assert_eq!(all(&["walk", crest.to_str().unwrap()]), wrapped);
    // A walk of what was wrapped is set as line 1 says, whatever the options would have it.
    std::fs::copy(folder.path().join("out.nc"), folder.path().join("walk.nc")).unwrap();
    all(&["wrap", crest.to_str().unwrap()]);
    std::fs::rename(folder.path().join("out.nc"), folder.path().join("crest.nc")).unwrap();
    assert_eq!(of(&["walk", "crest.nc"]), wrapped);
    for what in [&["--arrow"][..], &["--lag"], &["--powers", "20,40", "--speeds", "30"]] {
        let line = all(&[&["swatch"], what].concat());
        assert!(line.starts_with("tilt -1 deg, focus at "), "{line}");
        assert!(line.contains(" mm, zero at 107 mm turn 0 deg"), "{line}");
    }
    let told = of(&["swatch", "--arrow", "--place-at", "30", "--focus-at", "33", "--zero-at", "5"]);
    assert!(told.starts_with("tilt 0 deg, focus at 33.0 mm, zero at 5 mm turn 0 deg"), "{told}");
}

/// A word of the rollers is mm of surface where they touch: elsewhere every width comes out wrong.
#[test]
fn where_rollers_touch_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let files = ("blanks/can.toml", "machines/roller.toml");
    let touch = "rollers touching at 20 mm";
    let place = ["--place-at", "40", "--contact-at", "20"];
    let flat = "G21\nM4 S300\nG1 X20 F600\nM5\nM2\n";
    std::fs::write(folder.path().join("flat.nc"), flat).unwrap();
    let of = |command: &[&str]| made(folder.path(), &[command, &place, &LAID].concat(), files);
    for command in ["walk", "wrap"] {
        let line = set_line(&of(&[command, "flat.nc"]));
        assert!(line.contains(&format!(" turn 0 deg, {touch}")), "{line}");
    }
    let (machine, blank) = (fixture(files.1), fixture(files.0));
    let rest = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap(), "-o", "proof.svg"];
    run_in(folder.path(), &[&["proof", "out.nc"][..], &rest, &LAID].concat(), b"").done();
    let proof = std::fs::read_to_string(folder.path().join("proof.svg")).unwrap();
    assert!(proof.contains(&format!("0°, {touch}</text>")), "the head of the sheet");
    assert!(proof.contains(&format!(">{touch}</text>")), "its figures");
}

/// Where rollers touch, line 1 says: how lines fall on motor steps is no matter of the job's.
#[test]
fn steps_of_a_roller_are_those_where_it_touched() {
    let folder = tempfile::tempdir().unwrap();
    let files = ("blanks/cup.toml", "machines/roller.toml");
    let row = |k: u32| format!("G0 X10 Y{}\nG1 X30 F3000 S400\n", f64::from(k) * 0.13);
    let rows: String = (0..40).map(row).collect();
    std::fs::write(folder.path().join("scan.nc"), format!("G21\nM4 S0\n{rows}M5\nM2\n")).unwrap();
    let (machine, blank) = (fixture(files.1), fixture(files.0));
    let rest = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let place = ["--place-at", "10", "--contact-at"];
    let mut found = Vec::new();
    for contact in ["10", "60"] {
        made(folder.path(), &[&["wrap", "scan.nc"][..], &place, &[contact], &LAID].concat(), files);
        let words = ["check", "out.nc", "--json"];
        let checked = run_in(folder.path(), &[&words[..], &rest].concat(), b"");
        let told = String::from_utf8(checked.out).unwrap();
        let steps = told.split(" motor steps apart").next().unwrap().rsplit(" ").next().unwrap();
        found.push(steps.to_owned());
    }
    assert_eq!(found, ["9.75", "11.4"]);
}

/// A program is judged with the lens and the nozzle that it was wrapped for, job or no job.
#[test]
fn a_program_keeps_its_lens_and_nozzle() {
    let folder = tempfile::tempdir().unwrap();
    let files = ("blanks/cup.toml", "machines/degrees.toml");
    let fitted = ["--lens", "short", "--nozzle", "short barrel", "--place-at", "20"];
    std::fs::write(folder.path().join("flat.nc"), "M4 S300\nG1 X9 F600\nM5\nM2\n").unwrap();
    let wrapped = made(folder.path(), &[&["wrap", "flat.nc"][..], &fitted, &LAID].concat(), files);
    let line = wrapped.0.lines().next().unwrap();
    assert!(line.contains("lens=short nozzle=\"short barrel\""), "{line}");
    let (machine, blank) = (fixture(files.1), fixture(files.0));
    let rest = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let checked = run_in(folder.path(), &[&["check", "out.nc"][..], &rest].concat(), b"");
    assert!(checked.out_text().contains("short barrel (fitted)"), "{}", checked.out_text());
    let proof = ["proof", "out.nc", "-o", "proof.svg"];
    run_in(folder.path(), &[&proof[..], &rest, &LAID].concat(), b"").done();
    let proof = std::fs::read_to_string(folder.path().join("proof.svg")).unwrap();
    assert!(proof.contains("lens short, nozzle short barrel"));
}
