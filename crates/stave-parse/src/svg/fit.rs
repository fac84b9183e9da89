//! Texts that are made to fit a box: `data-fit`, with `data-width`, `data-height`, `data-least`.
//!
//! A text is scaled about its own origin, as another font size would do it; the ink counts, not
//! what the font leaves free around it. Where a text is to break into lines, its words are measured
//! by laying each out by itself, in the drawing as it is: so they have their font, their kerning
//! and their style, and a language that runs from right to left stays as it is read.

use kurbo::{Affine, Rect, Shape as _, Vec2};
use stave_toolpath::number::fixed;
use svgtypes::{Length, LengthUnit};
use usvg::TextAnchor;

use super::chunk::{line_ends, of_text};
use super::convert;
use super::document::{Entries, Role};
use super::error::SvgError;

/// From one base line to the next, in font sizes.
const LINE_EM: f64 = 1.2;
/// How far apart words are laid that are measured, in font sizes.
const APART_EM: f64 = 20.0;
/// The most words of a text that breaks into lines, and the most lines.
const MOST_WORDS: usize = 500;
const MOST_LINES: usize = 40;
/// The share of its own size that a text keeps where nothing says how small it may get.
const LEAST_SHARE: f64 = 0.25;
/// What the 32 bits of the resolved points may be off.
const SLACK: f64 = 1e-5;

/// How a text is made to fit.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum How {
    /// Larger or smaller, to fill the width.
    Width,
    /// Smaller where it must be.
    Shrink,
    /// In as many lines as leave it largest, and smaller where it must be.
    Wrap,
}

/// The box of a text, and how it is made to fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fit {
    how: How,
    width_mm: Option<f64>,
    height_mm: Option<f64>,
    /// The smallest font size, mm.
    least_mm: Option<f64>,
}

impl Fit {
    /// The fit of an element that asks for one.
    ///
    /// # Errors
    /// A setting of it that cannot be meant.
    pub(super) fn of(entries: &Entries<'_, '_>, index: usize) -> Result<Option<Self>, SvgError> {
        let Some(entry) = entries.list.get(index) else { return Ok(None) };
        let Some(word) = entry.node.attribute("data-fit") else { return Ok(None) };
        let told = |message: String| {
            Err(SvgError::Value { line: entry.line, message: format!("{}: {message}", entry.name) })
        };
        if entry.role != Role::Text {
            return told("`data-fit` is for a <text>".to_owned());
        }
        let how = match word.trim() {
            "width" => How::Width,
            "shrink" => How::Shrink,
            "wrap" => How::Wrap,
            _ => {
                return told(format!(
                    "`data-fit` is \"{word}\", but must be one of \"width\", \"shrink\", \"wrap\""
                ));
            }
        };
        let mut lengths = [None; 3];
        for (name, length) in
            ["data-width", "data-height", "data-least"].into_iter().zip(&mut lengths)
        {
            let Some(text) = entry.node.attribute(name) else { continue };
            *length = millimetres(text);
            if length.is_none() {
                return told(format!(
                    "`{name}` is \"{text}\", but must be a length of more than 0, in mm where it \
                     has no unit"
                ));
            }
        }
        let [width_mm, height_mm, least_mm] = lengths;
        if width_mm.is_none() && (how != How::Shrink || height_mm.is_none()) {
            return told(format!("`data-fit=\"{}\"` needs `data-width`", word.trim()));
        }
        if entry.node.descendants().any(|node| node.tag_name().name() == "textPath") {
            return told("`data-fit` is for a text on a straight line, not on a path".to_owned());
        }
        Ok(Some(Self { how, width_mm, height_mm, least_mm }))
    }
}

/// A length of more than 0, mm where it has no unit.
fn millimetres(text: &str) -> Option<f64> {
    let length: Length = text.trim().parse().ok()?;
    let mm = match length.unit {
        LengthUnit::None => Some(length.number),
        _ => super::unit::length_mm(text),
    };
    mm.filter(|mm| mm.is_finite() && *mm > 0.0)
}

/// A text that was made to fit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fitted {
    /// What carries its outlines to their place, in the text's own space.
    pub(super) map: Affine,
    /// That it had to be smaller than it may be: a sentence.
    pub(super) too_long: Option<String>,
}

