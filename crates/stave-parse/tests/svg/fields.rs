//! Fields in drawings: where they are filled, and what hostile values cannot do.

use stave_parse::svg::{Fonts, SvgError, Template, read_svg};
use stave_toolpath::field::{FieldFault, Fields};

fn fields(pairs: &[(&str, &str)]) -> Fields {
    pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
}

fn filled(svg: &str, pairs: &[(&str, &str)]) -> Result<String, SvgError> {
    let filled = Template::read(svg.as_bytes())?.filled(&fields(pairs))?.into_owned();
    Ok(String::from_utf8(filled).unwrap())
}

fn within(inside: &str) -> String {
    format!("<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm'>{inside}</svg>")
}

#[test]
fn fields_are_filled_where_they_may_stand() {
    let pairs = [("name", "O'Neill & Søn"), ("ink", "navy"), ("mark", "#oar"), ("empty", "")];
    for (before, after) in [
        ("<text>{name}</text>", "<text>O&apos;Neill &amp; Søn</text>"),
        (
            "<text>a<tspan>{name}</tspan>b</text>",
            "<text>a<tspan>O&apos;Neill &amp; Søn</tspan>b</text>",
        ),
        ("<title>Cup of {name}</title>", "<title>Cup of O&apos;Neill &amp; Søn</title>"),
        ("<rect fill='{ink}' stroke=\"{ink}\"/>", "<rect fill='navy' stroke=\"navy\"/>"),
        ("<use href='{mark}'/>", "<use href='#oar'/>"),
        (
            "<use xmlns:x='http://www.w3.org/1999/xlink' x:href='{mark}'/>",
            "<use xmlns:x='http://www.w3.org/1999/xlink' x:href='#oar'/>",
        ),
        ("<text>{{{name}}} } {{</text>", "<text>{O&apos;Neill &amp; Søn} } {</text>"),
        ("<text>&lt;{empty}&#62;</text>", "<text>&lt;&gt;</text>"),
        (
            "<text><![CDATA[<{name}>]]> &amp; so</text>",
            "<text>&lt;O&apos;Neill &amp; Søn&gt; &amp; so</text>",
        ),
        ("<text>{na<!-- {no} -->me}</text>", ""),
        // Not there.
        ("<style>text { fill: red } {nobody</style>", "<style>text { fill: red } {nobody</style>"),
        (
            "<rect style='fill:{ink}' id='{ink}' d='{'/>",
            "<rect style='fill:{ink}' id='{ink}' d='{'/>",
        ),
        ("<desc>{nobody}</desc>", "<desc>{nobody}</desc>"),
        (
            "<g id='stave-guides'><text>{nobody</text></g>",
            "<g id='stave-guides'><text>{nobody</text></g>",
        ),
    ] {
        let found = filled(&within(before), &pairs);
        match after {
            "" => assert!(matches!(found, Err(SvgError::Field { .. })), "{before}: {found:?}"),
            after => assert_eq!(found, Ok(within(after)), "{before}"),
        }
    }
}

#[test]
fn elements_stand_under_conditions() {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm'>\n\
               <g data-if='boss'>\n<text>{nobody}</text>\n</g>\n<rect data-if='!boss' width='1' \
               height='1'/>\n<text data-if='ware=cup'>{ware}</text>\n</svg>";
    let cup = filled(svg, &[("boss", ""), ("ware", "cup")]).unwrap();
    // What follows keeps its line.
    assert_eq!(cup.lines().count(), svg.lines().count(), "{cup}");
    assert!(!cup.contains("<g") && cup.contains("<rect") && cup.contains(">cup<"), "{cup}");
    let jug = filled(svg, &[("boss", "1"), ("nobody", "me"), ("ware", "jug")]).unwrap();
    assert!(jug.contains(">me<") && !jug.contains("<rect") && !jug.contains("jug"), "{jug}");
    let names = Template::read(svg.as_bytes()).unwrap();
    assert_eq!(names.names().into_iter().collect::<Vec<_>>(), ["boss", "nobody", "ware"]);
    let root = "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' data-if='a'><g>\n</g></svg>";
    let none = filled(root, &[("a", "")]).unwrap();
    assert_eq!(none, "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' data-if='a'>\n</svg>");
}

