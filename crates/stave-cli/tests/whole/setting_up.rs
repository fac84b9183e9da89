//! `stave level -o` and `stave template --paper`: pictures in mm that print true.

use crate::command::{fixture, run};
use std::path::Path;

fn blank(name: &str) -> String {
    fixture(&format!("blanks/{name}.toml")).to_str().unwrap().to_owned()
}

/// Width and height of an SVG document, mm.
fn size(svg: &str) -> (f64, f64) {
    let of = |name: &str| {
        let start = svg.find(&format!(" {name}=\"")).unwrap() + name.len() + 3;
        let text = &svg[start..];
        text[..text.find("mm\"").unwrap()].parse::<f64>().unwrap()
    };
    (of("width"), of("height"))
}

#[test]
fn level_draws_the_wall_under_the_beam() {
    let machine = fixture("machines/degrees.toml");
    let files = ["level", "-b", &blank("tumbler"), "-m", machine.to_str().unwrap()];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("level.svg");
    let out = run(&[&files[..], &["-o", path.to_str().unwrap()]].concat(), b"").done();
    assert!(out.out_text().contains("best tilt"), "the table is printed all the same");
    let picture = std::fs::read_to_string(path).unwrap();
    assert_eq!(size(&picture), (200.0, 140.0));
    assert!(
        picture.contains("class=\"focus\"")
            && picture.contains(">long barrel<")
            && picture.contains("mm out of focus")
    );
    // The tilt under the picture is the one in the table.
    let json = run(&[&files[..], &["--json"]].concat(), b"").done();
    let json: serde_json::Value = serde_json::from_str(json.out_text()).unwrap();
    let tilt = json["set_tilt_deg"].as_f64().unwrap();
    assert!(picture.contains(&format!("tilt {tilt}°")), "{tilt}");
}

/// By how much to raise which end stands in the table and the data, not in the drawing alone.
#[test]
fn the_table_says_what_to_put_under_which_end() {
    let folder = tempfile::tempdir().unwrap();
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let path = folder.path().join("feet.toml");
    let feet = machine.replacen("[rotary]", "[rotary]\nsupport_span = 180", 1);
    std::fs::write(&path, feet).unwrap();
    let files = ["level", "-b", &blank("cup"), "-m", path.to_str().unwrap()];
    // 180 mm at 6.5 degrees: 180 sin 6.5° = 20.377.
    let table = run(&files, b"").done();
    let row = "raise the end with the smaller `at` by 20.4 mm between the rotary's feet";
    assert!(table.out_text().contains(row), "{}", table.out_text());
    let data = run(&[&files[..], &["--json"]].concat(), b"").done();
    let data: serde_json::Value = serde_json::from_str(data.out_text()).unwrap();
    assert!((data["raise_mm"].as_f64().unwrap() - 20.377).abs() < 1e-3, "{data}");
}

#[test]
fn the_flat_patterns_print_true() {
    let out = run(&["template", "--paper", "-b", &blank("bottle")], b"").done();
    let svg = out.out_text();
    let stations = std::fs::read_to_string(blank("bottle")).unwrap().matches("[[station]]").count();
    assert_eq!(svg.matches("class=\"pattern\"").count(), stations - 1);
    // Bar of 50 mm in a document whose user unit is the mm.
    let (width, height) = size(svg);
    assert!(svg.contains(&format!("viewBox=\"0 0 {width} {height}\"")), "{width} {height}");
    let bar = svg.lines().find(|line| line.contains("id=\"bar\"")).unwrap();
    let ends: Vec<f64> = bar
        .split(['M', 'L'])
        .skip(1)
        .map(|at| at.split(' ').next().unwrap().parse().unwrap())
        .collect();
    assert!((ends.last().unwrap() - ends.first().unwrap() - 50.0).abs() < 1e-9, "{bar}");
    // The same on sheets: as many files, each of the sheet's size.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pattern.svg");
    let (blank, first) = (blank("bottle"), path.to_str().unwrap());
    let files = ["template", "--paper", "-b", &blank];
    assert_eq!(run(&[&files[..], &["--sheet", "letter"]].concat(), b"").status, Some(2));
    run(&[&files[..], &["--sheet", "letter", "-o", first]].concat(), b"").done();
    let count = std::fs::read_dir(folder.path()).unwrap().count();
    assert!(count > 1 && folder.path().join(format!("pattern-{count}.svg")).exists(), "{count}");
    for sheet in std::fs::read_dir(folder.path()).unwrap() {
        let sheet = std::fs::read_to_string(sheet.unwrap().path()).unwrap();
        assert_eq!(size(&sheet), (215.9, 279.4));
    }
}

