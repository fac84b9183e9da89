//! Texts, in a font built here so that no machine's own fonts matter.

use kurbo::{Rect, Shape as _};
use stave_parse::svg::{Drawing, FontSet, Fonts, NoticeKind, read_svg};

/// A TrueType font (OpenType specification 1.9) named "Plank": letters `I`, `L` and `T` of 1000
/// units to the em, 500 wide, whose glyphs are a box of 100 by 700 at 0, 200 and 400.
pub(crate) fn plank() -> Vec<u8> {
    planks(&[])
}

/// The same with a point by itself in each letter, as fonts that are much used have it in some: a
/// contour that draws nothing.
pub(crate) fn plank_with_points() -> Vec<u8> {
    planks(&[300])
}

/// The font, its letters with points by themselves at these heights.
fn planks(points: &[i16]) -> Vec<u8> {
    let letters = [('I', 0_i16), ('L', 200), ('T', 400)];
    // A glyph: one contour of four points, flags for on-curve points with 16-bit steps; and the
    // points by themselves.
    let glyph = |left: i16| -> Vec<u8> {
        let contours = 1 + i16::try_from(points.len()).unwrap();
        let mut out = be(&[contours, left, 0, left + 100, 700]);
        out.extend((3..3 + contours).flat_map(i16::to_be_bytes));
        out.extend(be(&[0]));
        out.extend(vec![1_u8; 4 + points.len()]);
        out.extend(be(&[left, 0, 100, 0]));
        out.extend(be(&vec![0; points.len()]));
        out.extend(be(&[0, 700, 0, -700]));
        out.extend(be(points));
        out
    };
    let mut glyf = Vec::new();
    let mut loca = vec![0_u8; 4];
    for (_, left) in [('\0', 0)].into_iter().chain(letters) {
        glyf.extend(glyph(left));
        while glyf.len() % 4 != 0 {
            glyf.push(0);
        }
        loca.extend(u32::try_from(glyf.len()).unwrap().to_be_bytes());
    }
    let glyphs = 4_i16;
    // cmap: one format 12 table, platform 3 encoding 10.
    let mut cmap = be(&[0, 1, 3, 10, 0, 12]);
    cmap.extend(be(&[12, 0, 0, 16 + 12 * 3, 0, 0, 0, 3]));
    for (i, (letter, _)) in letters.iter().enumerate() {
        for word in [*letter as u32, *letter as u32, u32::try_from(i).unwrap() + 1] {
            cmap.extend(word.to_be_bytes());
        }
    }
    let mut head = be(&[1, 0, 1, 0, 0, 0, 0x5F0F, 0x3CF5, 0, 1000]);
    head.extend([0; 16]);
    head.extend(be(&[0, 0, 500, 700, 0, 8, 2, 1, 0]));
    let hhea = be(&[1, 0, 800, -200, 0, 500, 0, 0, 500, 1, 0, 0, 0, 0, 0, 0, 0, glyphs]);
    let maxp = be(&[1, 0, glyphs, 4, 1, 0, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0]);
    let hmtx: Vec<u8> = [0, 0, 200, 400].iter().flat_map(|&left| be(&[500, left])).collect();
    let mut os2 = be(&[4, 500, 400, 5, 0]);
    os2.extend([0; 58]);
    os2.extend(be(&[0x40, 0x49, 0x54, 800, -200, 0, 800, 200]));
    os2.extend([0; 18]);
    let post = [be(&[3, 0]), vec![0; 28]].concat();
    // name: family, style and PostScript name, Windows Unicode English.
    let names = [(1, "Plank"), (2, "Regular"), (4, "Plank"), (6, "Plank")];
    let mut name = be(&[0, 4, 6 + 12 * 4]);
    let mut strings = Vec::new();
    for (id, text) in names {
        let utf16: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let (length, offset) =
            (i16::try_from(utf16.len()).unwrap(), i16::try_from(strings.len()).unwrap());
        name.extend(be(&[3, 1, 0x409, id, length, offset]));
        strings.extend(utf16);
    }
    name.extend(strings);
    let tables: [(&[u8; 4], Vec<u8>); 10] = [
        (b"OS/2", os2),
        (b"cmap", cmap),
        (b"glyf", glyf),
        (b"head", head),
        (b"hhea", hhea),
        (b"hmtx", hmtx),
        (b"loca", loca),
        (b"maxp", maxp),
        (b"name", name),
        (b"post", post),
    ];
    let mut font = be(&[1, 0, 10, 128, 3, 32]);
    let mut body = Vec::new();
    for (tag, table) in &tables {
        let offset = u32::try_from(12 + 16 * tables.len() + body.len()).unwrap();
        font.extend(*tag);
        font.extend(0_u32.to_be_bytes());
        font.extend(offset.to_be_bytes());
        font.extend(u32::try_from(table.len()).unwrap().to_be_bytes());
        body.extend(table);
        while body.len() % 4 != 0 {
            body.push(0);
        }
    }
    font.extend(body);
    font
}

