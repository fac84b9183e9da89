//! The head and the rotary: steps of the nozzle, the carriage, and what of the rotary stands up
//! beside the work, wherever a program is judged, and in lifts where Z follows.

use crate::command::{Outcome, fixture, run, run_in};
use crate::program;
use serde_json::Value;
use std::path::Path;

/// The tip is 6 mm above the can's wall of 40 mm radius: the step's underside 36 mm over that, the
/// carriage's 46. They reach 14 and 40 mm along.
const HEAD: &str = "[carriage]\nx = [-40, 40]\ny = [-25, 25]\nabove = 40\n";
const STEP: &str = "step = [[30, 14]]\n";

/// The fixture machine with more of its head and rotary, and a can to go with it.
fn bench(folder: &Path, obstacle: &str) {
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let first = "name = \"long barrel\"\nradius = 9.0\ngap = 6.0\n";
    assert!(machine.contains(first));
    let machine = machine.replace(first, &format!("{first}{STEP}"));
    let machine = format!("{machine}\n{HEAD}\n{obstacle}");
    std::fs::write(folder.join("bench.toml"), machine).unwrap();
    let can = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 120\ndiameter = 80\n";
    std::fs::write(folder.join("can.toml"), can).unwrap();
}

fn stave(folder: &Path, command: &str, more: &[&str], program: &str) -> Outcome {
    let files = [command, "-b", "can.toml", "-m", "bench.toml"];
    run_in(folder, &[&files, more].concat(), program.as_bytes())
}

const FLAT: &str = "G21 G90\nM4 S0\nG0 X50 Y0\nG1 X90 S500 F1200\nM5\nM2\n";

/// What `check` says of the fitted nozzle.
#[track_caller]
fn fitted(outcome: &Outcome) -> (f64, String, String, Vec<String>) {
    let report: Value = serde_json::from_str(outcome.out_text()).expect(&outcome.err);
    let nozzle = report["nozzles"].as_array().unwrap().iter().find(|one| one["fitted"] == true);
    let nozzle = nozzle.unwrap();
    let text = |key: &str| nozzle[key].as_str().unwrap_or("none").to_owned();
    let findings = report["findings"].as_array().unwrap();
    let messages = findings.iter().filter(|one| one["code"] == "clearance");
    let messages = messages.map(|one| one["message"].as_str().unwrap().to_owned());
    (nozzle["gap_mm"].as_f64().unwrap(), text("part"), text("obstacle"), messages.collect())
}

fn jaw(radius: f64) -> String {
    format!("[[rotary.obstacle]]\nname = \"jaw 2\"\nalong = [-30, 12]\nradius = {radius}\n")
}

/// From the burn's start at 50, where the zero is, the carriage reaches back to 10, the jaw up to
/// 12.
#[test]
fn the_carriage_strikes_a_jaw_by_name() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &jaw(90.0));
    let check = |more: &[&str]| stave(folder.path(), "check", &[&["--json"], more].concat(), FLAT);
    let (gap, part, obstacle, told) = fitted(&check(&["--zero-at", "50"]));
    assert!((gap - (86.0 - 90.0)).abs() <= 0.021, "{gap}");
    assert_eq!((part.as_str(), obstacle.as_str()), ("carriage", "jaw 2"));
    assert!(
        told[0].starts_with(
            "the carriage over the nozzle \"long barrel\" strikes the \
                                 rotary's \"jaw 2\", 4"
        ),
        "{told:?}"
    );
    // Held 5 mm farther off, it is clear of the art.
    let (gap, part, ..) = fitted(&check(&["--held-at", "-5", "--zero-at", "50"]));
    assert!((gap - 6.0).abs() <= 0.021 && part == "tip", "{gap} {part}");
    // Travels count: from the zero at 20 mm the carriage stands over the jaw, and the step too.
    let (gap, ..) = fitted(&check(&["--held-at", "-5", "--zero-at", "20"]));
    assert!((gap - (76.0 - 90.0)).abs() <= 0.021, "{gap}");
    let people = stave(folder.path(), "check", &["--zero-at", "50"], FLAT);
    assert!(people.out_text().contains("carriage to jaw 2"), "{}", people.out_text());
}

/// A program says where the chuck's face was, so that whoever reads it need not be told again.
#[test]
fn line_one_says_where_the_work_is_held() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &jaw(90.0));
    let made = ["--held-at", "-25", "--zero-at", "50", "-o", "held.nc"];
    stave(folder.path(), "wrap", &made, FLAT).done();
    let text = std::fs::read_to_string(folder.path().join("held.nc")).unwrap();
    assert!(text.lines().next().unwrap().contains(" held_at=-25 "), "{text:.300}");
    // Told nothing, and told otherwise: the file counts.
    for more in [&["held.nc", "--json"][..], &["held.nc", "--json", "--held-at", "0"]] {
        let (gap, part, _, told) = fitted(&stave(folder.path(), "check", more, ""));
        assert!((gap - 6.0).abs() <= 0.021 && part == "tip", "{gap} {part}");
        assert!(told.is_empty(), "{told:?}");
    }
    // Without obstacles there is nothing to say.
    bench(folder.path(), "");
    let plain = stave(folder.path(), "wrap", &["--zero-at", "50"], FLAT).done();
    assert!(!plain.out_text().contains("held_at"));
}

