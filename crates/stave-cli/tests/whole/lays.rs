//! `stave lays`, and pieces laid one by one.

use kurbo::{BezPath, ParamCurve};
use serde_json::Value;

use crate::command::{LAID, Outcome, fixture, run, run_in};
use crate::settings;

const MACHINE: &str = "fixtures/machines/degrees.toml";

fn lays(art: &str, blank: &str, more: &[&str]) -> Outcome {
    let art = format!("fixtures/art/{art}.svg");
    let blank = format!("fixtures/blanks/{blank}.toml");
    let job = format!("{}.toml", art.trim_end_matches(".svg"));
    let mut all = vec!["lays", &art, "-b", &blank, "-m", MACHINE];
    if fixture(job.trim_start_matches("fixtures/")).exists() {
        all.extend(["-j", &job]);
    }
    all.extend(more);
    run(&all, b"")
}

fn json(outcome: Outcome) -> Value {
    serde_json::from_str(outcome.done().out_text()).unwrap()
}

#[test]
fn a_sensible_lay_is_named_for_every_drawing() {
    // What a piece is, and which lays an engraver would take for it.
    let level = ["true-width", "even-angle", "true-shape"];
    for (art, blank, sensible) in [
        ("crest", "can", &["true-width"][..]),
        ("wave-wrap", "can", &["true-width", "even-angle"]),
        ("menu", "cup", &level),
        ("course", "bottle", &level),
        ("step", "bottle", &["true-shape", "label"]),
        ("pennants", "bottle", &level),
        ("lifebelt", "ornament", &["true-shape", "label"]),
    ] {
        let report = json(lays(art, blank, &["--json"]));
        for piece in report["pieces"].as_array().unwrap() {
            let best = piece["best"].as_str().unwrap();
            assert!(
                sensible.contains(&best),
                "{art}: {best} for {}: {}",
                piece["id"],
                piece["why"]
            );
            let row = &piece["lays"][best];
            assert!(row["omega_max_deg"].as_f64().unwrap() < 15.0);
            assert!(!piece["why"].as_str().unwrap().is_empty());
        }
        assert!(report["best"].is_string(), "{art}");
    }
}

#[test]
fn figures_are_there_under_their_names() {
    let report = json(lays("step", "bottle", &["--json"]));
    let pieces = report["pieces"].as_array().unwrap();
    let circle = pieces.iter().find(|piece| piece["id"] == "circle-piece").unwrap();
    for lay in ["even-angle", "true-width", "true-shape", "label"] {
        for key in ["omega_max_deg", "omega_mean_deg", "width_max", "height_max", "area_max"] {
            assert!(circle["lays"][lay][key].is_number(), "{lay} {key}");
        }
    }
    let figure = |lay: &str, key: &str| circle["lays"][lay][key].as_f64().unwrap();
    // By hand: the bottle is 78 mm across at the circle's centre and 86.08 where it reaches
    // farthest, 8 mm of meridian up the step, 2 on.
    assert!((figure("even-angle", "width_max") - 86.1 / 78.0).abs() < 0.003);
    assert_eq!(figure("even-angle", "height_max"), 1.0);
    assert!(figure("true-shape", "omega_max_deg") < 1e-5);
    assert!((figure("true-width", "area_max") - 1.0).abs() < 1e-9);
    assert!((figure("label", "height_mm") - 20.0).abs() < 1e-4);
}

#[test]
fn the_table_and_the_picture_are_for_people() {
    let folder = tempfile::tempdir().unwrap();
    let picture = folder.path().join("lays.svg");
    let table = lays("step", "bottle", &["-o", picture.to_str().unwrap()]).done();
    for word in [
        "even-angle",
        "true-width",
        "true-shape",
        "label",
        "best: true-shape",
        "Nothing is free here",
    ] {
        assert!(table.out_text().contains(word), "{word:?} is not in\n{}", table.out_text());
    }
    let drawn = std::fs::read_to_string(&picture).unwrap();
    let drawn = roxmltree::Document::parse(&drawn).unwrap();
    let texts: String = drawn.descendants().filter_map(|n| n.text()).collect();
    for word in ["stepped bottle", "circle-piece", "recommended", "⌀86"] {
        assert!(texts.contains(word), "{word}");
    }
    assert!(
        table.out_text().lines().all(|line| line.chars().count() <= 80),
        "{}",
        table.out_text()
    );
}

