//! After a line that may have moved the machine nothing burns before it has come back in the dark,
//! every axis said.

use std::fs;
use std::path::Path;

use crate::command::{LAID, fixture, run_in};

const LINES: [&str; 5] = ["$H", "$J=G91X5F100", "M106 P1", "M42 P3 S255", "M6"];

/// What a controller does that is moved away by each of the lines: nothing may burn, or go at feed,
/// while an axis stands where nobody knows.
fn nothing_burns_from_nowhere(program: &str, z: bool, what: &str) {
    let axes: &[char] = if z { &['X', 'A', 'Z'] } else { &['X', 'A'] };
    let (mut unknown, mut motion, mut lit, mut came_back) = (Vec::new(), 1, false, 0);
    for line in program.lines().filter(|line| !line.starts_with('(')) {
        if LINES.contains(&line) {
            assert!(!lit, "{what}: {line} under the beam:\n{program}");
            unknown = axes.to_vec();
            continue;
        }
        let mut moves = false;
        for word in line.split(' ') {
            match word {
                "G0" => motion = 0,
                "G1" => motion = 1,
                "M3" | "M4" => lit = true,
                "M5" => lit = false,
                _ => {}
            }
            if let Some(s) = word.strip_prefix('S') {
                assert!(!lit || unknown.is_empty() || s == "0", "{what}: {line}:\n{program}");
            }
            moves |= word.starts_with(axes);
        }
        if !moves || unknown.is_empty() {
            continue;
        }
        assert_eq!(motion, 0, "{what}: {line} goes at feed from nowhere:\n{program}");
        if z && unknown.len() == axes.len() {
            // Away from the work before anything else.
            assert!(line.starts_with("G0 Z") && !line.contains('X'), "{what}: {line}:\n{program}");
            // Over the rim, which lies some 13 mm above the foot, and not much higher.
            let z: f64 = line.trim_start_matches("G0 Z").parse().unwrap();
            assert!((-1.0..14.0).contains(&z), "{what}: {line}:\n{program}");
        }
        unknown.retain(|axis| !line.contains(*axis));
        came_back += u32::from(unknown.is_empty());
    }
    assert!(came_back > 0, "{what}:\n{program}");
}

/// Machines that take words along in different ways, with what is asked of the job beside.
fn machines() -> Vec<(&'static str, String, &'static [&'static str])> {
    let plain = fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let other = |from: &str, to: &str| {
        let other = plain.replacen(from, to, 1);
        assert_ne!(other, plain);
        other
    };
    let play = "backlash = 0.5\nspeed = 360.0";
    let paced = "power = \"follows-speed\"\ndecimals = 4";
    let follow: &[&str] = &["--focus", "follow"];
    vec![
        ("plain", plain.clone(), &[]),
        ("follow", plain.clone(), follow),
        ("follow, tilt", plain.clone(), &["--focus", "follow", "--tilt", "-6.5"]),
        ("play", other("speed = 360.0", play), &[]),
        ("play, follow", other("speed = 360.0", play), follow),
        ("paced", other("decimals = 4", paced), &[]),
        ("paced, follow", other("decimals = 4", paced), follow),
        ("late", other("m2 = 1.2", "m2 = 1.2\nlag = 0.001"), &[]),
    ]
}

fn wrapped(folder: &Path, flat: &str, job: &[&str]) -> String {
    let cup = fixture("blanks/cup.toml");
    let words = ["wrap", "-", "-m", "m.toml", "--place-at", "20", "--pass", "all", "-o", "o.nc"];
    let words = [&words[..], &["-b", cup.to_str().unwrap()], &LAID, job].concat();
    run_in(folder, &words, flat.as_bytes()).done();
    fs::read_to_string(folder.join("o.nc")).unwrap()
}

#[test]
fn what_may_have_moved_the_machine_is_followed_by_a_dark_way_back() {
    let folder = tempfile::tempdir().unwrap();
    let cup = fixture("blanks/cup.toml");
    for (name, machine, job) in machines() {
        fs::write(folder.path().join("m.toml"), machine).unwrap();
        let z = !job.is_empty();
        for line in LINES {
            let what = format!("{name}, {line}");
            // Before the first move, before a burn, a dot, a gap at feed and a travel.
            let flat = format!(
                "G21 G90\n{line}\n(piece one: x)\nG0 X20 Y0\nM3 S300\nG1 X30 F1200\n\
                 (piece two: x)\n{line}\nM3\nG1 X40 Y10\n(piece three: x)\n{line}\nM3\nG4 P0.1\n\
                 G1 Y12\n(piece four: x)\n{line}\nM3\nG1 X45 S0\nX46 S200\nG0 X44\n\
                 (piece five: x)\n{line}\nG0 X10 Y5\nM3 S100\nG1 Y-5\n\
                 (piece six: x)\n{line}\nG0 X10 Y-5\nM3\nG1 X12\nM5\nM2\n"
            );
            let program = wrapped(folder.path(), &flat, job);
            nothing_burns_from_nowhere(&program, z, &what);
            // The judge, who reads the program as it stands, finds nothing that burns so.
            let check = ["check", "o.nc", "-m", "m.toml", "-b", cup.to_str().unwrap(), "--json"];
            let check = run_in(folder.path(), &[&check[..], &LAID].concat(), b"").done();
            assert!(!check.out_text().contains("burns from wherever"), "{}", check.out_text());
            for piece in ["two", "three", "four", "five", "six"] {
                let resume = ["resume", "o.nc", "-m", "m.toml", "--piece", piece];
                let rest = run_in(folder.path(), &resume, b"").done();
                nothing_burns_from_nowhere(rest.out_text(), z, &format!("{what}, piece {piece}"));
            }
        }
    }
}

/// A head that the program moves itself may have been parked high: it comes down last.
#[test]
fn a_head_of_the_programs_own_comes_down_where_the_work_is() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(fixture("machines/degrees.toml"), folder.path().join("m.toml")).unwrap();
    let flat = "G21 G90\nG0 X20 Y0 Z1\nM3 S300\nG1 X30 F1200\n$H\nG1 X40\nM5\nM2\n";
    let program = wrapped(folder.path(), flat, &[]);
    let back = program.split_once("$H\n").unwrap().1;
    assert!(back.starts_with("M5\nG0 X29.8165 A0\nZ1\nM3 S0\nG1 X39.7553 "), "{back}");
}