/// Makes a text that was laid out fit its box; `None` for one without ink.
pub(super) fn fitted(fit: &Fit, text: &usvg::Text) -> Option<Fitted> {
    let own = Own::of(text)?;
    let ink = own.ink?;
    let width = fit.width_mm.map(|mm| mm / own.mm_along);
    let height = fit.height_mm.map(|mm| mm / own.mm_across);
    // The pen stays as wide as it is drawn: only what lies within it grows.
    let pen = own.pen;
    let by_width = width.map(|width| (width - pen) / ink.width().max(f64::MIN_POSITIVE));
    let by_height = height.map(|height| (height - pen) / ink.height().max(f64::MIN_POSITIVE));
    let most = by_width.into_iter().chain(by_height).fold(f64::INFINITY, f64::min);
    let scale = if fit.how == How::Width { most } else { most.min(1.0) };
    let scale = if (scale - 1.0).abs() <= SLACK { 1.0 } else { scale };
    // A pen as wide as the box leaves no room at all.
    let scale = if scale.is_finite() && scale > 0.0 { scale } else { f64::MIN_POSITIVE };
    let em_mm = own.em * own.mm_across;
    let least_mm = fit.least_mm.unwrap_or(LEAST_SHARE * em_mm);
    let is_too_small = scale < 1.0 && scale * em_mm < least_mm * (1.0 - SLACK);
    let too_long = is_too_small.then(|| {
        let of_box = match (fit.width_mm, fit.height_mm) {
            (Some(width), Some(height)) => {
                format!("{} x {} mm", fixed(width, 2), fixed(height, 2))
            }
            (Some(width), None) => format!("{} mm wide", fixed(width, 2)),
            (None, height) => format!("{} mm high", fixed(height.unwrap_or_default(), 2)),
        };
        format!(
            "the text \"{}\" goes into its box ({of_box}) at a font size of {} mm, and the least \
             is {} mm: shorten it, or give it more room",
            shown(&own.words),
            fixed(scale * em_mm, 2),
            fixed(least_mm, 2)
        )
    });
    let origin = own.origin;
    let about = Affine::translate(origin) * Affine::scale(scale) * Affine::translate(-origin);
    let scaled = about.transform_rect_bbox(ink).inflate(pen / 2.0, pen / 2.0);
    // The box lies as the anchor says; what a letter leaves free beside it is no reason to leave
    // the box.
    let shift = width.map_or(0.0, |width| {
        let left = match own.anchor {
            TextAnchor::Start => origin.x,
            TextAnchor::Middle => origin.x - width / 2.0,
            TextAnchor::End => origin.x - width,
        };
        let (before, after) = (left - scaled.x0, left + width - scaled.x1);
        if before > 0.0 { before } else { after.min(0.0) }
    });
    Some(Fitted { map: Affine::translate((shift, 0.0)) * about, too_long })
}

/// A text as it was laid out, in its own space.
struct Own {
    origin: Vec2,
    anchor: TextAnchor,
    /// The largest of its font sizes.
    em: f64,
    /// Millimetres of one unit along its lines and across them.
    mm_along: f64,
    mm_across: f64,
    /// The box around its outlines.
    ink: Option<Rect>,
    /// The widest of its strokes.
    pen: f64,
    words: String,
}

impl Own {
    fn of(text: &usvg::Text) -> Option<Self> {
        let first = text.chunks().first()?;
        let spans = || text.chunks().iter().flat_map(usvg::TextChunk::spans);
        let [a, b, c, d, _, _] = convert::to_mm(text.abs_transform()).as_coeffs();
        let (mm_along, mm_across) = (a.hypot(b), c.hypot(d));
        if !(mm_along > 0.0 && mm_across > 0.0) {
            return None;
        }
        let mut own = Self {
            origin: Vec2::new(first.x().map_or(0.0, f64::from), first.y().map_or(0.0, f64::from)),
            anchor: first.anchor(),
            em: spans().map(|span| f64::from(span.font_size().get())).fold(0.0, f64::max),
            mm_along,
            mm_across,
            ink: None,
            pen: 0.0,
            words: text.chunks().iter().map(usvg::TextChunk::text).collect::<Vec<_>>().join(" "),
        };
        own.look(text.flattened());
        Some(own)
    }

    fn look(&mut self, group: &usvg::Group) {
        for node in group.children() {
            match node {
                usvg::Node::Path(path) => {
                    let outline = convert::path(path.data(), Affine::IDENTITY);
                    let Some(bounds) = outline.as_ref().and_then(bounds) else { continue };
                    self.ink = Some(self.ink.map_or(bounds, |ink| ink.union(bounds)));
                    let pen = path.stroke().map_or(0.0, |stroke| stroke.width().get().into());
                    self.pen = self.pen.max(pen);
                }
                usvg::Node::Group(group) => self.look(group),
                usvg::Node::Text(_) | usvg::Node::Image(_) => {}
            }
        }
    }
}

