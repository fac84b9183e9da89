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

#[test]
fn a_burn_without_a_feed_rate_is_refused_by_every_command() {
    let bench = Bench::new("can", "degrees", &[]);
    for program in
        ["G21\nM4 S300\nG1 X3\nM2\n", "G21\nM3\nG2 X6 I3\nM2\n", "G93\nM4 S3\nG1 X3 F1\nX6\nM2\n"]
    {
        bench.write("p.nc", program);
        for command in ["wrap", "check", "estimate", "lays", "walk", "proof"] {
            let more: &[&str] = if command == "proof" { &["-o", "p.svg"] } else { &[] };
            let outcome = bench.run(command, "p.nc", more);
            assert_eq!(outcome.status, Some(2), "{command} of {program}: {}", outcome.err);
        }
        let outcome = run_in(bench.folder.path(), &["read", "p.nc"], b"");
        assert_eq!(outcome.status, Some(2), "read of {program}: {}", outcome.err);
        assert!(outcome.err.contains("write an F word") || outcome.err.contains("own F word"));
    }
    // Dark it needs none: nothing is burned at an unknown speed.
    bench.write("p.nc", "G21\nG1 X3\nM2\n");
    assert_eq!(run_in(bench.folder.path(), &["read", "p.nc"], b"").status, Some(0));
}

/// A drawing on the page of the can, 232.48 mm by 110 mm.
fn drawing(art: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"232.478mm\" height=\"110mm\" \
         viewBox=\"0 0 232.478 110\">{art}</svg>"
    )
}

#[test]
fn a_drawing_that_burns_nothing_is_an_error_everywhere() {
    let bench = Bench::new("can", "degrees", &[]);
    for art in ["", "<rect x=\"20\" y=\"20\" width=\"9\" height=\"9\" fill=\"#fff\"/>"] {
        bench.write("e.svg", &drawing(art));
        let found = bench.json("check", "e.svg");
        assert_eq!(found["fit"], false, "{found}");
        let found = found["findings"].as_array().expect("a list");
        let nothing = found.iter().find(|f| f["code"] == "nothing-burns").expect("nothing-burns");
        assert_eq!(nothing["severity"], "error");
        assert!(!nothing["message"].as_str().expect("text").contains("M3"), "{nothing}");
        for (command, more) in [
            ("check", &[][..]),
            ("wrap", &["-o", "e.nc"]),
            ("wrap", &["--to", "svg", "-o", "e2.svg"]),
        ] {
            let outcome = bench.run(command, "e.svg", more);
            assert_eq!(outcome.status, Some(1), "{command} of {art}: {}", outcome.err);
        }
        for name in ["e.nc", "e2.svg"] {
            assert!(!bench.folder.path().join(name).exists(), "{name} was written");
        }
        let words: Vec<&str> = bench.setup.iter().map(String::as_str).collect();
        let mut line = vec!["wrap", "e.svg", "--allow", "nothing-burns", "-o", "allowed.nc"];
        line.extend(words);
        assert_eq!(run_in(bench.folder.path(), &line, b"").status, Some(0));
    }
}

#[test]
fn a_label_that_folds_is_a_finding_of_its_piece() {
    let bench = Bench::new("bottle", "degrees", &["--lay", "label", "--anchor", "drawing"]);
    // A frame from the body far up the neck.
    bench.write(
        "f.svg",
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"230mm\" height=\"180mm\" \
         viewBox=\"0 0 230 180\"><rect id=\"frame\" x=\"20\" y=\"4\" width=\"190\" height=\"170\" \
         fill=\"none\" stroke=\"#000\"/></svg>",
    );
    let found = bench.json("check", "f.svg");
    let list = found["findings"].as_array().expect("a list");
    let fold = list.iter().find(|f| f["code"] == "fold").unwrap_or_else(|| panic!("{found}"));
    assert_eq!((fold["severity"].as_str(), fold["piece"].as_str()), (Some("error"), Some("frame")));
    for (command, more) in
        [("check", &[][..]), ("wrap", &["-o", "f.nc"]), ("wrap", &["--to", "svg", "-o", "f2.svg"])]
    {
        let words: Vec<&str> = bench.setup.iter().chain(&bench.job).map(String::as_str).collect();
        let outcome =
            run_in(bench.folder.path(), &[&[command, "f.svg"], &words[..], more].concat(), b"");
        assert_eq!(outcome.status, Some(1), "{command}: {}", outcome.err);
        assert!(command == "check" || outcome.err.contains("error fold: the label reaches"));
    }
}

