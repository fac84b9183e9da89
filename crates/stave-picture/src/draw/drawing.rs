//! A drawing that grows: lines, words and pictures as SVG, in mm of paper.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use kurbo::Rect;

use super::ink::INK;
use super::text::{BOLD, text_width_mm};
use crate::svg::{escaped, mm, path};

/// Above and below the baseline that words of a common font reach, in sizes: capitals with marks
/// and descenders.
const ASCENT: f64 = 0.93;
const DESCENT: f64 = 0.24;

/// A drawing that grows.
#[derive(Default)]
pub(crate) struct Drawing {
    pub(crate) out: String,
    /// Where words stand, at most, mm; those that are turned are not among them.
    pub(crate) words: Vec<(Rect, String)>,
}

impl Drawing {
    pub(crate) fn line(&mut self, points: &[(f64, f64)], style: &str) {
        self.out
            .push_str(&format!("<path d=\"{}\" fill=\"none\" {style}/>\n", path(points, false)));
    }

    pub(crate) fn shape(&mut self, points: &[(f64, f64)], style: &str) {
        self.out.push_str(&format!("<path d=\"{}\" {style}/>\n", path(points, true)));
    }

    /// Path data as it is.
    pub(crate) fn path(&mut self, d: &str, style: &str) {
        self.out.push_str(&format!("<path d=\"{d}\" {style}/>\n"));
    }

    pub(crate) fn rect(&mut self, rect: Rect, style: &str) {
        self.out.push_str(&format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {style}/>\n",
            mm(rect.x0),
            mm(rect.y0),
            mm(rect.width()),
            mm(rect.height())
        ));
    }

    /// Words; `style` as attributes. The place is the start of the baseline unless the style says
    /// otherwise.
    pub(crate) fn text(&mut self, (x, y): (f64, f64), size: f64, style: &str, text: &str) {
        self.out.push_str(&format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" {style}>{}</text>\n",
            mm(x),
            mm(y),
            mm(size),
            escaped(text)
        ));
        if !style.contains("transform") {
            let bold = if style.contains("bold") { BOLD } else { 1.0 };
            let width = bold * text_width_mm(text, size);
            let left = match style {
                style if style.contains("\"middle\"") => x - 0.5 * width,
                style if style.contains("\"end\"") => x - width,
                _ => x,
            };
            let rect = Rect::new(left, y - ASCENT * size, left + width, y + DESCENT * size);
            self.words.push((rect, text.to_owned()));
        }
    }

    /// A picture as PNG in base64, stretched over a rectangle.
    pub(crate) fn image(&mut self, (x, y): (f64, f64), (width, height): (f64, f64), png: &[u8]) {
        self.out.push_str(&format!(
            "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" \
             href=\"data:image/png;base64,{}\"/>\n",
            mm(x),
            mm(y),
            mm(width),
            mm(height),
            STANDARD.encode(png)
        ));
    }

    /// The numbered flag of a finding.
    pub(crate) fn flag(&mut self, (x, y): (f64, f64), number: usize, error: bool) {
        let (fill, ink) = if error { (INK, "#ffffff") } else { ("#ffffff", INK) };
        self.out.push_str(&format!(
            "<circle class=\"flag\" cx=\"{x}\" cy=\"{y}\" r=\"1.9\" fill=\"{fill}\" \
             stroke=\"{INK}\" stroke-width=\"0.3\"/>\n",
            x = mm(x),
            y = mm(y)
        ));
        self.text(
            (x, y + 0.9),
            2.5,
            &format!("text-anchor=\"middle\" font-weight=\"bold\" fill=\"{ink}\""),
            &number.to_string(),
        );
    }

    /// Another drawing as a group of this one; `named` is its attributes: a class or an id.
    pub(crate) fn group(&mut self, named: &str, inner: Drawing) {
        self.out.push_str(&format!("<g {named}>\n{}</g>\n", inner.out));
        self.words.extend(inner.words);
    }

    /// Another drawing over this one.
    pub(crate) fn append(&mut self, other: Drawing) {
        self.out.push_str(&other.out);
        self.words.extend(other.words);
    }

    /// The same, carried elsewhere by a transform, if there is one.
    pub(crate) fn carried(self, by: Option<&str>) -> Self {
        let Some(by) = by else { return self };
        let mut out = Self::default();
        out.out.push_str(&format!("<g {by}>\n{}</g>\n", self.out));
        out
    }

    /// The whole document: a page of this size with a title, white where nothing is drawn.
    pub(crate) fn document(self, (width, height): (f64, f64), title: &str) -> String {
        let ground = Rect::new(0.0, 0.0, width, height);
        let mut page = Drawing::default();
        page.rect(ground, "fill=\"#ffffff\"");
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" \
             viewBox=\"0 0 {w} {h}\" font-family=\"sans-serif\" fill=\"{INK}\">\n\
             <title>{}</title>\n{}{}</svg>\n",
            escaped(title),
            page.out,
            self.out,
            w = mm(width),
            h = mm(height),
        )
    }
}

/// No two texts of a drawing meet, and each lies inside `page`.
#[cfg(test)]
#[track_caller]
pub(crate) fn assert_words_apart(drawing: &Drawing, page: Rect) {
    for (k, (a, text)) in drawing.words.iter().enumerate() {
        assert!(page.contains_rect(*a), "{text:?} leaves the page: {a:?} of {page:?}");
        for (b, other) in &drawing.words[k + 1..] {
            assert!(a.intersect(*b).area() <= 0.0, "{text:?} meets {other:?}: {a:?}, {b:?}");
        }
    }
}
