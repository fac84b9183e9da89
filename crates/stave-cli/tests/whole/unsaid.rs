//! What a program or an option asks for that is not done, or can hardly be meant: said, or refused,
//! by every command alike.

use std::fs;
use std::path::Path;

use tempfile::TempDir;

use crate::command::{Outcome, fixture, run_in};

/// 20 mm along the tin at a Z of the program's own.
fn at_z(z: &str) -> String {
    format!("G21 G90\nM3 S300 F1200\nG0 X5 Y5\nG0 Z{z}\nG1 X25\nG0 Z0\nM5\nM2\n")
}

fn stave(input: &str, words: &str) -> Outcome {
    let folder = tempfile::tempdir().unwrap();
    run(&folder, input, words)
}

fn run(folder: &TempDir, input: &str, words: &str) -> Outcome {
    let path = |name: &str| fixture(name).to_str().unwrap().to_owned();
    let line = words
        .replace("@CAN", &format!("-b {}", path("blanks/can.toml")))
        .replace("@CUP", &format!("-b {}", path("blanks/cup.toml")))
        .replace("@TUMBLER", &format!("-b {}", path("blanks/tumbler.toml")))
        .replace("@M", &format!("-m {}", path("machines/degrees.toml")));
    let words: Vec<&str> = line.split_whitespace().collect();
    run_in(folder.path(), &words, input.as_bytes())
}

/// The head is focused with Z at 0: a program that burns elsewhere is as far out of focus, and the
/// nozzle as much nearer, whether the job says where to focus or not.
#[test]
fn the_programs_own_z_counts_from_the_focus() {
    for focus in ["", "--focus-at 45"] {
        let deep = stave(&at_z("-9"), &format!("wrap - @CAN @M --place-at 20 -o o.nc {focus}"));
        assert_eq!(deep.status, Some(1), "{focus}");
        assert!(deep.err.contains("error defocus-far: burns are up to 9 mm out"), "{}", deep.err);
        assert!(deep.err.contains("strikes the wall, 3 mm deep"), "{}", deep.err);
        let little = stave(&at_z("-0.4"), &format!("check - @CAN @M --place-at 20 {focus}"));
        assert_eq!(little.status, Some(0), "{}", little.err);
        assert!(little.err.contains("own Z, -0.4 mm where it burns"), "{}", little.err);
    }
    // A program that follows the wall by a Z of its own is in focus.
    let cone = "station = [{ at = 0, diameter = 70 }, { at = 100, diameter = 90 }]\n";
    let follows = "G21 G90\nM3 S300 F1200\nG0 X20 Y0 Z0\nG1 X60 Z4\nM5\nM2\n";
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("cone.toml"), cone).unwrap();
    let words = "check - -b cone.toml @M --place-at 10 --lay even-angle --json";
    let found = run(&folder, follows, words);
    let report: serde_json::Value = serde_json::from_slice(&found.out).unwrap();
    let codes: Vec<_> =
        report["findings"].as_array().unwrap().iter().map(|one| one["code"].clone()).collect();
    assert!(!codes.iter().any(|code| code.as_str().unwrap().contains("defocus")), "{codes:?}");
}

/// The machine stands at the zero, in focus, when the program begins: where Z follows, its first
/// travel lifts over what lies between as any other does, straight up first.
#[test]
fn the_first_travel_is_lifted_over_what_sticks_out() {
    let flat = "G21G90\nM4 S0\nG0X57.5Y0\nG1X62.5Y0S300F1200\nM5\nM2\n";
    let folder = tempfile::tempdir().unwrap();
    let on = "@TUMBLER @M --place-at 70 --place-turn 180 --focus follow --zones ignore";
    let wrapped = run(&folder, flat, &format!("wrap - {on} -o o.nc"));
    assert_eq!(wrapped.status, Some(0), "{}", wrapped.err);
    let text = fs::read_to_string(folder.path().join("o.nc")).unwrap();
    let moves: Vec<&str> = text.lines().skip_while(|line| !line.starts_with("G0")).collect();
    assert!(moves[0].starts_with("G0 Z19.5"), "{}", moves[0]);
    assert!(moves[1].starts_with("X54.9572 A0") && !moves[1].contains('Z'), "{}", moves[1]);
    assert!(moves[2].starts_with("Z8."), "{}", moves[2]);
    for command in [format!("check o.nc {}", "@TUMBLER @M"), format!("walk - {on}")] {
        let outcome = run(&folder, flat, &command);
        assert_eq!(outcome.status, Some(0), "{command}: {}", outcome.err);
        assert!(!outcome.err.contains("strikes"), "{command}: {}", outcome.err);
    }
}

/// Nobody knows the middle of a program that streams.
#[test]
fn a_program_is_not_placed_by_its_middle() {
    let flat = at_z("0");
    for command in ["wrap -", "check -", "walk -", "lays -", "proof - -o p.svg"] {
        let outcome = stave(&flat, &format!("{command} @CAN @M --place-at 50 --place-of art"));
        assert_eq!(outcome.status, Some(2), "{command}: {}", outcome.err);
        assert!(outcome.err.contains("place.of \"art\" needs art"), "{command}: {}", outcome.err);
    }
}

