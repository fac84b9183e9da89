//! Text as it stands in an XML document.

use std::borrow::Cow;

/// Text with the characters that XML keeps for itself written as entities, and those that XML 1.0
/// cannot hold as blanks.
///
/// ```
/// assert_eq!(stave_toolpath::xml::escaped("a < \"b\"\u{7}"), "a &lt; &quot;b&quot; ");
/// ```
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            // Characters that XML 1.0 cannot hold.
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            '\'' => out.push(c),
            c => put(c, &mut out),
        }
    }
    out
}

/// Appends a character, or the entity of one that XML keeps for itself.
fn put(c: char, out: &mut String) {
    match c {
        '&' => out.push_str("&amp;"),
        '<' => out.push_str("&lt;"),
        '>' => out.push_str("&gt;"),
        '"' => out.push_str("&quot;"),
        '\'' => out.push_str("&apos;"),
        c => out.push(c),
    }
}

/// A name that is read from the right, kept apart from the words and figures around it, so that
/// they are not read from the right with it (first strong isolate, Unicode Standard Annex 9); any
/// other name as it is.
///
/// ```
/// use stave_toolpath::xml::isolated;
/// assert_eq!(isolated("cup"), "cup");
/// assert_eq!(isolated("כוס"), "\u{2068}כוס\u{2069}");
/// ```
#[must_use]
pub fn isolated(name: &str) -> Cow<'_, str> {
    let from_right = |c| {
        matches!(c, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{feff}'
            | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
    };
    if name.contains(from_right) {
        Cow::Owned(format!("\u{2068}{name}\u{2069}"))
    } else {
        Cow::Borrowed(name)
    }
}

/// Whether a character shows nothing and turns the way in which what stands about it is read, or
/// parts lines where most programs show none: source text that holds it may look like another
/// (Unicode Technical Report 36, section 2.5; from memory).
///
/// ```
/// use stave_toolpath::xml::turns_reading;
/// assert!(turns_reading('\u{2068}') && turns_reading('\u{202e}') && !turns_reading('כ'));
/// ```
#[must_use]
pub fn turns_reading(letter: char) -> bool {
    matches!(letter, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2066}'..='\u{2069}')
}

/// A sentence in which names stand between straight quotes, each of them isolated as
/// [`isolated`] has it.
///
/// ```
/// use stave_toolpath::xml::isolated_quotes;
/// assert_eq!(isolated_quotes("in \"boss\" at 20"), "in \"boss\" at 20");
/// assert_eq!(isolated_quotes("in \"יד (2)\" at 20"), "in \"\u{2068}יד (2)\u{2069}\" at 20");
/// ```
#[must_use]
pub fn isolated_quotes(sentence: &str) -> String {
    let parts = sentence.split('"').enumerate();
    let parts: Vec<Cow<'_, str>> = parts
        .map(|(k, part)| if k % 2 == 1 { isolated(part) } else { Cow::Borrowed(part) })
        .collect();
    parts.join("\"")
}

/// What becomes of line breaks and tabulators when text is written into a document.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Breaks {
    /// They are lines of the source.
    AsTheyAre,
    /// They are no lines of the source, and are not normalized when an attribute is read.
    AsReferences,
}

/// Appends text as it can stand between tags and within quotes, every character kept; carriage
/// returns are references always, since a reader would make them line feeds.
///
/// ```
/// use stave_toolpath::xml::{Breaks, escape};
/// let mut out = String::new();
/// escape("a\n'b'", Breaks::AsReferences, &mut out);
/// assert_eq!(out, "a&#10;&apos;b&apos;");
/// ```
pub fn escape(text: &str, breaks: Breaks, out: &mut String) {
    let referenced = breaks == Breaks::AsReferences;
    for c in text.chars() {
        match c {
            '\n' if referenced => out.push_str("&#10;"),
            '\t' if referenced => out.push_str("&#9;"),
            '\r' => out.push_str("&#13;"),
            c => put(c, out),
        }
    }
}
