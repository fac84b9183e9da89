//! `[rotary] backlash`: what is burned, by work that follows its word with play, is what is burned
//! without play. The play is played by these tests: the work is taken along from below by a growing
//! word and from above, so much later, by a falling one.

use crate::command::{LAID, fixture, run_in};
use crate::program::{self, Axes, Kind, Move};
use std::path::Path;

/// Degrees: far more than any rotary has, so that nothing is right by chance.
const PLAY: f64 = 0.3;
/// The rotary's word of the machine that is used.
const A: usize = 3;
/// Rounding of the words, degrees and mm.
const COUNT: f64 = 1.01e-4;

/// Lines around, there and back, over shapes with gaps of all sizes.
const AROUND: &str = "[[operation]]\nname = \"navy\"\npick = { fill = \"#1f3a5f\" }\n\
                      work = \"area\"\n\
                      scan = \"around\"\nspeed = 200\npower = 60\nline_spacing = 0.4\n";

/// A copy of the fixture machine with play, or without.
fn machine(folder: &Path, play: f64) {
    std::fs::write(folder.join("around.toml"), AROUND).unwrap();
    let bench = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let with = bench.replace("word = \"A\"\n", &format!("word = \"A\"\nbacklash = {play}\n"));
    assert_ne!(with, bench);
    std::fs::write(folder.join("bench.toml"), with).unwrap();
}

/// Where a burn begins and ends: X, and the turn of the work.
type Burned = [[f64; 2]; 2];

/// What a program burns on work that lies anywhere within the play at first, `late` of it.
fn burned(text: &str, play: f64, late: f64) -> Vec<Burned> {
    let read = program::read(text);
    assert!(read.ended && read.beam.is_none());
    let first = read.moves.first().unwrap().from[A];
    let mut work = first + late * play;
    let mut burns = Vec::new();
    // How far the word has grown since it last fell; what was taken up since, at a standstill.
    let (mut grown, mut lit) = (0.0, false);
    for m in &read.moves {
        let from = work;
        work = work.max(m.to[A]).min(m.to[A] + play);
        let by = m.to[A] - m.from[A];
        if m.kind == Kind::Burn {
            assert!(
                (work - from - by).abs() < COUNT,
                "line {}: the work stands, or slips, while it is lit",
                m.line
            );
            assert!(lit || grown > 2.0 * play - COUNT, "line {}: come to from {grown}", m.line);
            burns.push([[m.from[0], from], [m.to[0], work]]);
            lit = true;
            grown = if by < 0.0 { 0.0 } else { grown + by };
        } else if takes_up(m, play) && (work - from).abs() < COUNT {
            // A dark move of exactly the play, which moves nothing: what burns next is come to.
            lit = lit || grown > 2.0 * play - COUNT;
            grown = if by < 0.0 { 0.0 } else { grown + by };
        } else {
            // On its way back work that is driven from above comes along as its word goes.
            lit = lit && by < 0.0 && (work - from - by).abs() < COUNT;
            grown = if by < 0.0 { 0.0 } else { grown + by };
        }
    }
    burns
}

/// Whether a dark move goes by exactly the play, and by nothing else.
fn takes_up(m: &Move, play: f64) -> bool {
    let turned: Axes = std::array::from_fn(|axis| (m.to[axis] - m.from[axis]).abs());
    (turned[A] - play).abs() < COUNT && turned.iter().sum::<f64>() - turned[A] < COUNT
}

fn alike(found: &[Burned], ideal: &[Burned]) {
    assert_eq!(found.len(), ideal.len());
    for (k, (one, other)) in found.iter().zip(ideal).enumerate() {
        for (a, b) in one.iter().flatten().zip(other.iter().flatten()) {
            assert!((a - b).abs() < COUNT, "burn {k}: {one:?} is not {other:?}");
        }
    }
}

fn arguments() -> Vec<(&'static str, Vec<String>)> {
    let path = |name: &str| fixture(name).to_str().unwrap().to_owned();
    let on = |blank: &str| {
        vec![
            "-b".to_owned(),
            path(&format!("blanks/{blank}.toml")),
            "-m".into(),
            "bench.toml".into(),
        ]
    };
    let given = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
    let with = |parts: &[Vec<String>]| parts.concat();
    vec![
        (
            "a program",
            with(&[vec!["wrap".into(), path("programs/rope.nc")], on("can"), given(&LAID)]),
        ),
        (
            "arcs",
            with(&[
                vec!["wrap".into(), path("programs/medallion.nc")],
                on("bottle"),
                given(&LAID),
                given(&["--place-at", "60"]),
            ]),
        ),
        (
            "art",
            with(&[
                vec!["wrap".into(), path("art/crest.svg")],
                on("can"),
                vec!["-j".into(), path("art/crest.toml")],
            ]),
        ),
        (
            "art around",
            with(&[
                vec!["wrap".into(), path("art/crest.svg")],
                on("can"),
                given(&["-j", "around.toml"]),
            ]),
        ),
        (
            "lines",
            with(&[
                given(&["wrap", "--path", "M0 0h30a5 5 0 0 1 0 10z", "--place-at", "40"]),
                on("can"),
            ]),
        ),
        (
            "a pointed walk",
            with(&[
                vec!["walk".into(), path("programs/medallion.nc")],
                on("can"),
                given(&["--pointer", "2", "--around", "hull"]),
            ]),
        ),
        ("a swatch", with(&[given(&["swatch", "--powers", "20,40"]), on("can")])),
        ("an arrow", with(&[given(&["swatch", "--arrow"]), on("can")])),
    ]
}

