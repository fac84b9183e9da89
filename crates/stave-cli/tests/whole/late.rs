//! What a machine burns whose light comes late: every command takes what is burned to be where its
//! light falls, not where its words are.

use std::fs::{read_to_string, write};
use std::path::Path;

use crate::command::{Outcome, fixture, run_in};
use crate::program::{self, Kind, Rate};

/// Lags, s, or pairs of mm/s and s.
const LAGS: [&str; 3] = ["0", "0.001", "[[50, 0.0004], [400, 0.002]]"];

/// Files for a square of 10 mm that begins at so many mm of a can, or of a cone, burned at 300
/// mm/s.
fn files(folder: &Path, at_mm: u32, (lag, scan): (&str, &str), blank: &str, machine: &str) {
    let put = |name: &str, text: String| write(folder.join(name), text).unwrap();
    let bench = read_to_string(fixture("machines/degrees.toml")).unwrap();
    assert!(bench.contains("[beam]\n"));
    put("machine.toml", bench.replace("[beam]\n", &format!("{machine}[beam]\nlag = {lag}\n")));
    let y = 90 - at_mm;
    put(
        "art.svg",
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='188.4956mm' height='100mm' \
             viewBox='0 0 188.4956 100'><rect x='90' y='{y}' width='10' height='10'/></svg>"
        ),
    );
    // Lines so far apart that the middle of what burns is no tie to a tenth of a millimetre.
    put(
        "job.toml",
        format!(
            "[[operation]]\nname = \"f\"\npick = {{ fill = \"#000\" }}\nwork = \"area\"\n\
             speed = 300.0\npower = 30.0\nline_spacing = 0.12\nscan = \"{scan}\"\n"
        ),
    );
    put("blank.toml", blank.into());
}

const CAN: &str = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n";
const CONE: &str = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 40\ndiameter = 52\n\
                    [[station]]\nat = 101\ndiameter = 66\n";

fn command(folder: &Path, words: &[&str]) -> Outcome {
    let files = ["-b", "blank.toml", "-m", "machine.toml"];
    run_in(folder, &[words, &files].concat(), b"")
}

fn wrapped(folder: &Path, more: &[&str]) -> Outcome {
    let words = ["wrap", "art.svg", "-j", "job.toml", "-o", "p.nc", "--report", "r.json"];
    command(folder, &[&words, more].concat())
}

/// The texts of a drawing that hold a length, but for those of travels, which are longer by the
/// run-ups.
fn lengths(drawing: &str) -> Vec<String> {
    let texts = drawing.split("<text").skip(1).filter_map(|text| {
        let text = text.split_once('>')?.1.split_once("</text>")?.0;
        text.contains("mm").then(|| text.to_owned())
    });
    texts.filter(|text| !text.contains(" mm and ")).collect()
}

fn extents(text: &str) -> [f64; 4] {
    let report: serde_json::Value = serde_json::from_str(text).unwrap();
    ["at_min", "at_max", "turn_min_deg", "turn_max_deg"].map(|key| report[key].as_f64().unwrap())
}

/// Least and greatest X and A of a walk.
fn walked(folder: &Path, words: &[&str]) -> [f64; 4] {
    let walk = command(folder, words).done();
    let mut ends = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    for m in program::read(walk.out_text()).moves.iter().filter(|m| m.kind != Kind::Travel) {
        for (k, word) in [m.to[0], m.to[3]].into_iter().enumerate() {
            ends[2 * k] = ends[2 * k].min(word);
            ends[2 * k + 1] = ends[2 * k + 1].max(word);
        }
    }
    ends
}

fn alike(a: [f64; 4], b: [f64; 4], what: &str) {
    for (a, b) in a.iter().zip(&b) {
        assert!((a - b).abs() < 2e-3, "{what}: {a} and {b}");
    }
}

