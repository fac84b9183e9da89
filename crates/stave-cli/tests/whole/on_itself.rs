//! Art longer than the turn it lies on, however it burns: its end comes to lie on its beginning.

use std::path::Path;

use serde_json::Value;

use crate::command::{Outcome, fixture, run_in};
use crate::pictures::png;
use crate::program::{self, Kind};

/// A tube 40 mm thick is 125.66 mm around.
const TUBE: &str = "station = [{ at = 0, diameter = 40 }, { at = 120, diameter = 40 }]\n";
/// At half its height 227.77 mm around.
const CONE: &str = "station = [{ at = 0, diameter = 60 }, { at = 100, diameter = 85 }]\n";
const TURN_MM: f64 = 40.0 * std::f64::consts::PI;

fn bench() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    put("m.toml", &(machine + "[picture]\nspeed = 250\npower = 40\nlines_per_inch = 250\n"));
    put("tube.toml", TUBE);
    put("cone.toml", CONE);
    let area = "[[operation]]\nname = \"a\"\npick = { id = \"a\" }\nwork = \"area\"\nspeed = 250\n\
                power = 40\nline_spacing = 0.2\n";
    put("area.toml", area);
    put("around.toml", &format!("{area}scan = \"around\"\n"));
    put("line.toml", &area.replace("area", "line").replace("line_spacing = 0.2\n", ""));
    folder
}

/// A bar so wide, 12 mm high, in the middle of a page as large as the blank.
fn bar(folder: &Path, wide_mm: f64) {
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='280mm' height='100mm' viewBox='-140 0 280 \
         100'><path id='a' d='M{} 44h{wide_mm}v12h{}z'/></svg>",
        -0.5 * wide_mm,
        -wide_mm
    );
    std::fs::write(folder.join("bar.svg"), svg).unwrap();
}

fn stave(folder: &Path, command: &str) -> Outcome {
    let arguments: Vec<&str> = command.split_whitespace().collect();
    run_in(folder, &arguments, b"")
}

/// What `check` finds burned twice: how many degrees of it.
fn twice_deg(folder: &Path, rest: &str) -> Option<f64> {
    let outcome = stave(folder, &format!("check {rest} -m m.toml --json"));
    let report: Value = serde_json::from_str(outcome.out_text()).unwrap();
    let findings = report["findings"].as_array().unwrap();
    let found = findings.iter().find(|finding| finding["code"] == "overlap")?;
    assert_eq!((&found["severity"], &report["fit"]), (&"error".into(), &false.into()), "{report}");
    found["value"].as_f64()
}

#[test]
fn art_longer_than_its_turn_burns_on_itself_whatever_burns_it() {
    let bench = bench();
    let folder = bench.path();
    bar(folder, 160.0);
    // 160 mm of 125.66 are 458.4 degrees.
    for way in ["", "-j area.toml", "-j around.toml", "-j line.toml", "--lay even-angle"] {
        let found = twice_deg(folder, &format!("bar.svg -b tube.toml {way}"));
        let found = found.unwrap_or_else(|| panic!("{way}: no overlap"));
        assert!((found - 98.4).abs() <= 3.0, "{way}: {found}");
    }
    std::fs::write(folder.join("foto.png"), png(100, 20, |_, _| 40)).unwrap();
    let found = twice_deg(folder, "foto.png --width 160 -b tube.toml --place-at 10");
    assert!((found.unwrap() - 98.4).abs() <= 3.0, "{found:?}");
    // As wide as the middle of the cone, and so too wide below it.
    bar(folder, 227.7);
    for way in ["", "-j area.toml", "-j around.toml", "-j line.toml"] {
        assert!(twice_deg(folder, &format!("bar.svg -b cone.toml {way}")).is_some(), "{way}");
    }
}

