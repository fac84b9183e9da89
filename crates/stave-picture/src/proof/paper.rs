//! Drawing on the sheet: lines, words and pictures as SVG, in mm of paper.

use crate::svg::{escaped, mm, path};

/// Ink of lines and words.
pub(crate) const INK: &str = "#1c1c1a";
/// Words and lines of less weight; dark enough to read, 5.7 : 1 on white.
pub(crate) const SOFT: &str = "#5f5f5a";
/// Hair lines.
pub(crate) const HAIR: &str = "#b9b9b3";
/// The ware.
pub(crate) const WARE: &str = "#efeee9";
/// Zones: the colours of the page to draw on.
pub(crate) const ZONE: &str = "#b34700";
/// Inside a zone.
pub(crate) const ZONE_FILL: &str = "#f2d6c2";
/// Burned, but not meant: vermillion of the palette of Okabe and Ito ("Color Universal Design",
/// 2008; from memory), told apart by all eyes.
pub(crate) const STRAY: [u8; 3] = [0xd5, 0x5e, 0x00];
/// Meant, but not burned: sky blue of the same palette.
pub(crate) const MISSING: [u8; 3] = [0x56, 0xb4, 0xe9];

/// A drawing that grows.
#[derive(Default)]
pub(crate) struct Paper {
    pub(crate) out: String,
}

impl Paper {
    pub(crate) fn line(&mut self, points: &[(f64, f64)], style: &str) {
        self.out
            .push_str(&format!("<path d=\"{}\" fill=\"none\" {style}/>\n", path(points, false)));
    }

    pub(crate) fn shape(&mut self, points: &[(f64, f64)], style: &str) {
        self.out.push_str(&format!("<path d=\"{}\" {style}/>\n", path(points, true)));
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
            base64(png)
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

    pub(crate) fn group(&mut self, class: &str, inner: &Paper) {
        self.out.push_str(&format!("<g class=\"{class}\">\n{}</g>\n", inner.out));
    }
}

/// Base64 with padding (RFC 4648, section 4).
pub(crate) fn base64(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let word = chunk.iter().fold(0_u32, |word, byte| (word << 8) | u32::from(*byte))
            << (8 * (3 - chunk.len()));
        for k in 0..4 {
            let sextet = (word >> (18 - 6 * k)) & 63;
            out.push(if k <= chunk.len() { char::from(ALPHABET[sextet as usize]) } else { '=' });
        }
    }
    out
}

/// Words broken into lines of at most so many characters, at blanks.
pub(crate) fn broken(text: &str, most: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > most {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text cut to so many characters, with a sign that it goes on.
pub(crate) fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut out: String = text.chars().take(most.saturating_sub(1)).collect();
    out.push('…');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_is_that_of_the_rfc() {
        // RFC 4648, section 10.
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn words_break_at_blanks() {
        assert_eq!(broken("one two  three", 7), ["one two", "three"]);
        assert_eq!(broken("", 7), Vec::<String>::new());
        assert_eq!(cut("boathouse", 5), "boat…");
    }
}
