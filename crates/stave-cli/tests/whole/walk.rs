//! `stave walk`: round what burns, in the dark.

use crate::case::Case;
use crate::command::{LAID, Outcome, fixture, run};
use crate::lay::LayKind;
use crate::program::{self, Kind, Program, Rate};

fn walk(input: &str, program: &[u8], more: &[&str]) -> Outcome {
    let (blank, machine) = (fixture("blanks/bottle.toml"), fixture("machines/degrees.toml"));
    let files = ["walk", input, "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    run(&[&files, more].concat(), program)
}

const PLACE: [&str; 4] = ["--place-at", "70", "--tilt", "-5.5"];

fn read(outcome: &Outcome) -> Program {
    let text = outcome.out_text();
    assert!(
        text.starts_with("(stave wrapped 1 ")
            && text.contains("(CAUTION:")
            && text.ends_with("M5\nM2\n"),
        "{text}"
    );
    let read = program::read(text);
    assert!(read.ended && read.beam.is_none());
    read
}

#[test]
fn the_box_of_a_flat_program_goes_round_all_that_burns() {
    let flat = std::fs::read_to_string(fixture("programs/crest.nc")).unwrap();
    let outcome = walk("-", flat.as_bytes(), &PLACE).done();
    let walked = read(&outcome);
    // Nothing lights: no beam word and no power anywhere.
    assert!(
        !outcome.out_text().contains("M3")
            && !outcome.out_text().contains("M4 ")
            && !outcome.out_text().contains('S'),
        "dark"
    );
    assert!(walked.moves.iter().all(|m| m.beam.is_none() && m.kind != Kind::Burn));
    assert_eq!(outcome.out_text().matches("G4 P0.5").count(), 5);
    // Brought back to the flat plane it is the box of the flat program's burns.
    let case = Case::new("bottle", "degrees", LayKind::TrueWidth, -5.5, 70.0);
    let bench = case.bench();
    let burned: Vec<[f64; 2]> = program::read(&flat)
        .moves
        .iter()
        .filter(|m| m.kind == Kind::Burn)
        .flat_map(|m| (0..=8).map(|k| m.point(f64::from(k) / 8.0)).collect::<Vec<_>>())
        .collect();
    let span = |k: usize| {
        let of = || burned.iter().map(|p| p[k]);
        (of().fold(f64::INFINITY, f64::min), of().fold(f64::NEG_INFINITY, f64::max))
    };
    let ((u0, u1), (v0, v1)) = (span(0), span(1));
    let corners = [[u0, v0], [u1, v0], [u1, v1], [u0, v1]];
    let places: Vec<[f64; 2]> = walked
        .moves
        .iter()
        .map(|m| bench.rotary.place(&bench.wall, bench.rotary.of_axes(&m.to)))
        .collect();
    for corner in corners {
        let image = bench.image(corner);
        let near =
            |p: &&[f64; 2]| (p[0] - image[0]).abs() < 0.02 && (p[1] - image[1]).abs() * 35.0 < 0.02;
        assert!(places.iter().any(|p| near(&p)), "{corner:?} is gone to");
    }
    // And all in between lies on the image of its sides.
    let lowest = bench.image(corners[0])[0];
    let highest = bench.image(corners[1])[0];
    assert!(places.iter().all(|p| p[0] > lowest - 0.02 && p[0] < highest + 0.02));
    insta::assert_snapshot!(outcome.err, @"
    stave: set: tilt -5.5 deg, focus at 98.0 mm, zero at 70 mm turn 0 deg, lens medium, nozzle long barrel
    round the program: 73.6 to 124 mm along, turn -73.4 to 72.9°, 4 corners
    ");
}

#[test]
fn a_pointer_shows_while_it_moves_and_not_while_it_stands() {
    let input = fixture("programs/medallion.nc");
    let outcome = walk(
        input.to_str().unwrap(),
        b"",
        &[&PLACE[..], &["--around", "hull", "--pointer", "2", "--speed", "15"]].concat(),
    )
    .done();
    let walked = read(&outcome);
    let mut power = 0.0;
    for line in outcome.out_text().lines() {
        if let Some(at) = line.find('S').filter(|_| !line.starts_with('(')) {
            power = line[at + 1..].split(' ').next().unwrap().parse().unwrap();
        }
        assert!(!line.starts_with("G4") || power == 0.0, "dark while it stands");
    }
    for m in &walked.moves {
        match m.kind {
            Kind::Travel => assert!(m.beam.is_none() || m.power == Some(0.0), "line {}", m.line),
            _ => assert_eq!(m.power, Some(20.0), "line {}", m.line),
        }
    }
    assert!(outcome.err.contains("wear the same protection as for a burn"), "{}", outcome.err);
    let strong =
        walk(input.to_str().unwrap(), b"", &[&PLACE[..], &["--pointer", "5"]].concat()).done();
    assert!(
        strong.err.contains("the pointer's 5 % may mark: `least_power` of \"degrees on A\" is 4 %"),
        "{}",
        strong.err
    );
}

#[test]
fn a_wrapped_program_is_gone_round_by_its_words() {
    let flat = std::fs::read_to_string(fixture("programs/crest.nc")).unwrap();
    let wrapped = Case::new("bottle", "degrees", LayKind::TrueWidth, -5.5, 70.0).wrap(&flat).done();
    let outcome = walk("-", &wrapped.out, &[]).done();
    let walked = read(&outcome);
    let burned = program::read(wrapped.out_text());
    for axis in [0, 3] {
        let of = |moves: &[program::Move], burns: bool| {
            let ends = moves.iter().filter(|m| !burns || m.kind == Kind::Burn).flat_map(|m| {
                if burns { vec![m.from[axis], m.to[axis]] } else { vec![m.to[axis]] }
            });
            ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at), high.max(at))
            })
        };
        assert_eq!(of(&walked.moves, false), of(&burned.moves, true));
    }
    // Line 1 still says what it was wrapped for.
    let first = wrapped.out_text().lines().next().unwrap();
    let first = first.split(" time=").next().unwrap();
    let (before, files) = first.split_once(" files=").unwrap();
    // Blank and machine; the job's digest is that of the walk's own.
    let files: Vec<&str> = files.split(',').take(2).collect();
    let files = files.join(",");
    let walked = outcome.out_text().lines().next().unwrap();
    assert!(walked.starts_with(before), "{first}");
    assert!(walked.contains(&format!(" files={files},")), "{first} {walked}");
}