/// Areas are drawn as areas, under what hides them; why a lay has no place is said in its panel.
#[test]
fn areas_are_filled_and_a_reason_is_given() {
    let folder = tempfile::tempdir().unwrap();
    let drawn = |name: &str, blank: &str| {
        let picture = folder.path().join(format!("{name}.svg"));
        let table = lays(name, blank, &["-o", picture.to_str().unwrap()]).done();
        (table.out_text().to_owned(), std::fs::read_to_string(&picture).unwrap())
    };
    let (_, crest) = drawn("crest", "can");
    let document = roxmltree::Document::parse(&crest).unwrap();
    let fills: Vec<&str> = document
        .descendants()
        .filter(|node| node.tag_name().name() == "path")
        .filter(|node| node.attribute("fill-opacity").is_none())
        .filter_map(|node| node.attribute("fill").filter(|fill| *fill != "none"))
        .collect();
    let count = |colour: &str| fills.iter().filter(|fill| **fill == colour).count();
    // The shield under each of the four lays, and on it what is white.
    assert!(count("#9c9c98") >= 4 && count("#fafafa") >= 4, "{fills:?}");
    let (table, wave) = drawn("wave-wrap", "can");
    assert!(table.contains("meets itself"), "{table}");
    let document = roxmltree::Document::parse(&wave).unwrap();
    let texts: Vec<&str> = document.descendants().filter_map(|node| node.text()).collect();
    assert!(texts.join(" ").contains("No place here: the label reaches"), "{texts:?}");
}

/// A waist that the piece is narrow at: its box, which the circles are taken from, comes out far
/// wider than the piece, since true-width goes farther around there.
#[test]
fn circles_stay_in_their_panel_and_off_its_scale() {
    let folder = tempfile::tempdir().unwrap();
    let blank = folder.path().join("waist.toml");
    let stations = [(0, 100), (20, 100), (34, 20), (40, 20), (54, 100), (130, 100)];
    let stations =
        stations.map(|(at, across)| format!("[[station]]\nat = {at}\ndiameter = {across}\n"));
    std::fs::write(&blank, stations.concat()).unwrap();
    let path = "M0 0H100L51 60V108L100 146H0L49 108V60Z";
    let files = ["-b", blank.to_str().unwrap(), "-m", MACHINE, "--place-at", "10"];
    let drawn = run(&[&["lays", "--path", path, "-o", "-"], &files[..]].concat(), b"").done();
    let document = roxmltree::Document::parse(drawn.out_text()).unwrap();
    let (mut panel, mut count) = ([0.0; 4], 0);
    for node in document.descendants() {
        let number = |name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
        if node.has_tag_name("rect") && node.has_attribute("stroke") {
            panel = ["x", "y", "width", "height"].map(number);
        }
        if !node.has_attribute("fill-opacity") {
            continue;
        }
        count += 1;
        let [left, top, wide, high] = panel;
        let d = node.attribute("d").unwrap().trim_matches(['M', 'Z']);
        for point in d.split(' ') {
            let (x, y) = point.split_once(',').unwrap();
            let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
            assert!(x > left && x < left + wide && y > top && y < top + high - 2.7, "{point}");
        }
    }
    assert!(count >= 20, "{count}");
    // In the middle of 146 mm of wall, 10 mm up: on the way from 20 to 100 mm across.
    let scale = drawn.out_text().split(": 1 where ⌀ is ").nth(1).unwrap();
    let across: f64 = scale.split('<').next().unwrap().parse().unwrap();
    assert!((20.0..100.0).contains(&across), "{across}");
    assert!(drawn.out_text().contains("scale holds where the wall has the diameter"));
}

/// Where the wall is alike all along, one scale holds everywhere.
#[test]
fn the_scale_of_a_cylinder_needs_no_diameter() {
    let files = ["-b", "fixtures/blanks/can.toml", "-m", MACHINE, "--place-at", "30"];
    let drawn = run(&[&["lays", "--path", "M0 0H40V30H0Z", "-o", "-"], &files[..]].concat(), b"");
    let drawn = drawn.done();
    assert!(drawn.out_text().contains(" : 1<") && !drawn.out_text().contains("where ⌀ is"));
}

