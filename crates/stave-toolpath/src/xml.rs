//! Text as it stands in an XML document.

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
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Characters that XML 1.0 cannot hold.
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