/// The box around an outline; `None` for a point by itself, as a font may leave one in a letter.
fn bounds(outline: &kurbo::BezPath) -> Option<Rect> {
    outline.segments().next().map(|_| outline.bounding_box())
}

/// Words as they are shown in a sentence.
fn shown(words: &str) -> String {
    const MOST: usize = 60;
    let mut text: String = words.chars().take(MOST).collect();
    if words.chars().nth(MOST).is_some() {
        text.push('…');
    }
    text
}

/// A text that is to break into lines.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Which of the texts with a box it is.
    number: usize,
    fit: Fit,
    /// Where its words stand in the source.
    range: std::ops::Range<usize>,
    words: Vec<String>,
    /// The `x` that it stands at, as the drawing has it.
    x: String,
}

/// The texts of a drawing that may have to break into lines: those of several words.
///
/// # Errors
/// A setting that cannot be meant; a text of several parts, which cannot be broken.
pub(super) fn runs(entries: &Entries<'_, '_>) -> Result<Vec<Run>, SvgError> {
    let mut runs = Vec::new();
    for (number, index) in with_fit(entries).into_iter().enumerate() {
        let Some(fit) = Fit::of(entries, index)? else { continue };
        if fit.how != How::Wrap {
            continue;
        }
        let entry = &entries.list[index];
        let told = |message: &str| {
            Err(SvgError::Value { line: entry.line, message: format!("{}: {message}", entry.name) })
        };
        let is_blank = |text: &str| text.trim_matches(BLANKS).is_empty();
        let mut texts = entry
            .node
            .descendants()
            .filter(|node| node.is_text() && node.text().is_some_and(|text| !is_blank(text)));
        let Some(node) = texts.next() else { continue };
        if texts.next().is_some() {
            return told("a text of several parts cannot be broken into lines: make it one");
        }
        let text = node.text().unwrap_or_default();
        let words: Vec<String> =
            text.split(BLANKS).filter(|word| !word.is_empty()).map(str::to_owned).collect();
        if words.len() > MOST_WORDS {
            return told("a text of more than 500 words cannot be broken into lines: shorten it");
        }
        if words.len() < 2 {
            continue;
        }
        let Some(range) = of_text(node) else {
            return told(
                "part of this text comes from an entity, and so it cannot be broken into \
                         lines: write it where it stands",
            );
        };
        let around = node.ancestors().take_while(|around| Some(*around) != entry.node.parent());
        let x = around.filter_map(|around| around.attribute("x")).next();
        let first =
            |x: &str| x.split([' ', ',', '\t', '\n']).find(|x| !x.is_empty()).map(str::to_owned);
        runs.push(Run { number, fit, range, words, x: x.and_then(first).unwrap_or("0".into()) });
    }
    Ok(runs)
}

/// What XML takes for blanks; others, such as one that does not break, are letters.
const BLANKS: [char; 4] = [' ', '\t', '\n', '\r'];

/// The elements that ask to be fitted, in the order of the document.
fn with_fit(entries: &Entries<'_, '_>) -> Vec<usize> {
    let list = entries.list.iter().enumerate();
    list.filter(|(_, entry)| entry.node.has_attribute("data-fit")).map(|(index, _)| index).collect()
}

/// The document with other words in the place of each run.
fn with(source: &str, runs: &[Run], words: impl Fn(&Run) -> String) -> String {
    let mut out = String::with_capacity(2 * source.len());
    let mut done = 0;
    for run in runs {
        // An entity may bring in the same source twice.
        if run.range.start < done {
            continue;
        }
        out.push_str(source.get(done..run.range.start).unwrap_or_default());
        out.push_str(&words(run));
        out.push_str(&line_ends(source, &run.range));
        done = run.range.end;
    }
    out.push_str(source.get(done..).unwrap_or_default());
    out
}

fn span(x: &str, dy_em: f64, words: &str) -> String {
    let dy = if dy_em == 0.0 { String::new() } else { format!(" dy=\"{dy_em}em\"") };
    let x = stave_toolpath::xml::escaped(x);
    format!("<tspan x=\"{x}\"{dy}>{}</tspan>", stave_toolpath::xml::escaped(words))
}

