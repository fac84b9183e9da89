//! Documents: units, viewBox, and what they come to on the page.

use kurbo::Shape as _;
use stave_parse::svg::{Drawing, Fonts, NoticeKind, read_svg};

use crate::{number, rows, table};

const MM_PER_PX: f64 = 25.4 / 96.0;

fn read(document: &str) -> Drawing {
    read_svg(document.as_bytes(), &Fonts::None).unwrap()
}

/// CSS Values and Units Level 3: 2.54 cm, 25.4 mm, 101.6 Q, 72 pt, 6 pc and 96 px to the inch.
#[test]
fn physical_size_is_kept() {
    let table: serde_json::Value = serde_json::from_str(table!("D_units.json")).unwrap();
    let cases = table["cases"].as_array().unwrap();
    assert!(cases.len() >= 10);
    for case in cases {
        let length = case["length"].as_str().unwrap();
        let expected_mm = case["px"].as_f64().unwrap() * MM_PER_PX;
        let drawing = read(&format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='{length}' height='1000' \
             overflow='visible'>\
             <rect width='{length}' height='1'/></svg>"
        ));
        assert!((drawing.art.page.width_mm - expected_mm).abs() < 1e-9, "{length}");
        let drawn = drawing.art.bounds().unwrap().width();
        assert!(
            (drawn - expected_mm).abs() < 1e-6 * expected_mm,
            "{length}: {drawn} for {expected_mm}"
        );
    }
    for (unit, px) in table["px_per_unit"].as_object().unwrap() {
        let document =
            format!("<svg xmlns='http://www.w3.org/2000/svg' width='100{unit}' height='1in'/>");
        let expected_mm = 100.0 * px.as_f64().unwrap() * MM_PER_PX;
        assert!((read(&document).art.page.width_mm - expected_mm).abs() < 1e-9, "{unit}");
    }
}

/// SVG 2, chapter Coordinate Systems, "Computing the equivalent transform of an SVG viewport"; the
/// first two rows are its own example.
#[test]
fn view_boxes_are_fitted() {
    let rows = rows(table!("D_viewbox.csv"));
    assert!(rows.len() >= 8);
    for row in &rows {
        let n = |name| number(row, name);
        let document = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='2000' height='2000' overflow='visible'>\
             <svg x='{}' y='{}' width='{}' height='{}' viewBox='{} {} {} {}' \
             preserveAspectRatio='{} {}' overflow='visible'>\
             <rect x='7' y='11' width='20' height='30'/></svg></svg>",
            row["e_x"],
            row["e_y"],
            row["e_w"],
            row["e_h"],
            row["vb_x"],
            row["vb_y"],
            row["vb_w"],
            row["vb_h"],
            row["align"],
            row["meetOrSlice"],
        );
        let art = read(&document).art;
        let found = art.shapes[0].path.bounding_box().scale_from_origin(1.0 / MM_PER_PX);
        let x = |x: f64| n("translate_x") + n("scale_x") * x;
        let y = |y: f64| n("translate_y") + n("scale_y") * y;
        let expected = kurbo::Rect::new(x(7.0), y(11.0), x(27.0), y(41.0));
        let off = [
            found.x0 - expected.x0,
            found.y0 - expected.y0,
            found.x1 - expected.x1,
            found.y1 - expected.y1,
        ];
        assert!(off.iter().all(|d| d.abs() < 1e-3), "{row:?}: {found:?} for {expected:?}");
    }
}

/// An outermost viewBox of another shape than the page is centred on it.
#[test]
fn the_page_keeps_its_size() {
    let art = read(
        "<svg xmlns='http://www.w3.org/2000/svg' width='210mm' height='99mm' viewBox='0 0 100 100'>\
         <rect width='100' height='100'/></svg>",
    )
    .art;
    assert_eq!((art.page.width_mm, art.page.height_mm), (210.0, 99.0));
    let bounds = art.bounds().unwrap();
    assert!((bounds.x0 - 55.5).abs() < 1e-4 && (bounds.x1 - 154.5).abs() < 1e-4, "{bounds:?}");
    assert!(bounds.y0.abs() < 1e-4 && (bounds.y1 - 99.0).abs() < 1e-4, "{bounds:?}");
}

#[test]
fn a_drawing_without_a_size_says_so() {
    let drawing = read(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 96 48'><rect width='96' \
         height='48'/></svg>",
    );
    assert!((drawing.art.page.width_mm - 25.4).abs() < 1e-5);
    assert_eq!(drawing.notices[0].kind, NoticeKind::Size);
    let bare =
        read("<svg xmlns='http://www.w3.org/2000/svg'><rect x='48' width='48' height='48'/></svg>");
    assert!((bare.art.page.width_mm - 25.4).abs() < 1e-5);
    // A drawing that forgot to say that it is SVG is one.
    assert_eq!(
        read("<svg width='9' height='9'><rect width='9' height='9'/></svg>").art.shapes.len(),
        1
    );
}

/// Circles become four cubics, which stray from the circle by 2.7e-4 of its radius (L. Maisonobe,
/// Drawing an elliptical arc using polylines, quadratic or cubic Bezier curves, 2003).
#[test]
fn circles_stray_as_documented() {
    let art = read(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' viewBox='0 0 100 \
         100'>\
         <circle cx='50' cy='50' r='40'/></svg>",
    )
    .art;
    let path = &art.shapes[0].path;
    let centre = kurbo::Point::new(50.0, 50.0);
    let mut most = 0.0_f64;
    for segment in path.segments() {
        for i in 0..=64 {
            let p = kurbo::ParamCurve::eval(&segment, f64::from(i) / 64.0);
            most = most.max((p.distance(centre) - 40.0).abs());
        }
    }
    assert!(most < 40.0 * 2.75e-4, "{most}");
    assert!(most > 40.0 * 1e-4, "the reader is better than its documentation: {most}");
}

/// Arcs of paths are kept closer than circles: a half circle of 40 mm.
#[test]
fn arcs_stray_less() {
    let art = read(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' viewBox='0 0 1000 \
         1000'>\
         <path d='M100 500A400 400 0 0 1 900 500Z'/></svg>",
    )
    .art;
    let half = std::f64::consts::PI * 40.0 * 40.0 / 2.0;
    assert!((art.shapes[0].path.area() - half).abs() < 1e-3, "{}", art.shapes[0].path.area());
}

/// A stroke whose middle lies off the page is seen as far as it reaches onto it.
#[test]
fn a_stroke_along_the_edge_of_the_page_is_cut_there() {
    let read_at = |y: f64| {
        read(&format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='40mm' viewBox='0 0 60 \
             40'><path id='edge' d='M5 {y}H50' stroke='#000' stroke-width='3'/></svg>"
        ))
    };
    for (y, is_seen) in [(-0.5, true), (41.2, true), (-3.2, false), (44.0, false)] {
        let drawing = read_at(y);
        assert_eq!(drawing.art.shapes.len(), usize::from(is_seen), "{y}: {:?}", drawing.notices);
        let off = drawing.notices.iter().any(|told| told.message.contains("nothing is to be seen"));
        assert_eq!(off, !is_seen, "{y}: {:?}", drawing.notices);
        assert!(drawing.art.shapes.iter().all(|shape| shape.clips.len() == 1));
    }
}
