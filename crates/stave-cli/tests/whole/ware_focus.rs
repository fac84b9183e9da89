//! Where to focus on ware that is not round or does not run true: there a place along the axis is
//! as high as the focus at one turn and not at another, so the turn is said wherever the place is.

use std::path::Path;

use serde_json::Value;

use crate::command::{fixture, run_in};

/// A blank's file, the tilt, degrees, and the radius at a place and a turn.
type Ware = (&'static str, f64, fn(f64, f64) -> f64);

/// A can whose centre lies off the axis, and a tapered oval one.
fn wares() -> [Ware; 2] {
    let bent = "station = [{ at = 0, diameter = 70, runout = 0.5 }, \
                { at = 100, diameter = 70, runout = 0.5 }]\n";
    let oval = "station = [{ at = 0, diameter = 70, oval = 0.8, runout = 0.3 }, \
                { at = 100, diameter = 78, oval = 0.8, runout = 0.3 }]\n";
    [
        (bent, 0.0, |_, turn| 35.0 + 0.5 * turn.cos()),
        (oval, -2.3, |at, turn| 35.0 + 0.04 * at + 0.3 * turn.cos() + 0.2 * (2.0 * turn).cos()),
    ]
}

/// The comment that says what to set, and the place along the axis, mm, and the turn, rad, to focus
/// at.
fn set_line(program: &str) -> (String, f64, f64) {
    let line = program.lines().find(|line| line.starts_with("(set: ")).unwrap();
    let words: Vec<&str> = line.split_whitespace().collect();
    let after = |word: &str| words[words.iter().position(|one| *one == word).unwrap() + 2];
    let place = words.windows(6).find(|six| six[0] == "focus" && six[4] == "turn").unwrap();
    assert_eq!(
        (place[1], place[3], after("turn").trim_end_matches(',')),
        ("at", "mm", "deg"),
        "{line}"
    );
    (line.to_owned(), place[2].parse().unwrap(), place[5].parse::<f64>().unwrap().to_radians())
}

fn json(folder: &Path, words: &[&str]) -> Value {
    let outcome = run_in(folder, words, b"");
    serde_json::from_slice(&outcome.out).unwrap_or_else(|_| panic!("{}", outcome.err))
}

#[test]
fn the_turn_to_focus_at_is_said_and_is_right() {
    let machine = fixture("machines/degrees.toml");
    for (ware, tilt, radius) in wares() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        std::fs::write(folder.join("b.toml"), ware).unwrap();
        let flat = "G21 G90\nM4 S0\nG0 X30 Y-30\nG1 Y30 S300 F1200\nM5\nM2\n";
        std::fs::write(folder.join("flat.nc"), flat).unwrap();
        let tilted = tilt.to_string();
        let files = ["-b", "b.toml", "-m", machine.to_str().unwrap()];
        // The zero is where the bent can lies out farthest; the art is on its back.
        let job = ["--place-at", "0", "--place-turn", "180", "--zero-turn", "0", "--tilt", &tilted];
        let run = |words: &[&str], job: &[&str]| {
            run_in(folder, &[words, &files, job].concat(), b"").done()
        };
        let wrapped = run(&["wrap", "flat.nc", "-o", "w.nc", "--report", "w.json"], &job);
        let program = std::fs::read_to_string(folder.join("w.nc")).unwrap();
        let (line, at, turn) = set_line(&program);
        // By hand: the middle of the heights of all that burns, and the height at that place.
        let tilt: f64 = tilt.to_radians();
        let height = |at: f64, turn: f64| at * tilt.sin() + radius(at, turn) * tilt.cos();
        let reach = 30.0 / radius(30.0, 0.0).min(39.0);
        let burned = (0..=200)
            .map(|k| height(30.0, std::f64::consts::PI + reach * (f64::from(k) / 100.0 - 1.0)));
        let (low, high) = burned.fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), height| {
            (low.min(height), high.max(height))
        });
        let off = height(at, turn) - f64::midpoint(low, high);
        assert!(off.abs() < 0.02, "{line}: {off}");
        // Where the bent can is zeroed it lies nearly a millimetre higher.
        assert!(tilt != 0.0 || height(at, 0.0) - height(at, turn) > 0.8, "{line}");
        // In words, and wherever else it is said.
        let said = line.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(wrapped.err.contains(said.trim_matches(['(', ')'])), "{}", wrapped.err);
        let report = std::fs::read_to_string(folder.join("w.json")).unwrap();
        let report: Value = serde_json::from_str(&report).unwrap();
        let check = [&["check", "w.nc", "--json"], &files[..]].concat();
        let checked = json(folder, &check);
        let flat = json(folder, &[&["check", "flat.nc", "--json"], &files[..], &job].concat());
        for (what, told) in [("wrap", &report), ("check", &checked), ("flat", &flat)] {
            let near = |key: &str, due: f64| (told[key].as_f64().unwrap() - due).abs() < 0.06;
            assert!(near("focus_at", at) && near("focus_turn_deg", turn.to_degrees()), "{what}");
        }
        let words = run(&["check", "w.nc"], &[]);
        let deg = checked["focus_turn_deg"].as_f64().unwrap();
        assert!(words.out_text().contains(&format!(" mm, turn {deg:.1}°. ")), "{words:?}");
        run(&["proof", "w.nc", "-o", "p.svg"], &[]);
        let proof = std::fs::read_to_string(folder.join("p.svg")).unwrap();
        assert!(proof.contains(&format!(" mm, turn {deg:.1}°")), "{deg}");
        // A walk of it is set as it is, and says so when it is read again.
        run(&["walk", "w.nc", "-o", "walk.nc"], &[]);
        assert_eq!(set_line(&std::fs::read_to_string(folder.join("walk.nc")).unwrap()).0, line);
        let walked = json(folder, &[&["check", "walk.nc", "--json"], &files[..]].concat());
        assert!((walked["focus_turn_deg"].as_f64().unwrap() - deg).abs() < 1e-3, "{walked}");
        // So is what is left of it, which burns on one side alone.
        let machine = files[3];
        run_in(folder, &["resume", "w.nc", "-m", machine, "--at", "2", "-o", "r.nc"], b"").done();
        let left = std::fs::read_to_string(folder.join("r.nc")).unwrap();
        assert!(left.lines().next().unwrap().contains(" focus_turn="), "{left:.300}");
        let left = json(folder, &[&["check", "r.nc", "--json"], &files[..]].concat());
        assert!((left["focus_turn_deg"].as_f64().unwrap() - deg).abs() < 0.06, "{left}");
        // Who says where to focus does so at the zero, before the program turns the work.
        for focus in [&["--focus-at", "25"][..], &["--focus", "follow", "--zero-at", "25"]] {
            run(&["wrap", "flat.nc", "-o", "f.nc"], &[&job[..], focus].concat());
            let told = set_line(&std::fs::read_to_string(folder.join("f.nc")).unwrap());
            assert_eq!((told.1, told.2), (25.0, 0.0), "{}", told.0);
            let found = json(folder, &[&["check", "f.nc", "--json"], &files[..]].concat());
            assert_eq!((&found["focus_at"], &found["focus_turn_deg"]), (&25.0.into(), &0.0.into()));
        }
        // An order fills it in too.
        let order = format!(
            "machine = {machine:?}\nout = \"made\"\nname = \"one\"\n[[make]]\nblank = \"b.toml\"\n\
             job = \"j.toml\"\ninput = \"flat.svg\"\n[[row]]\nn = 1\n"
        );
        std::fs::write(folder.join("o.toml"), order).unwrap();
        let job = "[place]\nturn = 180\n[[operation]]\nname = \"a\"\npick = { fill = \"#000\" }\n\
                   work = \"line\"\nspeed = 50\npower = 20\n";
        std::fs::write(folder.join("j.toml"), job).unwrap();
        let art = "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='40mm' \
                   viewBox='0 0 60 40'><path d='M5 5h50v20h-50z'/></svg>";
        std::fs::write(folder.join("flat.svg"), art).unwrap();
        let made = run_in(folder, &["order", "o.toml"], b"");
        let made = std::fs::read_to_string(folder.join("made/one.nc"))
            .unwrap_or_else(|_| panic!("{}", made.err));
        let (line, ..) = set_line(&made);
        assert!(!line.contains("--"), "{line}");
    }
}

