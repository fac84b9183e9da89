//! Clip paths by a shape of CSS.

use kurbo::Rect;
use stave_parse::svg::{Drawing, Fonts, NoticeKind, read_svg};

fn read(inside: &str) -> Drawing {
    let document = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='50mm' viewBox='0 0 100 \
         50'>{inside}</svg>"
    );
    read_svg(document.as_bytes(), &Fonts::None).unwrap()
}

fn seen(drawing: &Drawing) -> Rect {
    drawing.art.bounds().unwrap()
}

fn close(a: Rect, b: (f64, f64, f64, f64)) {
    let off = [a.x0 - b.0, a.y0 - b.1, a.x1 - b.2, a.y1 - b.3];
    assert!(off.iter().all(|d| d.abs() < 1e-3), "{a:?} for {b:?}");
}

/// CSS Masking Level 1, section 5.1: the box is the element's with its stroke, lengths are those of
/// its own space, whatever transforms it.
#[test]
fn shapes_confine_elements_groups_and_texts() {
    let of_shape =
        read("<rect x='10' y='10' width='20' height='20' style='clip-path: circle(5px)'/>");
    close(seen(&of_shape), (15.0, 15.0, 25.0, 25.0));
    let stroked = read(
        "<rect x='10' y='10' width='20' height='20' stroke='red' stroke-width='4' \
         clip-path='inset(0 50% 0 0)'/>",
    );
    close(seen(&stroked), (10.0, 10.0, 20.0, 30.0));
    let moved = read(
        "<g transform='translate(40 0) scale(2)'><rect width='20' height='20' \
         clip-path='polygon(0 0, 10px 0, 0 10px)'/></g>",
    );
    close(seen(&moved), (40.0, 0.0, 60.0, 20.0));
    let group = read(
        "<style>.cut{clip-path:inset(0 0 0 50%)}</style><g class='cut'><rect width='10' \
         height='10'/><rect x='30' width='10' height='10'/></g>",
    );
    close(seen(&group), (30.0, 0.0, 40.0, 10.0));
    for drawing in [of_shape, stroked, moved, group] {
        assert_eq!(drawing.notices, []);
    }
}

#[test]
fn one_that_is_not_understood_is_named() {
    let drawing = read("<rect id='r' width='9' height='9' clip-path='circle(calc(50% - 1px))'/>");
    assert_eq!(drawing.notices.len(), 1, "{:?}", drawing.notices);
    assert_eq!(drawing.notices[0].kind, NoticeKind::Clip);
    assert!(drawing.notices[0].message.contains("calc"), "{:?}", drawing.notices);
}

#[test]
fn a_drawing_of_what_nobody_uses_says_so() {
    for (inside, named) in [
        ("<symbol id='oar'><path d='M0 0h9v9z'/></symbol>", "<use href=\"#oar\"/>"),
        ("<defs><g id='both'><path id='one' d='M0 0h9v9z'/></g></defs>", "<use href=\"#both\"/>"),
        ("<defs><path d='M0 0h9v9z'/></defs>", "give it an id"),
    ] {
        let drawing = read(inside);
        let kinds: Vec<NoticeKind> = drawing.notices.iter().map(|notice| notice.kind).collect();
        assert_eq!(kinds, [NoticeKind::Unused], "{inside}");
        assert!(drawing.notices[0].message.contains(named), "{:?}", drawing.notices);
    }
    let used = read("<symbol id='oar'><path d='M0 0h9v9z'/></symbol><use href='#oar'/>");
    assert_eq!(used.notices, []);
    let shown = read("<defs><path d='M0 0h9v9z'/></defs><path d='M0 0h9v9z'/>");
    assert_eq!(shown.notices, []);
}

#[test]
fn the_drawing_itself_can_be_picked_by_its_id() {
    let document = "<svg xmlns='http://www.w3.org/2000/svg' id='all' width='9mm' height='9mm'>\
                    <path d='M0 0h9v9z'/><g id='part'><path d='M1 1h9v9z'/></g></svg>";
    let art = read_svg(document.as_bytes(), &Fonts::None).unwrap().art;
    assert_eq!(art.ids_of_element(0).collect::<Vec<_>>(), ["all"]);
    assert_eq!(art.ids_of_element(1).collect::<Vec<_>>(), ["part", "all"]);
    // No piece is called after it.
    assert!(art.pieces(&[]).pieces.iter().all(|piece| piece.id != "all"));
}