#[test]
fn what_is_burned_is_what_is_burned_without_play() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for (what, arguments) in arguments() {
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let made = |play: f64| {
            machine(folder, play);
            let outcome = run_in(folder, &arguments, b"").done();
            outcome.out_text().to_owned()
        };
        let (ideal, text) = (burned(&made(0.0), 0.0, 0.0), made(PLAY));
        assert!(ideal.len() > 5, "{what}");
        // Some of it turns back: as it is written without play it would come out otherwise.
        let without = program::read(&made(0.0)).moves;
        assert!(without.windows(2).any(|two| two[1].to[A] < two[1].from[A]), "{what}");
        for late in [0.0, 1.0] {
            alike(&burned(&text, PLAY, late), &ideal);
        }
    }
}

/// A program read back knows of the play: where its burns lie, and how long they are.
#[test]
fn a_file_is_read_back_with_its_play() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let (rope, can) = (fixture("programs/rope.nc"), fixture("blanks/can.toml"));
    let (rope, can) = (rope.to_str().unwrap(), can.to_str().unwrap());
    let figures = |play: f64| -> (serde_json::Value, serde_json::Value) {
        machine(folder, play);
        let wrap = ["wrap", rope, "-b", can, "-m", "bench.toml", "-o", "rope.nc"];
        run_in(folder, &[&wrap[..], &LAID].concat(), b"").done();
        let json = |command: &str| {
            let all = [command, "rope.nc", "-b", can, "-m", "bench.toml", "--json"];
            serde_json::from_str(run_in(folder, &all, b"").out_text()).unwrap()
        };
        (json("estimate"), json("check"))
    };
    let (without, with) = (figures(0.0), figures(PLAY));
    let number =
        |of: &serde_json::Value, key: &str| of[0][key].as_f64().or(of[key].as_f64()).unwrap();
    let (a, b) = (number(&without.0, "burn_mm"), number(&with.0, "burn_mm"));
    assert!((a - b).abs() < 0.01, "{a} {b}");
    assert!(number(&with.0, "duration_s") > number(&without.0, "duration_s"));
    let codes = |of: &serde_json::Value| {
        let all = of["findings"].as_array().unwrap();
        all.iter().map(|one| one["code"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(codes(&without.1), codes(&with.1));
}

/// What is left of a program burns as it would have, wherever in its play the work was left.
#[test]
fn what_is_resumed_comes_from_the_side_it_was_on() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machine(folder, PLAY);
    let path = ["wrap", "--path", "M0 0h30a5 5 0 0 1 0 10z", "--place-at", "40"];
    let can = fixture("blanks/can.toml");
    let wrap = [&path[..], &["-b", can.to_str().unwrap(), "-m", "bench.toml", "-o", "whole.nc"]];
    run_in(folder, &wrap.concat(), b"").done();
    let whole = std::fs::read_to_string(folder.join("whole.nc")).unwrap();
    let all = burned(&whole, PLAY, 0.0);
    let lines: Vec<usize> = program::read(&whole)
        .moves
        .iter()
        .filter(|m| m.kind == Kind::Burn)
        .map(|m| m.line)
        .collect();
    for (k, line) in lines.iter().enumerate().step_by(3) {
        let line = line.to_string();
        let resume = ["resume", "whole.nc", "-m", "bench.toml", "--line", &line];
        let rest = run_in(folder, &resume, b"").done();
        for late in [0.0, 1.0] {
            let rest = left(rest.out_text(), PLAY, late);
            alike(&rest, &all[k..]);
        }
    }
}

/// What the rest of a program burns; it comes to its first burn from the side it was on.
fn left(text: &str, play: f64, late: f64) -> Vec<Burned> {
    let read = program::read(text);
    let mut work = read.moves[0].from[A] + late * play;
    let mut burns = Vec::new();
    for m in &read.moves {
        let from = work;
        work = work.max(m.to[A]).min(m.to[A] + play);
        if m.kind == Kind::Burn {
            burns.push([[m.from[0], from], [m.to[0], work]]);
        }
    }
    burns
}

#[test]
fn what_cannot_be_meant() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let can = fixture("blanks/can.toml");
    let wrap = ["wrap", "--path", "M0 0h30", "-b", can.to_str().unwrap(), "-m", "bench.toml"];
    machine(folder, -0.1);
    let outcome = run_in(folder, &wrap, b"");
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("`backlash` is -0.1, but must be"), "{}", outcome.err);
    machine(folder, 20.0);
    let outcome = run_in(folder, &wrap, b"");
    assert_eq!(outcome.status, Some(2));
    let told = "`backlash` is 20, but must be at most a twentieth of `units_per_turn`";
    assert!(outcome.err.contains(told), "{}", outcome.err);
}

