//! Text as it may stand in a comment of a program.
//!
//! Controllers end a comment at the first closing bracket or line end, and some act on `! ? ~ % ;`,
//! on control bytes and on bytes above 0x7F wherever they stand, in a comment too (common practice,
//! no source). What is written into a program's comments holds none of these.

/// The longest line of a program, bytes without its line end (RS274/NGC 3.3).
pub const LONGEST_LINE: usize = 256;

/// Text in printable ASCII without anything that ends a comment or that a controller may act on.
/// Letters of other scripts are spelled in ASCII.
///
/// ```
/// use stave_toolpath::printable;
/// assert_eq!(printable("Søn (20 %); ok?"), "Son [20 pct], ok.");
/// assert_eq!(printable("a) M3 S1000\n!"), "a] M3 S1000 .");
/// ```
#[must_use]
pub fn printable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '(' => out.push('['),
            ')' => out.push(']'),
            '!' | '?' => out.push('.'),
            '~' => out.push('-'),
            ';' => out.push(','),
            '%' => out.push_str("pct"),
            ' '..='~' => out.push(c),
            c if c.is_control() => out.push(' '),
            c => match deunicode::deunicode_char(c) {
                // What stands for a character may hold any of those again.
                Some(spelled) => out.push_str(&ascii(spelled)),
                None => out.push('-'),
            },
        }
    }
    out
}

/// What a letter is spelled by, with what may not stand there left out.
fn ascii(spelled: &str) -> String {
    let holds =
        |c: &char| matches!(c, ' '..='~') && !matches!(c, '(' | ')' | '!' | '?' | '~' | ';' | '%');
    spelled.chars().filter(holds).collect()
}

/// As [`printable`], and no longer than so many bytes; what was longer ends with three points.
///
/// ```
/// assert_eq!(stave_toolpath::printable_within("a long name indeed", 9), "a long...");
/// ```
#[must_use]
pub fn printable_within(text: &str, most: usize) -> String {
    let mut out = printable(text);
    if out.len() > most {
        out.truncate(most.saturating_sub(3));
        out.push_str("...");
        out.truncate(most);
    }
    out
}
