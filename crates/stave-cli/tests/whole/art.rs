//! Drawings to programs, read back and measured on the wall by these tests' own reader and
//! mathematics.

use crate::case::{Bench, Case};
use crate::command::{self, LAID, Outcome, fixture, run, run_in};
use crate::lay::LayKind;
use crate::program::{self, Kind, Move};

fn wrap(art: &str, blank: &str, more: &[&str]) -> Outcome {
    let path = |name: String| fixture(&name).display().to_string();
    let (art, blank) = (path(format!("art/{art}.svg")), path(format!("blanks/{blank}.toml")));
    let machine = path("machines/degrees.toml".into());
    let mut arguments = vec!["wrap", art.as_str(), "-b", &blank, "-m", &machine];
    arguments.extend(LAID);
    arguments.extend(more);
    run(&arguments, b"")
}

fn job(name: &str) -> String {
    fixture(&format!("art/{name}.toml")).display().to_string()
}

/// `s` and turn at both ends of a move.
fn on_wall(bench: &Bench, m: &Move) -> [[f64; 2]; 2] {
    [m.from, m.to].map(|at| bench.rotary.place(&bench.wall, bench.rotary.of_axes(&at)))
}

/// The burns of the stretch of program that a comment begins, up to the next of its kind.
fn section(text: &str, begins: &str) -> Vec<Move> {
    let kind = begins.split(' ').next().unwrap();
    let mut inside = false;
    let lines: Vec<usize> = text
        .lines()
        .enumerate()
        .filter_map(|(number, line)| {
            if line.starts_with(&format!("({kind} ")) {
                inside = line == format!("({begins})");
            }
            inside.then_some(number + 1)
        })
        .collect();
    let moves = program::read(text).moves.into_iter();
    moves.filter(|m| m.kind == Kind::Burn && lines.binary_search(&m.line).is_ok()).collect()
}

/// The circle of 20 mm over the bottle's steep step, laid true-shape from its centre.
#[test]
fn a_circle_over_the_step_keeps_its_size_and_its_angles() {
    let outcome = wrap("step", "bottle", &["-j", &job("step"), "--report", "-"]).done();
    let text = outcome.out_text();
    let bench = Case::new("bottle", "degrees", LayKind::TrueShape, 3.0, 0.0).bench();
    let burns = section(text, "piece circle-piece: areas");
    assert!(burns.len() > 300);
    let ends: Vec<[f64; 2]> = burns.iter().flat_map(|m| on_wall(&bench, m)).collect();
    let range = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
    };
    let along = range(&mut ends.iter().map(|e| e[0]));
    let height = along.1 - along.0;
    assert!((height / 20.0 - 1.0).abs() < 0.01, "height {height}");
    // Through the centre, which lies where it was drawn: the scan lines that meet its `s`.
    let centre = 100.021_234;
    let crossing = burns
        .iter()
        .map(|m| on_wall(&bench, m))
        .filter(|e| (e[0][0] - centre) * (e[1][0] - centre) <= 0.0);
    let turns = range(&mut crossing.map(|e| e[0][1]));
    let width = (turns.1 - turns.0) * bench.wall.at_s(centre).r;
    assert!((width / 20.0 - 1.0).abs() < 0.01, "width {width}");

    // The square beside it: its diagonals meet at right angles, and its sides at 45 degrees to
    // them.
    let burns = section(text, "piece square-piece: lines");
    let square_turn = -(184.0 - 139.015_475) / bench.wall.largest_radius();
    let mut directions = Vec::new();
    for m in &burns {
        let [a, b] = on_wall(&bench, m);
        let near =
            |p: [f64; 2]| (p[0] - centre).hypot((p[1] - square_turn) * bench.wall.at_s(centre).r);
        if near(a).min(near(b)) > 3.0 || m.from == m.to {
            continue;
        }
        // In the conformal chart of the wall, where angles are those on the wall and a diagonal is
        // straight.
        let q = bench.wall.q_of_s(b[0]) - bench.wall.q_of_s(a[0]);
        directions.push((b[1] - a[1]).atan2(q).to_degrees().rem_euclid(180.0));
    }
    assert!(directions.len() >= 4);
    for direction in directions {
        let off = (direction - 45.0).abs().min((direction - 135.0).abs());
        assert!(off < 0.1, "a diagonal at {direction} degrees");
    }
    // How lopsided it comes out is told: the radius at its top over that at its bottom.
    let report: serde_json::Value =
        serde_json::from_str(&outcome.err[outcome.err.find('{').unwrap()..]).unwrap();
    let piece =
        report["pieces"].as_array().unwrap().iter().find(|p| p["id"] == "circle-piece").unwrap();
    let expected = bench.wall.at_s(along.1).r / bench.wall.at_s(along.0).r;
    assert!((piece["lopsided"].as_f64().unwrap() / expected - 1.0).abs() < 0.01, "{piece}");
    assert!(piece["omega_max_deg"].as_f64().unwrap() < 1e-6);
}

