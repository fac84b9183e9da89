//! Documents made to cost much: each is refused or read, and none takes for ever.

use std::fmt::Write as _;

use stave_parse::svg::{Drawing, Fonts, SvgError, read_svg};
use stave_tests::ends;

/// What is read; what a document of this kind may cost without bounds, it would cost for hours.
fn read(document: &str) -> Result<Drawing, SvgError> {
    let document = document.to_owned();
    ends(move || read_svg(document.as_bytes(), &Fonts::None))
}

fn svg(inside: &str) -> String {
    format!("<svg xmlns='http://www.w3.org/2000/svg' width='100' height='100'>{inside}</svg>")
}

fn is_too_large(result: &Result<Drawing, SvgError>) -> bool {
    matches!(result, Err(SvgError::TooLarge { .. }))
}

#[test]
fn entities_within_entities() {
    let mut dtd = String::from("<!DOCTYPE svg [<!ENTITY e0 '<rect width=\"1\" height=\"1\"/>'>");
    for i in 1..12 {
        write!(dtd, "<!ENTITY e{i} '").unwrap();
        (0..12).for_each(|_| write!(dtd, "&e{};", i - 1).unwrap());
        dtd.push_str("'>");
    }
    let document = format!("{dtd}]>{}", svg("&e11;"));
    assert!(is_too_large(&read(&document)));
    // One that is long and often used is as much.
    let long = format!("<!DOCTYPE svg [<!ENTITY l \"{}\">]>", "boat ".repeat(20_000));
    let often = format!("{long}{}", svg(&format!("<text>{}</text>", "&l;".repeat(5_000))));
    assert!(is_too_large(&read(&often)));
    // Declared before what it is made of, it comes to the same.
    let boats = "boat ".repeat(20_000);
    let backwards = format!(
        "<!DOCTYPE svg [<!ENTITY n '{}'><!ENTITY m \"{}\"><!ENTITY l '{boats}'>]>{}",
        "&m;".repeat(50),
        "&l;".repeat(50),
        svg("<text>&n;</text>")
    );
    assert!(is_too_large(&read(&backwards)));
    // One within itself is no XML.
    let round = "<!DOCTYPE svg [<!ENTITY a '&b;'><!ENTITY b '&a;'>]>".to_owned() + &svg("&a;");
    assert!(matches!(read(&round), Err(SvgError::Xml { .. })));
    // Entities in measure are read.
    let document =
        format!("<!DOCTYPE svg [<!ENTITY r '<rect width=\"9\" height=\"9\"/>'>]>{}", svg("&r;&r;"));
    assert_eq!(read(&document).unwrap().art.shapes.len(), 2);
    // No file is opened for one.
    let outside = format!(
        "<!DOCTYPE svg [<!ENTITY x SYSTEM 'file:///etc/passwd'>]>{}",
        svg("<text>&x;</text>")
    );
    assert!(read(&outside).is_err());
}

#[test]
fn uses_of_uses() {
    let mut defs = String::from("<defs><rect id='u0' width='1' height='1'/>");
    for i in 1..30 {
        write!(defs, "<g id='u{i}'>").unwrap();
        (0..10).for_each(|_| write!(defs, "<use href='#u{}'/>", i - 1).unwrap());
        defs.push_str("</g>");
    }
    assert!(is_too_large(&read(&svg(&format!("{defs}</defs><use href='#u29'/>")))));
}