/// The document with every word of the runs by itself, to be measured; at the end of each every two
/// that follow each other, which tell how far apart they stand.
pub(super) fn taken_apart(source: &str, runs: &[Run]) -> String {
    with(source, runs, |run| {
        let pairs = run.words.windows(2).map(|pair| pair.join(" "));
        let rows = run.words.iter().cloned().chain(pairs);
        let row = |(number, words): (usize, String)| {
            span(&run.x, if number == 0 { 0.0 } else { APART_EM }, &words)
        };
        rows.enumerate().map(row).collect()
    })
}

/// The document with its runs in lines, each as many as leave it largest. `text_of` gives the text
/// of the document that was taken apart for an element of it, if it is shown.
pub(super) fn in_lines(
    source: &str,
    runs: &[Run],
    apart: &Entries<'_, '_>,
    text_of: impl Fn(usize) -> Option<Measured>,
) -> String {
    let elements = with_fit(apart);
    with(source, runs, |run| {
        let element = elements.get(run.number).copied();
        let lines = match element.and_then(&text_of) {
            Some(measured) => measured.lines(run),
            None => vec![run.words.join(" ")],
        };
        let line = |(number, words): (usize, &String)| {
            span(&run.x, if number == 0 { 0.0 } else { LINE_EM }, words)
        };
        lines.iter().enumerate().map(line).collect()
    })
}

/// The words of a text, as wide as they are each by itself.
pub(super) struct Measured {
    own: Own,
    /// For each row the box around its ink, above its base line.
    rows: Vec<Option<Rect>>,
}

impl Measured {
    /// Measures a text that was taken apart.
    pub(super) fn of(text: &usvg::Text) -> Option<Self> {
        let own = Own::of(text)?;
        let mut measured = Self { own, rows: Vec::new() };
        measured.look(text.flattened());
        Some(measured)
    }

    fn look(&mut self, group: &usvg::Group) {
        for node in group.children() {
            match node {
                usvg::Node::Path(path) => self.path(path.data()),
                usvg::Node::Group(group) => self.look(group),
                usvg::Node::Text(_) | usvg::Node::Image(_) => {}
            }
        }
    }

    /// Each outline belongs to the row that it lies in.
    fn path(&mut self, path: &usvg::tiny_skia_path::Path) {
        let Some(path) = convert::path(path, Affine::IDENTITY) else { return };
        let apart = APART_EM * self.own.em;
        let mut outline = kurbo::BezPath::new();
        let elements = path.elements();
        for (index, element) in elements.iter().enumerate() {
            outline.push(*element);
            let ends = matches!(elements.get(index + 1), None | Some(kurbo::PathEl::MoveTo(_)));
            if !ends {
                continue;
            }
            let Some(bounds) = bounds(&std::mem::take(&mut outline)) else { continue };
            let row = ((bounds.center().y - self.own.origin.y) / apart).round().max(0.0);
            // Whatever lies elsewhere is none of these words.
            if row.is_nan() || row > 2.0 * MOST_WORDS as f64 {
                continue;
            }
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let row = row as usize;
            let base = self.own.origin.y + row as f64 * apart;
            let above = bounds - Vec2::new(0.0, base);
            if self.rows.len() <= row {
                self.rows.resize(row + 1, None);
            }
            if let Some(of_row) = self.rows.get_mut(row) {
                *of_row = Some(of_row.map_or(above, |known| known.union(above)));
            }
        }
    }

    fn width(&self, row: usize) -> f64 {
        self.rows.get(row).copied().flatten().map_or(0.0, |bounds| bounds.width())
    }

    /// The lines that leave the words largest; of two ways as good, the one with fewer.
    fn lines(&self, run: &Run) -> Vec<String> {
        let count = run.words.len();
        let words = (0..count).map(|row| Word {
            width: self.width(row),
            before: match row.checked_sub(1) {
                // A letter may reach over its neighbour.
                Some(last) => self.width(count + last) - self.width(last) - self.width(row),
                None => 0.0,
            },
        });
        let words: Vec<Word> = words.collect();
        let width = run.fit.width_mm.map_or(f64::INFINITY, |mm| mm / self.own.mm_along);
        let height = run.fit.height_mm.map_or(f64::INFINITY, |mm| mm / self.own.mm_across);
        let mut best: Option<(f64, Vec<usize>)> = None;
        for lines in 1..=count.min(MOST_LINES) {
            let ends = narrowest(&words, lines);
            let widest = widest(&words, &ends);
            let scale = ((width - self.own.pen) / widest)
                .min((height - self.own.pen) / self.height(&ends))
                .min(1.0);
            if best.as_ref().is_none_or(|(known, _)| scale > known * (1.0 + 1e-6)) {
                best = Some((scale, ends));
            }
        }
        let ends = best.map(|(_, ends)| ends).unwrap_or_default();
        let starts = std::iter::once(0).chain(ends.iter().copied());
        let of = |(start, end): (usize, &usize)| {
            run.words.get(start..*end).unwrap_or_default().join(" ")
        };
        starts.zip(&ends).map(of).collect()
    }