#[test]
fn a_setting_that_can_hardly_be_meant_is_a_finding_wherever_a_run_is_judged() {
    let folder = TempDir::new().expect("a folder");
    let can = std::fs::read_to_string(fixture("blanks/can.toml")).expect("there");
    let machine = fixture("machines/degrees.toml").display().to_string();
    std::fs::write(folder.path().join("b.toml"), format!("units = \"in\"\n{can}"))
        .expect("written");
    std::fs::write(folder.path().join("p.nc"), "G21\nM4 S300\nG1 X3 F600\nM2\n").expect("written");
    let words = |command: &'static str| {
        vec![command, "p.nc", "-b", "b.toml", "-m", machine.as_str(), "--allow", "clearance"]
    };
    let outcome = run_in(folder.path(), &[words("check"), vec!["--json"]].concat(), b"");
    let report: Value = serde_json::from_slice(&outcome.out).expect("json");
    let found = report["findings"].as_array().expect("a list");
    let doubt = found.iter().find(|f| f["code"] == "plausible").expect("plausible");
    assert_eq!(doubt["severity"], "warning");
    assert!(doubt["message"].as_str().expect("text").contains("`units` must be \"mm\""));
    for command in ["wrap", "walk", "lays", "proof"] {
        let more = if command == "proof" { vec!["-o", "p.svg"] } else { Vec::new() };
        let outcome = run_in(folder.path(), &[words(command), more].concat(), b"");
        let told = outcome.err.matches("warning plausible: the wall of").count();
        assert_eq!(told, 1, "{command}: {}", outcome.err);
    }
}

/// Whatever command reads a file says what of it can hardly be meant, in the same words and once.
#[test]
fn every_command_that_reads_a_file_doubts_it() {
    let folder = TempDir::new().expect("a folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("written");
    };
    let read = |name: &str| std::fs::read_to_string(fixture(name)).expect("there");
    write("b.toml", &format!("units = \"in\"\n{}", read("blanks/can.toml")));
    write("m.toml", &read("machines/degrees.toml").replacen("speed = 500.0", "speed = 24000.0", 1));
    write("j.toml", "tolerance = 5.0\n");
    write("p.nc", "G21\nM4 S300\nG1 X3 F600\nM2\n");
    let blank = "warning plausible: the wall of";
    let machine = "warning plausible: `speed` of [x] is 24000 mm a second";
    let job = "tolerance` is 5 mm, by which a burn may miss its place";
    write("can.toml", &read("blanks/can.toml"));
    write("sound.toml", &read("machines/degrees.toml"));
    let swatch = ["swatch", "--powers", "20,40", "--speeds", "100,200", "-o", "s.nc"];
    run_in(folder.path(), &[&swatch[..], &["-b", "can.toml", "-m", "sound.toml"]].concat(), b"")
        .done();
    let commands: &[(&[&str], &[&str])] = &[
        (&["wrap", "p.nc", "-b", "b.toml", "-m", "m.toml", "-j", "j.toml"], &[blank, machine, job]),
        (&["level", "-b", "b.toml", "-m", "m.toml"], &[blank, machine]),
        (&["level", "-b", "b.toml", "-m", "m.toml", "--parts"], &[blank, machine]),
        (&["template", "-b", "b.toml", "-m", "m.toml", "-j", "j.toml"], &[blank, machine, job]),
        (&["template", "-b", "b.toml", "--paper"], &[blank]),
        (&["estimate", "p.nc", "-m", "m.toml"], &[machine]),
        (
            &["estimate", "p.nc", "-b", "b.toml", "-m", "m.toml", "-j", "j.toml"],
            &[blank, machine, job],
        ),
        (&["swatch", "--arrow", "-b", "b.toml", "-m", "m.toml"], &[blank, machine]),
        (
            &["note", "s.nc", "--chosen", "1,1", "--coating", "lacquer", "-m", "m.toml"],
            &[machine, "was changed since the swatch was made"],
        ),
        (&["resume", "s.nc", "-m", "m.toml", "--line", "40"], &[machine]),
    ];
    for (command, doubts) in commands {
        let outcome = run_in(folder.path(), command, b"");
        let all = outcome.err.matches("warning plausible: ").count();
        assert_eq!(all, doubts.len(), "{command:?}: {}", outcome.err);
        for doubt in *doubts {
            assert_eq!(outcome.err.matches(doubt).count(), 1, "{command:?}: {}", outcome.err);
        }
    }
}