#[test]
fn a_wrap_closes_at_its_seam() {
    let outcome = wrap("wave-wrap", "can", &["-j", &job("wave-wrap"), "--report", "-"]).done();
    let text = outcome.out_text();
    // Scan lines: evenly apart all the way around, across the seam as well, and whole motor steps.
    let areas = section(text, "operation swell and reeds");
    let mut turns: Vec<i64> = areas.iter().map(|m| (m.to[3] * 1e4).round() as i64).collect();
    turns.sort_unstable();
    turns.dedup();
    let (first, last) = (turns[0], turns[turns.len() - 1]);
    turns.push(first + 3_600_000);
    let step = (first + 3_600_000 - last) as f64;
    assert!(
        turns.windows(2).all(|pair| ((pair[1] - pair[0]) as f64 - step).abs() <= 2.0),
        "{step}"
    );
    let steps = step / 3_600_000.0 * 12_800.0;
    assert!(
        (steps - steps.round()).abs() < 1e-2 && (12_800.0 / steps.round()).fract() == 0.0,
        "{steps} steps"
    );
    // Lines: each wave leaves at the seam where it comes in, at the same slope.
    let lines = section(text, "operation crests");
    let at = |turn: f64| -> Vec<(f64, f64)> {
        let mut ends: Vec<(f64, f64)> = lines
            .iter()
            .filter_map(|m| {
                let slope = (m.to[0] - m.from[0]) / (m.to[3] - m.from[3]);
                let end = [m.from, m.to].into_iter().find(|p| (p[3] - turn).abs() < 2e-4)?;
                Some((end[0], slope))
            })
            .collect();
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        ends
    };
    let (right, left) = (at(-180.0), at(180.0));
    assert_eq!((right.len(), left.len()), (2, 2));
    for (a, b) in right.iter().zip(&left) {
        assert!((a.0 - b.0).abs() < 2e-4 && (a.1 / b.1 - 1.0).abs() < 0.1, "{a:?} {b:?}");
    }
    let report: serde_json::Value =
        serde_json::from_str(&outcome.err[outcome.err.find('{').unwrap()..]).unwrap();
    let operation = &report["operations"][0];
    assert_eq!(operation["seam_mm"], serde_json::Value::Null);
    assert!((operation["spacing_asked_mm"].as_f64().unwrap() - 0.1).abs() < 1e-12);
    let got = operation["spacing_mm"].as_f64().unwrap();
    assert!((0.09..=0.11).contains(&got));
    assert!((operation["lines_per_inch"].as_f64().unwrap() * got - 25.4).abs() < 1e-9);
}

