//! Ware that is not round or does not run true: read around the turn, told, and counted where burns
//! are judged.

use serde_json::Value;

use crate::command::{fixture, run, run_in};

fn measured(readings: &str) -> Value {
    let outcome = run(&["measure", "--json"], readings.as_bytes()).done();
    serde_json::from_str(outcome.out_text()).unwrap()
}

/// A length at a turn (of so many to the circle) as a point.
fn point(mm: &Value, deg: &Value, times: f64) -> (f64, f64) {
    let (mm, turn) = (mm.as_f64().unwrap(), times * deg.as_f64().unwrap().to_radians());
    (mm * turn.cos(), mm * turn.sin())
}

/// `fixtures/reference/G_ellipses_around_the_turn.csv`: what scikit-image's `EllipseModel` finds of
/// the same radii. Ours are the first terms of the radius, off by less than (runout² + oval²) /
/// radius.
#[test]
fn ellipses_are_found_as_a_reference_library_finds_them() {
    let table = std::fs::read_to_string(fixture("reference/G_ellipses_around_the_turn.csv"));
    let table = table.unwrap();
    let rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    let mut count = 0;
    for row in rows {
        let figures: Vec<f64> = row.split(',').map(|figure| figure.parse().unwrap()).collect();
        let [diameter, oval, oval_turn, runout, runout_turn, radii @ ..] = figures.as_slice()
        else {
            panic!("{row}")
        };
        let mut readings = format!("0 diameter {diameter}\n50 diameter {diameter}\n");
        for (k, radius) in radii.iter().enumerate() {
            // From a zero of its own.
            readings.push_str(&format!(
                "0 @ {} dial {:.3}\n",
                30 * k,
                radius - 0.5 * diameter + 3.0
            ));
        }
        let station = &measured(&readings)["stations"][0];
        let close = (runout * runout + oval * oval) / (0.5 * diameter) + 0.002;
        for (key, mm, deg, times) in
            [("oval", *oval, *oval_turn, 2.0), ("runout", *runout, *runout_turn, 1.0)]
        {
            let found =
                point(&station[format!("{key}_mm")], &station[format!("{key}_turn_deg")], times);
            let is = point(&mm.into(), &deg.into(), times);
            let off = (found.0 - is.0).hypot(found.1 - is.1);
            assert!(off < 2.0 * close, "{key} off by {off} where {close} is due: {row}");
        }
        count += 1;
    }
    assert_eq!(count, 12);
}

#[test]
fn oval_ware_is_not_misread() {
    let readings = std::fs::read_to_string(fixture("measured/dropped-tumbler.txt")).unwrap();
    let outcome = run(&["measure"], readings.as_bytes()).done();
    insta::assert_snapshot!(outcome.err);
    insta::assert_snapshot!(outcome.out_text());
    let report = measured(&readings);
    assert_eq!(report["odd"], serde_json::json!([]));
    // By hand: the mean of three turns 60 degrees apart.
    let mean = (80.6 + 80.1 + 79.9) / 3.0;
    assert!((report["stations"][0]["diameter"].as_f64().unwrap() - mean).abs() < 1e-9);
    assert!((report["stations"][1]["oval_mm"].as_f64().unwrap() - 0.4).abs() < 1e-9);
    assert_eq!(report["stations"][1]["oval_turn_deg"], 90.0);
    assert_eq!(report["stations"][1]["runout_mm"], Value::Null);
    assert_eq!(report["stations"][2]["oval_mm"], Value::Null);
    // What was misread at one turn is no oval.
    let misread =
        measured("0@0 diameter 60\n0@60 diameter 60\n0@120 diameter 20\n50 diameter 60\n");
    let odd = misread["odd"][0]["message"].as_str().unwrap();
    assert!(odd.contains("the diameter of 20 mm is likely misread"), "{odd}");
    assert_eq!(misread["stations"][0]["diameter"], 60.0);
    // Of two nobody knows which.
    let misread = measured("0@0 diameter 60\n0@90 diameter 20\n50 diameter 60\n");
    let odd = misread["odd"][0]["message"].as_str().unwrap();
    assert!(odd.contains("more than turned ware does"), "{odd}");
    // The same readings where nobody named a turn are of different things.
    let unturned = measured("0 diameter 80.6 80.1 79.9\n60 diameter 82\n");
    assert!(unturned["odd"][0]["message"].as_str().unwrap().contains("read it around the turn"));
}