/// The page about lays shows what the program draws, and says how.
#[test]
fn the_pictures_of_the_page_are_the_programs() {
    let page = std::fs::read_to_string(fixture("lays/README.md")).unwrap();
    let commands: Vec<&str> = page.lines().filter(|line| line.starts_with("stave lays ")).collect();
    assert_eq!(commands.len(), 3);
    for command in commands {
        let words: Vec<&str> = command.split_whitespace().skip(1).collect();
        let (file, options) = words.split_last().unwrap();
        assert!(page.contains(&format!("]({})", file.trim_start_matches("fixtures/lays/"))));
        let drawn = run(&[options, &["-"]].concat(), b"").done();
        let kept = std::fs::read_to_string(crate::command::root().join(file)).unwrap();
        assert!(drawn.out_text() == kept, "{file} is not what `{command}` draws");
    }
}

/// The report of a wrap has the figures of the lay it took, for a drawing and for a program.
#[test]
fn a_wrap_reports_what_its_lay_does() {
    let folder = tempfile::tempdir().unwrap();
    let report = folder.path().join("report.json");
    let file = report.to_str().unwrap();
    let read =
        || -> Value { serde_json::from_str(&std::fs::read_to_string(&report).unwrap()).unwrap() };
    let job = "fixtures/art/step.toml";
    let bottle = "fixtures/blanks/bottle.toml";
    run(
        &[
            "wrap",
            "fixtures/art/step.svg",
            "-b",
            bottle,
            "-m",
            MACHINE,
            "-j",
            job,
            "--to",
            "svg",
            "-q",
            "--report",
            file,
        ],
        b"",
    )
    .done();
    let drawing = read();
    let table = json(lays("step", "bottle", &["--json"]));
    for (laid, piece) in
        drawing["as_laid"].as_array().unwrap().iter().zip(table["pieces"].as_array().unwrap())
    {
        assert_eq!(laid["id"], piece["id"]);
        let row = &piece["lays"][laid["lay"].as_str().unwrap()];
        assert_eq!(laid["omega_max_deg"], row["omega_max_deg"]);
        assert_eq!(laid["widest_mm"], row["widest_mm"]);
    }
    // A square of 20 mm on the foot, where the bottle is 66 to 66.75 mm across: equal angles of the
    // largest diameter come out by that much narrower.
    let square = b"M4 S300\nG1 X20 F600\nY20\nX0\nY0\nM5\nM2\n";
    let told = run(
        &["wrap", "-b", bottle, "-m", MACHINE, "--lay", "even-angle", "--report", file],
        square,
    )
    .done();
    assert!(told.err.contains("widths -25.4 %"), "{}", told.err);
    let program = read();
    let laid = &program["as_laid"][0];
    assert_eq!(laid["id"], "program");
    assert!((laid["width_max"].as_f64().unwrap() - 66.0 / 88.5).abs() < 1e-6);
    assert!((laid["height_mm"].as_f64().unwrap() - 20.0).abs() < 1e-3);
    let quiet = run(&["wrap", "-b", bottle, "-m", MACHINE, "--report", file], square).done();
    assert!(!quiet.err.contains("widths"), "{}", quiet.err);
}

#[test]
fn a_program_is_one_piece_and_a_wrapped_one_is_refused() {
    let options = [
        "-b",
        "fixtures/blanks/bottle.toml",
        "-m",
        MACHINE,
        "--place-at",
        "70",
        "--anchor",
        "30,0",
    ];
    let all =
        |command: &'static str, input: &'static str| [&[command, input][..], &options].concat();
    let report =
        json(run(&[&all("lays", "fixtures/programs/crest.nc")[..], &["--json"]].concat(), b""));
    assert_eq!(report["pieces"][0]["id"], "program");
    assert!(report["pieces"][0]["drawn_width_mm"].as_f64().unwrap() > 10.0);
    let wrap = [&all("wrap", "fixtures/programs/crest.nc")[..], &LAID].concat();
    let wrapped = run(&wrap, b"").done();
    let again = run(&all("lays", "-"), &wrapped.out);
    assert_eq!(again.status, Some(2));
    assert!(again.err.contains("wrapped already"), "{}", again.err);
}

