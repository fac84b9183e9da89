//! Drawings: any bytes are laid or refused, as a program and drawn anew.

use stave::{Code, Fonts, Options, Setup, Source, check, redraw, wrap};

use super::bench::parted;

/// More than this would only be slow.
const LONGEST: usize = 4096;

fn options() -> Options {
    let codes = [
        Code::Overlap,
        Code::Clearance,
        Code::TravelLimit,
        Code::DefocusFar,
        Code::Zone,
        Code::LeftOut,
        Code::Font,
        Code::NoMatch,
    ];
    // No fonts of the system: what a drawing does must not hang on the machine it is tried on.
    Options { fonts: Fonts::None, ..Options::allowing(codes) }
}

/// A drawing as a program: whole, dark at its end, and fit by `check` where `wrap` wrote it.
pub(crate) fn svg(data: &[u8]) {
    let Some((setup, drawing)) = parted(data) else { return };
    if drawing.len() <= LONGEST {
        laid(|| Source::drawing(drawing), &setup);
    }
}

/// Bare path data likewise.
pub(crate) fn path(data: &[u8]) {
    let Some((setup, text)) = parted(data) else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    if text.len() <= LONGEST {
        laid(|| Source::path(text), &setup);
    }
}

/// A drawing drawn anew: XML that is read again, with nothing in it that runs or leads out, and no
/// number that is none.
pub(crate) fn redrawn(data: &[u8]) {
    let Some((setup, drawing)) = parted(data) else { return };
    if drawing.len() > LONGEST {
        return;
    }
    let mut out = Vec::new();
    if redraw(Source::drawing(drawing), &mut out, &setup, &options()).is_err() {
        return;
    }
    let text = String::from_utf8(out).expect("what is drawn is UTF-8");
    let document = resvg::usvg::roxmltree::Document::parse(&text);
    let document = document.unwrap_or_else(|e| panic!("what is drawn is no XML: {e}"));
    for node in document.descendants().filter(resvg::usvg::roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        assert!(!matches!(name, "script" | "foreignObject" | "style" | "animate"), "<{name}>");
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            assert!(!name.starts_with("on"), "a handler: {name}");
            let inside = value.starts_with('#') || value.starts_with("data:image/png");
            assert!(name != "href" || inside, "leads out: {value}");
            if matches!(name, "d" | "transform" | "x" | "y" | "width" | "height") {
                assert!(!value.contains(['?', 'N']), "{name}={value}");
            }
        }
    }
}

fn laid<'a>(source: impl Fn() -> Source<'a>, setup: &Setup) {
    let mut out = Vec::new();
    if wrap(source(), &mut out, setup, &options()).is_err() {
        return;
    }
    let text = std::str::from_utf8(&out).expect("what is written is text");
    let last: Vec<&str> = text.lines().rev().take(2).collect();
    assert!(matches!(last[..], ["M2", "M5"]), "it ends with {last:?}");
    let checked = check(Source::program(&out[..]), setup, &options());
    let checked = checked.unwrap_or_else(|e| panic!("check refuses what wrap wrote: {e}"));
    assert!(checked.fit, "wrap wrote what check calls unfit: {:?}", checked.findings);
}
