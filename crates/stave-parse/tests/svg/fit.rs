//! Texts that are made to fit a box, in a font whose ink is known: capitals I, L and T of 1000
//! units to the em, 500 wide, boxes of 100 by 700 at 0, 200 and 400.

use kurbo::{PathEl, Rect};
use stave_parse::svg::{Drawing, Fonts, NoticeKind, SvgError, read_svg};

use proptest::prelude::*;
use stave_tests::cases;

use crate::fonts::{plank, plank_with_points};

fn document(inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='50mm' viewBox='0 0 100 50' \
         overflow='visible'>{inside}</svg>"
    )
}

fn read(inside: &str) -> Drawing {
    read_svg(document(inside).as_bytes(), &Fonts::from_files([plank()])).unwrap()
}

/// A text at (50, 30) with a font size of 10 mm.
fn text(attributes: &str, words: &str) -> Drawing {
    read(&format!(
        "<text id='t' x='50' y='30' font-family='Plank' font-size='10' {attributes}>{words}</text>"
    ))
}

fn ink(drawing: &Drawing) -> Rect {
    drawing.art.bounds().expect("something is drawn")
}

fn close(a: Rect, b: (f64, f64, f64, f64)) {
    let off = [a.x0 - b.0, a.y0 - b.1, a.x1 - b.2, a.y1 - b.3];
    assert!(off.iter().all(|d| d.abs() < 1e-3), "{a:?} for {b:?}");
}

#[test]
fn a_text_shrinks_to_its_box_and_no_further() {
    // Four letters, the ink 16 wide: from 0 to 5 + 5 + 5 + 1.
    close(ink(&text("", "IIII")), (50.0, 23.0, 66.0, 30.0));
    close(ink(&text("data-fit='shrink' data-width='20'", "IIII")), (50.0, 23.0, 66.0, 30.0));
    close(ink(&text("data-fit='shrink' data-width='8'", "IIII")), (50.0, 26.5, 58.0, 30.0));
    close(ink(&text("data-fit='shrink' data-height='3.5'", "IIII")), (50.0, 26.5, 58.0, 30.0));
    // The box lies as the anchor says: 25 wide of advance 20, moved to the middle or to its end.
    let middle = "text-anchor='middle' data-fit='shrink' data-width='8'";
    let found = ink(&text(middle, "IIII"));
    assert!(found.x0 >= 46.0 - 1e-3 && found.x1 <= 54.0 + 1e-3, "{found:?}");
    assert!((found.width() - 8.0).abs() < 1e-3, "{found:?}");
    let end = ink(&text("text-anchor='end' data-fit='shrink' data-width='8'", "IIII"));
    close(end, (42.0, 26.5, 50.0, 30.0));
}

#[test]
fn a_text_fills_its_width() {
    close(ink(&text("data-fit='width' data-width='32'", "IIII")), (50.0, 16.0, 82.0, 30.0));
    close(ink(&text("data-fit='width' data-width='8'", "IIII")), (50.0, 26.5, 58.0, 30.0));
    // The height bounds it too.
    let bounded = ink(&text("data-fit='width' data-width='32' data-height='10.5'", "IIII"));
    close(bounded, (50.0, 19.5, 74.0, 30.0));
    // What T leaves free on its left is no ink: it starts at 400 of 500.
    close(ink(&text("data-fit='width' data-width='10'", "TT")), (50.0, 18.333, 60.0, 30.0));
}

#[test]
fn lengths_are_those_of_the_page() {
    // The same under a transform, and in other units.
    let inside = "<g transform='translate(10 40) scale(2)'><text font-family='Plank' \
                  font-size='10' data-fit='shrink' data-width='0.8cm'>IIII</text></g>";
    close(ink(&read(inside)), (10.0, 36.5, 18.0, 40.0));
    let turned = "<text transform='translate(10 40) rotate(-90)' font-family='Plank' \
                  font-size='10' data-fit='shrink' data-width='8'>IIII</text>";
    close(ink(&read(turned)), (6.5, 32.0, 10.0, 40.0));
}

#[test]
fn the_pen_counts_and_stays_as_it_is() {
    let drawing = text("data-fit='shrink' data-width='8' stroke='red' stroke-width='1'", "IIII");
    let found = ink(&drawing);
    // 8 less a pen of 1: the outlines are 7 wide, and lie half a pen within the box.
    assert!((found.width() - 7.0).abs() < 1e-3 && (found.x0 - 50.5).abs() < 1e-3, "{found:?}");
    let pen = drawing.art.shapes[0].stroke.as_ref().unwrap().width_mm;
    assert!((pen - 1.0).abs() < 1e-6, "{pen}");
}