#[test]
fn only_a_picture_is_given_a_size() {
    let square = "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm' \
                  viewBox='0 0 9 9'><path d='M0 0h9v9h-9z'/></svg>";
    let program = at_z("0");
    for (input, from, what) in [
        (square, "-", "a drawing has a size of its own"),
        (&program[..], "-", "a program has a size of its own"),
        ("", "--path M0,0h9", "path data has a size of its own"),
    ] {
        for size in ["--width 30", "--height 30"] {
            for command in ["wrap", "check", "lays"] {
                let outcome = stave(input, &format!("{command} {from} @CAN @M {size}"));
                assert_eq!(outcome.status, Some(2), "{command} {from}: {}", outcome.err);
                assert!(outcome.err.contains(what), "{command} {from}: {}", outcome.err);
            }
        }
    }
    let told = stave(&program, "wrap - @CAN @M --place-at 20 --stands lying");
    assert!(told.err.contains("`stands` has no effect on a program"), "{}", told.err);
}

/// A wait typed in milliseconds, a feed typed by the second.
#[test]
fn what_takes_far_too_long_is_told() {
    let program = |lines: &str| format!("G21 G90\nM3 S300 F1200\nG0 X5 Y5\n{lines}\nM5\nM2\n");
    for (lines, told) in [
        ("G1 X5.5\nG4 P500", "the beam stands lit on one spot for 500 s"),
        ("G1 X5.5\nM5\nG4 P500", "the machine waits for 500 s"),
        ("G1 X9 F2", "a burn goes at 0.033333 mm/s"),
    ] {
        for command in ["check", "wrap -o o.nc"] {
            let words = command.replacen(' ', " - ", 1);
            let words = if words == command { format!("{command} -") } else { words };
            let outcome = stave(&program(lines), &format!("{words} @CAN @M --place-at 20"));
            let all = format!("{}{}", outcome.err, String::from_utf8_lossy(&outcome.out));
            let all = all.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(all.contains("plausible") && all.contains(told), "{command} {lines}: {all}");
        }
    }
    let fine = stave(&program("G1 X9\nG4 P0.5\nM5\nG4 P30"), "check - @CAN @M --place-at 20");
    assert!(!String::from_utf8_lossy(&fine.out).contains("plausible"));
}

/// Nobody knows where the machine stands when a program is gone on with.
#[test]
fn the_way_to_what_is_left_is_not_judged_and_that_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let flat = "G21 G90\nM3 S300 F1200\nG0 X5 Y5\nG1 X25\nG1 Y9\nM5\nM2\n";
    assert_eq!(run(&folder, flat, "wrap - @CAN @M --place-at 20 -o o.nc").status, Some(0));
    let rest = run(&folder, "", "resume o.nc @M --at 0.5 -o rest.nc");
    assert_eq!(rest.status, Some(0), "{}", rest.err);
    assert!(rest.err.contains("nobody has judged it"), "{}", rest.err);
}

/// Rows that come to lie closer than they were drawn burn deeper at the power they have.
#[test]
fn scanning_again_tells_what_it_makes_of_the_energy() {
    let mut flat = String::from("G21 G90\nM4 S0\n");
    for row in 0..40 {
        let y = f64::from(row) * 0.1;
        let (from, to) = if row % 2 == 0 { (0, 30) } else { (30, 0) };
        flat.push_str(&format!("G0 X{from} Y{y:.1}\nG1 X{to} S400 F12000\n"));
    }
    flat.push_str("M5\nM2\n");
    let words = "wrap - @CUP @M --place-at 20 --tilt -6.5 --scan again -o o.nc";
    let plain = stave(&flat, words);
    assert!(plain.err.contains("changes the energy on each mm² by +"), "{}", plain.err);
    let even = stave(&flat, &format!("{words} --dose even"));
    assert_eq!(even.status, Some(0), "{}", even.err);
    assert!(!even.err.contains("changes the energy"), "{}", even.err);
}

/// An M2 in the middle of a program of ours: what stands after it is never burned.
#[test]
fn a_program_that_ends_before_its_own_last_line_is_not_whole() {
    let folder = tempfile::tempdir().unwrap();
    let flat = "G21 G90\nM3 S300 F1200\nG0 X5 Y5\nG1 X25\nG1 Y9\nM5\nM2\n";
    assert_eq!(run(&folder, flat, "wrap - @CAN @M --place-at 20 -o o.nc").status, Some(0));
    let whole = fs::read_to_string(folder.path().join("o.nc")).unwrap();
    let cut = whole.replacen("\nA", "\nM5\nM2\nA", 1);
    assert_ne!(cut, whole);
    fs::write(folder.path().join("cut.nc"), cut).unwrap();
    for (command, status) in [
        ("check cut.nc @CAN @M", 1),
        ("estimate cut.nc @M", 2),
        ("walk cut.nc @CAN @M", 2),
        ("proof cut.nc @CAN @M -o p.svg", 2),
        ("resume cut.nc @M --at 0.1", 2),
    ] {
        let outcome = run(&folder, "", command);
        let all = format!("{}{}", outcome.err, String::from_utf8_lossy(&outcome.out));
        let all = all.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(outcome.status, Some(status), "{command}: {all}");
        assert!(all.contains("ends before the comment"), "{command}: {all}");
        let whole = run(&folder, "", &command.replace("cut.nc", "o.nc"));
        assert_eq!(whole.status, Some(0), "{command}: {}", whole.err);
    }
}