fn be(words: &[i16]) -> Vec<u8> {
    words.iter().flat_map(|w| w.to_be_bytes()).collect()
}

fn read(inside: &str, fonts: &Fonts) -> Drawing {
    let document = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='50mm' viewBox='0 0 100 \
         50'>{inside}</svg>"
    );
    read_svg(document.as_bytes(), fonts).unwrap()
}

fn boxes(drawing: &Drawing) -> Vec<Rect> {
    drawing.art.shapes.iter().map(|s| s.path.bounding_box()).collect()
}

fn close(a: Rect, b: (f64, f64, f64, f64)) {
    let off = [a.x0 - b.0, a.y0 - b.1, a.x1 - b.2, a.y1 - b.3];
    assert!(off.iter().all(|d| d.abs() < 1e-3), "{a:?} for {b:?}");
}

/// CSS Text Decoration Level 3, 2.1: lines under, over and through a text go with it, as wide as it
/// is, wherever its page and its groups take it.
#[test]
fn decoration_goes_with_its_text() {
    let fonts = Fonts::from_files([plank()]);
    let text = |style: &str| {
        format!(
            "<g transform='translate(5 2) scale(2)'><text x='10' y='10' font-family='Plank' \
             font-size='10' {style}>IT</text></g>"
        )
    };
    let lines = [("underline", 1), ("line-through", 1), ("overline underline", 2)];
    for (line, count) in lines {
        for style in
            [format!("text-decoration='{line}'"), format!("style='text-decoration:{line}'")]
        {
            let found = boxes(&read(&text(&style), &fonts));
            // Two letters of 5 units each, from 25 to 45 mm; their foot at 22 mm.
            let across = found.iter().filter(|one| (one.width() - 20.0).abs() < 1e-3);
            let across: Vec<_> = across.filter(|one| one.height() < 3.0).collect();
            assert_eq!(across.len(), count, "{style}: {found:?}");
            for one in across {
                assert!((one.x0 - 25.0).abs() < 1e-3, "{style}: {one:?}");
                assert!(one.y0 > 22.0 - 20.0 && one.y1 < 22.0 + 6.0, "{style}: {one:?}");
            }
        }
    }
}

#[test]
fn texts_become_outlines() {
    let fonts = Fonts::from_files([plank()]);
    let drawing = read(
        "<text id='word' x='10' y='30' font-family='Plank' font-size='20' fill='navy'>IT<tspan \
         fill='red'>L</tspan></text>",
        &fonts,
    );
    // Advances of 10; boxes 2 wide and 14 high at 0, 4 and 8 of their cells.
    let found = boxes(&drawing);
    assert_eq!(found.len(), 2, "{found:?}");
    close(found[0], (10.0, 16.0, 30.0, 30.0));
    close(found[1], (34.0, 16.0, 36.0, 30.0));
    assert!((drawing.art.shapes[0].path.area().abs() - 2.0 * 28.0).abs() < 1e-3);
    let colours: Vec<_> =
        drawing.art.shapes.iter().map(|s| s.fill.unwrap().colour.to_string()).collect();
    assert_eq!(colours, ["#000080", "#ff0000"]);
    // One element, one piece.
    assert_eq!(drawing.art.elements.len(), 1);
    assert_eq!(drawing.art.pieces(&[]).pieces[0].id, "word");
    assert_eq!(drawing.notices, []);
}

#[test]
fn texts_in_uses_and_clip_paths() {
    let fonts = Fonts::from_files([plank()]);
    let drawing = read(
        "<defs><text id='i' font-family='Plank' font-size='10'>I</text>
         <clipPath id='c'><text x='50' y='20' font-family='Plank' font-size='10'>T</text>
         </clipPath></defs><use id='here' href='#i' x='20' y='20'/>
         <rect id='cut' width='100' height='50' clip-path='url(#c)'/>",
        &fonts,
    );
    let found: Vec<Rect> = drawing.art.bounds_of_shapes().into_iter().flatten().collect();
    close(found[0], (20.0, 13.0, 21.0, 20.0));
    close(found[1], (54.0, 13.0, 55.0, 20.0));
    assert_eq!(drawing.art.elements[0].ids, ["here", "i"]);
}

