//! Letters of single lines: the strokes of the Hershey tables, laid out as any text is.

use kurbo::{PathEl, Shape as _};
use stave_parse::svg::{Drawing, Fonts, NoticeKind, read_svg};
use stave_toolpath::art::{Asked, Part, Pick, Rgb, Work};

fn read(inside: &str) -> Drawing {
    let document = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='50mm' viewBox='0 0 100 \
         50'>{inside}</svg>"
    );
    read_svg(document.as_bytes(), &Fonts::from_files([])).unwrap()
}

fn strokes(drawing: &Drawing) -> usize {
    let paths = drawing.art.shapes.iter().flat_map(|shape| shape.path.elements());
    paths.filter(|el| matches!(el, PathEl::MoveTo(_))).count()
}

/// The box around each stroke.
fn stroke_boxes(elements: &[PathEl]) -> Vec<kurbo::Rect> {
    let mut boxes: Vec<kurbo::Rect> = Vec::new();
    for element in elements {
        match (element, boxes.last_mut()) {
            (PathEl::MoveTo(p), _) => boxes.push(kurbo::Rect::from_points(*p, *p)),
            (PathEl::LineTo(p), Some(last)) => *last = last.union_pt(*p),
            (other, _) => panic!("{other:?}"),
        }
    }
    boxes
}

/// NBS Special Publication 424: the capitals of Roman Simplex are 21 units high, an A is three
/// strokes (two legs 8 units apart from the middle, a bar), a T two.
#[test]
fn a_letter_is_its_strokes() {
    let drawing = read("<text x='10' y='40' font-family='stave-line' font-size='30'>A</text>");
    assert_eq!(drawing.notices, []);
    assert_eq!(strokes(&drawing), 3);
    let shape = &drawing.art.shapes[0];
    let bounds = shape.path.bounding_box();
    // 30 px of 1 mm each: one unit of the tables is 1 mm.
    let off = [bounds.height() - 21.0, bounds.width() - 16.0, bounds.y1 - 40.0];
    assert!(off.iter().all(|d| d.abs() < 1e-4), "{bounds:?}");
    let length = shape.path.perimeter(1e-6);
    let legs = 2.0 * 8_f64.hypot(21.0) + 10.0;
    assert!((length - legs).abs() < 1e-3, "{length} for {legs}");
    assert!(shape.fill.is_none() && shape.stroke.is_some());
    assert_eq!(strokes(&read("<text y='40' font-family='Hershey Simplex'>T</text>")), 2);
}

/// A mark begins 2 units above the letter and is at most 4 high, and its middle is the letter's.
#[test]
fn marks_stand_clear_over_the_middle_of_their_letter() {
    for (letter, parts) in [("\u{c4}", 2), ("\u{d4}", 1), ("\u{dc}", 2), ("\u{17d}", 1)] {
        let drawing = read(&format!(
            "<text x='10' y='40' font-family='stave-line' font-size='30'>{letter}</text>"
        ));
        assert_eq!(drawing.notices, [], "{letter}");
        let strokes: Vec<kurbo::Rect> = (drawing.art.shapes.iter())
            .flat_map(|shape| stroke_boxes(shape.path.elements()))
            .collect();
        // One unit is 1 mm; the letter stands on the line at 40 mm and is 21 high.
        let is_mark = |stroke: &&kurbo::Rect| stroke.y1 < 40.0 - 21.5;
        let around = |of: Vec<&kurbo::Rect>| of.into_iter().copied().reduce(|a, b| a.union(b));
        let (mark, rest): (Vec<_>, Vec<_>) = strokes.iter().partition(is_mark);
        assert_eq!(mark.len(), parts, "{letter}: {strokes:?}");
        let (mark, rest) = (around(mark).unwrap(), around(rest).unwrap());
        assert!((rest.y0 - (40.0 - 21.0)).abs() < 1e-3, "{letter}: {rest:?}");
        assert!((mark.center().x - rest.center().x).abs() <= 0.51, "{letter}: {mark:?} {rest:?}");
        assert!(mark.y1 <= rest.y0 - 2.0 + 1e-3 && mark.y0 >= rest.y0 - 6.0 - 1e-3, "{mark:?}");
    }
}