/// No dial reading is dropped without a word, and no runout is given out that may be oval.
#[test]
fn what_few_turns_of_a_dial_leave_open_is_told_and_written_down() {
    let told = |readings: &str, words: &str| {
        let outcome = run(&["measure"], readings.as_bytes()).done();
        assert!(outcome.err.contains(words), "{}", outcome.err);
        assert!(outcome.out_text().contains(&format!("# Not sure: {words}")), "{words}");
        outcome.out_text().to_owned()
    };
    let three = "0 @ 0 diameter 70.15\n0 @ 60 diameter 70.15\n0 @ 120 diameter 69.7\n\
                 100 diameter 70\n";
    let blank = told(
        &format!("{three}0 @ 0 dial 0.6\n0 @ 180 dial -0.4\n"),
        "at 0 mm the dial tells the runout along one turn only, 0.5 mm",
    );
    assert!(blank.contains("runout = 0.5\nrunout_turn = 0\n"), "{blank}");
    let blank = told(
        &format!("{three}0 @ 0 dial 0.6\n0 @ 10 dial 0.5\n"),
        "at 0 mm the dial was read at too few turns, or too near to each other",
    );
    assert!(!blank.contains("runout ="), "{blank}");
    // A pure oval looks so too.
    let blank = told(
        "0 diameter 70\n0 @ 0 dial 0.1\n0 @ 120 dial -0.05\n0 @ 240 dial -0.05\n100 diameter 70\n",
        "at 0 mm the runout of 0.1 mm may be an oval of up to 0.4 mm instead",
    );
    // Neither 360 degrees nor a last bit before.
    assert!(blank.contains("runout = 0.1\nrunout_turn = 0\n"), "{blank}");
    // Uneven turns: more than one, but none that part oval and runout.
    let dial: String = [(45, 0.2), (195, -0.3), (240, -0.15), (270, 0.0), (285, 0.1)]
        .map(|(turn, value)| format!("0 @ {turn} dial {value}\n"))
        .concat();
    told(
        &format!("0 diameter 70\n{dial}100 diameter 70\n"),
        "at 0 mm the turns that were read tell the oval along one turn only",
    );
}

#[test]
fn what_cannot_be_read_around_is_told() {
    for (readings, words) in [
        ("0 dial 0.2\n", "a dial reading needs its turn in degrees"),
        ("0 @ 90 circumference 200\n", "a tape goes all the way around"),
        ("0 @ north diameter 60\n", "\"north\" stands for the turn, but must be degrees"),
        ("0 @ diameter 60\n", "a reading is a place"),
        (
            "0 diameter 60\n50 diameter 60\n20 @ 0 dial 0.1\n",
            "at 20 mm there are dial readings and",
        ),
    ] {
        let outcome = run(&["measure"], readings.as_bytes());
        assert_eq!(outcome.status, Some(2), "{readings}: {}", outcome.err);
        assert!(outcome.err.contains(words), "{readings}: {}", outcome.err);
        assert!(outcome.out_text().is_empty());
    }
    let outcome = run(&["measure", "--json", "-o", "-"], b"0 diameter 6\n9 diameter 6\n");
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
    let options =
        ["measure", "--json", "--diameter", "0@10=60", "--diameter", "9=60", "--dial", "0@20=-0.1"];
    assert_eq!(run(&options, b"").done().out_text().matches("\"at\"").count(), 2);
}