/// On ware that is round and runs true it does not matter, and nothing is said.
#[test]
fn true_ware_has_no_turn_to_focus_at() {
    let folder = tempfile::tempdir().unwrap();
    let (blank, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let files = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let flat = b"G21 G90\nM4 S0\nG0 X30 Y-30\nG1 Y30 S300 F1200\nM5\nM2\n";
    let wrap = ["wrap", "-", "-o", "w.nc", "--report", "w.json"];
    let outcome = run_in(folder.path(), &[&wrap, &files[..]].concat(), flat).done();
    assert!(outcome.err.contains("focus at 30.0 mm, zero at 0 mm"), "{}", outcome.err);
    let report = std::fs::read_to_string(folder.path().join("w.json")).unwrap();
    let report: Value = serde_json::from_str(&report).unwrap();
    assert!(report["focus_turn_deg"].is_null(), "{report}");
    let checked = json(folder.path(), &[&["check", "w.nc", "--json"], &files[..]].concat());
    assert!(checked["focus_turn_deg"].is_null(), "{checked}");
    let words = run_in(folder.path(), &[&["check", "w.nc"], &files[..]].concat(), b"").done();
    assert!(words.out_text().contains("Focused at 30 mm. Fit"), "{}", words.out_text());
}

/// Ware that goes in and out by more than the lens is deep is sharp nowhere: every picture says so,
/// and there is a page to draw on.
#[test]
fn what_no_lens_keeps_sharp_is_drawn_and_called_so() {
    let flask = "station = [{ at = 0, diameter = 70, oval = 2.8 }, \
                 { at = 100, diameter = 68, oval = 2.8 }]\n";
    let machine = fixture("machines/degrees.toml");
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    std::fs::write(folder.join("b.toml"), flask).unwrap();
    let files = ["-b", "b.toml", "-m", machine.to_str().unwrap()];
    let run = |words: &[&str]| {
        run_in(folder, &[words, &files].concat(), b"").done();
        std::fs::read_to_string(folder.join("o.svg")).unwrap()
    };
    let page = run(&["template", "-o", "o.svg"]);
    assert!(page.contains("no part of it stays in focus") && !page.contains("class=\"sharp\""));
    let level = run(&["level", "-o", "o.svg"]);
    assert!(level.contains("how the ware runs counted: nowhere"), "{level}");
    assert!(!level.contains("class=\"sharp\""));
    // What burns on one side alone is sharp where that side is.
    let sheet = |art: &str| {
        let words = ["--place-at", "30", "--allow", "defocus-far", "--focus-at", "40"];
        run(&[&["proof", "--path", art, "-o", "o.svg"], &words[..]].concat())
    };
    assert!(!sheet("M0 0H160V20H0Z").contains("class=\"sharp\""));
    assert!(sheet("M0 0H4V20H0Z").contains("class=\"sharp\""));
}
