//! What a user can get wrong: each ends in status 1 or 2, says where and what to do, and leaves an
//! existing result alone.

use crate::command::{Outcome, ending, fixture, root, run_in, stave};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const GOOD: &str = "M4 S300\nG0 X5 Y-4\nG1 X20 F1200\nM5\nM2\n";

/// A folder with the bottle, the degrees machine, a job and a result from before.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let bench = Self { folder };
        for (name, from) in
            [("blank", "blanks/bottle"), ("machine", "machines/degrees"), ("job", "jobs/step")]
        {
            bench.put(
                &format!("{name}.toml"),
                &std::fs::read(fixture(&format!("{from}.toml"))).unwrap(),
            );
        }
        bench.put("out.nc", b"from before\n");
        bench
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    pub fn put(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path().join(name), bytes).unwrap();
    }

    pub fn edit(&self, name: &str, from: &str, to: &str) {
        let text = std::fs::read_to_string(self.path().join(name)).unwrap();
        assert!(text.contains(from), "{name} has no {from:?}");
        self.put(name, text.replacen(from, to, 1).as_bytes());
    }

    pub fn wrap(&self, more: &[&str], input: &[u8]) -> Outcome {
        let mut arguments = vec![
            "wrap",
            "-b",
            "blank.toml",
            "-m",
            "machine.toml",
            "-j",
            "job.toml",
            "-o",
            "out.nc",
        ];
        arguments.extend(more);
        run_in(self.path(), &arguments, input)
    }

    /// Says what is wrong with a run that should have been refused.
    fn refused(&self, outcome: &Outcome, status: i32, words: &[&str]) -> Vec<String> {
        let mut faults = Vec::new();
        if outcome.status != Some(status) {
            faults.push(format!("status {:?} for {status}", outcome.status));
        }
        for word in words {
            if !outcome.err.to_lowercase().contains(&word.to_lowercase()) {
                faults.push(format!("says nothing of {word:?}"));
            }
        }
        for word in ["panicked", "NaN", "Some(", "unwrap"] {
            if outcome.err.contains(word) {
                faults.push(format!("says {word:?}"));
            }
        }
        if std::fs::read(self.path().join("out.nc")).unwrap() != b"from before\n" {
            faults.push("the result from before was touched".into());
        }
        if std::fs::read_dir(self.path())
            .unwrap()
            .any(|e| e.unwrap().file_name().to_string_lossy().contains("part"))
        {
            faults.push("a part of a result is left behind".into());
        }
        faults.iter().map(|f| format!("{f}\n    {}", outcome.err.replace('\n', "\n    "))).collect()
    }
}

/// The line of `name` on which `text` stands, counted from 1.
fn line_of(bench: &Bench, name: &str, text: &str) -> usize {
    let whole = std::fs::read_to_string(bench.path().join(name)).unwrap();
    let at = whole.find(text).unwrap();
    whole[..at].matches('\n').count() + 1
}

#[track_caller]
fn none(faults: &[String]) {
    assert!(faults.is_empty(), "{} faults\n{}", faults.len(), faults.join("\n"));
}