    /// The height of the ink of so many lines.
    fn height(&self, ends: &[usize]) -> f64 {
        let em = self.own.em;
        let (mut top, mut bottom, mut start) = (f64::INFINITY, f64::NEG_INFINITY, 0);
        for (line, end) in ends.iter().enumerate() {
            let base = line as f64 * LINE_EM * em;
            for bounds in self.rows.get(start..*end).unwrap_or_default().iter().flatten() {
                top = top.min(base + bounds.y0);
                bottom = bottom.max(base + bounds.y1);
            }
            start = *end;
        }
        (bottom - top).max(f64::MIN_POSITIVE)
    }
}

/// A word as wide as its ink, and how far it stands behind the one before it.
#[derive(Clone, Copy, Debug)]
struct Word {
    width: f64,
    before: f64,
}

/// Where lines end so that the widest of so many is as narrow as can be: for each line the number
/// of the word after it.
fn narrowest(words: &[Word], lines: usize) -> Vec<usize> {
    let all: f64 = words.iter().map(|word| word.width + word.before.max(0.0)).sum();
    let (mut low, mut high) = (words.iter().map(|word| word.width).fold(0.0, f64::max), all);
    for _ in 0..50 {
        let middle = f64::midpoint(low, high);
        if broken(words, middle).len() <= lines {
            high = middle;
        } else {
            low = middle;
        }
    }
    broken(words, high)
}

/// Where lines end that are at most so wide; a word that is wider has a line of its own.
fn broken(words: &[Word], most: f64) -> Vec<usize> {
    let mut ends = Vec::new();
    let mut line: Option<f64> = None;
    for (index, word) in words.iter().enumerate() {
        let with = |line: f64| line + word.before + word.width;
        line = match line {
            Some(before) if with(before) <= most => Some(with(before)),
            Some(_) => {
                ends.push(index);
                Some(word.width)
            }
            None => Some(word.width),
        };
    }
    if line.is_some() {
        ends.push(words.len());
    }
    ends
}

fn widest(words: &[Word], ends: &[usize]) -> f64 {
    let starts = std::iter::once(0).chain(ends.iter().copied());
    let of = |(start, end): (usize, &usize)| {
        let line = words.get(start..*end).unwrap_or_default();
        let after = line.iter().skip(1).map(|word| word.before);
        line.iter().map(|word| word.width).chain(after).sum()
    };
    starts.zip(ends).map(of).fold(f64::MIN_POSITIVE, f64::max)
}

#[cfg(test)]
mod tests {
    use super::{Word, broken, narrowest, widest};

    fn words(widths: &[f64], before: f64) -> Vec<Word> {
        widths.iter().map(|&width| Word { width, before }).collect()
    }

    /// Against every way to break so many words.
    #[test]
    fn lines_are_as_narrow_as_they_can_be() {
        for widths in
            [&[3.0, 1.0, 4.0, 1.5, 5.0, 9.0, 2.6][..], &[2.0; 6], &[8.0, 0.5, 0.5], &[4.0]]
        {
            for blank in [0.0, 0.7, 2.0] {
                let words = words(widths, blank);
                for lines in 1..=widths.len() {
                    let found = narrowest(&words, lines);
                    assert!(found.len() <= lines && found.last() == Some(&widths.len()));
                    let ways = (0_u32..1 << (widths.len() - 1)).filter_map(|breaks| {
                        let mut ends: Vec<usize> =
                            (1..widths.len()).filter(|k| breaks >> (k - 1) & 1 == 1).collect();
                        ends.push(widths.len());
                        (ends.len() <= lines).then(|| widest(&words, &ends))
                    });
                    let least = ways.fold(f64::INFINITY, f64::min);
                    let own = widest(&words, &found);
                    assert!(
                        (own - least).abs() < 1e-9,
                        "{widths:?} {blank} {lines}: {own} {least}"
                    );
                }
            }
        }
        assert_eq!(widest(&words(&[3.0, 1.0, 4.0], 0.5), &[2, 3]), 4.5);
        // What is wider than a line has one of its own.
        assert_eq!(broken(&words(&[1.0, 9.0, 1.0, 1.0], 0.5), 3.0), [1, 2, 4]);
    }
}
