//! A wedge measures what pictures burn: the same power by its label gives the same energy on each
//! mm², whatever the motor steps make of the spacing.

use crate::case::Case;
use crate::command::{fixture, run, run_in};
use crate::lay::LayKind;
use crate::pictures::{Line, darkness, png, replay};
use crate::program;
use serde_json::Value;
use std::path::Path;

const MACHINE: &str = "machines/degrees.toml";
const GREY: u8 = 188;

/// What every stretch of lines gets on each mm², in the middle between its ends.
fn energies(lines: &[Line]) -> Vec<f64> {
    lines.iter().flat_map(|line| &line.burns).map(|burn| burn.2).collect()
}

fn mean(of: &[f64]) -> f64 {
    of.iter().sum::<f64>() / of.len() as f64
}

/// The energy of the patch of so many percent, and what the report says of it.
fn patch(folder: &Path, case: &Case, wedge: &[&str], label: f64) -> (f64, Value) {
    let tilt = case.tilt.to_string();
    let (blank, machine) = (case.blank.to_str().unwrap(), case.machine.to_str().unwrap());
    let files = ["swatch", "-b", blank, "-m", machine, "--report", "r.json", "--tilt", &tilt];
    let outcome = run_in(folder, &[&files[..], wedge].concat(), b"").done();
    let report = std::fs::read_to_string(folder.join("r.json")).unwrap();
    let report: Value = serde_json::from_str(&report).unwrap();
    let marks = report["groups"][0]["marks"].as_array().unwrap();
    let mark = marks.iter().find(|mark| mark["value"] == label).unwrap();
    let [from, to] = [0, 1].map(|end| mark["lines"][end].as_u64().unwrap() as usize);
    let mut read = program::read(outcome.out_text());
    read.moves.retain(|m| (from..=to).contains(&m.line));
    let found = energies(&replay(&Case { place: (0.0, 0.0), ..case.clone() }.bench(), &read));
    // On a taper lines lie closer at one end: the patch is right in its middle.
    (mean(&found), mark.clone())
}

/// The energy of a picture all of one grey.
fn picture(folder: &Path, case: &Case, operation: &str, grey: u8) -> f64 {
    let job = format!(
        "{}[[operation]]\nname = \"grey\"\nwork = \"picture\"\n{operation}\n",
        case.job_file()
    );
    std::fs::write(folder.join("job.toml"), job).unwrap();
    let job = folder.join("job.toml").display().to_string();
    let (blank, machine) = (case.blank.to_str().unwrap(), case.machine.to_str().unwrap());
    let words = ["wrap", "-b", blank, "-m", machine, "-j", &job, "--width", "10"];
    let outcome = run(&words, &png(40, 40, |_, _| grey)).done();
    mean(&energies(&replay(&case.bench(), &program::read(outcome.out_text()))))
}

#[test]
fn a_grey_gets_the_energy_of_its_patch() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for (blank, tilt, place, dose_even) in
        [("can", 0.0, 40.0, true), ("cup", -6.5, 60.0, true), ("can", 0.0, 40.0, false)]
    {
        let lay = LayKind::EvenAngle;
        let case = Case { even_dose: dose_even, ..Case::new(blank, "degrees", lay, tilt, place) };
        let dose = if dose_even { "even" } else { "as-given" };
        let wedge = ["--wedge", "2", "--powers", "44", "--dose", dose];
        let (patch, mark) = patch(folder, &case, &wedge, 24.0);
        let operation = "speed = 250\npower = 44\npower_floor = 4\nlines_per_inch = 400";
        let power = 4.0 + 40.0 * darkness(GREY);
        let grey = picture(folder, &case, operation, GREY);
        let off = (grey / power) / (patch / 24.0) - 1.0;
        assert!(off.abs() < 0.015, "{blank}, {dose}: {off}");
        // 400 lines an inch are asked.
        let number = |key: &str| mark[key].as_f64().unwrap();
        assert!((number("line_spacing_asked_mm") - 0.0635).abs() < 1e-9, "{mark}");
        let wider = number("line_spacing_mm") / 0.0635;
        assert!((0.75..0.95).contains(&wider) || blank == "cup", "{mark}");
        let factor = if dose_even { wider } else { 1.0 };
        assert!((number("power_percent") - 24.0 * factor).abs() < 1e-6, "{mark}");
    }
}

/// Where the label asks for more than full power, the patch is slower, as the picture is.
#[test]
fn a_patch_past_full_power_is_slower() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let case =
        Case { even_dose: true, ..Case::new("can", "degrees", LayKind::EvenAngle, 0.0, 40.0) };
    // 5.5 motor steps of the can are asked: six are got, 9 % wider.
    let wedge = ["--wedge", "2", "--powers", "100", "--spacings", "0.1"];
    let (patch, mark) = patch(folder, &case, &wedge, 100.0);
    let black = picture(folder, &case, "speed = 250\npower = 100\nline_spacing = 0.1", 0);
    assert!((black / patch - 1.0).abs() < 0.005, "{black} {patch}");
    let number = |key: &str| mark[key].as_f64().unwrap();
    assert_eq!(number("power_percent"), 100.0);
    let slower = 250.0 / number("speed_mm_per_s");
    assert!((slower - number("line_spacing_mm") / 0.1).abs() < 1e-6 && slower > 1.08, "{mark}");
}

/// A table's patches too say where their lines cannot lie as far apart as asked, the worst of them;
/// in words and in the report.
#[test]
fn a_spacing_off_the_label_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let (can, machine) = (fixture("blanks/can.toml"), fixture(MACHINE));
    let files = ["swatch", "-b", can.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    // A motor step of the can is 0.01816 mm.
    for (more, patch, why) in [
        (
            &["--powers", "20,40", "--spacings", "0.03,0.1"][..],
            "patch 1,1",
            "one motor step more would be over a tenth too wide",
        ),
        (&["--powers", "20", "--spacings", "0.01,0.1"], "patch 1,1", "a motor step is no finer"),
        (
            &["--wedge", "2"],
            "the patch labelled 22",
            "that is the nearest whole number of motor steps",
        ),
    ] {
        let report = ["--report", "r.json"];
        let outcome = run_in(folder, &[&files[..], more, &report].concat(), b"").done();
        let said = outcome.err.split_whitespace().collect::<Vec<_>>().join(" ");
        let report = std::fs::read_to_string(folder.join("r.json")).unwrap();
        let report: Value = serde_json::from_str(&report).unwrap();
        let findings = report["findings"].as_array().unwrap();
        let found: Vec<&Value> =
            findings.iter().filter(|one| one["code"] == "spacing-steps").collect();
        assert_eq!(found.len(), 1, "{more:?}: {report}");
        let message = found[0]["message"].as_str().unwrap();
        assert!(message.starts_with(&format!("the lines of {patch} lie ")), "{message}");
        assert!(message.contains(why), "{message}");
        assert!(said.contains(message), "{said}");
        // A wedge's power makes up for it.
        assert_eq!(message.contains("changes the energy"), more[0] != "--wedge", "{message}");
    }
    // Whole steps are as asked.
    let outcome = run_in(
        folder,
        &[&files[..], &["--powers", "20", "--spacings", "0.0545,0.0908"]].concat(),
        b"",
    );
    assert!(!outcome.done().err.contains("spacing-steps"));
}
