//! One program, every command: places, lengths, times and findings are the same wherever they are
//! told.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;
use tempfile::TempDir;

use crate::command::{Outcome, fixture, run_in};

/// All errors are accepted, so that every command has something to say of every program.
const ALL: &str = "off-wall,reach,zone,overlap,fold,clearance,travel-limit,power,defocus-far";

/// A program that burns a dot, crosses a station in the dark and at feed, and has an arc.
const DOTS: &str = "G21 G90\nM3 S300\nG0 X10 Y4\nG4 P0.25\nG1 X40 Y9 F900\nS0\nG1 X64 Y-3\nS250\n\
                    G2 X70 Y3 I6 J0\nG4 P0.5\nM5\nG0 X0 Y0\nM2\n";

struct Bench {
    folder: TempDir,
    setup: Vec<String>,
    job: Vec<String>,
}

impl Bench {
    fn new(blank: &str, machine: &str, job: &[&str]) -> Self {
        let path = |name: String| fixture(&name).display().to_string();
        let setup = [
            "-b".to_owned(),
            path(format!("blanks/{blank}.toml")),
            "-m".to_owned(),
            path(format!("machines/{machine}.toml")),
        ];
        Self {
            folder: TempDir::new().expect("a folder"),
            setup: setup.to_vec(),
            job: job.iter().map(|word| (*word).to_owned()).collect(),
        }
    }

    fn run(&self, command: &str, file: &str, more: &[&str]) -> Outcome {
        let mut words = vec![command, file];
        words.extend(self.setup.iter().map(String::as_str));
        if command != "estimate" {
            words.extend(self.job.iter().map(String::as_str));
            words.extend(["--allow", ALL]);
        }
        words.extend(more);
        run_in(self.folder.path(), &words, b"")
    }

    fn json(&self, command: &str, file: &str) -> Value {
        let outcome = self.run(command, file, &["--json"]);
        serde_json::from_slice(&outcome.out)
            .unwrap_or_else(|_| panic!("{command} {file}: {:?} {}", outcome.status, outcome.err))
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.folder.path().join(name), text).expect("written");
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.folder.path().join(name)).expect("there")
    }
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} in {value}"))
}

#[track_caller]
fn near(what: &str, a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{what}: {a} and {b}");
}

/// Findings by code, but for those that only the input can know.
fn findings(found: &Value) -> BTreeMap<String, (Option<f64>, Option<f64>)> {
    let of_input = ["distortion", "speed-limit", "passed", "no-end", "spacing-steps"];
    let all = found.as_array().expect("a list");
    all.iter()
        .map(|one| (one["code"].as_str().expect("a code").to_owned(), one))
        .filter(|(code, _)| !of_input.contains(&code.as_str()))
        .map(|(code, one)| (code, (one["value"].as_f64(), one["at"].as_f64())))
        .collect()
}