/// A can of 80 mm whose centre lies 0.6 mm off the axis towards turn 0.
const BENT: &str = "[[station]]\nat = 0\ndiameter = 80\nrunout = 0.6\n\
                    [[station]]\nat = 100\ndiameter = 80\nrunout = 0.6\n";
const MACHINE: &str = "[controller]\n[x]\nspeed = 500\nacceleration = 5000\n\
                       [y]\nspeed = 500\nacceleration = 5000\n[z]\nspeed = 20\nacceleration = 100\n\
                       [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 3600\n\
                       acceleration = 9000\n\
                       [[lens]]\nname = \"short\"\nfocal_length = 40\nspot = 0.1\n\
                       depth_of_focus = 0.01\n";

#[test]
fn the_radius_at_the_turns_that_burn_counts() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let (bent, machine) = (put("bent.toml", BENT), put("machine.toml", MACHINE));
    let true_can = put("true.toml", &BENT.replace("runout = 0.6\n", ""));
    let defocus = |blank: &str, from_deg: f64, to_deg: f64, more: &[&str]| {
        let around = std::f64::consts::PI * 80.0 / 360.0;
        let program = format!(
            "G21 G90\nG0 X50 Y{:.4}\nM4 S500\nG1 Y{:.4} F1000\nM5\nM2\n",
            from_deg * around,
            to_deg * around
        );
        let mut arguments = vec!["check", "--json", "-b", blank, "-m", &machine];
        arguments.extend(more);
        let outcome = run(&arguments, program.as_bytes());
        let report: Value =
            serde_json::from_str(outcome.out_text()).unwrap_or_else(|_| panic!("{}", outcome.err));
        let findings = report["findings"].as_array().unwrap().clone();
        let found = findings
            .iter()
            .find(|found| found["code"].as_str().unwrap().starts_with("defocus"))
            .map(|found| found["value"].as_f64().unwrap());
        found.unwrap_or(0.0)
    };
    let near = |is: f64, due: f64| assert!((is - due).abs() < 0.002, "{is} where {due} is due");
    assert_eq!(defocus(&true_can, -90.0, 90.0, &[]), 0.0);
    // The wall goes by 0.6 (cos a - cos b), of which half lies either side of mid-strip.
    near(defocus(&bent, -90.0, 90.0, &[]), 0.3);
    near(defocus(&bent, 0.0, 180.0, &[]), 0.6);
    near(defocus(&bent, 60.0, 90.0, &[]), 0.15);
    // Focused by hand at turn 0, where the wall is out farthest.
    near(defocus(&bent, 60.0, 90.0, &["--focus-at", "50"]), 0.6);
    // A head that follows the wall by its mean radius does not follow that.
    near(defocus(&bent, 60.0, 90.0, &["--focus", "follow"]), 0.6);
    // Tilted, a radius stands for less height.
    let tilted = defocus(&bent, 0.0, 180.0, &["--tilt", "10"]);
    near(tilted, 0.6 * 10.0_f64.to_radians().cos());

    let level = run(&["level", "--json", "-b", &bent, "-m", &machine], b"").done();
    let level: Value = serde_json::from_str(level.out_text()).unwrap();
    assert!((level["defocus_mm"].as_f64().unwrap() - 0.6).abs() < 1e-9, "{level}");
    assert_eq!(level["lenses"][0]["in_focus"], false);
    let words = run(&["level", "-b", &bent, "-m", &machine], b"").done();
    assert!(words.out_text().contains("±0.6 mm of each defocus"), "{}", words.out_text());
    // Its heights are those of the mean wall, which this can has at its sides.
    assert!((level["focus_turn_deg"].as_f64().unwrap().abs() - 90.0).abs() < 1e-6, "{level}");
    assert!((level["set_focus_turn_deg"].as_f64().unwrap().abs() - 90.0).abs() < 1e-6, "{level}");
    let told = words.out_text();
    assert!(told.contains("focus at turn      90°, where the radius is the mean\n"), "{told}");
}