/// A text begins where it says, whatever of it is not shown, and ends with its path.
#[test]
fn parts_that_are_not_shown_move_nothing_and_letters_off_a_path_are_told() {
    let fonts = Fonts::from_files([plank()]);
    let drawing = read(
        "<text x='40' y='30' font-family='Plank' font-size='20'><tspan display='none'>T</tspan>I\
         </text>",
        &fonts,
    );
    close(boxes(&drawing)[0], (40.0, 16.0, 42.0, 30.0));
    let by_rule = read(
        "<style>.no { display: none }</style><text x='40' y='30' font-family='Plank' \
         font-size='20'><tspan class='no'>T</tspan>I</text>",
        &fonts,
    );
    assert_eq!(boxes(&by_rule), boxes(&drawing));
    let along = |length: u32| {
        read(
            &format!(
                "<path id='way' d='M10 30h{length}' fill='none'/><text font-family='Plank' \
                 font-size='20'><textPath href='#way'>ITIT</textPath></text>"
            ),
            &fonts,
        )
    };
    let told = |drawing: &Drawing| drawing.notices.iter().map(|n| n.kind).collect::<Vec<_>>();
    assert!(!told(&along(60)).contains(&NoticeKind::OffPage));
    let cut = along(25);
    let lost = cut.notices.iter().find(|n| n.kind == NoticeKind::OffPage).unwrap();
    assert!(lost.message.starts_with("1 of its letters"), "{lost:?}");
    // A path of its own, and a length that is asked of letters along it.
    let text = |path: &str| {
        let span = format!("<textPath {path}>ITIT</textPath>");
        read(&format!("<text font-family='Plank' font-size='20'>{span}</text>"), &fonts)
    };
    let own = text("path='M10 30h60'");
    assert_eq!(boxes(&own), boxes(&along(60))[..]);
    assert_eq!(told(&own), []);
    let stretched = text("path='M10 30h60' textLength='50'");
    assert_eq!(told(&stretched), [NoticeKind::Stroke]);
    // What is asked of a part of a text alone.
    let part = "<text y='30' font-family='Plank'>I<tspan opacity='0'>T</tspan></text>";
    assert_eq!(told(&read(part, &fonts)), [NoticeKind::StyleSheet]);
}

/// A text that a mask knocks out of an area is cut from it, letter by letter.
#[test]
fn a_text_in_a_mask_is_cut_out() {
    let fonts = Fonts::from_files([plank()]);
    let drawing = read(
        "<mask id='m'><rect width='100' height='50' fill='white'/>
         <text x='10' y='30' font-family='Plank' font-size='20'>ITL</text></mask>
         <rect id='plate' width='60' height='40' mask='url(#m)'/>",
        &fonts,
    );
    assert_eq!(drawing.shades.len(), 0, "{:?}", drawing.shades);
    assert_eq!((drawing.art.clips.len(), drawing.art.shapes.len()), (3, 1));
    assert_eq!(drawing.words.len(), 1, "{:?}", drawing.words);
}

#[test]
fn another_font_is_named_and_so_are_characters_without_glyphs() {
    let fonts = Fonts::from_files([plank()]);
    let kinds = |drawing: &Drawing| drawing.notices.iter().map(|n| n.kind).collect::<Vec<_>>();
    let other = read("<text y='30' font-family='Oarlock'>IT</text>", &fonts);
    assert_eq!(kinds(&other), [NoticeKind::Font]);
    assert!(
        other.notices[0]
            .message
            .contains("\"Oarlock\" is not there, and \"Plank\" would stand for it"),
        "{:?}",
        other.notices
    );
    // A family of any kind is what is there, and no news.
    assert_eq!(kinds(&read("<text y='30' font-family='sans-serif'>IT</text>", &fonts)), []);
    let glyph = read("<text y='30' font-family='Plank'>I\u{263a}</text>", &fonts);
    assert_eq!(kinds(&glyph), [NoticeKind::Glyph]);
    let none = read("<text y='30' font-family='Plank'>IT</text>", &Fonts::None);
    assert_eq!(kinds(&none), [NoticeKind::Font]);
    assert!(none.art.shapes.is_empty());
}

/// A text without a size draws nothing, whatever fonts there are.
#[test]
fn a_text_without_a_size_is_told_so() {
    let fonts = Fonts::from_files([plank()]);
    let size = "its font size is 0: nothing to draw";
    let transform = "its transform leaves it no size: nothing to draw";
    for (text, told) in [
        ("<text y='30' font-family='Plank' font-size='0'>IT</text>", size),
        ("<g style='font-size: 0px'><text y='30' font-family='Plank'>IT</text></g>", size),
        ("<text y='30' font-family='Plank'><tspan font-size='0'>IT</tspan></text>", size),
        ("<text y='30' font-family='Plank' transform='scale(0)'>IT</text>", transform),
        ("<g transform='scale(1 0)'><text font-family='Plank'>IT</text></g>", transform),
    ] {
        let drawing = read(text, &fonts);
        let notices: Vec<_> =
            drawing.notices.iter().map(|one| (one.kind, one.message.as_str())).collect();
        assert_eq!(notices, [(NoticeKind::Empty, told)], "{text}");
    }
}