#[test]
fn past_the_least_size_it_is_too_long() {
    // 16 mm of ink at a font size of 10 mm: 4 mm are a quarter, which is the least by itself.
    let kinds = |drawing: &Drawing| drawing.notices.iter().map(|n| n.kind).collect::<Vec<_>>();
    let fits = text("data-fit='shrink' data-width='4'", "IIII");
    assert_eq!(kinds(&fits), []);
    let long = text("data-fit='shrink' data-width='3.9'", "IIII");
    assert_eq!(kinds(&long), [NoticeKind::TooLong]);
    assert_eq!(
        long.notices[0].message,
        "the text \"IIII\" goes into its box (3.9 mm wide) at a font size of 2.44 mm, and the \
         least is 2.5 mm: shorten it, or give it more room"
    );
    // Never over the edge, though it is told.
    close(ink(&long), (50.0, 28.29375, 53.9, 30.0));
    assert_eq!(
        kinds(&text("data-fit='shrink' data-width='4' data-least='2.6'", "IIII")),
        [NoticeKind::TooLong]
    );
    assert_eq!(kinds(&text("data-fit='width' data-width='1' data-least='0.5'", "IIII")), []);
    // One letter larger than the least may stay as it is drawn.
    assert_eq!(kinds(&text("data-fit='shrink' data-width='9' data-least='20'", "I")), []);
}

/// Words of letters of single lines: an I of the Roman Simplex is one stroke of 21 units on the
/// base line (NBS Special Publication 424), 30 units to the em here, 8 to the next letter and 16
/// for a blank. The lines are those that leave the letters largest.
#[test]
fn a_text_breaks_at_blanks() {
    let wrapped = |attributes: &str, words: &str| -> (Vec<i64>, Rect) {
        let drawing = read(&format!(
            "<text x='50' y='30' font-family='stave-line' font-size='10' data-fit='wrap' \
             {attributes}>{words}</text>"
        ));
        assert_eq!(drawing.notices, [], "{attributes}");
        (bases(&drawing), ink(&drawing))
    };
    // It fits as it is: 32 units between the first stroke and the last of three, 40 to the next.
    let (found, as_it_is) = wrapped("data-width='60'", "III III");
    assert_eq!(found, [30_000]);
    assert!((as_it_is.width() - 56.0 / 3.0).abs() < 1e-3, "{as_it_is:?}");
    // Two lines, 1.2 font sizes from base to base.
    let (found, box_of) = wrapped("data-width='8'", "III III");
    assert_eq!(found, [30_000, 42_000]);
    assert!((box_of.width() - 16.0 / 3.0).abs() < 1e-3 && box_of.x0 >= 50.0, "{box_of:?}");
    // No room below: one small line is larger than two.
    let (found, box_of) = wrapped("data-width='8' data-height='7'", "III III");
    assert_eq!(found, [30_000]);
    assert!((box_of.width() - 8.0).abs() < 1e-3, "{box_of:?}");
    let four = wrapped("data-width='9' data-height='45'", "III I I I I III").0;
    assert_eq!(four, [30_000, 42_000, 54_000, 66_000]);
    // The words stay in their spans, and references among them are what they stand for.
    let nested = read(
        "<text x='10' y='10' font-family='stave-line' font-size='10' data-fit='wrap' \
         data-width='8'><tspan id='s' x='50' y='30'>III &#73;II</tspan></text>",
    );
    assert_eq!((bases(&nested), ink(&nested).x0 >= 50.0), (vec![30_000, 42_000], true));
    assert_eq!(nested.art.elements.len(), 1);
    // A right-to-left text is broken as it is read: the first word stays on the first line.
    let (found, box_of) = wrapped("data-width='8' direction='rtl'", "III II");
    assert_eq!(found, [30_000, 42_000]);
    assert!((box_of.width() - 16.0 / 3.0).abs() < 1e-3, "{box_of:?}");
}

/// A point by itself within a letter draws nothing, and so has no part in how wide a word is.
#[test]
fn lone_points_of_a_font_are_no_ink() {
    let inside = "<text x='50' y='20' font-family='Plank' font-size='10' data-fit='wrap' \
                  data-width='6' data-height='40'>I I I</text>";
    let of = |font: Vec<u8>| {
        let fonts = Fonts::from_files([font]);
        ink(&read_svg(document(inside).as_bytes(), &fonts).unwrap())
    };
    let found = of(plank_with_points());
    assert_eq!(found, of(plank()));
    assert!((found.height() - 31.0).abs() < 1e-3, "three lines: {found:?}");
}

