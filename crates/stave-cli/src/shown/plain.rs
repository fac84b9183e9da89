//! Names from files on a terminal.

use std::fmt::Write;

/// A text as it may be shown on a terminal: what would steer it, or show a text otherwise than it
/// is written, is escaped (`\u{1b}`). Line ends and tabs stay.
pub(crate) fn plain(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for letter in text.chars() {
        if steers(letter) {
            // Writing into a string does not fail.
            let _ = write!(shown, "{}", letter.escape_unicode());
        } else {
            shown.push(letter);
        }
    }
    shown
}

/// A name in a message: line ends and tabs are escaped too, so that no name makes lines of its own.
pub(crate) fn name(text: &str) -> String {
    plain(text).replace('\n', r"\u{a}").replace('\t', r"\u{9}")
}

fn steers(letter: char) -> bool {
    match letter {
        '\n' | '\t' => false,
        // The marks and overrides of the bidirectional algorithm (Unicode Standard Annex #9,
        // section 2), line and paragraph separators, and what has no width: two names that differ
        // must not look alike.
        '\u{61c}'
        | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{feff}'
        | '\u{fff9}'..='\u{fffb}'
        | '\u{e0000}'..='\u{e007f}' => true,
        other => other.is_control(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_a_terminal_is_escaped_and_nothing_else() {
        let ordinary = "Zoë's cup, 40 °, 名前, \u{1f37a}\n\ttab";
        assert_eq!(plain(ordinary), ordinary);
        assert_eq!(plain("a\u{1b}[2Jb\rc\u{7f}"), r"a\u{1b}[2Jb\u{d}c\u{7f}");
        assert_eq!(plain("\u{9b}31m\u{202e}cn.a\u{2066}"), r"\u{9b}31m\u{202e}cn.a\u{2066}");
        assert_eq!(name("a\nb\tc"), r"a\u{a}b\u{9}c");
    }
}