/// 20 mm/s on the wall where nothing else is said, along the axis and around it, round a flat
/// program and round the same one wrapped. The can's wall is 37 mm from its axis.
#[test]
fn a_walk_goes_as_fast_as_asked_on_the_wall() {
    let files = ["-b", "fixtures/blanks/can.toml", "-m", "fixtures/machines/degrees.toml"];
    let flat = b"G21 G90\nG0 X10 Y0\nM4 S300\nG1 X30 F600\nG1 Y20\nM5\nM2\n";
    let wrapped = run(&[&["wrap", "-", "--place-at", "10"], &files[..]].concat(), flat).done().out;
    for (input, place) in [(&flat[..], &["--place-at", "10"][..]), (&wrapped, &[])] {
        for (speed, more) in
            [(20.0, &[][..]), (15.0, &["--speed", "15"]), (2.5, &["--speed", "2.5"])]
        {
            let outcome = run(&[&["walk", "-"], &files[..], place, more].concat(), input).done();
            let moves = read(&outcome).moves;
            let timed: Vec<f64> = moves
                .iter()
                .filter_map(|m| {
                    let (along, turn) = (m.to[0] - m.from[0], m.to[3] - m.from[3]);
                    let Some(Rate::PerMinute(f)) = m.rate else { return None };
                    let wall_mm = along.hypot(turn.to_radians() * 37.0);
                    (m.kind == Kind::Dark).then(|| wall_mm * f / 60.0 / along.hypot(turn))
                })
                .collect();
            assert_eq!(timed.len(), 4, "{moves:?}");
            assert!(timed.iter().all(|is| (is - speed).abs() < 1e-4 * speed), "{speed}: {timed:?}");
        }
    }
}

#[test]
fn each_piece_of_a_drawing_is_gone_round() {
    let (art, job) = (fixture("art/crest.svg"), fixture("art/crest.toml"));
    let outcome = walk(
        art.to_str().unwrap(),
        b"",
        &["-j", job.to_str().unwrap(), "--around", "hull", "--dwell", "0", LAID[0], LAID[1]],
    )
    .done();
    let walked = read(&outcome);
    assert!(
        walked.comments.iter().any(|c| c == "walk round crest")
            && walked.comments.iter().any(|c| c == "walk round stars")
    );
    assert!(
        !outcome.out_text().contains("G4") && walked.moves.iter().all(|m| m.kind != Kind::Burn)
    );
}

