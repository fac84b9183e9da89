//! Lines that have no meaning here, in lenient reading: unknown M words and `$` lines.
//!
//! What may be passed on is written anew from the words that were read. A blank within a word means
//! nothing to a controller: a line passed on raw could say more than was understood of it.

use stave_toolpath::{Event, PassKind, number as text_of};

use super::block::Block;
use super::check::passable;
use super::closed::COMMENT;
use super::code;
use super::execute::{State, emit};
use super::expression::{Scope, number, real_value};
use super::fault::{Fault, Place, Stop};
use super::problem::Problem;
use super::reader::Sink;

/// The longest line that is passed on, bytes: the longest that RS274/NGC knows (3.3).
const LONGEST: usize = 256;
/// The decimals of a value that was reckoned.
const DECIMALS: u32 = 6;

impl State {
    /// A line with an unknown M word, from behind its N number, if nothing on it would be lost.
    pub(super) fn unknown_m<S: Sink>(
        &mut self,
        line: u64,
        raw: &[u8],
        block: &Block,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        passable(block)?;
        let mut text = std::mem::take(&mut self.text);
        text.clear();
        let scope = Scope { parameters: &self.parameters, scale: self.scale };
        let written = words(block, scope, &mut text);
        let outcome = self.hand_on(line, raw, block, (written, &text), sink);
        self.text = text;
        outcome
    }

    fn hand_on<S: Sink>(
        &mut self,
        line: u64,
        raw: &[u8],
        block: &Block,
        (written, text): (Result<(), Unfit>, &[u8]),
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let whole = raw.get(block.body as usize..).unwrap_or_default().trim_ascii();
        let (at, text) = match written {
            Ok(()) => {
                self.comments(line, raw, block.comments(), sink)?;
                (block.unknown_m.map_or(block.body, |m| m.at), text)
            }
            Err(Unfit::Unreadable(at)) => (at, &[][..]),
            Err(Unfit::Clash(fault)) => return Err(fault.into()),
        };
        let event = Event::Pass { kind: PassKind::UnknownM, text, raw: whole };
        emit(sink, line, Place::Byte(at), &event)
    }
}

/// Why a line cannot be written word by word.
enum Unfit {
    /// It does not read as words from this byte of the raw line on.
    Unreadable(u32),
    /// It reads as words, and one of them has a meaning here that would be lost.
    Clash(Fault),
}

/// Writes the words of a block closed up, a blank between each: the letter, and the number as
/// written or, where it was reckoned, its value.
fn words(block: &Block, scope: Scope<'_>, out: &mut Vec<u8>) -> Result<(), Unfit> {
    let closed = &block.closed;
    let mut rest = block.body_text();
    let mut clash = None;
    while let Some((&letter, after)) = rest.split_first() {
        if letter == COMMENT {
            rest = after;
            continue;
        }
        let at = closed.offset(rest.len());
        let unreadable = |left: usize| Unfit::Unreadable(closed.offset(left));
        if !letter.is_ascii_uppercase() || matches!(letter, b'N' | b'O') {
            return Err(unreadable(rest.len()));
        }
        if !out.is_empty() {
            out.push(b' ');
        }
        out.push(letter);
        let begun = out.len();
        let (end, value) = match number(after) {
            Ok((end, value)) => {
                let length = after.len() - end.len();
                out.extend_from_slice(after.get(..length).unwrap_or_default());
                (end, value)
            }
            Err(_) => {
                let (end, value) =
                    real_value(scope, 0, after).map_err(|_| unreadable(after.len()))?;
                let counts = text_of::round_to_counts(value, DECIMALS)
                    .ok_or_else(|| unreadable(after.len()))?;
                text_of::push_counts(out, counts, DECIMALS);
                (end, value)
            }
        };
        let whole = code::whole(value);
        match letter {
            b'G' => clash = clash.or(Some(format!("G{value} with it"))),
            b'M' => {
                let whole = whole.ok_or_else(|| unreadable(rest.len()))?;
                if code::m_group(whole).is_some() {
                    clash = clash.or(Some(format!("M{whole} with it")));
                }
                out.truncate(begun);
                out.extend_from_slice(whole.to_string().as_bytes());
            }
            _ => {}
        }
        if out.len() > LONGEST {
            return Err(Unfit::Unreadable(at));
        }
        rest = end;
    }
    if let Some(fault) = &closed.fault {
        return Err(Unfit::Unreadable(fault.place.offset_or(closed.offset(0))));
    }
    match (clash, block.unknown_m) {
        (Some(what), Some(m)) => {
            Err(Unfit::Clash(Fault::at(m.at, Problem::UnknownMWithMotion(m.number, what))))
        }
        _ => Ok(()),
    }
}

/// A `$` line, given without the blanks at its ends.
pub(super) fn dollar<S: Sink>(
    line: u64,
    at: u32,
    raw: &[u8],
    sink: &mut S,
) -> Result<(), Stop<S::Error>> {
    let harmless =
        |b: &u8| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'+' | b'-' | b'=' | b' ' | b'\t');
    // Controllers act on some bytes as they come, within a line or not: none but these is let by.
    let stray = raw.iter().skip(1).position(|b| !harmless(b));
    let (at, fit) = match stray {
        Some(index) => (at.saturating_add(u32::try_from(index + 1).unwrap_or(u32::MAX)), false),
        None => (at, raw.len() <= LONGEST),
    };
    let text = if fit { raw } else { &[] };
    emit(sink, line, Place::Byte(at), &Event::Pass { kind: PassKind::Dollar, text, raw })
}