/// In the dark a walk stands where the burn will go, as it does with a pointer.
#[test]
fn a_walk_takes_up_the_play_in_the_dark_too() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    machine(folder, 1.0);
    let can = fixture("blanks/can.toml");
    let flat = "G21 G90\nG0 X5 Y-5\nM4 S300\nG1 X20 F1200\nY5\nX10\nX5 Y-5\nM5\nM2\n";
    for around in ["box", "hull"] {
        let ends = |more: &[&str]| -> Vec<[f64; 2]> {
            let walk = ["walk", "-", "-m", "bench.toml", "--place-at", "20", "--around", around];
            let walk = [&walk[..], &["-b", can.to_str().unwrap()], more].concat();
            let outcome = run_in(folder, &walk, flat.as_bytes()).done();
            program::read(outcome.out_text()).moves.iter().map(|m| [m.to[0], m.to[3]]).collect()
        };
        let (dark, pointed) = (ends(&[]), ends(&["--pointer", "2"]));
        assert_eq!(dark, pointed, "{around}");
        // Back by the play, and then on.
        assert!(
            dark.windows(2).any(|w| w[0][0] == w[1][0] && (w[0][1] - w[1][1] - 1.0).abs() < 1e-9)
        );
    }
}

/// The walk of a wrapped program stands where that of its source does: a falling word is as much
/// past the place as the play is wide.
#[test]
fn the_walk_of_a_program_is_that_of_its_source() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let can = fixture("blanks/can.toml");
    let flat = "G21 G90\nG0 X5 Y-5\nM4 S300\nG1 X20 F1200\nY5\nX10\nX5 Y-5\nM5\nM2\n";
    std::fs::write(folder.join("flat.nc"), flat).unwrap();
    machine(folder, 2.0);
    let reversed = std::fs::read_to_string(folder.join("bench.toml")).unwrap();
    let reversed = reversed.replace("word = \"A\"\n", "word = \"A\"\nreverse = true\n");
    std::fs::write(folder.join("reversed.toml"), reversed).unwrap();
    for bench in ["bench.toml", "reversed.toml"] {
        let set = ["-b", can.to_str().unwrap(), "-m", bench];
        let placed = [&set[..], &["--place-at", "20"]].concat();
        run_in(folder, &[&["wrap", "flat.nc", "-o", "wrapped.nc"], &placed[..]].concat(), b"")
            .done();
        for around in ["box", "hull"] {
            let ends = |input: &str, more: &[&str]| -> Vec<[f64; 2]> {
                let walk = [&["walk", input, "--around", around], more].concat();
                let text = run_in(folder, &walk, b"").done();
                let moves = program::read(text.out_text()).moves;
                moves.iter().map(|m| [m.to[0], m.to[3]]).collect()
            };
            let (source, wrapped) = (ends("flat.nc", &placed), ends("wrapped.nc", &set));
            assert_eq!(source.len(), wrapped.len(), "{bench} {around}: {source:?} {wrapped:?}");
            for (a, b) in source.iter().zip(&wrapped) {
                let apart = (a[0] - b[0]).abs().max((a[1] - b[1]).abs());
                assert!(apart < 0.05, "{bench} {around}: {source:?} {wrapped:?}");
            }
        }
    }
}

/// A roller that takes more than a word to the millimetre gets more.
#[test]
fn a_roller_has_its_scale() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let bench = std::fs::read_to_string(fixture("machines/roller.toml")).unwrap();
    let can = fixture("blanks/can.toml");
    let moves = |scale: &str| {
        let with = bench.replace("drive = \"roller\"", &format!("drive = \"roller\"\n{scale}"));
        std::fs::write(folder.join("bench.toml"), with + "\n[line]\nspeed = 20\npower = 20\n")
            .unwrap();
        let wrap = ["wrap", "--path", "M0 0h30a5 5 0 0 1 0 10z", "--place-at", "40"];
        let wrap = [&wrap[..], &["-b", can.to_str().unwrap(), "-m", "bench.toml"]].concat();
        program::read(run_in(folder, &wrap, b"").done().out_text()).moves
    };
    let (plain, scaled) = (moves(""), moves("scale = 1.02"));
    assert_eq!(plain.len(), scaled.len());
    for (a, b) in plain.iter().zip(&scaled) {
        assert!((a.to[1] * 1.02 - b.to[1]).abs() < 2e-5 && a.to[0] == b.to[0], "{a:?} {b:?}");
    }
}