/// File, what stands there, what a user wrote instead, words the message must have. All are status
/// 2, and the message names the line.
const VALUES: &[(&str, &str, &str, &[&str])] = &[
    ("blank", "at = 0.0", "at = nan", &["at"]),
    ("blank", "at = 0.0", "at = inf", &["at"]),
    ("blank", "at = 0.0", "at = \"0\"", &["at", "number"]),
    ("blank", "at = 40.0", "at = 0.0", &["at"]),
    ("blank", "at = 40.0", "at = 200.0", &["at"]),
    ("blank", "at = 40.0", "at = 1e300", &["at"]),
    ("blank", "diameter = 66.0", "diameter = 0.0", &["diameter"]),
    ("blank", "diameter = 66.0", "diameter = -66.0", &["diameter"]),
    ("blank", "diameter = 66.0", "diameter = 1e-300", &["diameter", "at least 0.0254"]),
    ("blank", "diameter = 66.0", "diameter = 1e308", &["diameter"]),
    ("blank", "diameter = 66.0", "diametre = 66.0", &["diametre", "diameter"]),
    ("blank", "diameter = 66.0", "radius = 33.0", &["radius"]),
    ("blank", "diameter = 66.0", "diameter = 66.0\ncircumference = 207.3", &["circumference"]),
    ("blank", "wall = \"straight\"", "wall = \"strait\"", &["strait", "straight"]),
    ("blank", "wall = \"straight\"", "wall = 3", &["wall"]),
    ("blank", "units = \"mm\"", "units = \"cm\"", &["cm", "mm"]),
    ("blank", "name = \"stepped bottle\"", "name = 7", &["name"]),
    ("blank", "at = [104.0, 116.0]", "at = [116.0, 104.0]", &["at"]),
    ("blank", "at = [104.0, 116.0]", "at = [104.0]", &["at"]),
    ("blank", "at = [104.0, 116.0]", "at = 104.0", &["at"]),
    ("blank", "turn = [170.0, 190.0]", "turn = [190.0, 170.0]", &["turn"]),
    ("blank", "turn = [170.0, 190.0]", "turn = [170.0, \"x\"]", &["turn"]),
    ("blank", "rise = 9.0", "rise = -1.0", &["rise"]),
    ("blank", "margin = 0.5", "margin = -0.5", &["margin"]),
    ("blank", "[[zone]]", "[[zones]]", &["zones", "zone"]),
    ("machine", "beam_on = \"M4\"", "beam_on = \"M5\"", &["M5", "M3"]),
    ("machine", "full_power = 1000", "full_power = 0", &["full_power"]),
    ("machine", "full_power = 1000", "full_power = -5", &["full_power"]),
    ("machine", "full_power = 1000", "full_powr = 5", &["full_powr", "full_power"]),
    ("machine", "least_power = 4", "least_power = 101", &["least_power"]),
    ("machine", "feed = \"per-minute\"", "feed = \"per-second\"", &["per-second", "inverse-time"]),
    (
        "machine",
        "feed_counts = \"all-axes\"",
        "feed_counts = \"all\"",
        &["all-axes", "linear-axes"],
    ),
    ("machine", "corner_tolerance = 0.02", "corner_tolerance = -0.02", &["corner_tolerance"]),
    ("machine", "decimals = 4", "decimals = 10", &["decimals", "9"]),
    ("machine", "decimals = 4", "decimals = -1", &["decimals"]),
    ("machine", "decimals = 4", "decimals = 2.5", &["decimals"]),
    ("machine", "decimals = 4", "decimals = 1", &["decimals"]),
    ("machine", "steepest = 75.0", "steepest = 95.0", &["steepest"]),
    ("machine", "steepest = 75.0", "steepest = 0.0", &["steepest"]),
    ("machine", "most_tilt = 15.0", "most_tilt = 95.0", &["most_tilt"]),
    ("machine", "speed = 500.0", "speed = 0.0", &["speed"]),
    ("machine", "speed = 500.0", "speed = -500.0", &["speed"]),
    ("machine", "acceleration = 5000.0", "acceleration = inf", &["acceleration"]),
    ("machine", "acceleration = 5000.0", "min = 5.0\nmax = 4.0\nacceleration = 5000.0", &["m"]),
    ("machine", "up = \"away\"", "up = \"up\"", &["away", "toward"]),
    ("machine", "word = \"A\"", "word = \"Q\"", &["A", "B", "C", "Y"]),
    ("machine", "word = \"A\"", "word = \"X\"", &["word"]),
    ("machine", "units_per_turn = 360.0", "units_per_turn = 0.0", &["units_per_turn"]),
    ("machine", "units_per_turn = 360.0", "units_per_turn = nan", &["units_per_turn"]),
    ("machine", "steps_per_turn = 12800", "steps_per_turn = 0", &["steps_per_turn"]),
    ("machine", "speed = 360.0", "speed = 360.0\nalong = \"z\"", &["along"]),
    ("machine", "speed = 360.0", "speed = 360.0\nreverse = \"no\"", &["reverse"]),
    ("machine", "speed = 360.0", "speed = 360.0\ndrive = \"belt\"", &["chuck", "roller"]),
    ("machine", "wavelength_um = 10.6", "wavelength_um = 0", &["wavelength_um"]),
    ("machine", "m2 = 1.2", "m2 = 0.5", &["m2"]),
    ("machine", "focal_length = 63.5", "focal_length = -1", &["focal_length"]),
    ("machine", "gap = 6.0", "gap = nan", &["gap"]),
    ("machine", "air = { low = \"M7\"", "air = { low = \"G1 X0\"", &["air"]),
    ("job", "lay = \"true-width\"", "lay = \"true-with\"", &["true-with", "true-width"]),
    ("job", "tolerance = 0.01", "tolerance = 0.0", &["tolerance"]),
    ("job", "tolerance = 0.01", "tolerance = -0.01", &["tolerance"]),
    ("job", "tilt = -5.5", "tilt = 90.0", &["tilt"]),
    ("job", "tilt = -5.5", "tilt = -120.0", &["tilt"]),
    ("job", "tilt = -5.5", "titl = 3.0", &["titl", "tilt"]),
    ("job", "dose = \"as-given\"", "dose = \"same\"", &["even", "as-given"]),
    ("job", "zones = \"refuse\"", "zones = \"keep\"", &["refuse", "mask", "ignore"]),
    ("job", "at = 70.0", "at = 700.0", &["700"]),
    ("job", "at = 70.0", "at = -0.1", &["at"]),
    ("job", "turn = 0.0", "turn = inf", &["turn"]),
    ("job", "tilt = -5.5", "tilt = -5.5\nanchor = \"centre\"", &["drawing", "piece"]),
    ("job", "tilt = -5.5", "tilt = -5.5\nanchor = [1.0]", &["anchor"]),
    ("job", "tilt = -5.5", "tilt = -5.5\nreference_diameter = 0", &["reference_diameter"]),
    ("job", "tilt = -5.5", "tilt = -5.5\ntoward = \"left\"", &["x+", "x-"]),
    ("job", "tilt = -5.5", "tilt = -5.5\nlens = \"huge\"", &["huge", "medium"]),
    ("job", "tilt = -5.5", "tilt = -5.5\nnozzle = \"wide\"", &["wide", "long barrel"]),
    ("job", "tilt = -5.5", "tilt = -5.5\ntilt = 4.0", &["tilt"]),
    ("job", "[place]", "[places]", &["places", "place"]),
    ("job", "tilt = -5.5", "tilt = ", &[]),
    ("job", "tilt = -5.5", "tilt 3.0", &[]),
];