/// The same can, bent in its middle alone: burned from end to end past there, the middle of the one
/// move is where it is out farthest. The stations lie either side of their datum.
#[test]
fn ware_that_is_out_within_a_move_counts() {
    let bent = "wall = \"smooth\"\nstation = [{ at = -50, diameter = 80 }, \
                { at = 0, diameter = 80, runout = 0.6 }, { at = 50, diameter = 80 }]\n";
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (blank, machine) = (path("bent.toml"), path("machine.toml"));
    std::fs::write(&machine, MACHINE).unwrap();
    let defocus = |bent: &str, more: &[&str]| {
        std::fs::write(&blank, bent).unwrap();
        let program = b"G21 G90\nG0 X-40 Y0\nM4 S500\nG1 X40 F1000\nM5\nM2\n";
        let words = ["check", "--json", "-b", &blank, "-m", &machine, "--place-at", "0"];
        let outcome = run(&[&words[..], more].concat(), program);
        let report: Value = serde_json::from_str(outcome.out_text()).unwrap();
        let found = report["findings"].as_array().unwrap();
        let found = found.iter().find(|one| one["code"].as_str().unwrap().starts_with("defocus"));
        found.unwrap()["value"].as_f64().unwrap()
    };
    // Straight between stations: 0.12 mm at the ends of the burn, 0.6 between; half lies either
    // side of mid-strip.
    let found = defocus(bent, &[]);
    assert!((found - 0.24).abs() < 0.005, "{found}");
    // A head that follows a taper is focused by hand at the zero, in the middle.
    let tapered = bent.replacen("diameter = 80", "diameter = 76", 1);
    let found = defocus(&tapered, &["--focus", "follow"]);
    assert!((found - 0.48).abs() < 0.005, "{found}");
}

#[test]
fn ware_without_a_wall_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("odd.toml");
    let template = |blank: &str| {
        std::fs::write(&path, blank).unwrap();
        run(&["template", "-b", path.to_str().unwrap()], b"")
    };
    let outcome = template(&BENT.replace("runout = 0.6", "runout = 41"));
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
    assert!(outcome.err.contains("there would be no wall left at some turn"), "{}", outcome.err);
    let outcome = template(&BENT.replace("runout = 0.6", "oval = 20"));
    assert_eq!(outcome.status, Some(0), "{}", outcome.err);
    assert!(outcome.err.contains("more than a tenth of its radius"), "{}", outcome.err);
}

/// One move over half a turn of oval ware, from where its radius is the mean to where it is again,
/// goes over its greatest and its least: a millimetre either way.
#[test]
fn a_long_way_around_oval_ware_is_looked_at_all_along() {
    let folder = tempfile::tempdir().unwrap();
    let station =
        |at: u32| format!("[[station]]\nat = {at}\ndiameter = 70.0\noval = 4.0\noval_turn = 0.0\n");
    std::fs::write(folder.path().join("b.toml"), station(0) + &station(100)).unwrap();
    let half_turn_mm = 35.0 * std::f64::consts::PI;
    let text = format!("G21\nM4 S300\nG0 X0\nG1 Y{half_turn_mm:.4} F600\nM5\nM2\n");
    let machine = fixture("machines/degrees.toml");
    let place = ["--place-at", "50", "--place-turn", "45", "--json"];
    let files = ["check", "-b", "b.toml", "-m", machine.to_str().unwrap()];
    let outcome = run_in(folder.path(), &[files, place].concat(), text.as_bytes());
    let report: Value = serde_json::from_str(outcome.out_text()).expect(&outcome.err);
    let found = report["findings"].as_array().unwrap();
    let value = found.iter().find(|f| f["code"].as_str().unwrap().starts_with("defocus"));
    let value = value.and_then(|f| f["value"].as_f64()).expect("out of focus");
    assert!((value.abs() - 1.0).abs() < 0.01, "{report}");
}
