//! Numbers that nobody can mean, in settings, programs and drawings: told with their place, or
//! written as numbers.

use crate::bad_input::Bench;
use crate::command::run_in;

#[test]
fn a_number_far_out_is_told_with_its_file_and_key_by_every_command_that_reads_it() {
    for (key, from) in [("speed", "speed = 500.0"), ("acceleration", "acceleration = 5000.0")] {
        let bench = Bench::new();
        bench.put("p.nc", b"G21\nM4 S300\nG1 X30 F600\nM2\n");
        bench.edit("machine.toml", from, &format!("{key} = 1e-20"));
        for command in ["wrap", "check", "estimate", "lays", "level", "walk", "swatch"] {
            let mut words = vec![command, "-b", "blank.toml", "-m", "machine.toml"];
            match command {
                "level" => {}
                "swatch" => words.extend(["--powers", "20", "--speeds", "100"]),
                _ => words.push("p.nc"),
            }
            let outcome = run_in(bench.path(), &words, b"");
            assert_eq!(outcome.status, Some(2), "{command}: {}", outcome.err);
            let named = outcome.err.contains("machine.toml:") && outcome.err.contains(key);
            assert!(named && outcome.err.contains("at least"), "{command}: {}", outcome.err);
        }
    }
    let bench = Bench::new();
    for option in ["--set-diameter", "--reference-diameter"] {
        let outcome = bench.wrap(&[option, "1e-308"], b"G21\nM4 S300\nG1 X30 F600\nM2\n");
        assert_eq!(outcome.status, Some(2), "{option}: {}", outcome.err);
        assert!(outcome.err.contains(option), "{}", outcome.err);
    }
}

#[test]
fn a_word_that_no_number_can_be_written_for_is_told_with_its_place() {
    let bench = Bench::new();
    for word in ["G4 P99999999999999999999999", "S99999999999999999999", "T99999999999999999999"] {
        let program = format!("G21\nM3 S300\nG0 X5\nG1 X6 F600\n{word}\nG1 X9\nM5\nM2\n");
        for outcome in [
            bench.wrap(&["--allow", "clearance,power"], program.as_bytes()),
            run_in(bench.path(), &["read", "-"], program.as_bytes()),
            run_in(bench.path(), &["estimate", "-", "-m", "machine.toml"], program.as_bytes()),
        ] {
            assert_eq!(outcome.status, Some(2), "{word}: {}", outcome.err);
            assert!(outcome.err.contains(":5:") && outcome.err.contains('^'), "{}", outcome.err);
        }
    }
}

#[test]
fn strokes_past_all_measure_are_written_as_numbers() {
    let bench = Bench::new();
    let art = "<path d=\"M50 40 L80 40 L50 40.00001\" fill=\"none\" stroke=\"#000\"";
    for rest in ["stroke-width=\"1e20\"", "stroke-width=\"4\" stroke-miterlimit=\"1e12\""] {
        let drawing = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"278mm\" height=\"175mm\" \
             viewBox=\"0 0 278 175\">{art} {rest}/></svg>"
        );
        bench.put("a.svg", drawing.as_bytes());
        let words = ["wrap", "a.svg", "-b", "blank.toml", "-m", "machine.toml", "--to", "svg"];
        let words = [&words[..], &["--allow", "cut", "--zones", "ignore"]].concat();
        let outcome = run_in(bench.path(), &words, b"");
        assert_eq!(outcome.status, Some(0), "{}", outcome.err);
        assert!(!outcome.out_text().contains("\"?\""), "{rest}: {}", outcome.out_text());
    }
}