#[test]
fn what_comes_out_changed_and_what_comes_to_overlap_is_told() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("a.svg"),
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"278.03mm\" height=\"185mm\" \
         viewBox=\"0 0 278.03 185\">\
         <g id=\"port\"><rect x=\"118\" y=\"153\" width=\"20\" height=\"12\"/></g>\
         <g id=\"starboard\"><rect x=\"139\" y=\"153\" width=\"20\" height=\"12\"/></g>\
         <g id=\"shoulder\"><rect x=\"40\" y=\"79\" width=\"20\" height=\"12\"/></g></svg>",
    )
    .unwrap();
    let bottle = fixture("blanks/bottle.toml");
    let machine = fixture("machines/degrees.toml");
    let out = run_in(
        folder.path(),
        &[
            "wrap",
            "a.svg",
            "-b",
            bottle.to_str().unwrap(),
            "-m",
            machine.to_str().unwrap(),
            "--to",
            "svg",
            "--lay",
            "true-shape",
            "--allow",
            "overlap",
        ],
        b"",
    )
    .done();
    assert!(out.err.contains("distortion: \"shoulder\" comes out changed"), "{}", out.err);
    assert!(!out.err.contains("\"port\" comes out changed"), "{}", out.err);
    // Each keeps its size about its own centre, and at the foot the centres lie closer together
    // than drawn.
    assert!(out.err.contains("pieces \"port\" and \"starboard\" were drawn apart"), "{}", out.err);
}

/// Five circles of 20 mm at different heights of the stepped bottle, one right over the step, each
/// a piece, measured on the wall: height along the meridian against width around, both through the
/// centre.
#[test]
fn round_marks_come_out_round_at_every_height() {
    let folder = tempfile::tempdir().unwrap();
    let wall = settings::wall(&fixture("blanks/bottle.toml"));
    let heights = [22.0, 60.0, 100.0, 125.0, 160.0];
    let (width, height) = (278.0, 190.0);
    let circles: String = heights
        .iter()
        .enumerate()
        .map(|(k, u)| {
            format!(
                "<g id=\"g{k}\"><circle id=\"c{k}\" cx=\"{}\" cy=\"{}\" r=\"10\"/></g>",
                39 + 50 * k,
                height - u
            )
        })
        .collect();
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\">{circles}</svg>"
    );
    std::fs::write(folder.path().join("a.svg"), svg).unwrap();
    let (bottle, machine) = (fixture("blanks/bottle.toml"), fixture("machines/degrees.toml"));
    let bottle = bottle.to_str().unwrap();
    for lay in ["true-shape", "label", "even-angle"] {
        let out = run_in(
            folder.path(),
            &[
                "wrap",
                "a.svg",
                "-b",
                bottle,
                "-m",
                machine.to_str().unwrap(),
                "--to",
                "svg",
                "--lay",
                lay,
                "-q",
                "--zones",
                "ignore",
            ],
            b"",
        )
        .done();
        let document = roxmltree::Document::parse(out.out_text()).unwrap();
        let page: Vec<f64> = ["width", "height"]
            .map(|name| {
                document
                    .root_element()
                    .attribute(name)
                    .unwrap()
                    .trim_end_matches("mm")
                    .parse()
                    .unwrap()
            })
            .to_vec();
        let radius = 88.5 / 2.0;
        for (k, u) in heights.iter().enumerate() {
            let id = format!("c{k}");
            let drawn = document.descendants().find(|n| n.attribute("id") == Some(&id)).unwrap();
            let path = BezPath::from_svg(drawn.attribute("d").unwrap()).unwrap();
            let places: Vec<(f64, f64)> = path
                .segments()
                .flat_map(|segment| (0..=400).map(move |t| segment.eval(f64::from(t) / 400.0)))
                // Without tilt the X word is the place along the axis.
                .map(|p| (wall.s_of_z(page[1] - p.y), (page[0] / 2.0 - p.x) / radius))
                .collect();
            let turn = (width / 2.0 - 39.0 - 50.0 * k as f64) / radius;
            let tall = between(&places, |p| p.1 - turn, |p| p.0);
            let wide = between(&places, |p| p.0 - u, |p| p.1) * wall.at_s(*u).r;
            if lay == "even-angle" {
                assert!((wide - 20.0).abs() < 0.01, "{wide} mm wide at {u} mm");
            } else {
                assert!(
                    (tall / wide - 1.0).abs() < 0.01,
                    "{lay}: {tall} mm by {wide} mm at {u} mm"
                );
            }
        }
    }
}