#[test]
fn every_command_sees_what_burns_where_its_light_falls() {
    for blank in [CAN, CONE] {
        for (scan, at_mm) in [("along", 50), ("around", 50), ("along", 35)] {
            let mut first: Option<([f64; 4], [f64; 4], Vec<String>)> = None;
            for lag in LAGS {
                let folder = tempfile::tempdir().unwrap();
                let (folder, what) = (folder.path(), format!("{scan} {at_mm} {lag} {blank}"));
                files(folder, at_mm, (lag, scan), blank, "");
                wrapped(folder, &[]).done();
                let report = extents(&read_to_string(folder.join("r.json")).unwrap());
                command(folder, &["check", "p.nc"]).done();
                command(folder, &["proof", "p.nc", "-o", "p.svg"]).done();
                let mut seen = lengths(&read_to_string(folder.join("p.svg")).unwrap());
                // The nozzle's least gap comes last: the head itself goes farther.
                seen.pop();
                let walk = walked(folder, &["walk", "p.nc"]);
                let Some((report_before, walk_before, seen_before)) = &first else {
                    assert!(seen.len() > 6, "{seen:?}");
                    first = Some((report, walk, seen));
                    continue;
                };
                alike(report, *report_before, &what);
                alike(walk, *walk_before, &what);
                assert_eq!(seen, *seen_before, "{what}");
            }
        }
    }
}

#[test]
fn a_zone_is_met_where_the_light_falls() {
    let zone = |from_mm: f64, margin_mm: f64| {
        format!(
            "{CAN}[[zone]]\nname = \"mark\"\nat = [{from_mm}, 70]\nturn = [-20, 20]\n\
             margin = {margin_mm}\n"
        )
    };
    for lag in LAGS {
        // Beside it, though words go past its edge; and into it, though by less than the lag.
        for (from_mm, status) in [(60.06, 0), (59.8, 1)] {
            let folder = tempfile::tempdir().unwrap();
            files(folder.path(), 50, (lag, "along"), &zone(from_mm, 0.0), "");
            assert_eq!(wrapped(folder.path(), &[]).status, Some(status), "{lag} {from_mm}");
        }
        for margin_mm in [0.0, 0.5] {
            let folder = tempfile::tempdir().unwrap();
            files(folder.path(), 50, (lag, "along"), &zone(54.0, margin_mm), "");
            wrapped(folder.path(), &["--zones", "mask"]).done();
            command(folder.path(), &["check", "p.nc"]).done();
            let report = extents(&read_to_string(folder.path().join("r.json")).unwrap());
            assert!((report[1] - (54.0 - margin_mm)).abs() < 2e-3, "{lag} {margin_mm} {report:?}");
        }
    }
}

/// A program that is followed keeps its words: one whose light falls in a zone is refused, and a
/// person who has masked it already reads what else helps.
#[test]
fn what_follows_a_program_into_a_mask_is_told_what_helps() {
    let folder = tempfile::tempdir().unwrap();
    let zone = "[[zone]]\nname = \"mark\"\nat = [54, 56]\nturn = [-20, 20]\nmargin = 0\n";
    files(folder.path(), 50, ("0.001", "along"), &format!("{CAN}{zone}"), "");
    let flat = "G21 G90\nF18000\nM4 S0\nG0 X40 Y0\nG1 X48\nG1 X64 S500\nG1 X70 S0\nM5\nM2\n";
    write(folder.path().join("flat.nc"), flat).unwrap();
    let words = ["wrap", "flat.nc", "--zones", "mask", "--scan", "follow", "-o", "p.nc"];
    let outcome = command(folder.path(), &words);
    assert_eq!(outcome.status, Some(1), "{}", outcome.err);
    assert!(outcome.err.contains("past the edge"), "{}", outcome.err);
    assert!(outcome.err.contains("comes late by the `lag`"), "{}", outcome.err);
    assert!(!outcome.err.contains("say zones"), "{}", outcome.err);
}

#[test]
fn at_the_end_of_the_wall_words_go_past_it() {
    let least_word = |machine: &str, blank: &str| {
        let folder = tempfile::tempdir().unwrap();
        files(folder.path(), 0, ("0.001", "along"), blank, machine);
        wrapped(folder.path(), &[]).done();
        command(folder.path(), &["check", "p.nc"]).done();
        let report = extents(&read_to_string(folder.path().join("r.json")).unwrap());
        assert!(report[0].abs() < 2e-3, "{report:?}");
        let program = program::read(&read_to_string(folder.path().join("p.nc")).unwrap());
        let burns = program.moves.iter().filter(|m| m.kind == Kind::Burn);
        burns.map(|m| m.from[0].min(m.to[0])).fold(f64::INFINITY, f64::min)
    };
    for (blank, early_mm) in [(CAN, 0.3), (CONE, 0.3 * (40.0 / 40_f64.hypot(4.0)))] {
        let found = least_word("", blank);
        assert!((found + early_mm).abs() < 2e-3, "{found}");
    }
}