#[test]
fn every_hit_is_told_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out.nc");
    let outcome = wrap("pennants", "bottle", &["-o", out.to_str().unwrap()]);
    assert_eq!(outcome.status, Some(1), "{}", outcome.err);
    assert!(!out.exists());
    for hit in ["operation \"areas\": ", "operation \"lines\": ", "(piece \"line\", at 162.76 mm"] {
        assert!(outcome.err.contains(hit), "{}", outcome.err);
    }
    assert!(outcome.err.contains("zone \"upper boss\" at 1"), "{}", outcome.err);
    // To standard output likewise: not a line.
    let outcome = wrap("pennants", "bottle", &[]);
    assert_eq!((outcome.status, outcome.out.len()), (Some(1), 0));
}

#[test]
fn a_masked_boss_stays_dark() {
    let outcome = wrap("pennants", "bottle", &["-j", &job("pennants")]).done();
    let bench = Case::new("bottle", "degrees", LayKind::EvenAngle, 0.0, 0.0).bench();
    let moves = program::read(outcome.out_text()).moves;
    let mut burns = 0;
    for m in moves.iter().filter(|m| m.kind == Kind::Burn) {
        let [a, b] = on_wall(&bench, m);
        let z = [a, b].map(|p| bench.wall.at_s(p[0]).z);
        let turn = (0.5 * (a[1] + b[1])).to_degrees().rem_euclid(360.0);
        let inside =
            (turn - 180.0).abs() < 10.0 && z[0].max(z[1]) > 152.01 && z[0].min(z[1]) < 163.99;
        assert!(!inside, "line {}", m.line);
        burns += 1;
    }
    assert!(burns > 500);
    assert!(outcome.err.contains("lie in zones and stay dark"));
}

#[test]
fn air_passes_and_comments_are_in_the_program() {
    let outcome = wrap("crest", "can", &["-j", &job("crest")]).done();
    let words: Vec<&str> = outcome
        .out_text()
        .lines()
        .filter(|l| l.starts_with("(operation") || l.starts_with('M'))
        .collect();
    assert_eq!(
        words,
        [
            "M5",
            "(operation navy)",
            "M4 S0",
            "(operation brass)",
            "M7",
            "(operation outlines, pass 1 of 2)",
            "M9",
            "(operation outlines, pass 2 of 2)",
            "M5",
            "M2"
        ]
    );
    assert!(outcome.out_text().contains("\n(piece crest: navy)\n"));
    // What nothing burns is told.
    assert!(outcome.err.contains("white and near-white are bare ware"), "{}", outcome.err);
    // No travel and no M word with the beam lit.
    let program = program::read(outcome.out_text());
    assert!(program.ended && program.beam.is_none());
    assert!(
        program
            .moves
            .iter()
            .filter(|m| m.kind != Kind::Burn)
            .all(|m| m.power.is_none_or(|s| s == 0.0))
    );
}

#[test]
fn bare_path_data_burns_as_a_line() {
    let path = |name: &str| fixture(name).display().to_string();
    let (blank, machine) = (path("blanks/can.toml"), path("machines/degrees.toml"));
    let arguments = [
        "wrap",
        "--path",
        "M0 0h30a5 5 0 0 1 0 10",
        "-b",
        &blank,
        "-m",
        &machine,
        "--place-at",
        "40",
    ];
    let outcome = run(&arguments, b"").done();
    let moves = program::read(outcome.out_text()).moves;
    let burned: f64 = moves
        .iter()
        .filter(|m| m.kind == Kind::Burn)
        .map(|m| (m.to[0] - m.from[0]).hypot((m.to[3] - m.from[3]).to_radians() * 37.0))
        .sum();
    // Not closed: a line and a half circle, and one travel to where they begin.
    assert!((burned - (30.0 + 5.0 * std::f64::consts::PI)).abs() < 0.01, "{burned}");
    assert_eq!(moves.iter().filter(|m| m.kind == Kind::Travel).count(), 1);
    let wrong = ["wrap", "--path", "M0 0L10", "-b", &blank, "-m", &machine];
    let outcome = run(&wrong, b"");
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains('^'), "{}", outcome.err);
}

