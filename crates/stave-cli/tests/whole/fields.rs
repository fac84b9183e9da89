//! `--set` and `--row`: one drawing, many values.

use std::fs;
use std::path::Path;

use crate::command::{Outcome, fixture, run_in};

/// A line under a name in letters of single lines, in the drawing's own colour.
const DRAWING: &str = "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='40mm' \
    viewBox='0 0 60 40'><title>Cup of {name}</title>\
    <text id='name' x='30' y='20' font-family='stave-line' font-size='6' text-anchor='middle' \
    fill='{ink}' data-fit='shrink' data-width='30'>{name}</text>\
    <path id='line' data-if='boss' d='M10 30h40' fill='none' stroke='{ink}'/></svg>";

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("art.svg"), DRAWING).unwrap();
    let table = "name,ink,boss\r\nAda,#111,\r\n\"O'Neill & Søn\",navy,1\r\n";
    fs::write(folder.path().join("crew.csv"), table).unwrap();
    folder
}

/// A command on a drawing, on the can.
fn on_can(folder: &Path, command: &str, rest: &[&str]) -> Outcome {
    let (can, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let mut arguments = vec![command, "art.svg", "-b", can.to_str().unwrap()];
    arguments.extend(["-m", machine.to_str().unwrap(), "--place-at", "40"]);
    arguments.extend(rest);
    run_in(folder, &arguments, b"")
}

#[test]
fn a_row_and_the_same_values_make_the_same_program() {
    let folder = folder();
    let wrap = |rest: &[&str]| on_can(folder.path(), "wrap", rest).done().out;
    let by_row = wrap(&["--row", "crew.csv:2"]);
    let set = ["--set", "name=O'Neill & Søn", "--set", "ink=navy", "--set", "boss=1"];
    assert_eq!(by_row, wrap(&set));
    let text = String::from_utf8(by_row).unwrap();
    assert!(text.contains("piece line"), "{text}");
    // What is set beats the row, and what is empty hides.
    let hidden = wrap(&["--row", "crew.csv:2", "--set", "boss="]);
    assert!(!String::from_utf8(hidden).unwrap().contains("piece line"));
    // Line 1 tells two rows apart, and not two runs of one.
    let line =
        |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().lines().next().unwrap().to_owned();
    assert_ne!(line(wrap(&["--row", "crew.csv:1"])), text.lines().next().unwrap());
}

#[test]
fn every_command_that_takes_art_takes_values() {
    let folder = folder();
    for command in ["check", "lays", "walk", "proof", "estimate", "wrap"] {
        let go = |rest: &[&str]| {
            let (can, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
            let mut arguments = vec![command, "art.svg", "-b", can.to_str().unwrap()];
            arguments.extend(["-m", machine.to_str().unwrap()]);
            if command == "proof" {
                arguments.extend(["-o", "proof.svg", "--title", "For {name}"]);
            }
            if command != "estimate" {
                arguments.extend(["--place-at", "40"]);
            }
            arguments.extend(rest);
            run_in(folder.path(), &arguments, b"")
        };
        go(&["--row", "crew.csv:2"]).done();
        let none = go(&[]);
        assert_eq!(none.status, Some(2), "{command}: {}", none.err);
        assert!(none.err.contains("the field `{name}` has no value"), "{command}: {}", none.err);
        let unused = go(&["--row", "crew.csv:1", "--set", "nmae=Ada"]);
        assert_eq!(unused.status, Some(2), "{command}");
        assert!(unused.err.contains("nothing in the drawing uses `{nmae}`"), "{}", unused.err);
    }
    let proof = fs::read_to_string(folder.path().join("proof.svg")).unwrap();
    assert!(proof.contains("For O'Neill &amp; Søn"), "the title is filled too");
}

#[test]
fn what_cannot_be_meant_is_bad_usage() {
    let folder = folder();
    for (rest, expected) in [
        (&["--set", "name"][..], "--set: `name` must be a field and its value"),
        (&["--set", "name=a", "--set", "name=b"], "`name` is set twice"),
        (&["--row", "crew.csv"], "must be a table and the number of a row"),
        (&["--row", "crew.csv:0"], "must be a table and the number of a row"),
        (&["--row", "crew.csv:3"], "crew.csv has no row 3: its rows end with 2"),
        (&["--row", "nobody.csv:1"], "cannot read nobody.csv"),
        (&["--row", "crew.csv:1", "-o", "crew.csv"], "crew.csv is --row and -o at once"),
        (&["--row", "art.svg:1"], "art.svg has no row 1"),
    ] {
        let outcome = on_can(folder.path(), "wrap", rest);
        assert_eq!(outcome.status, Some(2), "{rest:?}: {}", outcome.err);
        assert!(outcome.err.contains(expected), "{rest:?}: {}", outcome.err);
    }
    let program = "G1 X9 F600\nM2\n";
    fs::write(folder.path().join("flat.nc"), program).unwrap();
    let machine = fixture("machines/degrees.toml");
    let machine = machine.to_str().unwrap();
    let of_program = ["estimate", "flat.nc", "-m", machine, "--set", "name=a"];
    let outcome = run_in(folder.path(), &of_program, b"");
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("flat.nc: only a drawing has fields"), "{}", outcome.err);
}

#[test]
fn a_name_past_its_box_is_a_finding_and_is_not_written() {
    let folder = folder();
    let long = format!("name={}", "Reedwater ".repeat(12));
    let rest = ["--row", "crew.csv:1", "--set", &long, "-o", "out.nc"];
    let outcome = on_can(folder.path(), "wrap", &rest);
    assert_eq!(outcome.status, Some(1), "{}", outcome.err);
    assert!(outcome.err.contains("error too-long"), "{}", outcome.err);
    assert!(outcome.err.contains("shorten it, or give it more room"), "{}", outcome.err);
    assert!(!folder.path().join("out.nc").exists());
    let allowed = [&rest[..], &["--allow", "too-long"]].concat();
    on_can(folder.path(), "wrap", &allowed).done();
}