fn agree(bench: &Bench, flat: &str) {
    bench.write("flat.nc", flat);
    let wrapped = bench.run("wrap", "flat.nc", &["-o", "wrapped.nc", "--report", "report.json"]);
    assert_eq!(wrapped.status, Some(0), "{}", wrapped.err);
    let report: Value = serde_json::from_str(&bench.read("report.json")).expect("a report");
    let told = &report["estimate"];

    // Times and lengths: as it was written, and as the file reads.
    let read = bench.json("estimate", "wrapped.nc");
    for key in ["duration_s", "burn_s", "travel_s", "dwell_s", "at_feeds_s"] {
        let (a, b) = (number(told, key), number(&read, key));
        near(key, a, b, 2e-3 + 2e-4 * b.abs());
    }
    near("at_feeds_s", number(&report, "at_feeds_s"), number(&read, "at_feeds_s"), 2e-3);
    near("burn_mm", number(&report, "burn_mm"), number(&read, "burn_mm"), 0.02);
    assert_eq!(told["moves"], read["moves"]);
    assert!(read["nominal_s"].is_null());

    // Findings: of the flat program, of the wrapped one, of the wrap and of the proof.
    let (flat_check, file_check) =
        (bench.json("check", "flat.nc"), bench.json("check", "wrapped.nc"));
    let (of_flat, of_file) = (findings(&flat_check["findings"]), findings(&file_check["findings"]));
    let of_wrap = findings(&report["findings"]);
    let codes = |all: &BTreeMap<String, _>| all.keys().cloned().collect::<Vec<_>>();
    assert_eq!(codes(&of_flat), codes(&of_file), "{flat_check} {file_check}");
    assert_eq!(codes(&of_flat), codes(&of_wrap));
    for (code, (value, at)) in &of_flat {
        for (other_value, other_at) in [&of_file[code], &of_wrap[code]] {
            if let (Some(a), Some(b)) = (value, other_value) {
                near(code, *a, *b, 0.03 + 1e-3 * a.abs());
            }
            if let (Some(a), Some(b)) = (at, other_at) {
                near(code, *a, *b, 1.1);
            }
        }
    }
    near("focus", number(&flat_check, "focus_at"), number(&file_check, "focus_at"), 0.05);
    let proof = bench.run("proof", "wrapped.nc", &["-o", "sheet.svg"]);
    assert_eq!(proof.status, Some(0), "{}", proof.err);
    for code in of_file.keys() {
        assert!(proof.err.contains(&format!("{code}:")), "{code} not in {}", proof.err);
    }

    // The error of angles: as wrapped, as compared, as checked.
    let lays = bench.json("lays", "flat.nc");
    let laid = &report["as_laid"][0];
    let lay = laid["lay"].as_str().expect("a lay");
    let compared = number(&lays["pieces"][0]["lays"][lay], "omega_max_deg");
    near("omega", number(laid, "omega_max_deg"), compared, 1e-9);
    let all = flat_check["findings"].as_array().expect("a list");
    if let Some(distortion) = all.iter().find(|one| one["code"] == "distortion")
        && number(distortion, "limit") == 5.0
    {
        near("omega", number(distortion, "value"), compared, 1e-9);
    }

    walks(bench, &report);
}

/// Walks of the flat and of the wrapped program go round all that burns, and their nozzle comes no
/// nearer than the program's.
fn walks(bench: &Bench, report: &Value) {
    for input in ["flat.nc", "wrapped.nc"] {
        let walk = bench.run("walk", input, &["-o", "walk.nc"]);
        assert_eq!(walk.status, Some(0), "{input}: {}", walk.err);
        let check = bench.json("check", "walk.nc");
        let codes: Vec<&str> = check["findings"]
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(|f| f["code"].as_str())
            .collect();
        assert!(!codes.contains(&"nothing-burns"), "{check}");
        let first = bench.read("walk.nc").lines().next().unwrap_or_default().to_owned();
        assert!(first.contains(" walk=dark") && !first.contains("time="), "{first}");
        let burned = [number(report, "at_min"), number(report, "at_max")];
        let round = bench.run("walk", input, &["-o", "-"]).err;
        let line = round.lines().find(|line| line.starts_with("round ")).unwrap_or_default();
        let words: Vec<f64> = line
            .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
            .filter_map(|word| word.parse().ok())
            .collect();
        assert!(words[0] <= burned[0] + 0.06 && words[1] >= burned[1] - 0.06, "{line} {burned:?}");
    }
}

fn all_programs(bench: &Bench) {
    for entry in std::fs::read_dir(fixture("programs")).expect("programs").flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|ending| ending == "nc") {
            agree(bench, &std::fs::read_to_string(Path::new(&path)).expect("a program"));
        }
    }
    agree(bench, DOTS);
}

#[test]
fn on_the_cup_without_tilt() {
    all_programs(&Bench::new("cup", "degrees", &[]));
}

#[test]
fn on_the_bottle_tilted() {
    let job = ["--tilt", "-5.5", "--place-at", "70", "--lay", "even-angle"];
    all_programs(&Bench::new("bottle", "degrees", &job));
}

#[test]
fn with_driven_focus() {
    let bench = Bench::new("cup", "degrees", &["--focus", "follow", "--dose", "even"]);
    agree(&bench, DOTS);
    agree(&bench, &std::fs::read_to_string(fixture("programs/bands.nc")).expect("a program"));
}

#[test]
fn along_y_and_on_rollers() {
    for machine in ["along-y", "roller"] {
        let bench = Bench::new("can", machine, &["--toward", "x-", "--place-at", "20"]);
        agree(&bench, DOTS);
    }
}
