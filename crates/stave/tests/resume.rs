//! What is left of a program, and what was burned before: together they are the whole, on the wall.
#![allow(clippy::unwrap_used, missing_docs)]

use std::fmt::Write;

use proptest::prelude::*;
use stave::setup::{JobFile, read_blank, read_machine};
use stave::{
    Code, Error, Options, ResumeAt, ResumeReport, Setup, Source, Step, StepKind, check, resume,
    steps, wrap,
};
use stave_tests::ware::{BLANKS, MACHINES};

fn setup(blank: usize, machine: usize, inverse_time: bool, focus: bool) -> Setup {
    let mut job = JobFile::default();
    let blank = read_blank(BLANKS[blank], "blank.toml").unwrap();
    let (first, last) = blank.wall.at_range_mm();
    let mut options = vec![("place-at", format!("{}", 0.5 * (first + last)))];
    let mut machine = read_machine(MACHINES[machine], "machine.toml").unwrap();
    if inverse_time {
        machine.controller.feed = stave_toolpath::FeedMode::InverseTime;
    }
    if focus && machine.z.is_some() {
        options.push(("focus", "follow".to_owned()));
    }
    for (name, value) in options {
        job.set_option(name, &value).unwrap();
    }
    Setup::new(blank, machine, job).unwrap()
}

/// What the machine does by a program of ours.
fn run(program: &[u8], setup: &Setup) -> Vec<Step> {
    let mut all = Vec::new();
    let take = |step: &Step| {
        all.push(*step);
        Ok::<(), std::convert::Infallible>(())
    };
    steps(Source::program(program), setup, &Options::default(), take).unwrap();
    all
}

fn rest(program: &[u8], setup: &Setup, at: &ResumeAt) -> Result<(Vec<u8>, ResumeReport), Error> {
    let mut text = Vec::new();
    let options = Options::default();
    let report = resume(Source::program(program), &mut text, &setup.machine, at, &options)?;
    Ok((text, report))
}

/// One thing a flat program does: what, where to (mm), how fast (mm/s), at what S.
type Deed = (u8, f64, f64, f64, u32);

fn flat(deeds: &[Deed], along_y: bool, on_off: bool) -> String {
    let mut text = String::from("(a comment)\nG21 G90\nG0 X0 Y0\n");
    text += if on_off { "M3\n" } else { "M3 S0\n" };
    for (number, (what, x, y, speed, s)) in deeds.iter().enumerate() {
        let (x, y) = if along_y { (-y, *x) } else { (*x, *y) };
        let f = speed * 60.0;
        match what {
            0 => writeln!(text, "G0 X{x:.3} Y{y:.3}").unwrap(),
            1 if !on_off => writeln!(text, "G1 X{x:.3} Y{y:.3} S0 F{f:.1}").unwrap(),
            2 if !on_off => writeln!(text, "S{s}\nG4 P0.25").unwrap(),
            3 => writeln!(text, "(part {number})").unwrap(),
            4 => writeln!(text, "M8").unwrap(),
            _ if on_off => writeln!(text, "G1 X{x:.3} Y{y:.3} F{f:.1}").unwrap(),
            _ => writeln!(text, "G1 X{x:.3} Y{y:.3} S{s} F{f:.1}").unwrap(),
        }
    }
    text + "M5\nM2\n"
}

fn near(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within
}

/// Holds two burns against each other: where they lie on the wall, how strong, how fast.
fn alike(found: &Step, meant: &Step) -> Result<(), TestCaseError> {
    prop_assert_eq!(found.kind, meant.kind);
    prop_assert_eq!(found.beam, meant.beam);
    prop_assert_eq!(found.power_s, meant.power_s);
    for (a, b) in [(found.from, meant.from), (found.to, meant.to)] {
        let (a, b) = (a.place.unwrap(), b.place.unwrap());
        prop_assert!(near(a.s_mm, b.s_mm, 1e-9) && near(a.turn_rad, b.turn_rad, 1e-9));
    }
    prop_assert!(
        near(found.time_s, meant.time_s, 1e-5 * meant.time_s + 1e-9),
        "{found:?} {meant:?}"
    );
    Ok(())
}