#[test]
fn circles_of_references() {
    let drawing =
        read(&svg("<g id='a'><rect width='9' height='9'/><use href='#b'/></g><g id='b'><use \
         href='#c'/></g><g id='c'><use href='#a'/></g>
         <use id='me' href='#me'/>
         <linearGradient id='x' href='#y'/><linearGradient id='y' href='#z'/>
         <linearGradient id='z' href='#y'/>
         <rect width='5' height='5' fill='url(#x)'/>"))
        .unwrap();
    assert!(!drawing.art.shapes.is_empty());
    assert!(
        drawing.notices.iter().any(|n| n.message.contains("refers to what holds it")),
        "{:?}",
        drawing.notices
    );
    let clips = "<clipPath id='p' clip-path='url(#q)'><rect width='9' height='9'/></clipPath>
        <clipPath id='q' clip-path='url(#r)'><rect width='9' height='9'/></clipPath>
        <clipPath id='r'><rect width='9' height='9' clip-path='url(#p)'/></clipPath>
        <rect width='9' height='9' clip-path='url(#p)'/>";
    assert!(matches!(read(&svg(clips)), Err(SvgError::Circular { .. })));
    let by_rule = format!(
        "<style>#p{{clip-path:url(#p)}}</style>{}",
        "<clipPath id='p'><rect width='9' height='9'/></clipPath>"
    );
    assert!(matches!(read(&svg(&by_rule)), Err(SvgError::Circular { .. })));
    let masks = "<style>#m{mask:url(#n)} #n{mask:url(#o)} #o{mask:url(#m)}</style>
        <mask id='m'><rect/></mask><mask id='n'><rect/></mask><mask id='o'><rect/></mask>
        <pattern id='p' width='1' height='1'><rect fill='url(#p)' width='1' height='1'/></pattern>
        <rect width='9' height='9' mask='url(#m)' fill='url(#p) red'/>";
    assert!(matches!(read(&svg(masks)), Err(SvgError::Circular { .. })));
    let marker = "<marker id='k'><path d='M0 0L1 1L2 0' marker-mid='url(#k)'/></marker><path \
                  d='M1 1L5 5L9 1' marker-mid='url(#k)'/>";
    assert!(read(&svg(marker)).is_ok());
}

#[test]
fn clip_paths_within_clip_paths() {
    let mut clips = String::new();
    for i in 0..30 {
        write!(clips, "<clipPath id='c{i}' clipPathUnits='objectBoundingBox'>").unwrap();
        (0..10).for_each(|_| {
            write!(clips, "<rect width='1' height='1' clip-path='url(#c{})'/>", i + 1).unwrap();
        });
        clips.push_str("</clipPath>");
    }
    assert!(is_too_large(&read(&svg(&format!(
        "{clips}<rect width='9' height='9' clip-path='url(#c0)'/>"
    )))));
}

#[test]
fn markers_on_every_corner() {
    let mut marker = String::from("<marker id='m'>");
    (0..1000).for_each(|_| marker.push_str("<path d='M0 0h1'/>"));
    let line = "h1".repeat(20_000);
    let document = svg(&format!("{marker}</marker><path d='M0 0{line}' marker-mid='url(#m)'/>"));
    assert!(is_too_large(&read(&document)));
}

#[test]
fn deep_nesting() {
    for depth in [199, 201, 100_000] {
        let document = svg(&format!(
            "{}<rect width='9' height='9'/>{}",
            "<g>".repeat(depth - 2),
            "</g>".repeat(depth - 2)
        ));
        let result = read(&document);
        assert_eq!(is_too_large(&result), depth > 200, "{depth}: {result:?}");
    }
    // As deep as is read, and used as deep again.
    let half = 95;
    let document = svg(&format!(
        "<defs><g id='d'>{0}<rect width='9' height='9'/>{1}</g></defs>{0}<use href='#d'/>{1}",
        "<g opacity='.9'>".repeat(half),
        "</g>".repeat(half)
    ));
    assert!(read(&document).is_ok());
}

#[test]
fn styles_times_elements() {
    let mut sheet = String::from("<style>");
    (0..3_000).for_each(|i| write!(sheet, ".c{i}{{fill:red}}").unwrap());
    let rects = "<rect width='1' height='1'/>".repeat(70_000);
    assert!(is_too_large(&read(&svg(&format!("{sheet}</style>{rects}")))));
}

#[test]
fn numbers_out_of_all_measure() {
    for number in [
        "1e38",
        "-1e39",
        "1e308",
        "1e999",
        "NaN",
        "1e-320",
        "0.0000000000000000000000000000000000001",
    ] {
        let document = svg(&format!(
            "<rect x='{number}' width='{number}' height='9'/><path d='M0 0L{number} 9C{number} 0 \
             0 {number} 1 1'/>\
             <g transform='scale({number}) translate({number})'><circle r='{number}'/></g>\
             <path d='M0 0L9 9' stroke='red' stroke-width='{number}' stroke-dasharray='{number}'/>\
             <rect width='9' height='9' clip-path='url(#c)'/>\
             <clipPath id='c'><rect width='{number}' height='1'/></clipPath>"
        ));
        let drawing = read(&document).unwrap();
        for shape in &drawing.art.shapes {
            assert!(shape.path.is_finite(), "{number}");
        }
        for size in ["width", "height"] {
            let _ =
                read(&document.replace(&format!("{size}='100'"), &format!("{size}='{number}'")));
        }
    }
}

#[test]
fn what_is_no_drawing() {
    let error = |data: &[u8]| read_svg(data, &Fonts::None).unwrap_err();
    assert_eq!(error(&[0x1f, 0x8b, 8, 0]), SvgError::Compressed);
    assert_eq!(error(b"<svg \xff/>"), SvgError::Encoding { at: 5 });
    assert_eq!(error(b"<html/>"), SvgError::NotSvg { root: "html".into() });
    assert!(matches!(error(b""), SvgError::Xml { .. }));
    assert!(matches!(error(b"<svg><g></svg>"), SvgError::Xml { line: 1, .. }));
    assert_eq!(error(b"<svg width='0' height='5'/>"), SvgError::Size);
    assert_eq!(error(b"<svg width='-3' height='5'/>"), SvgError::Size);
    let large = error(b"<svg viewBox='0 0 2000000000060 40'><circle cx='8' cy='9' r='6'/></svg>");
    assert!(matches!(large, SvgError::LargePage { .. }), "{large}");
    assert!(
        large.to_string().contains(" m wide and 0 m high, and at most 1000 m are read"),
        "{large}"
    );
    insta::assert_snapshot!(error(b"<svg>\n <g></svg>"), @"line 2, column 5: expected 'g' tag, not \
        'svg'");
    insta::assert_snapshot!(error(b"<svg>&oar;</svg>"), @"line 1, column 6: unknown entity \
        reference 'oar'");
}

#[test]
fn arcs_out_of_all_measure() {
    for radius in ["1e6", "1e11", "1e40", "1e300"] {
        let data = format!("M1 1A{radius} {radius} 0 0 1 9 9H5a3 {radius} 20 1 0 2 2");
        let drawing = read(&svg(&format!("<path d='{data}'/><circle r='{radius}'/>"))).unwrap();
        assert!(drawing.art.shapes.iter().all(|s| s.path.elements().len() < 100_000));
        let (path, _) = stave_parse::svg::path_data(&data);
        assert!(path.is_finite() && path.elements().len() < 10_000);
    }
}
