//! What other dialects have and this language has not: told apart, so that the refusal can say what
//! it is. All of it works on closed text.

use super::block::Block;
use super::code::{Code, GGroup};
use super::problem::Problem;
use super::words::{AXES, letters};

/// The words of subroutines, loops and conditions, after an O word or by themselves; a longer word
/// before the one that it begins with.
const FLOW: [&str; 18] = [
    "SUB",
    "ENDSUB",
    "CALL",
    "RETURN",
    "IF",
    "ELSEIF",
    "ELSE",
    "ENDIF",
    "WHILE",
    "ENDWHILE",
    "DO",
    "BREAK",
    "CONTINUE",
    "REPEAT",
    "ENDREPEAT",
    "GOTO",
    "THEN",
    "END",
];

/// What stands after an O: where the digits of a program number end, or the refusal and how many
/// bytes are left there.
pub(super) fn program_number(text: &[u8], strict: bool) -> Result<&[u8], (usize, Problem)> {
    let named = matches!(text, [b'<' | b'[' | b'#', ..]);
    let digits = text.iter().take_while(|b| b.is_ascii_digit()).count();
    let rest = text.get(digits..).unwrap_or_default();
    let whole = text.len() + 1;
    if named {
        return Err((whole, Problem::FlowControl("an O word with a name")));
    }
    if digits > 0 && flow_word(rest).is_some() {
        return Err((whole, Problem::FlowControl("an O word")));
    }
    if strict {
        return Err((whole, Problem::ProgramNumber));
    }
    if digits == 0 || rest.first().is_some_and(|&b| b != super::closed::COMMENT) {
        return Err((rest.len(), Problem::BadProgramNumber));
    }
    Ok(rest)
}

/// The word of flow control that `text` begins with.
pub(super) fn flow_word(text: &[u8]) -> Option<&'static str> {
    FLOW.into_iter().find(|word| text.starts_with(word.as_bytes()))
}

/// A better word for `problem`, found `left` bytes before the end of the block's text.
#[cold]
pub(super) fn explain(block: &Block, left: usize, problem: Problem) -> Problem {
    let body = block.body_text();
    let at = body.len().saturating_sub(left);
    let (before, after) = body.split_at_checked(at).unwrap_or((body, &[]));
    match (before, after) {
        (_, [b'<', ..]) if before.ends_with(b"#") => Problem::NamedParameter,
        (_, [b'<' | b'>', ..]) => Problem::AngleBracket,
        ([.., b'0'..=b'9'], [b',', b'0'..=b'9', ..]) => {
            let whole = before.iter().rev().take_while(|b| is_of_number(**b)).count();
            let whole = before.get(before.len() - whole..).unwrap_or_default();
            let fraction = after.iter().skip(1).take_while(|b| b.is_ascii_digit());
            let text = whole.iter().chain(b".").chain(fraction);
            Problem::DecimalComma(text.take(LONGEST).map(|b| char::from(*b)).collect())
        }
        ([.., _], [b'*', digits @ ..])
            if !digits.is_empty() && digits.iter().all(u8::is_ascii_digit) =>
        {
            Problem::Checksum
        }
        ([.., letter], _) if bare(*letter, after) => match block.g(GGroup::NonModal) {
            Some(code @ (G28 | G30)) => Problem::BareHomeAxis { letter: char::from(*letter), code },
            _ => by_line(body, problem),
        },
        _ => by_line(body, problem),
    }
}

const G28: Code = Code::g(280);
const G30: Code = Code::g(300);
/// The most characters of a number that a message repeats.
const LONGEST: usize = 40;

fn is_of_number(byte: u8) -> bool {
    byte.is_ascii_digit() || matches!(byte, b'+' | b'-')
}

/// An axis letter that the next word follows, or nothing.
fn bare(letter: u8, after: &[u8]) -> bool {
    letter.is_ascii_uppercase()
        && letters(&[letter]) & AXES != 0
        && after.first().is_none_or(|b| b.is_ascii_uppercase() || *b == super::closed::COMMENT)
}

/// A line that begins with a word of flow control reads as words with something wrong in them.
fn by_line(body: &[u8], problem: Problem) -> Problem {
    match (flow_word(body), &problem) {
        (Some(word), Problem::UnknownFunction | Problem::NotALetter(_) | Problem::Expected(_)) => {
            Problem::FlowControl(word)
        }
        _ => problem,
    }
}