#[test]
fn bare_path_data_and_a_label() {
    let (blank, machine) = (fixture("blanks/cup.toml"), fixture("machines/degrees.toml"));
    let arguments = [
        "walk",
        "--path",
        "M0 0H20V10H0Z",
        "-b",
        blank.to_str().unwrap(),
        "-m",
        machine.to_str().unwrap(),
    ];
    let outcome =
        run(&[&arguments[..], &["--place-at", "40", "--lay", "label"]].concat(), b"").done();
    let walked = read(&outcome);
    let case = Case::new("cup", "degrees", LayKind::TrueWidth, 0.0, 40.0);
    let bench = case.bench();
    // A label keeps its lengths on a cone: once round is 60 mm.
    let places: Vec<[f64; 2]> = walked
        .moves
        .iter()
        .map(|m| bench.rotary.place(&bench.wall, bench.rotary.of_axes(&m.to)))
        .collect();
    let step = |a: &[f64; 2], b: &[f64; 2]| {
        let radius = bench.wall.at_s((a[0] + b[0]) / 2.0).r;
        (b[0] - a[0]).hypot((b[1] - a[1]) * radius)
    };
    let length: f64 = places.windows(2).map(|pair| step(&pair[0], &pair[1])).sum();
    assert!((length - 60.0).abs() < 0.01, "{length}");
}

#[test]
fn nothing_to_go_round_and_what_cannot_be_meant() {
    let outcome = walk("-", b"G0 X1\nM2\n", &[]).done();
    assert!(
        read(&outcome).moves.is_empty() && outcome.err.contains("nothing burns"),
        "{}",
        outcome.err
    );
    let cases: [(&[&str], &str, i32, &str); 7] = [
        (&["--pointer", "0"], "M2\n", 2, "--pointer: must be a percentage"),
        (&["--pointer", "101"], "M2\n", 2, "--pointer"),
        (&["--speed", "0"], "M2\n", 2, "--speed: must be more than 0"),
        (&["--dwell", "-1"], "M2\n", 2, "--dwell: must be from 0 to 60 seconds"),
        (&["--around", "ring"], "M2\n", 2, "--around"),
        (&[], "M4 S5\nG1 X1 A4 F5\n", 2, "a rotary word"),
        (&[], "G1 X\n", 2, "standard input:1:"),
    ];
    for (arguments, input, status, expected) in cases {
        let outcome = walk("-", input.as_bytes(), arguments);
        assert_eq!(outcome.status, Some(status), "{arguments:?}: {}", outcome.err);
        assert!(outcome.err.contains(expected), "{arguments:?}: {}", outcome.err);
        assert!(outcome.out.is_empty());
    }
}

/// The walk of art that cannot be burned as it lies, here for a wall too steep for the machine, is
/// focused by where it lies, since nothing of it burned.
#[test]
fn a_walk_of_what_cannot_burn_is_focused_where_it_goes() {
    let folder = tempfile::tempdir().unwrap();
    let bench = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let steep = folder.path().join("m.toml");
    std::fs::write(&steep, bench.replace("steepest = 75.0", "steepest = 40.0")).unwrap();
    let blank = fixture("blanks/bottle.toml");
    // Along the step of 53 degrees.
    let text = b"G21\nM4 S300\nG0 X1\nG1 X5 F600\nM5\nM2\n";
    let head = |machine: &std::path::Path| {
        let files = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
        let words = [&["walk", "-", "--place-at", "95"], &files[..]].concat();
        let outcome = run(&words, text).done();
        let first = outcome.out_text().lines().next().unwrap().to_owned();
        let (_, height) = first.split_once("focus_height=").unwrap();
        height.split(' ').next().unwrap().parse::<f64>().unwrap()
    };
    let [able, unable] = [fixture("machines/degrees.toml"), steep].map(|path| head(&path));
    assert!((able - unable).abs() < 0.05, "{able} and {unable}");
}

/// Both ends of a line are corners of its way round.
#[test]
fn a_single_line_is_stood_at_at_both_its_ends() {
    for to in ["X25", "Y20"] {
        for around in ["box", "hull"] {
            let flat = format!("G21 G90\nG0 X5 Y0\nM4 S300\nG1 {to} F1200\nM5\nM2\n");
            let more = ["--place-at", "20", "--around", around];
            let outcome = walk("-", flat.as_bytes(), &more).done();
            // At its start before and after, at its end between.
            assert_eq!(outcome.out_text().matches("G4 P0.5").count(), 3, "{to} {around}");
            assert!(outcome.err.contains("2 corners"), "{}", outcome.err);
        }
    }
}