/// What only the controller knows is told of a finished program as of a flat one.
#[test]
fn a_word_that_may_move_something_is_told_in_a_wrapped_program_too() {
    let folder = tempfile::tempdir().unwrap();
    let flat = "G21 G90\nM3 S300 F1200\nG0 X5 Y5\nM42 P1\nG1 X25\nM5\nM2\n";
    let wrapped = run(&folder, flat, "wrap - @CAN @M --place-at 20 --pass all -o o.nc");
    assert_eq!(wrapped.status, Some(0), "{}", wrapped.err);
    for (from, line) in [("-", 4), ("o.nc", 16)] {
        let found = run(&folder, flat, &format!("check {from} @CAN @M --place-at 20 --json"));
        let report: serde_json::Value = serde_json::from_slice(&found.out).unwrap();
        let passed = report["findings"].as_array().unwrap();
        let passed = passed.iter().find(|one| one["code"] == "passed").unwrap();
        assert_eq!(passed["line"].as_u64(), Some(line), "{passed}");
    }
}

/// An option that asks for another is not let pass beside what that other cannot go with.
#[test]
fn an_option_that_does_nothing_is_refused() {
    let (can, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let (can, machine) = (can.to_str().unwrap(), machine.to_str().unwrap());
    let readings = ["measure", "--diameter", "0=70", "--diameter", "50=70"];
    for option in ["known", "side", "stands", "id", "within"] {
        let value = match option {
            "known" => "height=50",
            "side" => "left",
            "stands" => "upright",
            "id" => "outline",
            _ => "0.2mm",
        };
        let option = format!("--{option}");
        let refused = run_in(Path::new("."), &[&readings[..], &[&option, value]].concat(), b"");
        assert_eq!(refused.status, Some(2), "{option}: {}", refused.out_text());
    }
    let template = ["template", "-b", can, "-m", machine, "--sheet", "a4", "--title", "can"];
    assert_eq!(run_in(Path::new("."), &template, b"").status, Some(2));
    // The lens that is named is the one that is told of and drawn.
    let folder = tempfile::tempdir().unwrap();
    let two = fs::read_to_string(machine).unwrap()
        + "\n[[lens]]\nname = \"other\"\nfocal_length = 38.1\n";
    fs::write(folder.path().join("two.toml"), two).unwrap();
    let level = ["level", "-b", can, "-m", "two.toml", "--lens", "other"];
    let table = run_in(folder.path(), &level, b"").done();
    let rows = table.out_text().lines().filter(|line| line.contains('±')).count();
    assert!(table.out_text().contains("\nother "), "{}", table.out_text());
    let all = run_in(folder.path(), &level[..5], b"").done();
    assert!(all.out_text().lines().filter(|line| line.contains('±')).count() > rows);
    run_in(folder.path(), &[&level[..], &["-o", "o.svg"]].concat(), b"").done();
    let picture = fs::read_to_string(folder.path().join("o.svg")).unwrap();
    assert!(picture.contains("lens other is sharp"), "{picture}");
}

/// A program changed by hand, where such a word stands under the beam word.
#[test]
fn a_word_that_only_the_controller_knows_is_told_where_the_beam_is_on() {
    let folder = tempfile::tempdir().unwrap();
    let flat = "G21 G90\nG0 X5 Y5\nM3 S300\nM106 S255\nG1 X25 F1200\nM5\nM2\n";
    let wrapped = run(&folder, flat, "wrap - @CAN @M --place-at 20 --pass all -o o.nc");
    assert_eq!(wrapped.status, Some(0), "{}", wrapped.err);
    let program = std::fs::read_to_string(folder.path().join("o.nc")).unwrap();
    let off = "M5\nM106 S255\nM5\nG0 X5 A7.7427\nM3 S0\n";
    let lit = program.replace(off, "M106 S255\n");
    assert_ne!(program, lit);
    for (program, told) in [(program, false), (lit, true)] {
        let found = run(&folder, &program, "check - @CAN @M --json");
        let report: serde_json::Value = serde_json::from_slice(&found.out).unwrap();
        let passed = report["findings"].as_array().unwrap();
        let passed = passed.iter().find(|one| one["code"] == "passed").unwrap();
        let message = passed["message"].as_str().unwrap();
        assert_eq!(message.contains("put M5 before it"), told, "{message}");
    }
}