/// One judge: what `check` finds, every command that writes refuses.
#[test]
fn every_command_that_writes_refuses() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &jaw(95.0));
    for (command, more) in [
        ("wrap", &["--place-at", "0"][..]),
        ("walk", &["--place-at", "0"]),
        ("swatch", &["--powers", "20,40", "--speeds", "100,200"]),
    ] {
        let clear = stave(folder.path(), command, &[more, &["--held-at", "-60"]].concat(), FLAT);
        assert_eq!(clear.status, Some(0), "{command}: {}", clear.err);
        let struck = stave(folder.path(), command, &[more, &["--held-at", "40"]].concat(), FLAT);
        assert_eq!(struck.status, Some(1), "{command}: {}", struck.err);
        assert!(struck.err.contains("\"jaw 2\""), "{command}: {}", struck.err);
    }
    let proof = ["--allow", "clearance", "--held-at", "40", "-o", "p.svg"];
    stave(folder.path(), "proof", &proof, FLAT).done();
    let sheet = std::fs::read_to_string(folder.path().join("p.svg")).unwrap();
    assert!(sheet.contains("jaw 2"), "the proof does not name it");
}

/// A strap over the ware, between two places that burn: with a driven Z the head goes over it, and
/// what is written is fit; with Z at rest it is not.
#[test]
fn lifts_mind_the_rotary() {
    let folder = tempfile::tempdir().unwrap();
    // 9 mm beside each burn, and 14 mm the step, 28 mm the carriage: only travels come over it.
    let strap = "[[rotary.obstacle]]\nname = \"strap\"\nalong = [58, 62]\nacross = [-50, 50]\n\
                 height = 60\n";
    bench(folder.path(), strap);
    let program = "G21 G90\nM4 S0\nG0 X5 Y0\nG1 X10 S500 F1200\nG0 X110 Y3\nG1 X115\nM5\nM2\n";
    let check =
        |more: &[&str]| stave(folder.path(), "check", &[&["--json"], more].concat(), program);
    let (gap, _, obstacle, told) = fitted(&check(&[]));
    assert!((gap - (46.0 - 60.0)).abs() <= 0.021, "{gap} {obstacle}");
    assert!(told[0].contains("strikes the rotary's \"strap\""), "{told:?}");
    let (gap, .., told) = fitted(&check(&["--focus", "follow"]));
    assert!((gap - 6.0).abs() <= 0.03 && told.is_empty(), "{gap} {told:?}");
    let written = stave(folder.path(), "wrap", &["--focus", "follow"], program).done();
    let read = program::read(written.out_text());
    // Z 0 is focus on the wall: what stands 60 high is 20 above it, and as far below the tip.
    let most = read.moves.iter().map(|one| one.to[2]).fold(f64::NEG_INFINITY, f64::max);
    assert!((most - 20.0).abs() < 0.01, "{most}");
}

/// Between two burns at one place along the axis only the rotary's word changes, and a boss comes
/// by: the head goes over it, 9 mm above a wall that is 0.154 mm farther out at the boss's far end
/// than at the zero.
#[test]
fn a_travel_that_only_turns_goes_over_a_boss() {
    let program = b"G21 G90\nM4 S0\nG0 X0 Y-23\nG1 X2 S300 F600\nG0 Y23\nG1 X0\nM5\nM2\n";
    let files = ["-b", "fixtures/blanks/bottle.toml", "-m", "fixtures/machines/degrees.toml"];
    // The wrapped travel has no X word to bring it about.
    let job = ["--place-at", "110", "--place-turn", "180", "--zero-turn", "150"];
    let follow = [&files[..], &job, &["--focus", "follow"]].concat();
    let written = run(&[&["wrap", "-"], &follow[..]].concat(), program).done();
    let read = program::read(written.out_text());
    let turned = |one: &&program::Move| (one.to[3] - one.from[3]).abs() > 50.0;
    let over: Vec<_> = read.moves.iter().filter(turned).collect();
    let [over] = over[..] else { panic!("{over:?}") };
    assert!(over.kind == program::Kind::Travel && over.from[0] == over.to[0], "{over:?}");
    let due = 9.0 + (116.0 - 110.0) / 39.0;
    assert!(over.from[2] == over.to[2] && (over.to[2] - due).abs() < 0.001, "{over:?}");
    // With Z at rest the same travel strikes.
    let fixed = run(&[&["wrap", "-"], &files[..], &job].concat(), program);
    assert_eq!(fixed.status, Some(1), "{}", fixed.err);
    assert!(fixed.err.contains("strikes the zone \"lower boss\""), "{}", fixed.err);
}

/// What a nozzle strikes and what lies lowest over the bed are named as the blank names them.
#[test]
fn zones_are_told_by_their_names() {
    let folder = tempfile::tempdir().unwrap();
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let machine = machine.replace("[rotary]", "[rotary]\naxis_height = 46");
    let path = folder.path().join("m.toml");
    std::fs::write(&path, machine).unwrap();
    // Burned at the front, the bosses hang down: 52.42 mm and 53.17 mm below the axis.
    let program = b"G21 G90\nM4 S0\nG0 X0 Y0\nG1 X2 S300 F600\nM5\nM2\n";
    let words = ["check", "--json", "-b", "fixtures/blanks/bottle.toml", "--place-at", "110"];
    let outcome = run(&[&words[..], &["-m", path.to_str().unwrap()]].concat(), program);
    let (.., told) = fitted(&outcome);
    let [bed] = &told[..] else { panic!("{told:?}") };
    assert!(bed.starts_with("the zone \"upper boss\" strikes the bed, 7.17 mm deep"), "{bed}");
}