/// What `chord_error_max_mm` tells is how far the burn lies from the curve that was drawn.
#[test]
fn the_chord_error_counts_what_the_drawings_curves_lose() {
    use kurbo::{CubicBez, Line, ParamCurve, ParamCurveNearest};
    let path = |name: &str| fixture(name).display().to_string();
    let machine = path("machines/degrees.toml");
    let folder = tempfile::tempdir().unwrap();
    let name = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let can =
        "wall = \"straight\"\nstation = [{ at = 0, diameter = 70 }, { at = 100, diameter = 70 }]\n";
    std::fs::write(name("can.toml"), can).unwrap();
    let job = "[[operation]]\nname = \"disc\"\npick = { fill = \"#000\" }\nwork = \"area\"\n\
               speed = 250\npower = 40\nline_spacing = 0.1\n";
    std::fs::write(name("job.toml"), job).unwrap();
    let disc = "<svg xmlns='http://www.w3.org/2000/svg' width='80mm' height='80mm' \
                viewBox='-40 -40 80 80'>\
                <path d='M-25 25a25 25 0 0 1 50 0a25 25 0 0 1 -50 0Z'/></svg>";
    std::fs::write(name("disc.svg"), disc).unwrap();
    let told = |input: &[&str], blank: &str, tolerance: f64| {
        let tolerance = tolerance.to_string();
        let (blank, report) = (name(blank), name("r.json"));
        let rest = ["-b", &blank, "-m", &machine, "--tolerance", &tolerance, "--report", &report];
        let words = [&["wrap"], input, &rest, &LAID].concat();
        let outcome = run(&words, b"").done();
        let report = std::fs::read_to_string(name("r.json")).unwrap();
        let report: serde_json::Value = serde_json::from_str(&report).unwrap();
        (report["chord_error_max_mm"].as_f64().unwrap(), program::read(outcome.out_text()).moves)
    };
    // A single cubic that bends to one side and to the other, its page 60 mm wide, 40 high.
    let curve = CubicBez::new((0.0, 0.0), (60.0, 0.0), (0.0, 40.0), (60.0, 40.0));
    for tolerance in [0.01, 0.1, 0.3] {
        let data = "M0 0C60 0 0 40 60 40";
        let (told, moves) = told(&["--path", data, "--place-at", "40"], "can.toml", tolerance);
        // Page up is along the axis, page right is against the turn; both ends give the shift.
        let flat = |words: [f64; 6]| (-words[3].to_radians() * 35.0, -words[0]);
        let burns: Vec<_> = moves.iter().filter(|m| m.kind == Kind::Burn).collect();
        let all = || burns.iter().flat_map(|m| [flat(m.from), flat(m.to)]);
        let low = all().fold((f64::MAX, f64::MAX), |low, p| (low.0.min(p.0), low.1.min(p.1)));
        let lines: Vec<Line> = burns
            .iter()
            .map(|m| [flat(m.from), flat(m.to)].map(|p| (p.0 - low.0, p.1 - low.1)))
            .map(|[a, b]| Line::new(a, b))
            .collect();
        let away = |p| {
            let near = lines.iter().map(|line| line.nearest(p, 1e-9).distance_sq.sqrt());
            near.fold(f64::INFINITY, f64::min)
        };
        let measured = (0..=4000).map(|k| away(curve.eval(f64::from(k) / 4000.0)));
        let measured = measured.fold(0.0, f64::max);
        assert!((told / measured - 1.0).abs() < 0.05, "{tolerance}: {told}, {measured}");
        assert!(told <= tolerance, "{tolerance}: {told}");
    }
    // A disc: as a line and filled, the arcs of each quarter halved until they fit.
    let ring = ["--path", "M-25 25a25 25 0 0 1 50 0a25 25 0 0 1 -50 0Z", "--place-at", "50"];
    let job = name("job.toml");
    let drawing = name("disc.svg");
    let filled = [&*drawing, "-j", &job, "--place-at", "10"];
    for input in [&ring[..], &filled[..]] {
        for tolerance in [0.01, 0.05, 0.2] {
            let (told, _) = told(input, "can.toml", tolerance);
            assert!((0.05 * tolerance..=tolerance).contains(&told), "{tolerance}: {told}");
        }
    }
}