/// Before its first mark a program is dark, and the rotary comes from the side from which it came
/// in the whole.
fn begins_well(
    all: &[Step],
    (side, at_speed): (Option<f64>, bool),
    machine: &stave::setup::Machine,
) -> Result<(), TestCaseError> {
    let first = all.iter().position(|step| step.kind.marks()).unwrap();
    let (burn, before) = (&all[first], &all[first - 1]);
    if at_speed && burn.kind == StepKind::Burn {
        // Dark, the same way, as long as the axes need to be as fast.
        prop_assert_eq!(before.kind, StepKind::Dark);
        let (ups, goes) = (before.delta(), burn.delta());
        let limits = [&machine.x, &machine.y].map(|axis| axis.acceleration);
        let needs = |axis: usize, acceleration: f64| {
            (goes[axis] / burn.time_s).powi(2) / (2.0 * acceleration)
        };
        for axis in [0, 1, 3] {
            prop_assert!(ups[axis] * goes[axis] >= 0.0, "{:?} {:?}", ups, goes);
        }
        for (axis, acceleration) in limits.into_iter().enumerate() {
            let count = 10_f64.powi(-(machine.controller.decimals as i32));
            prop_assert!(ups[axis].abs() >= needs(axis, acceleration) - count);
        }
    }
    let turned = |step: &Step| step.delta()[3];
    let last = all[..first].iter().rev().map(turned).find(|turned| *turned != 0.0);
    let limited = machine.rotary.limits.min.is_some() || machine.rotary.limits.max.is_some();
    if let Some(side) = side.filter(|_| !limited) {
        prop_assert_eq!(last.map(f64::signum), Some(side));
    }
    for step in &all[..first] {
        if step.kind == StepKind::Beam && step.beam.is_some() {
            prop_assert!(step.power_s.is_none_or(|s| s == 0.0));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(stave_tests::cases(96))]
    #[test]
    fn both_halves_are_the_whole_on_the_wall(
        (blank, machine) in (0..4_usize, 0..4_usize),
        (inverse_time, focus, on_off) in (any::<bool>(), any::<bool>(), any::<bool>()),
        deeds in prop::collection::vec(
            (0..9_u8, -15.0..15.0_f64, -40.0..40.0_f64, 5.0..80.0_f64, 1..900_u32), 3..14),
        (where_, by_time) in (0.0..1.0_f64, any::<bool>()),
    ) {
        let setup = setup(blank, machine, inverse_time, focus);
        let along_y = setup.machine.rotary.along == stave::setup::Along::Y;
        let flat = flat(&deeds, along_y, on_off);
        let mut whole = Vec::new();
        let all = Options::allowing(Code::ALL.iter().copied());
        let wrapped = wrap(Source::program(flat.as_bytes()), &mut whole, &setup, &all);
        prop_assume!(wrapped.is_ok());
        let meant = run(&whole, &setup);
        let moving: Vec<&Step> =
            meant.iter().filter(|step| step.delta() != [0.0; 4] || step.kind.marks()).collect();
        let marks: Vec<&Step> = meant.iter().filter(|step| step.kind.marks()).collect();
        prop_assume!(!marks.is_empty());
        let at = if by_time {
            ResumeAt::TimeS(where_ * wrapped.unwrap().estimate.unwrap().duration_s)
        } else {
            ResumeAt::Line(moving[(where_ * moving.len() as f64) as usize].line)
        };
        let (text, report) = match rest(&whole, &setup, &at) {
            Ok(rest) => rest,
            Err(error) => {
                // Nothing is left to burn, and that is so.
                prop_assert!(error.to_string().contains("nothing burns"), "{}", error);
                let last = marks.last().unwrap().line;
                if let ResumeAt::Line(line) = at {
                    prop_assert!(line > last);
                }
                return Ok(());
            }
        };
        let found = run(&text, &setup);
        let left: Vec<&Step> = found.iter().filter(|step| step.kind.marks()).collect();
        let cut = report.done_share > 0.0;
        // What was burned before, in whole moves.
        let done = marks.iter().filter(|step| step.line < report.line).count();
        prop_assert_eq!(done + left.len(), marks.len(), "{}", String::from_utf8_lossy(&text));
        for (number, (found, meant)) in left.iter().zip(&marks[done..]).enumerate() {
            if number > 0 || !cut || meant.line != report.line {
                alike(found, meant)?;
                continue;
            }
            let how = |step: &Step| (step.kind, step.beam, step.power_s);
            prop_assert_eq!(how(found), how(meant));
            let left_share = 1.0 - report.done_share;
            prop_assert!(near(found.time_s, left_share * meant.time_s, 1e-3 * meant.time_s + 2e-5));
            // The cut lies on the move, its words rounded; the end is the move's own.
            let count = 10_f64.powi(-(setup.machine.controller.decimals as i32));
            for axis in 0..4 {
                let way = meant.to.words[axis] - meant.from.words[axis];
                let there = meant.from.words[axis] + report.done_share * way;
                prop_assert!(near(found.from.words[axis], there, 0.51 * count));
                prop_assert!(near(found.to.words[axis], meant.to.words[axis], 1e-9));
            }
        }
        let next = meant.iter().position(|step| step.line == marks[done].line).unwrap();
        let cut_burn = cut && marks[done].line == report.line;
        let side = meant[..next + usize::from(cut_burn)].iter().rev().map(|step| step.delta()[3]).find(|t| *t != 0.0);
        let at_speed = cut_burn && marks[done].power_s.is_some();
        begins_well(&found, (side.map(f64::signum), at_speed), &setup.machine)?;
        // Only a program as it stands is gone on with: it is one again.
        prop_assert!(text.starts_with(whole.split(|byte| *byte == b'\n').next().unwrap()));
        let again = check(Source::program(&text[..]), &setup, &all).unwrap();
        prop_assert!(again.findings.iter().all(|finding| finding.code != Code::Unfinished));
        prop_assert!(again.findings.iter().all(|finding| finding.code != Code::BeamOnTravel));
    }
}

const MACHINE: &str = "[controller]\nair = { low = \"M7\", high = \"M106 S255\", off = \"M9\" }\n[x]\nspeed = 500\nacceleration = 5000\n\
    [y]\nspeed = 500\nacceleration = 5000\n[z]\nspeed = 20\nacceleration = 100\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\n\
    acceleration = 2000\n[line]\nspeed = 60\npower = 20\n";

fn can(job: &str) -> Setup {
    let blank = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";
    Setup::new(
        read_blank(blank, "can.toml").unwrap(),
        read_machine(MACHINE, "bench.toml").unwrap(),
        stave::setup::read_job(job, "job.toml").unwrap(),
    )
    .unwrap()
}

/// Two pieces, the second under air.
fn of_two_pieces() -> (Setup, Vec<u8>) {
    let setup = can(
        "[[operation]]\nname = \"blow\"\nwork = \"line\"\nspeed = 50\npower = 30\nair = \"high\"\npick = { stroke = \"#000000\" }\n",
    );
    let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"251.3274mm\" height=\"100mm\" \
        viewBox=\"0 0 251.3274 100\"><g id=\"crest\" fill=\"none\" stroke=\"#000000\"><path d=\"M80 20h20v10\"/></g>\
        <g id=\"motto\" fill=\"none\" stroke=\"#000000\"><path d=\"M140 60h-20v10\"/></g></svg>";
    let mut whole = Vec::new();
    wrap(Source::drawing(svg.as_bytes()), &mut whole, &setup, &Options::default()).unwrap();
    (setup, whole)
}

#[test]
fn a_piece_is_gone_on_with_under_its_air() {
    let (setup, whole) = of_two_pieces();
    let text = String::from_utf8(whole.clone()).unwrap();
    for (piece, other) in [("crest", "motto"), ("motto", "crest")] {
        let first = text.find(&format!("(piece {piece}: blow)")).unwrap();
        let (found, report) = rest(&whole, &setup, &ResumeAt::Piece(piece.into())).unwrap();
        let found = String::from_utf8(found).unwrap();
        assert_eq!(report.section.as_deref(), Some(&*format!("piece {piece}: blow")));
        assert!(found.contains("\nM5\nM106 S255\nG0 X"), "{found}");
        let left = text[first..].matches("(piece ").count();
        assert_eq!(found.matches("(piece ").count(), left.max(1), "{found}");
        let before = text[..first].contains(&format!("(piece {other}"));
        assert_eq!(found.contains(&format!("(piece {other}")), !before, "{found}");
        assert!(found.ends_with(&text[text.len() - 6..]), "{found}");
    }
    let told = rest(&whole, &setup, &ResumeAt::Piece("moto".into())).unwrap_err();
    assert_eq!(told.exit_status(), 2);
    // In the order in which they burn.
    assert!(told.to_string().contains("there are: motto, crest"), "{told}");
}

/// By hand: 50 mm at 50 mm/s from rest to rest on X at 5000 mm/s²: a ramp of 0.01 s at either end;
/// after 0.51 s half is done. The rotary has not moved yet: it comes from below.
#[test]
fn a_move_is_cut_where_the_time_says() {
    let setup = can("[place]\nat = 10\n");
    let flat = b"M4 S300\nG1 X50 F3000\nG1 X80\nM5\nM2\n";
    let mut whole = Vec::new();
    wrap(Source::program(&flat[..]), &mut whole, &setup, &Options::default()).unwrap();
    // To the flat program's start the machine needs no move, for there it stands; the first burn
    // goes to X50 and on to X80 without a stop: only one ramp in the first half second.
    let (text, report) = rest(&whole, &setup, &ResumeAt::TimeS(0.505)).unwrap();
    let x = |words: &[(char, f64)]| words.iter().find(|(letter, _)| *letter == 'X').unwrap().1;
    // 0.01 s up: 0.25 mm; 0.495 s at 50 mm/s: 24.75 mm. It is come to again over such a ramp, dark.
    assert!((x(&report.words) - 25.0).abs() < 1e-9, "{report:?}");
    assert!((report.done_share - 0.5).abs() < 1e-9 && (report.done_s - 0.505).abs() < 1e-12);
    let text = String::from_utf8(text).unwrap();
    let expected = "G21 G90 G94 F3000\nM5\nG0 X24.75 A-2\nG0 A0\nM4 S0\n\
                    G1 X25 A0 S0\nG1 X50 A0 S300\nX80\n";
    assert!(text.contains(expected), "{text}");
    assert!(text.contains("(resumed at line 15, 50 pct of it done)\n"), "{text}");
    assert!(!text.contains(['!', '?', '~', '%', ';']), "{text}");
}

/// In the middle of a scan line, after a gap in it: the burn is come to at speed, as in the whole,
/// so that light which comes late falls where it would have.
#[test]
fn a_scan_line_is_come_to_at_speed() {
    let mut setup = can("[place]\nat = 10\n");
    setup.machine.x.max = Some(40.0);
    let flat = b"M4 S0\nF6000\nG0 X5 Y3\nG1 X10\nG1 X20 S300\nX25 S0\nX30 S200\nX35 S0\n\
                 G0 X40 Y4\nG1 X39.9 S0\nX30 S300\nM5\nM2\n";
    let mut whole = Vec::new();
    wrap(Source::program(&flat[..]), &mut whole, &setup, &Options::default()).unwrap();
    let line_of = |words: &str| {
        let text = String::from_utf8(whole.clone()).unwrap();
        let at = text.lines().position(|line| line == words);
        at.unwrap_or_else(|| panic!("{words} in {text}")) as u64 + 1
    };
    for (words, expected) in [
        // 100 mm/s are reached over a millimetre.
        (
            "X30 S200",
            "G0 X24 A2.2972\nG0 A4.2972\nM4 S0\nG1 X25 A4.2972 S0\nG1 X30 A4.2972 S200\nX35 S0\n",
        ),
        // No farther than the axis goes.
        (
            "X30 S300",
            "G0 X40 A3.7296\nG0 A5.7296\nM4 S0\nG1 X39.9 A5.7296 S0\nG1 X30 A5.7296 S300\n",
        ),
    ] {
        let (text, _) = rest(&whole, &setup, &ResumeAt::Line(line_of(words))).unwrap();
        let text = String::from_utf8(text).unwrap();
        assert!(text.contains(expected), "{expected} in {text}");
    }
}

#[test]
fn what_cannot_be_gone_on_with_is_told_with_status_two() {
    let (setup, whole) = of_two_pieces();
    let lines = whole.iter().filter(|byte| **byte == b'\n').count() as u64;
    let told = |program: &[u8], at: ResumeAt| {
        let error = rest(program, &setup, &at).unwrap_err();
        assert_eq!(error.exit_status(), 2, "{error}");
        error.to_string()
    };
    for (at, expected) in [
        (ResumeAt::Line(0), format!("--line 0: the program has lines 1 to {lines}")),
        (ResumeAt::Line(lines + 1), format!("the program has lines 1 to {lines}")),
        (ResumeAt::Line(3), "nothing moves or burns there; the next line that does is".to_owned()),
        (ResumeAt::Line(lines), "nothing moves or burns there".to_owned()),
        (ResumeAt::TimeS(1e6), "--at 1000000: the program takes".to_owned()),
        (ResumeAt::TimeS(-1.0), "--at -1: the program takes".to_owned()),
        (ResumeAt::TimeS(f64::NAN), "the program takes".to_owned()),
    ] {
        let said = told(&whole, at.clone());
        assert!(said.contains(&expected), "{at:?}: {said}");
    }
    let flat = b"M4 S300\nG1 X50 F3000\nM5\nM2\n";
    assert!(told(flat, ResumeAt::Line(2)).contains("line 1 is not that of a wrapped program"));
    let text = String::from_utf8(whole.clone()).unwrap();
    let changed = text.replacen("G21 G90 G94", "G20 G90 G94", 1);
    let last = text.lines().position(|line| line.starts_with("(piece motto")).unwrap() as u64;
    let said = told(changed.as_bytes(), ResumeAt::Line(last + 2));
    assert!(said.contains("stands under G20"), "{said}");
    let cut = &whole[..whole.len() - 6];
    assert!(told(cut, ResumeAt::Line(last + 2)).contains("M2"));
}