#[test]
fn bad_values_are_told_with_file_line_and_remedy() {
    let mut faults = Vec::new();
    for (file, from, to, words) in VALUES {
        let bench = Bench::new();
        let name = format!("{file}.toml");
        let line = line_of(&bench, &name, from);
        bench.edit(&name, from, to);
        let outcome = bench.wrap(&[], GOOD.as_bytes());
        let mut wrong = bench.refused(&outcome, 2, words);
        // An edit may add a line, and the fault may be that of the table or of the station after.
        let named = (line.saturating_sub(2)..=line + 4)
            .any(|l| outcome.err.contains(&format!("{name}:{l}:")));
        if outcome.status == Some(2) && !named {
            wrong.push(format!(
                "names no place near {name}:{line}\n    {}",
                outcome.err.replace('\n', "\n    ")
            ));
        }
        faults.extend(wrong.into_iter().map(|w| format!("{file}: {to:?}: {w}")));
    }
    none(&faults);
}

#[test]
fn all_faults_of_a_file_are_told_at_once() {
    let bench = Bench::new();
    bench.edit("blank.toml", "diameter = 66.0", "diameter = -66.0");
    bench.edit("blank.toml", "rise = 9.0", "rise = -9.0");
    bench.edit("machine.toml", "full_power = 1000", "full_power = 0");
    let outcome = bench.wrap(&[], GOOD.as_bytes());
    none(&bench.refused(
        &outcome,
        2,
        &["diameter", "rise", "full_power", "blank.toml", "machine.toml"],
    ));
}

