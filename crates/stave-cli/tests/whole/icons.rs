//! Drawings from the world: icons of a free package, as they come.

use std::f64::consts::TAU;

use kurbo::{BezPath, ParamCurveArclen};

use crate::command::{fixture, run};

/// What a path measures, mm.
fn length(path: &BezPath) -> f64 {
    path.segments().map(|segment| segment.arclen(1e-6)).sum()
}

fn drawn(icon: &str, blank: &str, more: &[&str]) -> Vec<BezPath> {
    let (art, blank) =
        (format!("fixtures/icons/{icon}.svg"), format!("fixtures/blanks/{blank}.toml"));
    let machine = "fixtures/machines/degrees.toml";
    let out = run(
        &[&["wrap", &art, "-b", &blank, "-m", machine, "--to", "svg", "-q"][..], more].concat(),
        b"",
    )
    .done();
    let document = roxmltree::Document::parse(out.out_text()).unwrap();
    let paths = document
        .descendants()
        .filter(|n| n.tag_name().name() == "path" && n.has_attribute("stroke"));
    paths.map(|n| BezPath::from_svg(n.attribute("d").unwrap()).unwrap()).collect()
}

#[test]
fn every_icon_goes_on_every_blank_under_every_lay() {
    for entry in std::fs::read_dir(fixture("icons")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|end| end != "svg") {
            continue;
        }
        let icon = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let source = std::fs::read_to_string(&path).unwrap();
        let source = roxmltree::Document::parse(&source).unwrap();
        let shapes = source.root_element().children().filter(roxmltree::Node::is_element).count();
        for (blank, at) in
            [("can", "40"), ("cup", "50"), ("bottle", "95"), ("ornament", "0"), ("tumbler", "80")]
        {
            for lay in ["even-angle", "true-width", "true-shape", "label"] {
                let paths = drawn(&icon, blank, &["--lay", lay, "--place-at", at]);
                assert_eq!(paths.len(), shapes, "{icon} on {blank} by {lay}");
                assert!(paths.iter().all(|path| length(path) > 0.01), "{icon} on {blank} by {lay}");
            }
        }
    }
}

/// 24 px are 6.35 mm: a ring of 10 px and one of 4, and five lines between them.
#[test]
fn on_a_tin_an_icon_keeps_its_lengths() {
    let px = 25.4 / 96.0;
    let ends = [
        (4.93, 4.93, 9.17, 9.17),
        (14.83, 14.83, 19.07, 19.07),
        (14.83, 9.17, 19.07, 4.93),
        (14.83, 9.17, 18.36, 5.64),
        (4.93, 19.07, 9.17, 14.83),
    ];
    let lines = ends.map(|(x0, y0, x1, y1): (f64, f64, f64, f64)| (x1 - x0).hypot(y1 - y0));
    let exact = [TAU * 10.0, TAU * 4.0].into_iter().chain(lines).map(|length| length * px);
    let paths = drawn("life-buoy", "can", &[]);
    assert_eq!(paths.len(), 7);
    for (path, exact) in paths.iter().zip(exact) {
        assert!(
            (length(path) - exact).abs() < 0.001 + 3e-4 * exact,
            "{} for {exact}",
            length(path)
        );
    }
}