/// Each stroke once: as long as the same letter of the other text, wherever it stands.
#[test]
fn letters_follow_every_rule_of_texts() {
    let length = |inside: &str| {
        let drawing = read(inside);
        assert_eq!(drawing.notices, [], "{inside}");
        assert!(drawing.art.elements.iter().all(|e| e.is_lettering), "{inside}");
        drawing.art.shapes.iter().map(|s| s.path.perimeter(1e-6)).sum::<f64>()
    };
    let plain = length("<text y='20' font-family='stave-line' font-size='10'>Rowing</text>");
    for inside in [
        "<text x='50' y='20' text-anchor='middle' font-family='stave-line' font-size='10'>Rowing</text>",
        "<text y='20' style='font:10px stave-line'>Ro<tspan dy='3'>wing</tspan></text>",
        "<g transform='rotate(30)'><text y='20' font-family='stave-line' font-size='10' \
         letter-spacing='2'>Rowing</text></g>",
        "<path id='bow' d='M0 40Q50 0 100 40' fill='none'/><text font-family='stave-line' \
         font-size='10'><textPath href='#bow'>Rowing</textPath></text>",
        "<text y='20' font-family='stave-line' font-size='10' fill='none' stroke='red' \
         stroke-width='.3'>Rowing</text>",
    ] {
        let drawing = read(inside);
        let found: f64 = drawing.art.shapes.iter().map(|s| s.path.perimeter(1e-6)).sum();
        assert!((found - plain).abs() < 1e-3 * plain, "{inside}: {found} for {plain}");
    }
    let accents = length(
        "<text x='2' y='20' font-family='stave-line' font-size='6'>Zürich, Łódź, Ångström, Straße</text>",
    );
    assert!(accents > 0.0);
}

#[test]
fn operations_take_letters_by_the_colour_they_are_filled_with() {
    let drawing = read("<text id='t' y='40' font-family='stave-line' fill='#102030'>Row</text>");
    let colour = Rgb::new(0x10, 0x20, 0x30);
    for pick in [Pick::Fill(colour), Pick::Stroke(colour), Pick::Id("t".into())] {
        for (work, part) in [(Work::Line, Part::StrokeMiddle), (Work::Area, Part::StrokeArea)] {
            let choice = drawing.art.choose(&[Asked::new(pick.clone(), work)]);
            let parts: Vec<Part> = choice.operations[0].iter().map(|chosen| chosen.part).collect();
            assert!(!parts.is_empty() && parts.iter().all(|p| *p == part), "{pick:?} {work:?}");
        }
    }
}

#[test]
fn what_the_tables_have_not_is_named_and_never_an_outline() {
    let drawing = read("<text id='t' y='40' font-family='stave-line'>R\u{6f22}</text>");
    let kinds: Vec<NoticeKind> = drawing.notices.iter().map(|notice| notice.kind).collect();
    assert_eq!(kinds, [NoticeKind::Glyph]);
    assert!(drawing.notices[0].message.contains("U+6F22"), "{:?}", drawing.notices);
}

/// A text of nothing but one straight line has no height, or no width.
#[test]
fn a_lone_dash_or_bar_is_a_stroke_as_any_other() {
    for (letter, length) in [("-", 18.0), ("|", 32.0), ("\u{2013}", 18.0)] {
        let drawing =
            read(&format!("<text y='20' font-family='stave-line' font-size='10'>{letter}</text>"));
        assert_eq!(drawing.notices, [], "{letter}");
        let found: f64 = drawing.art.shapes.iter().map(|s| s.path.perimeter(1e-6)).sum();
        // Hershey's dash is 18 of his units long, his bar 32.
        let one = found / length;
        assert!(found > 0.0 && one > 0.1 && one < 1.0, "{letter}: {found}");
    }
}
