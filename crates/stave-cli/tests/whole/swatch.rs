//! `stave swatch`: what its program burns on the wall, read back by these tests' own reader and
//! mathematics.

use crate::command::{Outcome, fixture, run};
use crate::meridian::Meridian;
use crate::program::{self, Kind, Move, Program};
use crate::rotary::Rotary;
use crate::settings;

fn swatch(blank: &str, machine: &str, more: &[&str]) -> Outcome {
    let (blank, machine) =
        (fixture(&format!("blanks/{blank}.toml")), fixture(&format!("machines/{machine}.toml")));
    let files = ["swatch", "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    run(&[&files, more].concat(), b"")
}

/// The beam is dark wherever nothing is to burn, at the start and at the end.
fn assert_safe(text: &str, read: &Program) {
    assert!(text.starts_with("(stave wrapped 1 ") && text.contains("(CAUTION:"), "{text:.200}");
    assert!(text.ends_with("M5\nM2\n"), "{}", &text[text.len() - 40..]);
    assert!(read.ended && read.beam.is_none());
    let first = text.lines().position(|line| line.starts_with("G0")).unwrap();
    let beam =
        text.lines().position(|line| line.starts_with("M3") || line.starts_with("M4")).unwrap();
    assert!(first < beam, "the beam waits until the first place is reached");
    for m in &read.moves {
        let power = if m.beam.is_some() { m.power.unwrap_or(0.0) } else { 0.0 };
        assert!(m.kind == Kind::Burn || power == 0.0, "line {}", m.line);
    }
}

/// A bench to read places from: tilt 0, zero at the first station.
struct Bench {
    wall: Meridian,
    rotary: Rotary,
}

impl Bench {
    fn new(blank: &str, machine: &str, tilt: f64, toward_minus: bool) -> Self {
        let wall = settings::wall(&fixture(&format!("blanks/{blank}.toml")));
        let machine = settings::machine(&fixture(&format!("machines/{machine}.toml")));
        let rotary = Rotary::new(&wall, &machine, tilt, (0.0, 0.0), toward_minus);
        Self { wall, rotary }
    }

    /// `s` and turn at both ends of a move.
    fn ends(&self, m: &Move) -> [[f64; 2]; 2] {
        [&m.from, &m.to].map(|at| self.rotary.place(&self.wall, self.rotary.of_axes(at)))
    }
}

#[test]
fn every_patch_is_what_its_label_says() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("swatch.json");
    let arguments = [
        "--powers",
        "20,40,60",
        "--speeds",
        "100,200,300",
        "--size",
        "6",
        "--watts",
        "40",
        "--label",
        "10,50",
        "--report",
        path.to_str().unwrap(),
    ];
    let outcome = swatch("bottle", "degrees", &arguments).done();
    let text = outcome.out_text();
    let read = program::read(text);
    assert_safe(text, &read);
    let report: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
    let bench = Bench::new("bottle", "degrees", 0.0, false);
    let patches = report["patches"].as_array().unwrap();
    assert_eq!(patches.len(), 9);
    for patch in patches {
        let number = |key: &str| patch[key].as_f64().unwrap();
        let (power, speed) = (number("power_percent"), number("speed_mm_per_s"));
        // The lines of this patch: by power, and by the comment before them.
        let s = power * 10.0;
        let turn = number("turn_deg").to_radians();
        let radius = bench.wall.at_z(number("at")).r;
        let near = |m: &&(usize, &Move)| {
            (bench.ends(m.1)[0][1] - turn).abs() * radius < 4.0
                && m.1.kind == Kind::Burn
                && m.1.power == Some(s)
        };
        let moves: Vec<(usize, &Move)> = read.moves.iter().enumerate().collect();
        let lines: Vec<&(usize, &Move)> = moves.iter().filter(near).collect();
        assert_eq!(lines.len() as u64, patch["lines"].as_u64().unwrap(), "{patch}");
        let (mut area, mut turns) = (0.0, Vec::new());
        for (k, line) in &lines {
            let [from, to] = bench.ends(line);
            assert!((from[1] - to[1]).abs() < 1e-9, "a scan line at constant turn");
            let length = (to[0] - from[0]).abs();
            assert!((length - 6.0).abs() < 0.01, "{length}");
            // Speed on the wall: the F word counts all axes, and only X moves.
            let flat = line.length();
            assert!((line.speed().unwrap() * length / flat - speed).abs() < 0.01 * speed);
            area += length * number("line_spacing_mm");
            turns.push(from[1]);
            // It comes up to speed, and slows down, in the dark and in line.
            let (before, after) = (&read.moves[k - 1], &read.moves[k + 1]);
            for beside in [before, after] {
                assert_eq!(beside.kind, Kind::Dark, "line {}", beside.line);
                assert_eq!(beside.from[3], beside.to[3]);
                assert!(beside.length() > speed * speed / 2.0 / 5000.0, "line {}", beside.line);
            }
        }
        // Motor steps: 12,800 a turn.
        let step = std::f64::consts::TAU / 12_800.0;
        turns
            .iter()
            .for_each(|turn| assert!((turn / step - (turn / step).round()).abs() < 0.02, "{turn}"));
        let width = (turns[turns.len() - 1] - turns[0]).abs() * radius + number("line_spacing_mm");
        assert!((width - 6.0).abs() < 0.1, "{width}");
        // 40 W at full power, over the time the lines take, over the area they cover.
        let joules = 40.0 * power / 100.0 * (6.0 * lines.len() as f64 / speed);
        assert!((joules / area * 100.0 / number("j_per_cm2") - 1.0).abs() < 0.005, "{patch}");
    }
    insta::assert_snapshot!(outcome.err, @r#"
    stave: set: tilt 0 deg, focus at 67.6 mm, zero at 0 mm turn 0 deg, lens medium, nozzle long barrel
    on "stepped bottle": 36.9 mm wide, 30.6 mm high, its middle at 67.61 mm, turn 0°
    energy per area, J/cm²
    power, %   across: speed, mm/s
                     100       200       300
            20    118.23     59.11     39.41
            40    237.71    118.86     79.24
            60    358.47    179.23    119.49
    lines lie 0.067 to 0.0677 mm apart
    (whole motor steps, where the machine file tells them)
    "#);
}

#[test]
fn the_table_people_read() {
    let outcome = swatch(
        "tumbler",
        "degrees",
        &["--powers", "30,60", "--spacings", "0.06,0.1,0.2", "--speeds", "150"],
    )
    .done();
    insta::assert_snapshot!(outcome.err);
}

/// What it says fits a terminal of 80 columns, however many patches there are, and names them all.
#[test]
fn every_line_people_read_fits_a_terminal() {
    let speeds = "40,60,80,100,120,140,160,180,200";
    let wide: &[&str] = &["--powers", "30,60", "--speeds", speeds];
    let spaced = &["--powers", "30", "--spacings", "0.06,0.1,0.2", "--speeds", "150"];
    let tests: [&[&str]; 7] = [
        wide,
        spaced,
        &["--arrow"],
        &["--turn"],
        &["--lag", "--speeds", "100,250"],
        &["--focus-ladder"],
        &["--wedge", "12"],
    ];
    for arguments in tests {
        let told = swatch("can", "degrees", arguments).done().err;
        // What to set at the machine, and what is found, is one line each, whatever its width.
        for line in told.lines().filter(|line| !line.starts_with("stave: ")) {
            assert!(line.chars().count() <= 80, "{arguments:?}: {line:?}");
        }
        if arguments == wide {
            let named = |speed: &str| told.split_whitespace().any(|word| word == speed);
            assert!(speeds.split(',').all(named), "{told}");
            assert_eq!(told.split_whitespace().filter(|word| *word == "30").count(), 2, "{told}");
        }
    }
}

#[test]
fn it_keeps_out_of_zones_and_bends() {
    let folder = tempfile::tempdir().unwrap();
    let blank = folder.path().join("banded.toml");
    // A mark at the front of the longest straight stretch.
    let bottle = std::fs::read_to_string(fixture("blanks/bottle.toml")).unwrap();
    let mark = "\n[[zone]]\nname = \"front\"\nat = [45.0, 90.0]\nturn = [-30.0, 10.0]\n";
    std::fs::write(&blank, bottle + mark).unwrap();
    let machine = fixture("machines/degrees.toml");
    let files = ["swatch", "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let outcome =
        run(&[&files[..], &["--powers", "20,40", "--speeds", "100,200"]].concat(), b"").done();
    let bench = Bench::new("bottle", "degrees", 0.0, false);
    for m in program::read(outcome.out_text()).moves.iter().filter(|m| m.kind == Kind::Burn) {
        for [s, turn] in bench.ends(m) {
            let at = bench.wall.at_s(s).z;
            assert!((40.0..=95.0).contains(&at), "{at}: off the straight stretch");
            assert!(
                !((45.0..90.0).contains(&at) && (-30.0..10.0).contains(&turn.to_degrees())),
                "line {}",
                m.line
            );
        }
    }
    // Where the user wants it, or not at all.
    let outcome = run(
        &[&files[..], &["--powers", "20", "--place-at", "120", "--place-turn", "90"]].concat(),
        b"",
    )
    .done();
    let told = outcome.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("at 120 mm, turn 90°"), "{told}");
    let outcome = run(
        &[&files[..], &["--powers", "20", "--place-at", "67", "--place-turn", "0"]].concat(),
        b"",
    );
    assert_eq!(outcome.status, Some(1));
    assert!(outcome.err.contains("a zone is in the way"), "{}", outcome.err);
}

/// The strokes of the arrow and the R on the wall: `s` and turn of both ends of every burn.
fn strokes(machine: &str, more: &[&str], toward_minus: bool) -> Vec<[[f64; 2]; 2]> {
    let outcome = swatch("can", machine, &[&["--arrow"], more].concat()).done();
    let read = program::read(outcome.out_text());
    assert_safe(outcome.out_text(), &read);
    let bench = Bench::new("can", machine, 0.0, toward_minus);
    read.moves.iter().filter(|m| m.kind == Kind::Burn).map(|m| bench.ends(m)).collect()
}

#[test]
fn the_arrow_tells_toward_and_reverse() {
    let label = ["--label", "20,60"];
    let there = strokes("degrees", &label, false);
    // The first stroke is the shaft, along +u; the tallest of the R lies to its right, which
    // upright is turn falling.
    let shaft = there[0];
    assert!(
        shaft[1][0] - shaft[0][0] > 10.0 && (shaft[1][1] - shaft[0][1]).abs() < 1e-9,
        "{shaft:?}"
    );
    let rest = there.iter().flatten().map(|p| p[1]).fold(f64::INFINITY, f64::min);
    assert!(rest < shaft[0][1] - 0.1, "the R lies at smaller turns");
    // Right settings burn the same marks on the same places, whichever way the machine is built.
    for (machine, toward, minus) in [
        ("degrees", "x-", true),
        ("swapped", "x+", false),
        ("roller", "x+", false),
        ("along-y", "x+", false),
    ] {
        let other = strokes(machine, &[&label[..], &["--toward", toward]].concat(), minus);
        let ends = |all: &[[[f64; 2]; 2]]| all.last().copied().unwrap();
        for (a, b) in ends(&there).iter().zip(ends(&other)) {
            assert!(
                (a[0] - b[0]).abs() < 0.01 && (a[1] - b[1]).abs() < 0.001,
                "{machine} {toward}: {a:?} {b:?}"
            );
        }
    }
    // Wrong ones do not: `toward` turns the mark about, so that the arrow points back; `reverse`
    // mirrors it.
    let words = |more: &[&str]| {
        let outcome =
            swatch("can", "degrees", &[&["--arrow", "--zero-at", "55"], &label[..], more].concat())
                .done();
        program::read(outcome.out_text())
            .moves
            .iter()
            .map(|m| [m.to[0], m.to[3]])
            .collect::<Vec<_>>()
    };
    let (plus, minus) = (words(&[]), words(&["--toward", "x-"]));
    assert!(plus.iter().zip(&minus).all(|(a, b)| a[0] == -b[0] && a[1] == -b[1]));
    insta::assert_snapshot!(swatch("can", "degrees", &["--arrow"]).done().err);
}

#[test]
fn what_cannot_be_meant_and_what_does_not_fit() {
    let cases: [(&[&str], i32, &str); 16] = [
        (&[], 2, "--powers"),
        (
            &["--powers", "0,20"],
            2,
            "--powers: 0 is given, but must be percent, more than 0 and at most 100",
        ),
        (&["--powers", "120"], 2, "--powers: 120 is given"),
        (&["--powers", "inf"], 2, "--powers"),
        (&["--powers", "x"], 2, "--powers"),
        (
            &["--powers", "20", "--speeds", "-5"],
            2,
            "--speeds: -5 is given, but must be mm/s, more than 0",
        ),
        (&["--powers", "20", "--speeds", "NaN"], 2, "--speeds"),
        (
            &["--powers", "20", "--speeds", "9,8", "--spacings", "0.1,0.2"],
            2,
            "a table has one of them across",
        ),
        (
            &["--powers", "20", "--spacings", "9"],
            2,
            "--spacings: 9 is given, but must be mm, from 0.005 to the size of a patch",
        ),
        (&["--powers", "20", "--size", "0"], 2, "--spacings"),
        (&["--powers", "20", "--label", "20"], 2, "--label: must be POWER,SPEED"),
        (&["--powers", "20", "--watts", "0"], 2, "--watts: must be more than 0"),
        (&["--arrow", "--powers", "20"], 2, "--arrow"),
        (&["--powers", "20", "--place-at", "400"], 2, "off the wall"),
        (
            &["--powers", "20", "--speeds", "100,600"],
            1,
            "the X axis of \"degrees on A\" does at most 500",
        ),
        (&["--powers", "1,2,3,4,5,6,7,8,9", "--size", "30"], 1, "no room for the swatch: it needs"),
    ];
    for (arguments, status, expected) in cases {
        let outcome = swatch("bottle", "degrees", arguments);
        assert_eq!(outcome.status, Some(status), "{arguments:?}: {}", outcome.err);
        assert!(outcome.err.contains(expected), "{arguments:?}: {}", outcome.err);
        assert!(outcome.out.is_empty(), "{arguments:?}");
    }
    let bare = swatch("can", "roller", &["--powers", "20"]);
    assert!(bare.err.contains("the machine file has no [area]"), "{}", bare.err);
    assert!(swatch("can", "roller", &["--arrow"]).err.contains("the machine file has no [line]"));
}