/// A first move of Z alone says nothing of the other axes: they are said before anything burns.
#[test]
fn a_program_that_first_lifts_goes_to_where_it_begins() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(fixture("machines/degrees.toml"), folder.path().join("m.toml")).unwrap();
    let flat = "G21 G90\nG0 Z1\nM3 S300\nG1 X30 F1200\nM5\nM2\n";
    let program = wrapped(folder.path(), flat, &[]);
    assert!(program.contains("M5\nG0 Z1\nM3 S0\nX0 A0\nG1 X29.8165 S300 "), "{program}");
}

/// A program from elsewhere, or changed by hand.
#[test]
fn a_burn_from_where_a_line_has_left_the_machine_is_told() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(fixture("machines/degrees.toml"), folder.path().join("m.toml")).unwrap();
    let flat = "G21 G90\nG0 X20 Y0\nM3 S300\nG1 X30 F1200\n$H\nG1 X40\nM5\nM2\n";
    let program = wrapped(folder.path(), flat, &[]);
    let cut = program.replace("G0 X29.8165 A0\n", "");
    assert_ne!(cut, program);
    let cup = fixture("blanks/cup.toml");
    let check = ["check", "-", "-m", "m.toml", "-b", cup.to_str().unwrap(), "--json"];
    for (text, told) in [(program, false), (cut, true)] {
        let check = run_in(folder.path(), &[&check[..], &LAID].concat(), text.as_bytes()).done();
        let report: serde_json::Value = serde_json::from_slice(&check.out).unwrap();
        let passed = report["findings"].as_array().unwrap();
        let passed = passed.iter().find(|one| one["code"] == "passed").unwrap();
        let message = passed["message"].as_str().unwrap();
        assert_eq!(message.contains("burns from wherever that leaves it"), told, "{message}");
    }
}

/// The rotary that a flat place stands on may have been turned as well.
#[test]
fn a_flat_place_is_turned_up_again() {
    let folder = tempfile::tempdir().unwrap();
    let can = fs::read_to_string(fixture("blanks/can.toml")).unwrap();
    let facet = "[[facet]]\nname = \"front\"\nturn = 90\nat = [20, 70]\nwidth = 30\nheight = 36\n";
    fs::write(folder.path().join("b.toml"), format!("{can}\n{facet}")).unwrap();
    fs::write(folder.path().join("j.toml"), "[place]\nfacet = \"front\"\n").unwrap();
    let plain = fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let play = plain.replacen("speed = 360.0", "backlash = 0.5\nspeed = 360.0", 1);
    let flat = "G21 G90\n(piece one: x)\nG0 X5 Y5\nM4 S300\nG1 X20 F1200\n(piece two: x)\n$H\n\
                G1 X30 Y-5\nM5\nM2\n";
    for (machine, up) in [(plain, "G0 A90\n"), (play, "G0 A89\nG0 A90\n")] {
        fs::write(folder.path().join("m.toml"), machine).unwrap();
        let words = ["wrap", "-", "-b", "b.toml", "-m", "m.toml", "-j", "j.toml", "-o", "o.nc"];
        let words = [&words[..], &["--pass", "all"], &LAID].concat();
        let wrapped = run_in(folder.path(), &words, flat.as_bytes()).done();
        let program = fs::read_to_string(folder.path().join("o.nc")).unwrap();
        let back = format!("$H\nM5\n{up}G0 X20 Y5\nM4 S0\nG1 X30 Y-5 ");
        assert!(program.contains(&back), "{program}");
        // Whoever reads it has the time that was told.
        let estimate = ["estimate", "o.nc", "-b", "b.toml", "-m", "m.toml", "--json"];
        let estimate = run_in(folder.path(), &estimate, b"").done();
        let read: serde_json::Value = serde_json::from_slice(&estimate.out).unwrap();
        let told = wrapped.err.lines().find(|line| line.contains(" s: burning")).unwrap();
        let seconds = read["duration_s"].as_f64().unwrap();
        assert!(told.starts_with(&format!("stave: {seconds:.1} s: ")), "{told} {seconds}");
        let rest = ["resume", "o.nc", "-m", "m.toml", "--piece", "two"];
        let rest = run_in(folder.path(), &rest, b"").done();
        let (_, after) = rest.out_text().split_once("$H\n").unwrap();
        assert!(after.starts_with(up), "{after}");
    }
}
