//! Comments and messages (3.3.4).

use stave_toolpath::Event;

use super::closed::Comment;
use super::execute::{State, byte, emit};
use super::fault::Stop;
use super::reader::Sink;

impl State {
    /// Step 1: comments and messages. Strict reading uses only the last of a line (3.3.5).
    pub(super) fn comments<S: Sink>(
        &mut self,
        line: u64,
        raw: &[u8],
        comments: &[Comment],
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let used = if self.strict {
            comments.get(comments.len().saturating_sub(1)..)
        } else {
            Some(comments)
        };
        for comment in used.unwrap_or_default() {
            let text = raw.get(comment.start as usize..comment.end as usize).unwrap_or_default();
            let event = match message(text) {
                Some(text) if !comment.semicolon => Event::Message { text },
                _ => Event::Comment { text },
            };
            emit(sink, line, byte(comment.start.saturating_sub(1)), &event)?;
        }
        Ok(())
    }
}

/// What follows `MSG,` in a comment; the letters in any case, blanks between them (3.3.4).
fn message(text: &[u8]) -> Option<&[u8]> {
    let mut rest = text;
    for wanted in *b"MSG," {
        let blank = |b: &u8| matches!(b, b' ' | b'\t');
        while let Some((_, after)) = rest.split_first().filter(|(b, _)| blank(b)) {
            rest = after;
        }
        match rest.split_first() {
            Some((b, after)) if b.to_ascii_uppercase() == wanted => rest = after,
            _ => return None,
        }
    }
    Some(rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_m_s_g_comma_makes_a_message() {
        assert_eq!(message(b"MSG, hi"), Some(&b" hi"[..]));
        assert_eq!(message(b" m S\tg ,hi"), Some(&b"hi"[..]));
        assert_eq!(message(b"MESSAGE, hi"), None);
        assert_eq!(message(b"MSG"), None);
        assert_eq!(message(b""), None);
    }
}