#[test]
fn what_closes_at_a_turn_is_burned_once() {
    let bench = bench();
    let folder = bench.path();
    for wide_mm in [TURN_MM - 3.0, TURN_MM, TURN_MM + 0.02] {
        bar(folder, wide_mm);
        for way in ["-j area.toml", "-j around.toml", "-j line.toml", "--lay even-angle"] {
            let found = twice_deg(folder, &format!("bar.svg -b tube.toml {way}"));
            assert_eq!(found, None, "{wide_mm} {way}");
        }
    }
    std::fs::write(folder.join("foto.png"), png(100, 20, |_, _| 40)).unwrap();
    let picture = format!("foto.png --width {TURN_MM} -b tube.toml --place-at 10");
    assert_eq!(twice_deg(folder, &picture), None);
    // On a cone what is drawn for its middle closes where angles are kept.
    bar(folder, 72.5 * std::f64::consts::PI);
    for way in ["even-angle", "true-shape"] {
        let found = twice_deg(folder, &format!("bar.svg -b cone.toml -j area.toml --lay {way}"));
        assert_eq!(found, None, "{way}");
    }
}

/// The bare margins of a picture may lie on each other, and cost nothing of what is dark.
#[test]
fn a_picture_is_as_long_as_what_burns_of_it() {
    let bench = bench();
    let folder = bench.path();
    // Of 200 mm the middle 100 are dark.
    let dark = |column: u32, _: u32| if (50..150).contains(&column) { 40 } else { 255 };
    std::fs::write(folder.join("foto.png"), png(200, 20, dark)).unwrap();
    let rest = "foto.png --width 200 -b tube.toml --place-at 10";
    assert_eq!(twice_deg(folder, rest), None);
    let program = stave(folder, &format!("wrap {rest} -m m.toml")).done();
    let program = program::read(program.out_text());
    let turns = program.moves.iter().filter(|m| m.kind == Kind::Burn).map(|m| m.to[3]);
    let (low, high) =
        turns.fold((f64::MAX, f64::MIN), |(low, high), turn| (low.min(turn), high.max(turn)));
    let wanted_deg = 100.0 / TURN_MM * 360.0;
    assert!((high - low - wanted_deg).abs() < 1.0, "{low} to {high}");
}

#[test]
fn every_command_tells_it() {
    let bench = bench();
    let folder = bench.path();
    bar(folder, 160.0);
    std::fs::write(
        folder.join("order.toml"),
        "machine = \"m.toml\"\nrows = \"rows.csv\"\nout = \"made\"\nname = \"{name}\"\n[[make]]\n\
         blank = \"tube.toml\"\njob = \"area.toml\"\ninput = \"bar.svg\"\n",
    )
    .unwrap();
    std::fs::write(folder.join("rows.csv"), "name\none\n").unwrap();
    let files = "bar.svg -b tube.toml -m m.toml -j area.toml";
    for (command, status) in [
        ("wrap @ -o o.nc", 1),
        ("walk @ -o o.nc", 1),
        ("check @", 1),
        ("order order.toml", 1),
        ("proof @ -o o.svg", 0),
        ("estimate @", 0),
        ("wrap @ --to svg -o anew.svg", 0),
    ] {
        let outcome = stave(folder, &command.replace('@', files));
        let told = format!("{}{}", outcome.err, outcome.out_text());
        assert!(told.contains("overlap"), "{command}: {told}");
        assert_eq!(outcome.status, Some(status), "{command}: {told}");
        assert!(!folder.join("o.nc").exists() && !folder.join("made/one.nc").exists());
    }
    // Told how far, and under which lays.
    let told = stave(folder, &format!("lays {files} --json")).done();
    let report: Value = serde_json::from_str(told.out_text()).unwrap();
    for lay in ["even-angle", "true-width", "true-shape"] {
        let seam = report["pieces"][0]["lays"][lay]["seam_mm"].as_f64().unwrap();
        assert!((seam - (TURN_MM - 160.0)).abs() < 0.05, "{lay}: {seam}");
    }
    assert!(told.err.contains("comes to lie on itself, by 34.34 mm under"), "{}", told.err);
    // Who allows it has it as drawn.
    let allowed = stave(folder, &format!("wrap {files} --allow overlap --report r.json"));
    let report = std::fs::read_to_string(folder.join("r.json")).unwrap();
    let report: Value = serde_json::from_str(&report).unwrap();
    assert!((report["overlap_deg"].as_f64().unwrap() - 98.4).abs() < 1.0, "{}", allowed.done().err);
}