/// A stroke there and back shows once: so it burns, as path data and in a drawing, open or closed.
#[test]
fn a_line_there_and_back_burns_once_within_its_path() {
    let path = |name: &str| fixture(name).display().to_string();
    let (blank, machine) = (path("blanks/can.toml"), path("machines/degrees.toml"));
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job.toml");
    let operation = "[[operation]]\nname = \"black\"\npick = { stroke = \"#000\" }\n\
                     work = \"line\"\nspeed = 60\npower = 20\n";
    std::fs::write(&job, operation).unwrap();
    let job = ["-j", job.to_str().unwrap()];
    for (data, long_mm) in [
        ("M0 0H20H0", 20.0),
        ("M0 0H20H0Z", 20.0),
        ("M0 0H20Z", 20.0),
        ("M0 0H20V10L20 0L0 0Z", 30.0),
        ("M0 0H20V10L20 0L0 0", 30.0),
        ("M0 0c0 10 20 10 20 0c0 10 -20 10 -20 0", 27.893),
        // Two elements are two.
        ("M0 0H20\"/><path fill=\"none\" stroke=\"#000\" d=\"M0 0H20", 40.0),
    ] {
        let drawing = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"50mm\" height=\"30mm\" \
             viewBox=\"-15 -15 50 30\"><path fill=\"none\" stroke=\"#000\" d=\"{data}\"/></svg>"
        );
        let rest = ["-b", &blank, "-m", &machine, "--place-at", "40"];
        let as_data = run(&[&["wrap", "--path", data][..], &rest].concat(), b"");
        let drawn = run(&[&["wrap", "-"][..], &rest, &job].concat(), drawing.as_bytes());
        let both = [Some(as_data).filter(|_| !data.contains('<')), Some(drawn)];
        for outcome in both.into_iter().flatten() {
            let moves = program::read(outcome.done().out_text()).moves;
            let burns = moves.iter().filter(|m| m.kind == Kind::Burn);
            let length = |m: &program::Move| {
                (m.to[0] - m.from[0]).hypot((m.to[3] - m.from[3]).to_radians() * 37.0)
            };
            let burned: f64 = burns.map(length).sum();
            assert!((burned - long_mm).abs() < 0.01, "{data}: {burned}");
        }
    }
}

#[test]
fn art_without_a_speed_and_power_is_refused() {
    let svg = b"<svg xmlns='http://www.w3.org/2000/svg' width='10mm' height='10mm'><rect \
                width='9' height='9'/></svg>";
    let path = |name: &str| fixture(name).display().to_string();
    let arguments = ["wrap", "-b", &path("blanks/can.toml"), "-m", &path("machines/swapped.toml")];
    let outcome = command::run(&arguments, svg);
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("[area]"), "{}", outcome.err);
}

/// Lines nearer to each other than asked, since the motor has no finer steps, burn more: by how
/// much is told where the power stays as it is given.
#[test]
fn a_spacing_of_motor_steps_says_what_it_does_to_the_dose() {
    let folder = tempfile::tempdir().unwrap();
    // Asked 1.45 motor steps on the can of 74 mm, whose rotary makes 12,800 a turn: one is got.
    let asked_mm = 1.45 * 74.0 * std::f64::consts::PI / 12_800.0;
    let job = format!(
        "[[operation]]\nname = \"mark\"\npick = {{ fill = \"#000\" }}\nwork = \"area\"\n\
         speed = 100\npower = 30\nline_spacing = {asked_mm}\n"
    );
    std::fs::write(folder.path().join("j.toml"), job).unwrap();
    let square = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"232.48mm\" height=\"105mm\" \
                  viewBox=\"0 0 232.48 105\">\
                  <rect x=\"110\" y=\"40\" width=\"4\" height=\"4\"/></svg>";
    std::fs::write(folder.path().join("a.svg"), square).unwrap();
    let files = ["blanks/can.toml", "machines/degrees.toml"].map(fixture);
    let [blank, machine] = files.each_ref().map(|path| path.to_str().unwrap());
    for (dose, says) in [("as-given", true), ("even", false)] {
        for command in ["check", "wrap"] {
            let words = [command, "a.svg", "-b", blank, "-m", machine, "-j", "j.toml"];
            let outcome = run_in(folder.path(), &[&words[..], &["--dose", dose]].concat(), b"");
            // The table breaks its lines.
            let all = outcome.err.clone() + outcome.out_text();
            let all = all.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(all.contains("spacing-steps"), "{command}: {all}");
            let told = all.contains("which changes the energy on each mm² by +45 %");
            assert_eq!(told, says, "{command}, {dose}: {all}");
        }
    }
}

