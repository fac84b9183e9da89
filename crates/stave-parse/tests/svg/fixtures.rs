//! The drawings of `fixtures/art`.

use kurbo::Shape as _;
use stave_parse::svg::{Drawing, Fonts, NoticeKind, read_svg};
use stave_toolpath::art::Part;

fn read(name: &str) -> Drawing {
    let path = format!("{}/../../fixtures/art/{name}.svg", env!("CARGO_MANIFEST_DIR"));
    read_svg(&std::fs::read(path).unwrap(), &Fonts::None).unwrap()
}

fn pieces(drawing: &Drawing) -> Vec<String> {
    drawing.art.pieces(&[]).pieces.into_iter().map(|p| p.id).collect()
}

#[test]
fn pages_suit_their_blanks() {
    let can = std::f64::consts::PI * 74.0;
    let bottle = std::f64::consts::PI * 88.5;
    let ball = std::f64::consts::PI * 80.0;
    for (name, width_mm) in [
        ("crest", can),
        ("wave-wrap", can),
        ("misfits", can),
        ("course", bottle),
        ("step", bottle),
        ("pennants", bottle),
        ("lifebelt", ball),
    ] {
        assert!((read(name).art.page.width_mm - width_mm).abs() < 1e-4, "{name}");
    }
}

#[test]
fn only_the_misfits_and_the_texts_have_warnings() {
    for name in ["crest", "wave-wrap", "course", "step", "pennants", "lifebelt"] {
        assert_eq!(read(name).notices, [], "{name}");
    }
    assert!(read("menu").notices.iter().all(|n| n.kind == NoticeKind::Font));
    let misfits = read("misfits");
    let shades = misfits.shades.iter().map(|shades| &shades.notice);
    let told: Vec<String> = misfits.notices.iter().chain(shades).map(ToString::to_string).collect();
    insta::assert_snapshot!(told.join("\n"), @r#"
    line 11, photograph: it lies in a file beside the drawing, whose folder is not known: left out; embed the picture
    line 17, missing-boat: it refers to "boat", which is not in the drawing: left out
    line 18, other-file: it refers to another file (boats.svg#eight), which is not opened: left out
    line 19, guides: not displayed (display: none): left out
    line 20, frame: neither filled nor stroked: left out
    line 21, thin: its height is not a length above 0: nothing to draw
    line 22, quarter: the unit Q is read as a quarter of a millimetre
    line 23, broken: its path data breaks off at an error: drawn up to there
    line 24, beyond: it lies off the page, where nothing is to be seen: left out
    line 25, edge: it reaches off the page: cut at the edge
    line 12, sky: a gradient
    line 13, net-bag: a pattern
    line 14, far-bank: a mask of shades lies over it
    line 15, boathouse: a filter lies over it
    line 16, window: it is translucent
    "#);
}

#[test]
fn pieces_are_what_belongs_together() {
    assert_eq!(pieces(&read("crest")), ["crest", "stars"]);
    assert_eq!(pieces(&read("wave-wrap")), ["crests", "swell", "reeds"]);
    assert_eq!(pieces(&read("step")), ["ring-piece", "circle-piece", "square-piece"]);
    assert_eq!(pieces(&read("lifebelt")), ["belt", "stars"]);
    assert_eq!(pieces(&read("pennants")), ["line", "red", "blue"]);
}

/// Every line of the wrap leaves the page where it enters it, at the same slope.
#[test]
fn the_wrap_closes() {
    let drawing = read("wave-wrap");
    let art = &drawing.art;
    let mut seen = 0;
    for shape in art.shapes.iter().filter(|s| s.stroke.is_some()) {
        let segments: Vec<_> = shape.path.segments().collect();
        let (first, last) = (segments.first().unwrap(), segments.last().unwrap());
        let (kurbo::PathSeg::Quad(first), kurbo::PathSeg::Quad(last)) = (first, last) else {
            panic!("no wave")
        };
        assert!(first.p0.x.abs() < 1e-4);
        assert!((last.p2.x - art.page.width_mm).abs() < 1e-4);
        assert!((first.p0.y - last.p2.y).abs() < 1e-4);
        let (enters, leaves) = ((first.p1 - first.p0).normalize(), (last.p2 - last.p1).normalize());
        assert!((enters - leaves).hypot() < 1e-4, "{enters:?} {leaves:?}");
        seen += 1;
    }
    assert_eq!(seen, 2);
}

#[test]
fn the_circle_on_the_step_is_20_mm_wide() {
    let drawing = read("step");
    let circle = drawing
        .art
        .shapes
        .iter()
        .find(|s| drawing.art.elements[s.element].name == "circle")
        .unwrap();
    let bounds = circle.path.bounding_box();
    assert!((bounds.width() - 20.0).abs() < 1e-4 && (bounds.height() - 20.0).abs() < 1e-4);
    assert!((bounds.center().x - drawing.art.page.width_mm / 2.0).abs() < 1e-3);
    assert!((circle.path.area().abs() - std::f64::consts::PI * 100.0).abs() < 1e-3);
}

/// By default white burns nothing: the crest's moon and waves are bare, the rest is areas and
/// lines.
#[test]
fn white_is_bare_by_default() {
    let drawing = read("crest");
    let art = &drawing.art;
    let choice = art.choose_by_default();
    let names = |list: &[stave_toolpath::art::Chosen]| -> Vec<String> {
        list.iter().map(|c| art.elements[art.shapes[c.shape].element].name.clone()).collect()
    };
    assert_eq!(
        names(&choice.operations[0]),
        ["loom", "blade", "loom", "blade", "field", "heron-s-eye", "belt"]
    );
    assert_eq!(names(&choice.operations[1]), ["field", "west-star", "east-star"]);
    assert!(choice.operations[1].iter().all(|c| c.part == Part::StrokeMiddle));
    let left: Vec<_> =
        choice.left_out.iter().map(|l| art.elements[l.element].name.as_str()).collect();
    assert_eq!(left, ["upper-wave", "lower-wave", "moon"]);
}
