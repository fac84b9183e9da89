//! From a byte offset in a file to a place that can be shown.

use std::ops::Range;
use std::sync::Arc;

use crate::{FileExcerpt, Origin};

/// The most characters of a line that are shown.
const WINDOW: usize = 100;
/// How many of them stand before the caret where the line is cut on the left.
const BEFORE: usize = 40;

/// A file's text with the offsets of its lines.
pub(crate) struct Text<'t> {
    file: Arc<str>,
    text: &'t str,
    line_starts: Vec<usize>,
}

impl<'t> Text<'t> {
    pub(crate) fn new(text: &'t str, file: &str) -> Self {
        let line_starts = std::iter::once(0)
            .chain(text.match_indices('\n').map(|(offset, _)| offset + 1))
            .collect();
        Self { file: file.into(), text, line_starts }
    }

    /// The text of a stretch, cut to `most` characters.
    pub(crate) fn shown(&self, span: &Range<usize>, most: usize) -> String {
        let found = self.slice(span);
        let mut shown: String = found.chars().take(most).map(printable).collect();
        if found.chars().nth(most).is_some() {
            shown.push('…');
        }
        shown
    }

    /// The line an offset is on, counted from 0.
    pub(crate) fn line_of(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= offset).saturating_sub(1)
    }

    /// The place of a stretch. An empty one at the very start stands for the file as a whole: no
    /// line is shown.
    pub(crate) fn source(&self, span: &Range<usize>) -> Origin {
        if *span == (0..0) {
            let excerpt = FileExcerpt { text: String::new(), caret: 0, length: 1 };
            return Origin::File {
                file: Arc::clone(&self.file),
                line: 1,
                column: 1,
                excerpt: Arc::new(excerpt),
            };
        }
        let line = self.line_of(span.start);
        let start = self.line_starts.get(line).copied().unwrap_or(0);
        let end = self.line_starts.get(line + 1).map_or(self.text.len(), |next| next - 1);
        let content = self.text.get(start..end).unwrap_or("");
        let content = content.strip_suffix('\r').unwrap_or(content);
        let offset = self.boundary(span.start.min(start + content.len())) - start;
        let column = content[..offset].chars().count();
        let underlined =
            self.slice(&(start + offset..span.end.min(start + content.len()))).chars().count();
        Origin::File {
            file: Arc::clone(&self.file),
            line: line as u64 + 1,
            column: column as u64 + 1,
            excerpt: Arc::new(excerpt(content, column, underlined)),
        }
    }

    fn slice(&self, span: &Range<usize>) -> &'t str {
        let (start, end) = (self.boundary(span.start), self.boundary(span.end));
        self.text.get(start..end.max(start)).unwrap_or("")
    }

    /// The nearest character boundary at or before an offset.
    fn boundary(&self, offset: usize) -> usize {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        offset
    }
}

/// A window of `content` around `column` (characters, from 0).
fn excerpt(content: &str, column: usize, underlined: usize) -> FileExcerpt {
    // Only long lines are cut; the window then starts a little before the caret.
    let long = content.chars().nth(WINDOW).is_some();
    let skipped = if long { column.saturating_sub(BEFORE) } else { 0 };
    let mut text = String::new();
    let mut caret = column - skipped;
    if skipped > 0 {
        text.push('…');
        caret += 1;
    }
    let mut rest = content.chars().skip(skipped);
    text.extend(rest.by_ref().take(WINDOW).map(printable));
    let cut = rest.next().is_some();
    let room = text.chars().count().saturating_sub(caret);
    if cut {
        text.push('…');
    }
    FileExcerpt { text: text.trim_end().to_owned(), caret, length: underlined.min(room).max(1) }
}

/// One character for one column: tabs and control characters become blanks.
fn printable(character: char) -> char {
    if character.is_control()
        || matches!(
            character,
            '\u{200b}'..='\u{200f}'
                | '\u{202a}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
        )
    {
        ' '
    } else {
        character
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(text: &str, span: Range<usize>) -> (u64, u64, String) {
        match Text::new(text, "file").source(&span) {
            Origin::File { line, column, excerpt, .. } => (line, column, excerpt.text.clone()),
            Origin::Option { .. } => unreachable!("a text only knows places in a file"),
        }
    }

    #[test]
    fn columns_are_characters() {
        assert_eq!(place("é = 1\nü = 2", 7..8), (2, 1, "ü = 2".to_owned()));
        assert_eq!(place("é = 1", 5..6), (1, 5, "é = 1".to_owned()));
    }

    #[test]
    fn offsets_that_are_none() {
        assert_eq!(place("ab", 99..200), (1, 3, "ab".to_owned()));
        // Inside the two bytes of é.
        assert_eq!(place("éa", 1..2), (1, 1, "éa".to_owned()));
        assert_eq!(place("", 5..5), (1, 1, String::new()));
    }

    #[test]
    fn line_ends() {
        assert_eq!(place("a\r\nb\r\n", 3..4), (2, 1, "b".to_owned()));
        assert_eq!(place("a\n", 2..2), (2, 1, String::new()));
    }

    #[test]
    fn a_long_line_is_cut_on_both_sides() {
        let text = "0123456789".repeat(100);
        let (_, column, shown) = place(&text, 505..510);
        assert_eq!(column, 506);
        assert!(shown.starts_with("…5678") && shown.ends_with("34…"), "{shown}");
        assert_eq!(shown.chars().count(), WINDOW + 2);
    }
}
