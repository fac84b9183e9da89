//! A line closed up: upper case, without white space, comments set aside.
//!
//! Blanks and tabs mean nothing outside comments, even inside a number (3.3); taking them out first
//! keeps the grammar clean. Every byte remembers where it stood, so that faults name the column of
//! the raw line.

use super::fault::Fault;
use super::problem::Problem;

/// The byte that stands for a comment in closed text.
pub(super) const COMMENT: u8 = b'(';

/// A comment: a range of bytes of the raw line, without its marks.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Comment {
    pub(super) start: u32,
    pub(super) end: u32,
    /// True for `;`, false for brackets.
    pub(super) semicolon: bool,
}

/// A closed line. Kept from line to line, so that its buffers are allocated once.
#[derive(Clone, Debug, Default)]
pub(super) struct Closed {
    pub(super) text: Vec<u8>,
    pub(super) comments: Vec<Comment>,
    /// What stopped the closing up, at the end of `text`. Raised when the parser gets there: before
    /// it there may be a word that makes the rest of the line none of our business.
    pub(super) fault: Option<Fault>,
    at: Vec<u32>,
    length: u32,
}

impl Closed {
    /// Closes up a line, which must be shorter than 4 GiB.
    pub(super) fn fill(&mut self, line: &[u8], strict: bool) {
        self.text.clear();
        self.at.clear();
        self.comments.clear();
        self.fault = None;
        self.length = u32::try_from(line.len()).unwrap_or(u32::MAX);
        let mut i = 0;
        while let Some(&byte) = line.get(i) {
            let here = u32::try_from(i).unwrap_or(u32::MAX);
            let kept = match byte {
                b' ' | b'\t' => {
                    i += 1;
                    continue;
                }
                b'(' => match close_comment(line, i) {
                    Ok(end) => {
                        self.comments.push(Comment { start: here + 1, end, semicolon: false });
                        i = end as usize;
                        COMMENT
                    }
                    Err(fault) => {
                        self.fault = Some(fault);
                        return;
                    }
                },
                b';' if strict => {
                    self.fault = Some(Fault::at(here, Problem::SemicolonComment));
                    return;
                }
                b';' => {
                    self.comments.push(Comment {
                        start: here + 1,
                        end: self.length,
                        semicolon: true,
                    });
                    i = line.len();
                    COMMENT
                }
                b'\r' => {
                    self.fault = Some(Fault::at(here, Problem::LoneReturn));
                    return;
                }
                _ => byte.to_ascii_uppercase(),
            };
            self.text.push(kept);
            self.at.push(here);
            i += 1;
        }
    }

    /// The raw offset of the closed byte that has `left` bytes from it to the end of the text.
    pub(super) fn offset(&self, left: usize) -> u32 {
        let index = self.text.len().saturating_sub(left);
        self.at.get(index).copied().unwrap_or(self.length)
    }
}

/// The offset of the bracket that closes the comment which opens at `open`.
fn close_comment(line: &[u8], open: usize) -> Result<u32, Fault> {
    let offset = |i: usize| u32::try_from(i).unwrap_or(u32::MAX);
    let inside = line.get(open + 1..).unwrap_or_default();
    match memchr::memchr2(b'(', b')', inside).map(|i| open + 1 + i) {
        None => Err(Fault::at(offset(open), Problem::UnclosedComment)),
        Some(i) if line.get(i) == Some(&b'(') => Err(Fault::at(offset(i), Problem::NestedComment)),
        Some(i) => Ok(offset(i)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closes_up() {
        let mut closed = Closed::default();
        closed.fill(b"g0x +0. 12 (a b) 34y 7 ; c", false);
        assert_eq!(closed.text, b"G0X+0.12(34Y7(");
        assert_eq!(closed.comments[0], Comment { start: 12, end: 15, semicolon: false });
        assert_eq!(closed.comments[1], Comment { start: 24, end: 26, semicolon: true });
        assert_eq!(closed.offset(5), 17);
        assert_eq!(closed.offset(0), 26);
    }

    #[test]
    fn keeps_what_stands_before_a_fault() {
        let mut closed = Closed::default();
        closed.fill(b"M117 (x", false);
        assert_eq!(closed.text, b"M117");
        assert_eq!(closed.fault, Some(Fault::at(5, Problem::UnclosedComment)));
        closed.fill(b"(a (b) c)", false);
        assert_eq!(closed.fault, Some(Fault::at(3, Problem::NestedComment)));
    }
}