/// How far apart in `what` a closed line's outermost passes through `zero` lie.
fn between(
    line: &[(f64, f64)],
    zero: impl Fn(&(f64, f64)) -> f64,
    what: impl Fn(&(f64, f64)) -> f64,
) -> f64 {
    let passes: Vec<f64> = line
        .windows(2)
        .filter(|w| (zero(&w[0]) < 0.0) != (zero(&w[1]) < 0.0))
        .map(|w| {
            let share = zero(&w[0]) / (zero(&w[0]) - zero(&w[1]));
            what(&w[0]) + share * (what(&w[1]) - what(&w[0]))
        })
        .collect();
    let (low, high) =
        passes.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(*x), h.max(*x)));
    high - low
}

/// Of a shape that its clip cuts on every side what is left is a piece, and a label of that fits
/// where the whole shape would fold: nothing past the clip burns.
#[test]
fn a_clipped_shape_is_laid_by_what_is_left_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let page = "xmlns=\"http://www.w3.org/2000/svg\" width=\"278mm\" height=\"179mm\" \
                viewBox=\"0 0 278 179\"";
    let shape = "<rect x=\"69\" y=\"54\" width=\"140\" height=\"40\"/>";
    let window = "<rect x=\"134\" y=\"69\" width=\"10\" height=\"10\"/>";
    let clipped = format!(
        "<svg {page}><clipPath id=\"c\">{window}</clipPath>\
         <g clip-path=\"url(#c)\">{shape}</g></svg>"
    );
    std::fs::write(folder.path().join("clipped.svg"), clipped).unwrap();
    std::fs::write(folder.path().join("whole.svg"), format!("<svg {page}>{shape}</svg>")).unwrap();
    let files = ["blanks/bottle.toml", "machines/degrees.toml"].map(fixture);
    let [blank, machine] = files.each_ref().map(|path| path.to_str().unwrap());
    let on = |command: &str, drawing: &str, more: &[&str]| {
        let words = [command, drawing, "-b", blank, "-m", machine, "--lay", "label"];
        run_in(folder.path(), &[&words, more].concat(), b"")
    };
    let report = json(on("lays", "clipped.svg", &["--json"]));
    let label = &report["pieces"][0]["lays"]["label"];
    assert!(label["omega_max_deg"].is_number(), "{report}");
    on("wrap", "clipped.svg", &LAID).done();
    let outcome = on("wrap", "whole.svg", &LAID);
    assert!(outcome.err.contains("error fold: "), "{}", outcome.err);
}

/// Pieces of which all the same is to be said are one table with a count; JSON has each.
#[test]
fn equal_pieces_are_told_once() {
    let folder = tempfile::tempdir().unwrap();
    let art = folder.path().join("dots.svg");
    let dots: String =
        (0..4).map(|k| format!("<circle cx=\"20\" cy=\"{}\" r=\"3\"/>\n", 5 + 14 * k)).collect();
    let large = "<circle cx=\"20\" cy=\"66\" r=\"4\"/>";
    let page = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"40mm\" height=\"80mm\" \
                viewBox=\"0 0 40 80\">";
    std::fs::write(&art, format!("{page}\n{dots}{large}</svg>")).unwrap();
    let (can, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let [art, can, machine] = [&art, &can, &machine].map(|path| path.to_str().unwrap());
    let words = ["lays", art, "-b", can, "-m", machine];
    let table = run(&words, b"").done();
    let text = table.out_text();
    assert!(text.contains("circle on line 2 × 4: each drawn 6 wide, 6 high\n"), "{text}");
    assert!(text.contains("alike: circle on line 3, circle on line 4, circle on line 5\n"));
    assert!(text.contains("circle on line 6: drawn 8 wide, 8 high, its middle at"), "{text}");
    assert_eq!(text.matches("best: ").count(), 2, "{text}");
    let report = json(run(&[&words[..], &["--json"]].concat(), b""));
    assert_eq!(report["pieces"].as_array().unwrap().len(), 5);
}
