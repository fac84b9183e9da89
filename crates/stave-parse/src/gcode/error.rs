//! Errors of reading, with a window of the line they are on.

use std::fmt;

/// How many characters of a line are shown at most.
const WINDOW: usize = 120;
/// How many of them stand before the column, where the line is longer.
const BEFORE: usize = 80;

/// A printable window of a line and the place of the fault in it.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Excerpt {
    /// At most about 120 characters of the line, an ellipsis where it was cut; what cannot be
    /// printed is replaced.
    pub text: String,
    /// The number of characters of `text` before the fault.
    pub caret: usize,
}

impl Excerpt {
    /// The window of `line` around the byte `at`.
    ///
    /// Bytes that are not UTF-8 and control characters become U+FFFD, tabs blanks.
    ///
    /// ```
    /// use stave_parse::gcode::Excerpt;
    /// let excerpt = Excerpt::of(b"G1\tX1 Y\xff", 6);
    /// assert_eq!(excerpt.text, "G1 X1 Y\u{fffd}");
    /// assert_eq!(excerpt.caret, 6);
    /// ```
    #[must_use]
    #[expect(
        clippy::indexing_slicing,
        reason = "every bound is held to the length of what it cuts"
    )]
    pub fn of(line: &[u8], at: usize) -> Self {
        let at = at.min(line.len());
        // A character has at most four bytes: cut generously first, exactly afterwards.
        let from = at.saturating_sub(4 * WINDOW);
        let to = at.saturating_add(4 * WINDOW).min(line.len());
        let before = printable(&line[boundary(line, from).min(at)..at]);
        let after = printable(&line[at..to]);
        let fits = from == 0 && to == line.len() && before.len() + after.len() <= WINDOW;
        let skipped = if fits { 0 } else { before.len().saturating_sub(BEFORE) };
        let mut text = String::new();
        if skipped > 0 || from > 0 {
            text.push('…');
        }
        text.extend(&before[skipped..]);
        let caret = text.chars().count();
        let shown = after.len().min(WINDOW - caret.min(WINDOW));
        text.extend(&after[..shown]);
        if shown < after.len() || to < line.len() {
            text.push('…');
        }
        Self { text, caret }
    }
}

impl Excerpt {
    /// A message about it as shown to people: `file:line:column: message`, the line if there is
    /// anything on it, and a caret.
    #[must_use]
    pub fn shown(&self, file: &str, line: u64, column: u64, message: &dyn fmt::Display) -> String {
        let Self { text, caret } = self;
        if text.is_empty() {
            return format!("{file}:{line}:{column}: {message}");
        }
        format!("{file}:{line}:{column}: {message}\n  {text}\n  {:caret$}^", "")
    }
}

/// The first byte at or after `from` that does not continue a UTF-8 character.
fn boundary(line: &[u8], from: usize) -> usize {
    let rest = line.get(from..).unwrap_or_default();
    let skip = rest.iter().take(3).take_while(|&&b| from > 0 && b & 0xc0 == 0x80).count();
    from + skip
}

fn printable(bytes: &[u8]) -> Vec<char> {
    String::from_utf8_lossy(bytes)
        .chars()
        .map(|c| match c {
            '\t' => ' ',
            c if c.is_control() || is_unseen(c) => char::REPLACEMENT_CHARACTER,
            c => c,
        })
        .collect()
}

/// Characters that change how a terminal shows the rest of the line.
fn is_unseen(c: char) -> bool {
    matches!(
        c,
        '\u{200b}'..='\u{200f}'
            | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}'
    )
}

/// Why a program could not be read to its end. `E` is the error of the sink.
#[derive(Debug)]
#[non_exhaustive]
pub enum ReadError<E> {
    /// The program is at fault.
    Syntax {
        /// The line, from 1.
        line: u64,
        /// The column in characters, from 1.
        column: u64,
        /// What is wrong and what would be right.
        message: String,
        /// The line around the column.
        excerpt: Excerpt,
    },
    /// The sink refused an event.
    Sink {
        /// The line, from 1.
        line: u64,
        /// The column in characters, from 1, of the words the event comes from.
        column: u64,
        /// The line around the column.
        excerpt: Excerpt,
        /// The sink's error.
        error: E,
    },
    /// The input could not be read.
    Io(std::io::Error),
}

impl<E> ReadError<E> {
    /// The line and column of the error, from 1, where it has one.
    #[must_use]
    pub fn place(&self) -> Option<(u64, u64)> {
        match self {
            Self::Syntax { line, column, .. } | Self::Sink { line, column, .. } => {
                Some((*line, *column))
            }
            Self::Io(_) => None,
        }
    }
}

impl<E: fmt::Display> ReadError<E> {
    /// The error as shown to people: `file:line:column: message`, the line if there is anything on
    /// it, and a caret.
    ///
    /// ```
    /// use stave_parse::gcode::{Excerpt, ReadError};
    /// let error: ReadError<std::convert::Infallible> = ReadError::Syntax {
    ///     line: 3,
    ///     column: 4,
    ///     message: "unexpected `?`".into(),
    ///     excerpt: Excerpt::of(b"G1 ?", 3),
    /// };
    /// assert_eq!(error.shown("art.nc"), "art.nc:3:4: unexpected `?`\n  G1 ?\n     ^");
    /// ```
    #[must_use]
    pub fn shown(&self, file: &str) -> String {
        match self {
            Self::Syntax { line, column, message, excerpt } => {
                excerpt.shown(file, *line, *column, message)
            }
            Self::Sink { line, column, error, excerpt } => {
                excerpt.shown(file, *line, *column, error)
            }
            Self::Io(error) => format!("{file}: {error}"),
        }
    }
}

impl<E: fmt::Display> fmt::Display for ReadError<E> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Syntax { line, column, message, .. } => {
                write!(f, "line {line}, column {column}: {message}")
            }
            Self::Sink { line, column, error, .. } => {
                write!(f, "line {line}, column {column}: {error}")
            }
            Self::Io(error) => write!(f, "cannot read the program: {error}"),
        }
    }
}

impl<E: std::error::Error + 'static> std::error::Error for ReadError<E> {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Syntax { .. } => None,
            Self::Sink { error, .. } => Some(error),
            Self::Io(error) => Some(error),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn short_lines_are_shown_whole() {
        let line = "x".repeat(WINDOW);
        assert_eq!(Excerpt::of(line.as_bytes(), 100), Excerpt { text: line, caret: 100 });
        assert_eq!(Excerpt::of(b"", 5), Excerpt::default());
    }

    proptest! {
        #[test]
        fn windows_are_narrow_and_printable(line in proptest::collection::vec(any::<u8>(), 0..900), at in 0_usize..1000) {
            let excerpt = Excerpt::of(&line, at);
            let width = excerpt.text.chars().count();
            prop_assert!(width <= WINDOW + 2 && excerpt.caret <= width);
            prop_assert!(!excerpt.text.chars().any(char::is_control));
        }

        #[test]
        fn the_caret_stands_under_its_character(text in "[a-zé€😀]{1,400}", pick in any::<prop::sample::Index>()) {
            let characters: Vec<(usize, char)> = text.char_indices().collect();
            let (at, wanted) = *pick.get(&characters);
            let excerpt = Excerpt::of(text.as_bytes(), at);
            prop_assert_eq!(excerpt.text.chars().nth(excerpt.caret), Some(wanted));
        }
    }
}