#[test]
fn the_page_shows_where_the_lens_is_sharp_and_keeps_its_bar_off_the_zones() {
    let machine = fixture("machines/degrees.toml");
    let plain = run(&["template", "-b", &blank("bottle")], b"").done();
    assert!(!plain.out_text().contains("class=\"sharp\""));
    let files = ["template", "-b", &blank("bottle"), "-m", machine.to_str().unwrap()];
    let page = run(&[&files[..], &["--tilt", "-2"]].concat(), b"").done();
    assert!(page.out_text().contains("class=\"sharp\""), "a strip along either edge");
    assert_eq!(size(plain.out_text()), size(page.out_text()));
    // The maker's mark of the bottle lies low on the left; the bar makes way.
    let bar = plain.out_text().lines().find(|line| line.contains("scale-bar\"")).unwrap();
    let x: f64 = bar.split('M').nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    assert!(x > 60.0, "{bar}");
}

/// The stretches of the page in blue, on its one edge, and what it says of the focus.
fn blue(more: &[&str], blank: &Path) -> (Vec<(f64, f64)>, String) {
    let machine = fixture("machines/degrees.toml");
    let files = ["template", "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let page = run(&[&files[..], more].concat(), b"").done();
    let strips = page.out_text().lines().filter(|line| line.contains("class=\"sharp\""));
    let along = |line: &str| {
        let way = line.split("d=\"").nth(1).unwrap().split('"').next().unwrap();
        let points = way.split(['M', 'L', 'Z']).filter(|point| !point.trim().is_empty());
        let x = points.map(|point| point.trim().split(' ').next().unwrap().parse().unwrap());
        let x: Vec<f64> = x.collect();
        (x.iter().copied().fold(f64::INFINITY, f64::min), x.iter().copied().fold(0.0, f64::max))
    };
    let words = page.out_text().lines().map(|line| line.rsplit_once("</text>").unwrap_or_default());
    let words: Vec<&str> = words.filter_map(|(line, _)| Some(line.rsplit_once('>')?.1)).collect();
    (strips.step_by(2).map(along).collect(), words.join(" "))
}

/// Two cylinders with a step between them: no focus holds both, and the middle of all of it holds
/// neither. The page shows the longer, which `level` finds.
#[test]
fn the_page_is_focused_as_level_would() {
    let folder = tempfile::tempdir().unwrap();
    let ware = folder.path().join("ware.toml");
    let stations = [(0, 60), (50, 60), (54, 76), (120, 76)];
    let stations: String = stations
        .map(|(at, across)| format!("[[station]]\nat = {at}\ndiameter = {across}\n"))
        .concat();
    std::fs::write(&ware, stations).unwrap();
    let machine = fixture("machines/degrees.toml");
    let files = ["level", "-b", ware.to_str().unwrap(), "-m", machine.to_str().unwrap(), "--json"];
    let level = run(&files, b"").done();
    let level: serde_json::Value = serde_json::from_str(level.out_text()).unwrap();
    let part = &level["lenses"][0]["longest_sharp"];
    assert_eq!(part["tilt_deg"], 0.0);
    let (found, words) = blue(&["--stands", "lying"], &ware);
    let [(from, to)] = found[..] else { panic!("{found:?}") };
    // The meridian of the step is √(4² + 8²) long.
    let s = |at: f64| {
        let step = 80_f64.sqrt();
        if at < 54.0 { 50.0 + (at - 50.0) / 4.0 * step } else { 50.0 + step + at - 54.0 }
    };
    assert!((from - s(part["from"].as_f64().unwrap())).abs() < 0.26, "{from}");
    assert!((to - s(120.0)).abs() < 1e-3, "{to}");
    let focus = part["focus_at"].as_f64().unwrap();
    let said = format!("light blue: in focus at tilt 0°, focused at {focus:.1} mm");
    assert!(words.contains(&said), "{said}: {words}");
    // Where the job says it.
    let (found, words) = blue(&["--stands", "lying", "--focus-at", "20"], &ware);
    assert!(found.len() == 1 && found[0].0 < 1e-6 && found[0].1 < 52.0, "{found:?}");
    assert!(words.contains("focused at 20 mm"), "{words}");
}

#[test]
fn a_smooth_wall_has_no_flat_pattern() {
    let outcome = run(&["template", "--paper", "-b", &blank("ornament")], b"");
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("curved both ways") && outcome.out.is_empty(), "{}", outcome.err);
}

#[test]
fn the_page_takes_a_title_with_fields() {
    let can = blank("can");
    let page = |rest: &[&str]| run(&[&["template", "-b", &can], rest].concat(), b"");
    let titled = page(&["--title", "{name}, {year}", "--set", "name=A <b>", "--set", "year=2027"]);
    let titled = String::from_utf8(titled.done().out).unwrap();
    assert!(titled.contains("<title>A &lt;b&gt;, 2027: page to draw on</title>"), "{titled}");
    // Without values braces are braces.
    let plain = String::from_utf8(page(&["--title", "{name}"]).done().out).unwrap();
    assert!(plain.contains("<title>{name}: page"));
    for bad in [&["--set", "name=A"][..], &["--title", "{a}", "--set", "b=1", "--set", "a=2"]] {
        let refused = page(bad);
        assert_eq!(refused.status, Some(2), "{}", refused.err);
        assert!(refused.err.contains("only --title has fields"), "{}", refused.err);
    }
}