/// The ink of a line of single strokes at a font size of 10 mm.
fn line_ink(words: &[String]) -> Rect {
    let attributes = "x='50' y='30' font-family='stave-line' font-size='10'";
    ink(&read(&format!("<text {attributes}>{}</text>", words.join(" "))))
}

proptest! {
    #![proptest_config(cases(12))]

    /// No other way to break a text at its blanks leaves its letters larger. They are capitals
    /// whose strokes stand on the base line, 21 of the 30 units to the em high; every word begins
    /// and ends with the same one, so that lines lie flush.
    #[test]
    fn lines_leave_the_letters_as_large_as_can_be(
        words in prop::collection::vec("I([LMNV]{0,5}I)?", 2..=8),
        width in 5.0_f64..60.0,
        height in 5.0_f64..90.0,
    ) {
        let count = words.len();
        let mut widths = vec![vec![0.0; count + 1]; count];
        for start in 0..count {
            for end in start + 1..=count {
                widths[start][end] = line_ink(&words[start..end]).width();
            }
        }
        let high = |lines: usize| 7.0 + 12.0 * (lines as f64 - 1.0);
        let scale_of = |breaks: u32| {
            let ends = (1..=count).filter(|end| *end == count || breaks >> (end - 1) & 1 == 1);
            let (mut start, mut widest, mut lines) = (0, 0.0_f64, 0);
            for end in ends {
                widest = widest.max(widths[start][end]);
                (start, lines) = (end, lines + 1);
            }
            (width / widest).min(height / high(lines))
        };
        let best = (0_u32..1 << (count - 1)).map(scale_of).fold(0.0, f64::max);
        for size in [10.0, 25.0] {
            let drawing = read(&format!(
                "<text x='50' y='30' font-family='stave-line' font-size='{size}' data-fit='wrap' \
                 data-width='{width}' data-height='{height}' data-least='0.01'>{}</text>",
                words.join(" ")
            ));
            let found = ink(&drawing);
            prop_assert!(found.width() <= width + 1e-3 && found.height() <= height + 1e-3);
            // As large as it could be, unless it is as large as it is drawn.
            let lines = bases(&drawing).chunk_by(|base, next| next - base < 50).count();
            let scale = found.height() / high(lines);
            let most = best.min(size / 10.0);
            prop_assert!(scale >= most - 1e-3, "{scale} {most} in {lines} lines: {words:?}");
        }
    }
}

/// The base lines of strokes that stand on them, in thousandths of a mm.
fn bases(drawing: &Drawing) -> Vec<i64> {
    let mut bases: Vec<i64> = Vec::new();
    for shape in &drawing.art.shapes {
        for stroke in shape.path.elements().chunk_by(|_, next| !matches!(next, PathEl::MoveTo(_))) {
            let low = stroke.iter().filter_map(PathEl::end_point).map(|p| p.y).fold(0.0, f64::max);
            #[expect(clippy::cast_possible_truncation, reason = "a place on the page")]
            bases.push((low * 1000.0).round() as i64);
        }
    }
    bases.sort_unstable();
    bases.dedup();
    bases
}

#[test]
fn settings_that_cannot_be_meant() {
    let told = |inside: &str| match read_svg(document(inside).as_bytes(), &Fonts::None) {
        Err(SvgError::Value { message, .. }) => message,
        other => panic!("{inside}: {other:?}"),
    };
    assert!(told("<text id='t' data-fit='shrnk'>I</text>").contains("must be one of \"width\""));
    assert!(told("<text data-fit='width'>I</text>").contains("needs `data-width`"));
    assert!(told("<text data-fit='wrap' data-width='-3'>I</text>").contains("more than 0"));
    assert!(told("<text data-fit='shrink' data-width='1em'>I</text>").contains("more than 0"));
    assert!(told("<rect data-fit='shrink' data-width='1'/>").contains("is for a <text>"));
    assert!(
        told("<text data-fit='wrap' data-width='9'>I <tspan>I</tspan></text>")
            .contains("several parts")
    );
    let path = "<path id='p' d='M0 0H9'/><text data-fit='shrink' data-width='9'><textPath \
                href='#p'>I</textPath></text>";
    assert!(told(path).contains("not on a path"));
}