#[test]
fn what_cannot_be_meant_is_told_with_its_line() {
    let told = |inside: &str| filled(&within(inside), &[("name", "Ada")]).unwrap_err().to_string();
    assert_eq!(
        told("\n<text>{nmae}</text>"),
        "line 2: the field `{nmae}` has no value; did you mean `{name}`?"
    );
    assert!(told("<text>\n{name</text>").starts_with("line 1: `{name` is a field without its end"));
    assert!(told("<text>{}</text>").contains("names no field"));
    assert!(told("<g data-if='!'/>").contains("`data-if` names no field"));
    assert!(told("<g data-if='boss'/>").contains("`{boss}` has no value"));
    assert!(told("<rect fill='{name}'/>").contains("the paint `Ada`, which is none"));
    let fault = FieldFault::NoValue { name: "who".to_owned() };
    assert_eq!(
        filled(&within("<text>{who}</text>"), &[]),
        Err(SvgError::Field { line: 1, fault, known: None })
    );
}

/// The same text of the drawing comes back, whatever it is; no value becomes part of the document.
#[test]
fn hostile_values_stay_text() {
    let svg = within("<title>{v}</title><text>{v}</text><use href='{v}'/>");
    for value in [
        "</text><script/>",
        "]]>",
        "<![CDATA[",
        "&lt;&#60;&nbsp;",
        "\"'>",
        "{v}{{",
        "a\nb\r\nc\td",
        "<!-- -- -->",
        "<?pi?>",
        "\u{202e}evil\u{202c}",
        "O'Neill & Søn <>",
        "Ξένια Юлия עדה ადა",
        "😀\u{fe0f}",
    ] {
        let document = filled(&svg, &[("v", value)]).unwrap();
        let xml = roxmltree::Document::parse(&document).unwrap();
        let texts: Vec<&str> = xml.descendants().filter_map(|n| n.text()).collect();
        let link = xml.descendants().find_map(|n| n.attribute("href")).unwrap();
        // The first of each pair is an element's, the second its text node's.
        assert_eq!(texts, [value; 4], "{document}");
        assert_eq!(link, value, "{document}");
        let tags: Vec<&str> = xml
            .descendants()
            .filter(roxmltree::Node::is_element)
            .map(|n| n.tag_name().name())
            .collect();
        assert_eq!(tags, ["svg", "title", "text", "use"], "{document}");
        assert_eq!(document.lines().count(), 1, "{document}");
    }
    for value in ["\0", "a\u{1}", "\u{fffe}", "\u{1b}[31m"] {
        let told = filled(&svg, &[("v", value)]).unwrap_err().to_string();
        assert!(told.contains("no drawing can hold"), "{told}");
    }
}

/// An entity may bring in text and elements several times; a value cannot end the entity.
#[test]
fn fields_within_entities() {
    let svg = "<!DOCTYPE svg [<!ENTITY e \"<text>{v}</text>\"> <!ENTITY t 'x {v}'>]>\n\
               <svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm'>&e;&e;</svg>";
    let document = filled(svg, &[("v", "a\"<b>%'")]).unwrap();
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let xml = roxmltree::Document::parse_with_options(&document, options).unwrap();
    let texts: Vec<&str> =
        xml.descendants().filter(roxmltree::Node::is_text).filter_map(|n| n.text()).collect();
    assert_eq!(texts, ["a\"<b>%'"; 2]);
    let part = svg.replace("&e;&e;", "<text>&t; {v}</text>");
    // What the entity brought in is text of the drawing: it is filled where it stands, or told.
    match filled(&part, &[("v", "w")]) {
        Ok(document) => assert!(document.contains("<text>x w w</text>"), "{document}"),
        Err(error) => assert!(error.to_string().contains("entity"), "{error}"),
    }
}

/// A drawing without fields is not touched.
#[test]
fn others_stay_as_they_are() {
    for svg in [within("<text>plain</text>\r\n<!-- x -->"), within("<style>a{b:c}</style>")] {
        assert_eq!(filled(&svg, &[]).as_deref(), Ok(svg.as_str()));
        assert!(read_svg(svg.as_bytes(), &Fonts::None).is_ok());
    }
    assert_eq!(Template::read(&[0x1f, 0x8b, 8]).unwrap_err(), SvgError::Compressed);
    assert!(matches!(Template::read(b"<svg>{\xff"), Err(SvgError::Encoding { at: 6 })));
}
