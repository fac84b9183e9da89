//! The words of a text as they are read on the page.

use kurbo::{Affine, PathEl, Point};
use stave_toolpath::art::Rgb;

use super::convert;

/// Words of a drawing that can be read where something of it is burned.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// The words, part by part as they are painted.
    pub runs: Vec<Painted>,
    /// What shows them.
    pub of: WordsOf,
}

/// A part of a text that is painted in one way.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Painted {
    /// Its words; a blank where a new word begins, and a stroke between blanks for a new line.
    pub text: String,
    /// The colours of its fill and its stroke, as shapes of the art have them.
    pub fill: Option<Rgb>,
    /// The other.
    pub stroke: Option<Rgb>,
}

/// What shows words.
#[derive(Clone, Debug, PartialEq)]
pub enum WordsOf {
    /// An element, an index into [`stave_toolpath::art::Art::elements`]: it is the text.
    Element(usize),
    /// What a clip confines, or what is cut from that, has the shape of the text.
    Clip {
        /// The clip, an index into [`stave_toolpath::art::Art::clips`].
        clip: usize,
        /// Points of the outlines of its letters on the page, mm.
        points: Vec<Point>,
    },
}

/// A step down of so many times the size of the letters is a new line.
const LINE: f32 = 0.6;

/// What of a text is shown.
///
/// A line of its own begins a new word. Letters that are placed one by one do not.
pub(super) fn shown(text: &usvg::Text) -> Vec<Painted> {
    let mut runs: Vec<Painted> = Vec::new();
    let (mut before, mut at, mut y) = (0, 0, None);
    for chunk in text.chunks() {
        let size = chunk.spans().first().map_or(0.0, |span| span.font_size().get());
        let stepped = chunk.y().zip(y).map_or(0.0, |(now, then): (f32, f32)| now - then)
            + text.dy().get(at).copied().unwrap_or(0.0);
        at += chunk.text().chars().count();
        y = chunk.y().or(y);
        let visible = chunk.spans().iter().filter(|span| span.is_visible());
        let mut own = Vec::new();
        for span in visible {
            let Some(part) = chunk.text().get(span.start()..span.end()) else { continue };
            let ink =
                |paint: &usvg::Paint| convert::ink(paint).map_or_else(Rgb::default, |i| i.colour);
            let fill = span.fill().filter(|fill| fill.opacity().get() > 0.0);
            let stroke = span.stroke().filter(|stroke| stroke.opacity().get() > 0.0);
            let fill = fill.map(|fill| ink(fill.paint()));
            let stroke = stroke.map(|stroke| ink(stroke.paint()));
            // What is not painted keeps words apart.
            let text = if fill.is_some() || stroke.is_some() { part } else { " " };
            own.push(Painted { text: text.to_owned(), fill, stroke });
        }
        let letters: usize = own.iter().map(|run| run.text.trim().chars().count()).sum();
        if let Some(first) = own.first_mut().filter(|_| letters > 0) {
            if before > 1 || letters > 1 {
                let is_line = stepped.abs() > LINE * size && before > 0;
                first.text.insert_str(0, if is_line { " / " } else { " " });
            }
            before = letters;
        }
        runs.append(&mut own);
    }
    let has_words = runs.iter().any(|run| !run.text.trim().is_empty());
    if has_words { runs } else { Vec::new() }
}

/// What of the texts within a pattern is shown, each text once however often the pattern stands
/// there: as parts of what it paints, which has no colour of its own.
pub(super) fn shown_by(paint: &usvg::Paint) -> Vec<Vec<Painted>> {
    let usvg::Paint::Pattern(pattern) = paint else { return Vec::new() };
    let mut all = Vec::new();
    texts_within(pattern.root(), &mut all);
    for run in all.iter_mut().flatten() {
        let is_painted = run.fill.is_some() || run.stroke.is_some();
        (run.fill, run.stroke) = (is_painted.then(Rgb::default), None);
    }
    all
}

fn texts_within(group: &usvg::Group, all: &mut Vec<Vec<Painted>>) {
    for node in group.children() {
        match node {
            usvg::Node::Text(text) => all.push(shown(text)),
            usvg::Node::Group(group) => texts_within(group, all),
            usvg::Node::Path(path) => {
                let paints =
                    [path.fill().map(usvg::Fill::paint), path.stroke().map(usvg::Stroke::paint)];
                all.extend(paints.into_iter().flatten().flat_map(shown_by));
            }
            usvg::Node::Image(_) => {}
        }
    }
    all.retain(|runs| !runs.is_empty());
}

/// Points of the outlines of a group, which `to_page` takes to the page.
pub(super) fn points(group: &usvg::Group, to_page: Affine) -> Vec<Point> {
    let mut all = Vec::new();
    for node in group.children() {
        match node {
            usvg::Node::Group(group) => {
                all.extend(points(group, to_page * convert::affine(group.transform())));
            }
            usvg::Node::Path(path) if path.is_visible() => {
                let outline = convert::path(path.data(), to_page).unwrap_or_default();
                all.extend(outline.elements().iter().filter_map(PathEl::end_point));
            }
            _ => {}
        }
    }
    all
}

/// Letters of a text along a path that have no place on it: how many.
pub(super) fn off_path(text: &usvg::Text) -> usize {
    let letters = |text: &str| text.chars().filter(|c| !c.is_whitespace()).count();
    let along =
        text.chunks().iter().any(|chunk| matches!(chunk.text_flow(), usvg::TextFlow::Path(_)));
    if !along {
        return 0;
    }
    let asked: usize = text.chunks().iter().map(|chunk| letters(chunk.text())).sum();
    let glyphs = text.layouted().iter().flat_map(|span| &span.positioned_glyphs);
    asked.saturating_sub(glyphs.map(|glyph| letters(&glyph.text)).sum())
}