#[test]
fn bad_files_are_told() {
    let mut faults = Vec::new();
    let no_stations = b"name = \"x\"\nwall = \"straight\"\n".to_vec();
    let one_station =
        b"name = \"x\"\nwall = \"straight\"\n[[station]]\nat = 0.0\ndiameter = 50.0\n".to_vec();
    let junk: Vec<u8> =
        (0..4096_u32).map(|k| (k.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let long_name = format!("name = \"{}\"\n", "x".repeat(100_000)).into_bytes();
    let nested = format!("a = {}", "[".repeat(200_000)).into_bytes();
    for file in ["blank", "machine", "job"] {
        for (what, bytes) in [
            ("junk", junk.clone()),
            ("not UTF-8", b"name = \"\xff\xfe\"\n".to_vec()),
            ("nested", nested.clone()),
            ("long", long_name.clone()),
            ("zeros", vec![0; 1000]),
            ("a program", GOOD.as_bytes().to_vec()),
        ] {
            let bench = Bench::new();
            let name = format!("{file}.toml");
            bench.put(&name, &bytes);
            let outcome = bench.wrap(&[], GOOD.as_bytes());
            faults.extend(
                bench
                    .refused(&outcome, 2, &[&name])
                    .into_iter()
                    .map(|w| format!("{file}, {what}: {w:.2000}")),
            );
            if outcome.err.len() > 20_000 {
                faults.push(format!("{file}, {what}: {} bytes of message", outcome.err.len()));
            }
        }
    }
    for (what, bytes) in
        [("empty", Vec::new()), ("no stations", no_stations), ("one station", one_station)]
    {
        let bench = Bench::new();
        bench.put("blank.toml", &bytes);
        let outcome = bench.wrap(&[], GOOD.as_bytes());
        faults.extend(
            bench
                .refused(&outcome, 2, &["blank.toml", "station"])
                .into_iter()
                .map(|w| format!("{what}: {w}")),
        );
    }
    let bench = Bench::new();
    bench.put("machine.toml", b"");
    let outcome = bench.wrap(&[], GOOD.as_bytes());
    faults.extend(bench.refused(&outcome, 2, &["machine.toml"]));
    none(&faults);
}

#[test]
fn bad_options_are_told_by_name() {
    let mut faults = Vec::new();
    for (option, value, words) in [
        ("--lay", "flat", &["lay", "even-angle"][..]),
        ("--lay", "", &["lay"]),
        ("--tilt", "steep", &["tilt"]),
        ("--tilt", "90", &["tilt"]),
        ("--tilt", "nan", &["tilt"]),
        ("--tilt", "-inf", &["tilt"]),
        ("--tolerance", "0", &["tolerance"]),
        ("--tolerance", "-1", &["tolerance"]),
        ("--tolerance", "1furlong", &["tolerance"]),
        ("--tolerance", "0.00001", &["decimals"]),
        ("--place-at", "1e9", &["place"]),
        ("--place-at", "7,5", &["place-at"]),
        ("--place-turn", "x", &["place-turn"]),
        ("--zero-at", "nan", &["zero-at"]),
        ("--reference-diameter", "0", &["reference-diameter"]),
        ("--reference-diameter", "1e300in", &["reference-diameter"]),
        ("--anchor", "1,2,3", &["anchor"]),
        ("--anchor", "1,nan", &["anchor"]),
        ("--anchor", "piece", &["piece"]),
        ("--dose", "big", &["dose"]),
        ("--zones", "all", &["zones"]),
        ("--focus", "auto", &["focus"]),
        ("--toward", "y+", &["toward"]),
    ] {
        let bench = Bench::new();
        let outcome = bench.wrap(&[option, value], GOOD.as_bytes());
        let wrong = bench.refused(&outcome, 2, words);
        faults.extend(wrong.into_iter().map(|w| format!("{option} {value}: {w}")));
    }
    none(&faults);
}

/// What the machine cannot do is told before anything is written.
#[test]
fn following_needs_an_axis() {
    let bench = Bench::new();
    let text = std::fs::read_to_string(fixture("machines/swapped.toml")).unwrap();
    bench.put("machine.toml", text.as_bytes());
    let outcome = bench.wrap(&["--focus", "follow"], GOOD.as_bytes());
    none(&bench.refused(&outcome, 2, &["[z]"]));
}

/// Program, status, the line at fault.
const PROGRAMS: &[(&str, i32, usize)] = &[
    ("M4 S1\nG1 X1\nM2\n", 2, 2),         // a burn with no feed rate
    ("M4 S1\nF0\nG1 X1\nM2\n", 2, 3),     // nor with one of nothing
    ("G1 X1 F-5\n", 2, 1),                // nor less
    ("M4 S1\nG93\nG1 X1 F2\nX2\n", 2, 4), // G93 needs an F on every line
    ("M4 S-1\n", 2, 1),
    ("G1 X1 X2 F1\n", 2, 1),
    ("G0 G1 X1\n", 2, 1),
    ("G2 X1 Y1\n", 2, 1),         // neither centre nor radius
    ("F9\nG2 X10 R4\n", 2, 2),    // no such circle
    ("F9\nG2 X10 I3 J0\n", 2, 2), // two radii
    ("G41 D1\n", 2, 1),
    ("G81 X1 Z1 R1\n", 2, 1),
    ("G38.2 X1\n", 2, 1),
    ("G43 H1\n", 2, 1),
    ("G90.1\n", 2, 1),
    ("G5 X1 Y1\n", 2, 1),
    ("G999\n", 2, 1),
    ("G0.55 X1\n", 2, 1),
    ("X1..2\n", 2, 1),
    ("X--1\n", 2, 1),
    ("X\n", 2, 1),
    ("G0 X1e5\n", 2, 1),
    ("G0 Xnan\n", 2, 1),
    ("G0 Xinf\n", 2, 1),
    ("G0 X#0\n", 2, 1),
    ("G0 X[1/0]\n", 2, 1),
    ("G0 X[1\n", 2, 1),
    ("G0 X1]\n", 2, 1),
    ("G0 Xsqrt[0-1]\n", 2, 1),
    ("G0 Xln[0]\n", 2, 1),
    ("G0 X[10**400]\n", 2, 1),
    ("(no end\nG0 X1\n", 2, 1),
    ("G4\n", 2, 1),
    ("G4 P-1\n", 2, 1),
    ("G10 L2 P11 X1\n", 2, 1),
    ("G92\n", 2, 1),
    ("G80\nX1\n", 2, 2),
    ("G0 X1 A5\n", 2, 1),
    ("M4 S1 F600\nG1 X1\nG1 U2\n", 2, 3),
    ("hello, this is no program\n", 2, 1),
    ("M4 S1 F600\nG1 X1\nG1 X900\n", 1, 3), // off the wall
    ("M4 S1 F600\nG1 X1\nG3 X3 I50 J50\n", 2, 3),
    ("M4 S1 F600\nG1 Y9999999999999999\n", 2, 2),
    ("G0 Y99999999999999999999999999999999999999999999\n", 2, 1),
];

#[test]
fn bad_programs_are_told_with_their_line() {
    let mut faults = Vec::new();
    for (program, status, line) in PROGRAMS {
        let bench = Bench::new();
        let outcome = bench.wrap(&[], program.as_bytes());
        let mut wrong = bench.refused(&outcome, *status, &[]);
        let place = outcome.err.contains(&format!("line {line}"))
            || outcome.err.contains(&format!(":{line}:"));
        if outcome.status == Some(*status) && (!place || !outcome.err.contains('^')) {
            wrong.push(format!(
                "does not show line {line}\n    {}",
                outcome.err.replace('\n', "\n    ")
            ));
        }
        faults.extend(wrong.into_iter().map(|w| format!("{program:?}: {w}")));
    }
    none(&faults);
}

#[test]
fn junk_never_breaks_the_reader() {
    let bench = Bench::new();
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut next = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state
    };
    let alphabet = b"GXYMSFIJR0123456789.-+#[]()/; \tN%$*=\nabsqrt\x00\xff";
    for round in 0..60 {
        let length = (next() % 3000) as usize;
        let bytes: Vec<u8> = (0..length)
            .map(|_| {
                if round % 2 == 0 {
                    next() as u8
                } else {
                    alphabet[next() as usize % alphabet.len()]
                }
            })
            .collect();
        let outcome = bench.wrap(&["-o", "other.nc"], &bytes);
        let status = outcome.status;
        assert!(matches!(status, Some(0..=2)), "status {status:?} for {bytes:?}: {}", outcome.err);
        assert!(!outcome.err.contains("panicked"), "{}", outcome.err);
        assert!(outcome.err.len() < 20_000);
    }
}

/// Runs `wrap` with an address space of 400 MB and a huge input from a shell command.
fn limited(input: &str) -> Option<Outcome> {
    let script = format!(
        "ulimit -v 400000; {input} | exec {} wrap -b fixtures/blanks/bottle.toml -m \
         fixtures/machines/degrees.toml \
         -j fixtures/jobs/step.toml > /dev/null",
        stave().display()
    );
    ending(Command::new("bash").args(["-c", &script]).current_dir(root()).stdin(Stdio::null()))
}

#[test]
fn huge_lines_and_deep_brackets_end_in_bounded_memory() {
    let cases = [
        ("a line of a gigabyte", "head -c 1000000000 /dev/zero | tr '\\0' '1'"),
        ("a word of a gigabyte", "(printf 'G0 X'; head -c 1000000000 /dev/zero | tr '\\0' '1')"),
        ("a comment of a gigabyte", "(printf '('; head -c 1000000000 /dev/zero | tr '\\0' 'x')"),
        ("brackets without end", "(printf 'G0 X'; head -c 200000000 /dev/zero | tr '\\0' '[')"),
        ("# without end", "(printf 'G0 X'; head -c 200000000 /dev/zero | tr '\\0' '#')"),
        ("zeros", "head -c 200000000 /dev/zero"),
    ];
    let mut faults = Vec::new();
    for (what, input) in cases {
        match limited(input) {
            None => faults.push(format!("{what}: does not end")),
            Some(outcome) => {
                if outcome.status != Some(2) || outcome.err.len() > 4000 || outcome.err.is_empty() {
                    let length = outcome.err.len();
                    faults.push(format!(
                        "{what}: status {:?}, {length} bytes of message: {:.400}",
                        outcome.status, outcome.err
                    ));
                }
            }
        }
    }
    none(&faults);
}

#[test]
fn what_never_ends_is_told() {
    for arguments in [
        "wrap fixtures/art/crest.svg -b fixtures/blanks/can.toml -m fixtures/machines/degrees.toml \
         --font /dev/zero",
        "resume /dev/zero -m fixtures/machines/degrees.toml --line 7",
        "wrap fixtures/programs/crest.nc -b /dev/zero -m fixtures/machines/degrees.toml",
        "wrap /dev/zero -b fixtures/blanks/can.toml -m fixtures/machines/degrees.toml",
        "wrap /dev/zero --from-type svg -b fixtures/blanks/can.toml \
         -m fixtures/machines/degrees.toml",
        "measure /dev/zero",
    ] {
        let script = format!("ulimit -v 900000; exec {} {arguments}", stave().display());
        let mut command = Command::new("bash");
        let outcome =
            ending(command.args(["-c", &script]).current_dir(root()).stdin(Stdio::null()));
        let outcome = outcome.unwrap_or_else(|| panic!("{arguments} ends"));
        assert_eq!(outcome.status, Some(2), "{arguments}: {}", outcome.err);
        assert!(outcome.err.contains("/dev/zero"), "{arguments}: {}", outcome.err);
    }
}

#[test]
fn an_unreadable_output_place_is_told() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path().join("folder")).unwrap();
    let outcome = bench.wrap(&["--report", "no/where.json"], GOOD.as_bytes());
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
    assert!(outcome.err.contains("no/where.json"), "{}", outcome.err);
    let arguments = ["wrap", "-b", "blank.toml", "-m", "machine.toml", "-o", "folder"];
    let outcome = run_in(bench.path(), &arguments, GOOD.as_bytes());
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
    assert!(outcome.err.contains("folder"), "{}", outcome.err);
    // A full disk: the writer's error is told, with status 2.
    let mut child = Command::new(stave())
        .current_dir(bench.path())
        .args([
            "wrap",
            "-b",
            "blank.toml",
            "-m",
            "machine.toml",
            "-j",
            "job.toml",
            "-o",
            "/dev/full",
        ])
        .stdin(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(GOOD.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{err}");
    assert!(!err.is_empty());
}

/// Whatever is wrong at once, each thing begins a line of its own with the command's name, so that
/// a script can tell them apart; only what shows a line of a file stands below without it.
#[test]
fn every_thing_that_is_wrong_is_told_under_the_name_of_the_command() {
    let told =
        |outcome: &Outcome| outcome.err.lines().filter(|line| line.starts_with("stave: ")).count();
    // What the judge finds: a beam that is too strong, twice off the wall.
    let bench = Bench::new();
    let art = "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='400mm' viewBox='0 0 200 \
               400'><g id='a'><path d='M10 -900v20' stroke='#000'/></g><g id='b'><path d='M50 \
               -900v20' stroke='#000'/></g><g id='sky'><image width='9' height='9' \
               href='none.png'/></g></svg>";
    for to in ["gcode", "svg"] {
        let outcome = bench.wrap(&["-", "--to", to], art.as_bytes());
        assert_eq!(outcome.status, Some(1), "{}", outcome.err);
        assert!(told(&outcome) >= 1 && told(&outcome) == outcome.err.lines().count());
    }
    // Two faults of one file, and one of another, in every command that reads them.
    bench.edit("blank.toml", "[[station]]", "colour = \"red\"\nsheen = 3\n[[station]]");
    bench.edit("machine.toml", "[controller]", "[controller]\nbeams_on = \"M4\"");
    let both = ["-b", "blank.toml", "-m", "machine.toml"];
    for command in ["wrap", "check", "lays", "walk", "swatch", "level", "estimate", "template"] {
        let mut arguments = vec![command];
        arguments.extend(both);
        if command == "swatch" {
            arguments.extend(["--powers", "20", "--speeds", "100"]);
        }
        let outcome = run_in(bench.path(), &arguments, GOOD.as_bytes());
        assert_eq!(outcome.status, Some(2), "{command}: {}", outcome.err);
        assert_eq!(told(&outcome), 3, "{command}: {}", outcome.err);
    }
}
