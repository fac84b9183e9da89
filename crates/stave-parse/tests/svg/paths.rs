//! Bare path data.

use kurbo::{BezPath, PathEl, Point, Shape as _};
use stave_parse::svg::{path_data, read_path};

use crate::{number, rows, table};

/// SVG 2 editor's draft, chapter Paths: its examples, and cases worked by hand from its grammar and
/// error rules.
#[test]
fn cases_of_the_grammar() {
    let table: serde_json::Value = serde_json::from_str(table!("D_path_cases.json")).unwrap();
    let cases = table["cases"].as_array().unwrap();
    assert!(cases.len() >= 30);
    for case in cases {
        let data = case["d"].as_str().unwrap();
        let (path, error) = path_data(data);
        assert_eq!(error.is_some(), case["error"].as_bool().unwrap(), "{case}");
        let mut drawn = path.elements().iter().copied();
        for segment in case["expected_segments"].as_array().unwrap() {
            let numbers: Vec<f64> =
                segment.as_array().unwrap()[1..].iter().map(|n| n.as_f64().unwrap()).collect();
            let p = |i: usize| Point::new(numbers[i], numbers[i + 1]);
            match segment[0].as_str().unwrap() {
                "M" => assert_eq!(drawn.next(), Some(PathEl::MoveTo(p(0))), "{case}"),
                "L" => assert_eq!(drawn.next(), Some(PathEl::LineTo(p(0))), "{case}"),
                "Q" => assert_eq!(drawn.next(), Some(PathEl::QuadTo(p(0), p(2))), "{case}"),
                "C" => assert_eq!(drawn.next(), Some(PathEl::CurveTo(p(0), p(2), p(4))), "{case}"),
                "Z" => assert_eq!(drawn.next(), Some(PathEl::ClosePath), "{case}"),
                "A" => upper_half_circle(&mut drawn, p(5)),
                other => panic!("{other} in {case}"),
            }
        }
        assert_eq!(drawn.next(), None, "{case}");
    }
}

/// Every arc among the cases is the half circle about (5, 0) whose middle is (5, -5).
fn upper_half_circle(drawn: &mut impl Iterator<Item = PathEl>, end: Point) {
    let mut at = Point::ZERO;
    while at != end {
        let Some(PathEl::CurveTo(a, b, to)) = drawn.next() else { panic!("the arc ends too soon") };
        for t in [0.25, 0.5, 0.75] {
            let p = kurbo::ParamCurve::eval(&kurbo::CubicBez::new(at, a, b, to), t);
            assert!((p.distance(Point::new(5.0, 0.0)) - 5.0).abs() < 1e-6);
            assert!(p.y < 0.0);
        }
        at = to;
    }
}

/// Lengths, areas and boxes by 30-digit quadrature.
#[test]
fn lengths_areas_and_boxes() {
    // Arcs are cubics within 1e-9 of their radius; the table has 12 digits. Areas to that times the
    // length.
    const TOLERANCE: f64 = 1e-6;
    let rows = rows(table!("D_path_metrics.csv"));
    assert!(rows.len() >= 14);
    for row in &rows {
        let (path, error) = path_data(row["d"]);
        assert_eq!(error, None, "{row:?}");
        let within = |tolerance: f64, found: f64, name: &str| {
            let expected = number(row, name);
            assert!(
                (found - expected).abs() < tolerance,
                "{}: {name} {found} for {expected}",
                row["name"]
            );
        };
        let close = |found: f64, name: &str| within(TOLERANCE, found, name);
        close(path.perimeter(1e-9), "length");
        if row["closed"] == "True" {
            within(TOLERANCE * number(row, "length"), path.area(), "signed_area");
        }
        let bounds = path.bounding_box();
        close(bounds.x0, "xmin");
        close(bounds.y0, "ymin");
        close(bounds.x1, "xmax");
        close(bounds.y1, "ymax");
        let art = read_path(row["d"]).unwrap();
        assert!((art.page.width_mm - bounds.width()).abs() < 1e-12);
        assert!(art.bounds().unwrap().origin().to_vec2().hypot() < 1e-9);
    }
}

/// Segments after a closing, and control points that do not carry over it.
#[test]
fn closing_begins_anew() {
    let check = |data: &str, expected: &str| {
        assert_eq!(path_data(data).0, BezPath::from_svg(expected).unwrap());
    };
    check("M1 1h2v2zh5", "M1 1L3 1L3 3Z M1 1L6 1");
    check("M1 1h2v2z z", "M1 1L3 1L3 3Z");
    check("M0 0C1 1 2 1 3 0ZS1 1 2 2", "M0 0C1 1 2 1 3 0Z M0 0C0 0 1 1 2 2");
    check("M2 0Q1 1 0 0 T-2 0 M5 5T6 6", "M2 0Q1 1 0 0 Q-1 -1 -2 0 M5 5Q5 5 6 6");
}