/// Lines along a taper come closer where it is narrower: at one power they burn more there.
#[test]
fn an_area_on_a_taper_says_what_one_power_does_to_its_dose() {
    let folder = tempfile::tempdir().unwrap();
    let job = "[[operation]]\nname = \"mark\"\npick = { fill = \"#000\" }\nwork = \"area\"\n\
               speed = 100\npower = 30\nline_spacing = 0.2\n";
    std::fs::write(folder.path().join("j.toml"), job).unwrap();
    let files = ["blanks/cup.toml", "machines/degrees.toml"].map(fixture);
    let [blank, machine] = files.each_ref().map(|path| path.to_str().unwrap());
    let page = "width=\"279.29mm\" height=\"115mm\" viewBox=\"0 0 279.29 115\"";
    // From foot to rim, and so low that it hardly tapers; and lines around, which lie as asked.
    for (y, height, dose, scan, code) in [
        (10, 90, "as-given", "along", Some("spacing-steps")),
        (76, 24, "as-given", "along", Some("note")),
        (10, 90, "even", "along", None),
        (76, 24, "even", "along", None),
        (10, 90, "as-given", "around", None),
    ] {
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" {page}><rect x=\"135\" y=\"{y}\" \
             width=\"9\" height=\"{height}\"/></svg>"
        );
        std::fs::write(folder.path().join("a.svg"), svg).unwrap();
        let scan = format!("{job}scan = \"{scan}\"\n");
        std::fs::write(folder.path().join("j.toml"), scan).unwrap();
        let words = ["wrap", "a.svg", "-b", blank, "-m", machine, "-j", "j.toml", "--tilt", "-6.5"];
        let more = ["--dose", dose, "--report", "r.json", "-o", "o.nc", "--allow", "clearance"];
        let outcome = run_in(folder.path(), &[&words[..], &more].concat(), b"").done();
        let told = outcome.err.lines().find(|line| line.contains("changes the energy"));
        let Some(code) = code else {
            assert_eq!(told, None, "{dose}");
            continue;
        };
        let told = told.expect(&outcome.err);
        assert!(told.contains(&format!("{code}: ")), "{told}");
        // What is told is what the place says: energy goes by one over the diameter.
        let report = std::fs::read_to_string(folder.path().join("r.json")).unwrap();
        let report: serde_json::Value = serde_json::from_str(&report).unwrap();
        let across = |key: &str| 63.5 + (88.9 - 63.5) * report[key].as_f64().unwrap() / 114.3;
        let spacing_mm = report["operations"][0]["spacing_mm"].as_f64().unwrap();
        let widest = 100.0 * (0.2 / spacing_mm - 1.0);
        let narrowest = 100.0 * (0.2 / spacing_mm * across("at_max") / across("at_min") - 1.0);
        let says = format!(
            "by {widest:+.1} % where the work is widest to {narrowest:+.1} % where it is narrowest"
        );
        let says = says.replace(".0 %", " %");
        assert!(told.contains(&says), "{says}: {told}");
        assert!(told.contains("dose = \"even\" holds it"), "{told}");
    }
}