/// A drawing that names what may stand in its font's place has said what it wants.
#[test]
fn a_font_with_a_fallback_is_no_news_and_another_text_is() {
    let fonts = Fonts::from_files([plank()]);
    let drawing = read(
        "<text id='one' y='30' font-family='Oarlock'>IT</text>
         <text id='two' y='30' font-family='Oarlock, sans-serif'>IT</text>
         <text id='three' y='30' font-family='Oarlock, Plank'>IT</text>",
        &fonts,
    );
    let names: Vec<&str> = drawing.notices.iter().map(|n| n.name.as_str()).collect();
    assert_eq!(names, ["one"], "{:?}", drawing.notices);
    // The nearest that are there are named, letters of single lines among them.
    let near = read("<text y='30' font-family='stave-lime'>IT</text>", &fonts);
    assert!(near.notices[0].message.contains("\"stave-line\""), "{:?}", near.notices);
}

#[test]
fn given_fonts_stand_before_installed_ones() {
    let mut set = FontSet::default();
    assert_eq!(set.add(plank()), 1);
    let fonts = Fonts::BeforeInstalled(set);
    let mut drawing = read("<text y='30' font-family='Plank' font-size='20'>I</text>", &fonts);
    // A text that asks for no family is in the first font given.
    drawing.art.shapes.extend(read("<text y='30' font-size='20'>I</text>", &fonts).art.shapes);
    assert_eq!(drawing.notices, []);
    for found in boxes(&drawing) {
        close(found, (0.0, 16.0, 2.0, 30.0));
    }
}

/// Editors write a text as a span within it: whoever picks the span means the text.
#[test]
fn a_span_that_holds_all_of_a_text_picks_it() {
    let fonts = Fonts::from_files([plank()]);
    let ids = |inside: &str| {
        let drawing =
            read(&format!("<text id='word' y='30' font-family='Plank'>{inside}</text>"), &fonts);
        drawing.art.ids_of_element(0).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(
        ids("\n<tspan id='line' x='3'><tspan id='inner'>IT</tspan></tspan>\n"),
        ["word", "line", "inner"]
    );
    assert_eq!(ids("<tspan id='one'>I</tspan><tspan id='two'>T</tspan>"), ["word"]);
    assert_eq!(ids("I<tspan id='rest'>T</tspan>"), ["word"]);
}

/// A size by name is the browsers' (CSS Fonts Level 4, 2.5), wherever it is said, and 16 px are
/// what a text has that says none.
#[test]
fn sizes_of_fonts_by_name() {
    let fonts = Fonts::from_files([plank()]);
    let of = |around: &str, own: &str, sheet: &str| {
        let text = format!("<text class='w' y='40' font-family='Plank' {own}>I</text>");
        let all = format!("<style>{sheet}</style><g font-size='{around}'>{text}</g>");
        let drawing = read(&all, &fonts);
        assert_eq!(drawing.notices, []);
        // A letter is 0.7 em high.
        boxes(&drawing)[0].height() / 0.7
    };
    let near = |found: f64, size: f64| assert!((found - size).abs() < 1e-3, "{found} for {size}");
    let bare = read("<text y='40' font-family='Plank'>I</text>", &fonts);
    near(boxes(&bare)[0].height() / 0.7, 16.0);
    near(of("5", "font-size='x-large'", ""), 24.0);
    near(of("5", "style='font-size: small'", ""), 13.0);
    near(of("5", "", ".w { font-size: medium }"), 16.0);
    near(of("large", "", ""), 18.0);
    let both = "<text y='40' font-family='Plank' \
                style='font-size:small;stroke-width:1Q;stroke:red'>I</text>";
    let both = read(both, &fonts);
    let stroke = both.art.shapes[0].stroke.as_ref().unwrap();
    near(stroke.width_mm, 0.25 * 96.0 / 25.4);
    near(both.art.shapes[0].path.bounding_box().height() / 0.7, 13.0);
    near(of("5", "font-size='larger'", ""), 6.0);
}

#[test]
fn what_fonts_and_browsers_do_not_agree_on_is_told() {
    let fonts = Fonts::from_files([plank()]);
    let told = |text: &str| {
        let drawing = read(&format!("<text y='40' font-family='Plank'>{text}</text>"), &fonts);
        drawing.notices.into_iter().map(|notice| notice.message).collect::<Vec<_>>().join("; ")
    };
    assert!(told("I<tspan baseline-shift='super'>T</tspan>").contains("above or below the line"));
    assert_eq!(told("I<tspan baseline-shift='30%'>T</tspan>"), "");
    assert!(told("I<tspan style='font-variant:small-caps'>T</tspan>").contains("small capitals"));
    assert!(told("<tspan style='font-variant-caps:small-caps'>T</tspan>").contains("-caps"));
}