/// An axis that ends there has no run-up either, and begins from rest, where lag is next to
/// nothing.
#[test]
fn at_the_end_of_an_axis_words_end_there() {
    let folder = tempfile::tempdir().unwrap();
    files(folder.path(), 0, ("0.001", "along"), CAN, "");
    let path = folder.path().join("machine.toml");
    let machine = read_to_string(&path).unwrap().replace("[x]\n", "[x]\nmin = 0.0\n");
    write(path, machine).unwrap();
    wrapped(folder.path(), &[]).done();
    let program = program::read(&read_to_string(folder.path().join("p.nc")).unwrap());
    assert!(program.moves.iter().all(|m| m.to[0] >= 0.0));
}

/// Power that changes along a line changes as much earlier as its ends lie, and the speed where the
/// machine comes to the station itself.
#[test]
fn the_dose_of_a_wall_falls_on_it() {
    let burns = |lag: &str| {
        let folder = tempfile::tempdir().unwrap();
        files(folder.path(), 35, (lag, "along"), CONE, "");
        wrapped(folder.path(), &[]).done();
        let program = program::read(&read_to_string(folder.path().join("p.nc")).unwrap());
        let mut burns = Vec::new();
        for m in program.moves.iter().filter(|m| m.kind == Kind::Burn) {
            let Some(Rate::PerMinute(feed)) = m.rate else { panic!("a feed a minute") };
            // From the first station to the second the wall is 60 to 52 mm across over 40 mm, and
            // from there on 52 to 66 over 61.
            let middle = f64::midpoint(m.from[0], m.to[0]);
            let rise: f64 = if middle < 40.0 { 4.0 / 40.0 } else { 7.0 / 61.0 };
            let slant = 1.0_f64.hypot(rise);
            let speed = feed / 60.0 * slant;
            assert!((speed / 300.0 - 1.0).abs() < 2e-3, "{speed} at {middle} with {lag}");
            burns.push(([m.from[0], m.to[0]], m.power.unwrap(), m.to[3], 0.3 / slant));
        }
        burns
    };
    let (plain, late) = (burns("0"), burns("0.001"));
    assert!(late.len() > 300);
    for ([from, to], power, turn, early) in late {
        let way = (to - from).signum();
        let lit = f64::midpoint(from, to) + way * early;
        let there = plain.iter().find(|([a, b], _, row, _)| {
            *row == turn && (b - a).signum() == way && (lit - a) * (lit - b) <= 0.0
        });
        let (_, meant, ..) = there.unwrap();
        assert!((power - meant).abs() < 0.1, "{power} for {meant} at {lit}, row {turn}");
    }
}

/// The axis goes slower under wall that slopes: what burns behind that is asked for so much sooner
/// that its word would come before the last one of the slope, with a little gap between the two.
#[test]
fn no_line_is_gone_back_on() {
    let folder = tempfile::tempdir().unwrap();
    let flare = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 50\ndiameter = 60\n\
                 [[station]]\nat = 60\ndiameter = 94\n[[station]]\nat = 100\ndiameter = 94\n";
    files(folder.path(), 45, ("0.002", "along"), flare, "");
    let at = |name: &str| folder.path().join(name);
    let art = read_to_string(at("art.svg")).unwrap();
    let gap = "<rect x='90' y='45' width='10' height='4.95'/>\
               <rect x='90' y='50.05' width='10' height='4.95'/></svg>";
    let (head, _) = art.split_once("<rect").unwrap();
    write(at("art.svg"), format!("{head}{gap}")).unwrap();
    let wrapped = wrapped(folder.path(), &["--allow", "defocus-far,clearance"]).done();
    let program = program::read(&read_to_string(at("p.nc")).unwrap());
    let (mut burns, mut way) = (0, None);
    for m in &program.moves {
        let ahead = m.to[0] - m.from[0];
        if m.kind == Kind::Travel || m.to[3] != m.from[3] {
            way = None;
        } else if ahead != 0.0 {
            assert!(way.is_none_or(|way: f64| way * ahead > 0.0), "line {}: {ahead}", m.line);
            way = Some(ahead.signum());
        }
        burns += usize::from(m.kind == Kind::Burn);
    }
    assert!(burns > 100, "{burns} {}", wrapped.err);
}
