//! Where to focus, what is whole and what lies off the wall: the same for every command.

use std::fs;

use serde_json::Value;
use tempfile::TempDir;

use crate::command::{Outcome, fixture, run_in};

/// A jar with a collar between the two places that burn.
const JAR: &str = "name = \"jar with a collar\"\nstation = [{ at = 0, diameter = 70 }, \
     { at = 45, diameter = 70 }, { at = 48, diameter = 84 }, { at = 52, diameter = 84 }, \
     { at = 55, diameter = 70 }, { at = 100, diameter = 70 }]\n";
/// A cup that is widest between them.
const RINGED: &str = "name = \"ringed cup\"\nstation = [{ at = 0, diameter = 70 }, \
     { at = 50, diameter = 73.8 }, { at = 100, diameter = 72 }]\n";
const TWO_BOXES: &str = "G21 G90\nM4 S200\nG0 X0.5 Y0\nG1 X3 F1500\nG1 Y4\nG1 X0.5\nG1 Y0\n\
     G0 X97 Y0\nG1 X99.5 F1500\nG1 Y4\nG1 X97\nG1 Y0\nM5\nM2\n";

fn folder(files: &[(&str, &str)]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(fixture("machines/degrees.toml"), folder.path().join("m.toml")).unwrap();
    for (name, text) in files {
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

fn stave(folder: &TempDir, line: &str) -> Outcome {
    let can = fixture("blanks/can.toml");
    let cup = fixture("blanks/cup.toml");
    let line = line.replace('@', "-m m.toml");
    let words: Vec<&str> = line
        .split_whitespace()
        .map(|word| match word {
            "CAN" => can.to_str().unwrap(),
            "CUP" => cup.to_str().unwrap(),
            word => word,
        })
        .collect();
    run_in(folder.path(), &words, b"")
}

fn json(folder: &TempDir, line: &str) -> Value {
    serde_json::from_slice(&stave(folder, line).out).unwrap()
}

fn head(folder: &TempDir, file: &str, key: &str) -> Option<f64> {
    let text = fs::read_to_string(folder.path().join(file)).unwrap();
    let first = text.lines().next().unwrap().trim_end_matches(')').to_owned();
    first.split(' ').find_map(|word| word.strip_prefix(key)?.strip_prefix('=')?.parse().ok())
}

#[test]
fn a_walk_is_focused_by_what_burns_and_strikes_what_its_program_strikes() {
    let art = "<svg xmlns='http://www.w3.org/2000/svg' width='20mm' height='100mm' \
         viewBox='0 0 20 100'><path d='M8 0.5h4v2.5h-4zM8 97h4v2.5h-4z'/></svg>";
    let folder = folder(&[("jar.toml", JAR), ("two.nc", TWO_BOXES), ("two.svg", art)]);
    for input in ["two.nc", "two.svg"] {
        for command in ["wrap", "walk", "walk --around hull"] {
            let line = format!("{command} {input} @ -b jar.toml -o {}.nc", &command[..4]);
            let outcome = stave(&folder, &line);
            assert_eq!(outcome.status, Some(1), "{line}: {}", outcome.err);
            assert!(outcome.err.contains("clearance"), "{line}: {}", outcome.err);
            let outcome = stave(&folder, &format!("{line} --allow clearance,overlap"));
            assert_eq!(outcome.status, Some(0), "{line}: {}", outcome.err);
        }
        // What burns is 35 mm high, the collar between 42.
        assert_eq!(head(&folder, "walk.nc", "focus_height"), Some(35.0), "{input}");
    }
}

/// A cup that is widest in its middle has each height twice: the walk names the place its program
/// names, and so does all that is made of the walk.
#[test]
fn a_walk_is_focused_where_its_program_is() {
    let folder = folder(&[("b.toml", RINGED)]);
    let flat = "G21 G90\nM4 S200\nG0 X70 Y0\nG1 X95 F1500\nG1 Y9\nG1 X70\nG1 Y0\nM5\nM2\n";
    fs::write(folder.path().join("p.nc"), flat).unwrap();
    let allowed = "--allow clearance,defocus,defocus-far,distortion";
    let program = stave(&folder, &format!("wrap p.nc -b b.toml @ -o w.nc {allowed}")).done();
    let walk = stave(&folder, &format!("walk p.nc -b b.toml @ -o k.nc {allowed}")).done();
    let place = |said: &str| {
        said.split("focus at ").nth(1).unwrap().split(" mm").next().unwrap().to_owned()
    };
    let wanted = place(&program.err);
    assert!(wanted.parse::<f64>().unwrap() > 70.0, "{}", program.err);
    assert_eq!(place(&walk.err), wanted);
    let checked = json(&folder, &format!("check k.nc -b b.toml @ --json {allowed}"));
    let seen = checked["focus_at"].as_f64().unwrap();
    assert!((seen - wanted.parse::<f64>().unwrap()).abs() < 0.06, "{checked:#}");
    // Nor is a pointer's light judged: how far it lies out of focus is not said.
    stave(&folder, &format!("walk p.nc -b b.toml @ -o k.nc --pointer 2 {allowed}")).done();
    stave(&folder, &format!("proof k.nc -b b.toml @ -o k.svg {allowed}")).done();
    let sheet = fs::read_to_string(folder.path().join("k.svg")).unwrap();
    assert!(!sheet.contains("out of focus at worst"), "{sheet}");
}

#[test]
fn the_place_to_focus_at_is_as_high_as_the_middle_of_what_burns() {
    let folder = folder(&[("ring.toml", RINGED), ("two.nc", TWO_BOXES)]);
    let radius_mm = |at: f64| match at {
        at if at < 50.0 => 35.0 + 1.9 * at / 50.0,
        at => 36.9 - 0.9 * (at - 50.0) / 50.0,
    };
    let middle_mm = 0.5 * (radius_mm(0.5) + radius_mm(97.0));
    stave(&folder, "wrap two.nc @ -b ring.toml -o w.nc").done();
    for input in ["two.nc", "w.nc"] {
        let found = json(&folder, &format!("check {input} @ -b ring.toml --json"));
        let at = found["focus_at"].as_f64().unwrap();
        assert!((radius_mm(at) - middle_mm).abs() < 2e-3, "{input}: {at}");
        // Doing what it says is what it judged.
        let line = format!("check two.nc @ -b ring.toml --json --focus-at {at}");
        let codes = |found: &Value| {
            let each = found["findings"].as_array().unwrap().iter();
            each.map(|f| f["code"].clone()).collect::<Vec<_>>()
        };
        assert_eq!(
            codes(&json(&folder, &line)),
            codes(&json(&folder, &line.replace(&format!(" --focus-at {at}"), ""))),
            "{input}"
        );
    }
}

#[test]
fn where_the_job_says_to_focus_is_where_the_program_is_judged() {
    let program = "G21\nM4 S300\nG0 X0 Y0\nG1 X20 F1200\nG1 Y10\nM5\nM2\n";
    let folder = folder(&[("p.nc", program)]);
    let how = "--place-at 70 --focus-at 110 --tilt -4 --allow defocus-far,clearance";
    stave(&folder, &format!("wrap p.nc @ -b CUP {how} -o w.nc")).done();
    let laid = json(&folder, &format!("check p.nc @ -b CUP {how} --json"));
    let read = json(&folder, "check w.nc @ -b CUP --json");
    let defocus = |found: &Value| {
        let each = found["findings"].as_array().unwrap();
        let of = |f: &&Value| f["code"].as_str().unwrap().starts_with("defocus");
        each.iter().find(of).and_then(|f| f["value"].as_f64()).unwrap()
    };
    assert!((defocus(&laid) - defocus(&read)).abs() < 0.01, "{laid} {read}");
    assert!((read["focus_at"].as_f64().unwrap() - 110.0).abs() < 0.1, "{read}");
    let gap = |found: &Value| found["nozzles"][0]["gap_mm"].as_f64().unwrap();
    assert!((gap(&laid) - gap(&read)).abs() < 0.01, "{laid} {read}");
    stave(&folder, "walk w.nc @ -b CUP --allow clearance -o k.nc").done();
    let heights = ["w.nc", "k.nc"].map(|file| head(&folder, file, "focus_height").unwrap());
    assert!((heights[0] - heights[1]).abs() < 1e-5, "{heights:?}");
}

#[test]
fn a_program_cut_off_with_the_beam_on_is_whole_for_no_command() {
    let cut = "G21 G90\nM4 S300\nG0 X0\nG1 X10 F600\nG1 X2";
    let folder = folder(&[("cut.nc", cut)]);
    for line in [
        "wrap cut.nc @ -b CAN -o o.nc",
        "walk cut.nc @ -b CAN -o o.nc",
        "proof cut.nc @ -b CAN -o o.svg",
        "lays cut.nc @ -b CAN",
        "estimate cut.nc @",
        "estimate cut.nc @ -b CAN",
        "read cut.nc",
    ] {
        let outcome = stave(&folder, line);
        assert_eq!(outcome.status, Some(2), "{line}: {}", outcome.err);
        assert!(outcome.err.contains("it was cut off"), "{line}: {}", outcome.err);
    }
    let found = json(&folder, "check cut.nc @ -b CAN --json");
    assert_eq!(
        (&found["fit"], &found["findings"][0]["code"]),
        (&false.into(), &"unfinished".into())
    );
    // A last line without its end is whole where nothing burns on.
    fs::write(folder.path().join("dark.nc"), format!("{cut}0\nM5")).unwrap();
    stave(&folder, "walk dark.nc @ -b CAN -o o.nc").done();
}

#[test]
fn a_walk_does_not_leave_the_wall_unless_that_is_allowed() {
    let off = "G21\nM4 S300\nG0 X0 Y0\nG1 X150 F1200\nG1 Y4\nM5\nM2\n";
    let folder = folder(&[("off.nc", off)]);
    for input in ["off.nc", "--path M0,0H10V150"] {
        let line = format!("walk {input} @ -b CAN -o k.nc");
        let outcome = stave(&folder, &line);
        assert_eq!(outcome.status, Some(1), "{line}: {}", outcome.err);
        assert!(outcome.err.contains("off-wall") && outcome.err.contains("past the wall"));
        assert!(!folder.path().join("k.nc").exists());
        let allowed = stave(&folder, &format!("{line} --allow off-wall,page,cut,clearance"));
        assert_eq!(allowed.status, Some(0), "{line}: {}", allowed.err);
        fs::remove_file(folder.path().join("k.nc")).unwrap();
    }
}

#[test]
fn a_drawing_for_another_controller_says_what_its_program_would_be_refused_for() {
    let wide = "<svg xmlns='http://www.w3.org/2000/svg' width='300mm' height='110mm' \
         viewBox='0 0 300 110'><path d='M5 20h280v30h-280z'/></svg>";
    let folder = folder(&[("wide.svg", wide)]);
    let outcome = stave(&folder, "wrap wide.svg @ -b CAN --to svg -o o.svg").done();
    assert!(outcome.err.contains("goes its own way: error overlap"), "{}", outcome.err);
    let small = stave(&folder, "wrap --path M0,0h9v9h-9z @ -b CAN --to svg -o o.svg").done();
    assert!(!small.err.contains("goes its own way"), "{}", small.err);
}

#[test]
fn a_program_that_was_broken_off_before_its_first_line_is_whole_for_no_command() {
    let broken = "M5\n(broken off: SIGTERM came; this program is not whole)\n";
    let folder = folder(&[("broken.nc", broken)]);
    for line in [
        "wrap broken.nc @ -b CAN -o o.nc",
        "walk broken.nc @ -b CAN -o o.nc",
        "proof broken.nc @ -b CAN -o o.svg",
        "lays broken.nc @ -b CAN",
        "estimate broken.nc @",
    ] {
        let outcome = stave(&folder, line);
        assert_eq!(outcome.status, Some(2), "{line}: {}", outcome.err);
        assert!(outcome.err.contains("was broken off"), "{line}: {}", outcome.err);
    }
    let found = json(&folder, "check broken.nc @ -b CAN --json");
    let codes: Vec<_> = found["findings"].as_array().unwrap().iter().map(|f| &f["code"]).collect();
    assert!(codes.contains(&&Value::from("unfinished")), "{found}");
    // What ends our programs stands in no other.
    let end = "G21\nM4 S300\nG1 X9 F600\nM5\n(stave end input=0badcafe)\nM2\n";
    fs::write(folder.path().join("end.nc"), end).unwrap();
    let outcome = stave(&folder, "wrap end.nc @ -b CAN -o o.nc");
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
}

/// Two rings with a slight taper between them, and a box on the taper.
const TWO_RINGS: &str = "name = \"two rings\"\nstation = [{ at = 0, diameter = 58 }, \
     { at = 8, diameter = 60 }, { at = 9, diameter = 66 }, { at = 14, diameter = 66 }, \
     { at = 15, diameter = 60.2 }, { at = 75, diameter = 62 }, { at = 76, diameter = 67 }, \
     { at = 82, diameter = 67 }, { at = 83, diameter = 62 }]\n";

#[test]
fn the_focus_lies_on_what_burns_and_not_on_the_flank_of_a_ring() {
    let box_at = |far: u32| {
        format!("G21 G90\nM4 S200\nG0 X0 Y0\nG1 X{far} F1500\nG1 Y4\nG1 X0\nG1 Y0\nM5\nM2\n")
    };
    for far in [39, 40] {
        for place_mm in [22.0, 25.0, 30.0] {
            let folder = folder(&[("rings.toml", TWO_RINGS), ("box.nc", &box_at(far))]);
            let on = format!("-b rings.toml @ --tilt 0.9 --place-at {place_mm}");
            stave(&folder, &format!("wrap box.nc {on} -o w.nc --report r.json")).done();
            let report = fs::read_to_string(folder.path().join("r.json")).unwrap();
            let report: Value = serde_json::from_str(&report).unwrap();
            let of_wrap = report["focus_at"].as_f64().unwrap();
            let flat = json(&folder, &format!("check box.nc {on} --json"));
            let wrapped = json(&folder, "check w.nc -b rings.toml @ --json");
            for (what, at_mm) in [
                ("wrap", of_wrap),
                ("check", flat["focus_at"].as_f64().unwrap()),
                ("check of the program", wrapped["focus_at"].as_f64().unwrap()),
            ] {
                // The taper rises evenly under any tilt: its middle is that of its heights.
                let middle_mm = place_mm + 0.5 * f64::from(far);
                assert!((at_mm - middle_mm).abs() < 0.1, "{far} {place_mm} {what}: {at_mm}");
            }
        }
    }
}
