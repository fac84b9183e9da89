//! Tables that fit a terminal of 80 columns and align by how wide letters are shown.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// What every table fits in.
pub(crate) const COLUMNS: usize = 80;

/// How many columns a text takes.
pub(crate) fn width(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// A text filled up with blanks at its end.
pub(crate) fn left(text: &str, columns: usize) -> String {
    format!("{text}{}", " ".repeat(columns.saturating_sub(width(text))))
}

/// A text filled up with blanks at its beginning.
pub(crate) fn right(text: &str, columns: usize) -> String {
    format!("{}{text}", " ".repeat(columns.saturating_sub(width(text))))
}

/// A name no wider than its column: its beginning, with a sign that it goes on.
pub(crate) fn beginning(name: &str, columns: usize) -> String {
    if width(name) <= columns {
        return name.to_owned();
    }
    taken(name.chars(), columns).into_iter().chain(['…']).collect()
}

/// A path no wider than its column: its end.
pub(crate) fn end(name: &str, columns: usize) -> String {
    if width(name) <= columns {
        return name.to_owned();
    }
    let kept = taken(name.chars().rev(), columns);
    ['…'].into_iter().chain(kept.into_iter().rev()).collect()
}

/// As many letters as leave a column for the sign.
fn taken(letters: impl Iterator<Item = char>, columns: usize) -> Vec<char> {
    let mut free = columns.saturating_sub(1);
    letters
        .take_while(|letter| {
            let wide = letter.width().unwrap_or(0);
            let fits = wide <= free;
            free = free.saturating_sub(wide);
            fits
        })
        .collect()
}

/// A text in lines of at most so many columns, broken between words.
pub(crate) fn folded(text: &str, columns: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.last().map_or(0, |line| width(line));
        if last > 0 && last + 1 + width(word) > columns {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_those_that_a_terminal_shows() {
        // Two ideographs take four columns; a mark that combines takes none (Unicode Standard Annex
        // #11).
        assert_eq!((width("名前"), width("e\u{301}"), width("ab")), (4, 1, 2));
        assert_eq!((left("名", 4), right("名", 4)), ("名  ".to_owned(), "  名".to_owned()));
        assert_eq!(beginning("名前は長い", 6), "名前…");
        assert_eq!(end("a/folder/cup.nc", 8), "…/cup.nc");
        assert_eq!(beginning("cup", 3), "cup");
        assert_eq!(folded("one two three", 7), ["one two", "three"]);
    }
}