/// A wrong unit shows before a blank of it is burned: where it is measured, and in what a
/// controller or the art is told of the ware.
#[test]
fn sizes_that_no_ware_has_are_doubted() {
    let folder = TempDir::new().expect("a folder");
    for (across, doubted) in [("3", true), ("60", false), ("2000", true)] {
        let readings = [format!("0={across}"), format!("100={across}")];
        let [foot, rim] = &readings;
        let words = ["measure", "--diameter", foot, "--diameter", rim, "-o", "b.toml"];
        let outcome = run_in(folder.path(), &words, b"").done();
        let told = outcome.err.matches("warning plausible: the wall of").count();
        assert_eq!(told, usize::from(doubted), "{across}: {}", outcome.err);
    }
    let (blank, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let files = ["-b", blank.to_str().expect("text"), "-m", machine.to_str().expect("text")];
    for (option, given, told) in [
        (
            "--set-diameter",
            "3.3",
            Some("is 3.3 mm, thinner than ware is: if it is in inches, write 3.3in"),
        ),
        ("--set-diameter", "840", Some("is 840 mm, larger than a rotary holds: a digit or")),
        (
            "--set-diameter",
            "33in",
            Some("is 838.2 mm (33 in), larger than a rotary holds: if it is in mm, write 33mm"),
        ),
        ("--reference-diameter", "3.3", Some("is 3.3 mm, thinner than ware is")),
        ("--set-diameter", "3.3in", None),
    ] {
        let words = ["wrap", "--path", "M0 0H9", "--place-at", "40", option, given, "-o", "p.nc"];
        let outcome = run_in(folder.path(), &[&words[..], &files].concat(), b"");
        let all = outcome.err.matches("warning plausible: ").count();
        assert_eq!(all, usize::from(told.is_some()), "{given}: {}", outcome.err);
        assert!(outcome.err.contains(told.unwrap_or_default()), "{given}: {}", outcome.err);
    }
}

#[test]
fn a_tilt_of_the_wrong_sign_is_told_with_the_sign_that_serves() {
    // The tapered cup grows by 6.3 degrees towards its rim: -6.3 lays it level.
    let art = "<rect x=\"90\" y=\"20\" width=\"20\" height=\"80\" fill=\"none\" stroke=\"#000\"/>";
    for (tilt, told) in [("5.4", true), ("-5.4", false)] {
        let bench = Bench::new("cup", "degrees", &["--tilt", tilt]);
        bench.write("a.svg", &drawing(art).replace("110", "114.3"));
        let report = bench.json("check", "a.svg");
        let found = report["findings"].as_array().expect("a list");
        let doubt = found.iter().find(|f| f["code"] == "plausible");
        assert_eq!(doubt.is_some(), told, "{report}");
        let says = |f: &Value| f["message"].as_str().expect("text").contains("-5.4° would leave");
        assert!(doubt.is_none_or(says), "{report}");
    }
}

/// Of a label that is too large in several of its lines the worst is told, by `check` as by `lays`.
#[test]
fn of_a_label_too_large_the_line_that_is_worst_is_told() {
    let mut bench = Bench::new("can", "degrees", &["--lay", "label", "--place-at", "80"]);
    let stations = [(0, 90), (40, 40), (60, 40), (100, 90)];
    let blank = stations.map(|(at, mm)| format!("[[station]]\nat = {at}\ndiameter = {mm}\n"));
    bench.write("waist.toml", &blank.concat());
    bench.setup[1] = "waist.toml".to_owned();
    bench.write(
        "frame.nc",
        "G21 G90\nG0 X0 Y-70\nM4 S300\nG1 X0 Y70 F1200\nG1 X25\nG1 Y-70\nG1 X0\nM5\nM2\n",
    );
    let words: Vec<&str> = bench.setup.iter().chain(&bench.job).map(String::as_str).collect();
    let told = |command: &str| {
        let words = [&[command, "frame.nc"], &words[..]].concat();
        let text = run_in(bench.folder.path(), &words, b"").out_text().to_owned();
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let (_, after) = text.split_once("the label reaches ").unwrap_or_else(|| panic!("{text}"));
        after.split(';').next().expect("a part").to_owned()
    };
    let laid = told("lays");
    assert!(laid.contains("no more than 55 % of its size fits"), "{laid}");
    assert_eq!(told("check"), laid);
}

#[test]
fn a_program_past_where_its_label_folds_is_told_the_same_distance_everywhere() {
    // A ring about a point on the edge of a shoulder: behind it the label would fold.
    let mut bench = Bench::new("can", "degrees", &["--lay", "label", "--anchor", "60,0"]);
    let stations = [(0, 80), (60, 80), (75, 30), (120, 28)];
    let blank = stations.map(|(at, mm)| format!("[[station]]\nat = {at}\ndiameter = {mm}\n"));
    bench.write("shoulder.toml", &blank.concat());
    bench.setup[1] = "shoulder.toml".to_owned();
    let ring: String = (0..=60)
        .map(|k| {
            let angle = f64::from(k) * std::f64::consts::TAU / 60.0;
            let word = if k == 0 { "G0" } else { "G1" };
            let feed = if k == 1 { " F1200" } else { "" };
            format!("{word} X{:.3} Y{:.3}{feed}\n", 70.0 + 45.0 * angle.cos(), 45.0 * angle.sin())
        })
        .collect();
    bench.write("ring.nc", &format!("G21 G90\nM4 S600\n{ring}M5\nM2\n"));
    let words: Vec<&str> = bench.setup.iter().chain(&bench.job).map(String::as_str).collect();
    let run = |more: &[&str]| {
        let command = [&more[..1], &["ring.nc"], &words[..], &more[1..]].concat();
        run_in(bench.folder.path(), &command, b"")
    };
    let distance = |text: &str| {
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let (_, after) = text.split_once("folds beyond ").unwrap_or_else(|| panic!("{text}"));
        after.split(' ').next().expect("a word").to_owned()
    };
    let wrapped = run(&["wrap", "-o", "x.nc"]);
    assert_eq!(wrapped.status, Some(1), "{}", wrapped.err);
    let checked = run(&["check"]);
    assert_eq!(checked.status, Some(1), "{}", checked.err);
    let laid = run(&["lays"]);
    let first = distance(&wrapped.err);
    assert_eq!(first, distance(checked.out_text()));
    assert_eq!(first, distance(laid.out_text()));
    let report: Value = serde_json::from_slice(&run(&["check", "--json"]).out).expect("json");
    assert!(report["findings"].as_array().expect("a list").iter().any(|f| f["code"] == "fold"));
}
