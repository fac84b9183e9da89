//! `stave level -o` and `stave template --paper`: pictures in mm that print true.

use crate::command::{fixture, run};

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
