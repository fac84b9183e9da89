//! Lines that are passed through whole in lenient reading.

use stave_toolpath::Event;

use super::block::Block;
use super::check::passable;
use super::execute::emit;
use super::fault::{Place, Stop};
use super::reader::Sink;

/// A line with an unknown M word: passed through from behind its N number, if nothing on it would
/// be lost.
pub(super) fn unknown_m<S: Sink>(
    line: u64,
    raw: &[u8],
    block: &Block,
    sink: &mut S,
) -> Result<(), Stop<S::Error>> {
    passable(block)?;
    let text = raw.get(block.body as usize..).unwrap_or_default();
    whole(line, block.body, text, sink)
}

/// A line as it stands, but for blanks at its ends.
pub(super) fn whole<S: Sink>(
    line: u64,
    at: u32,
    text: &[u8],
    sink: &mut S,
) -> Result<(), Stop<S::Error>> {
    emit(sink, line, Place::Byte(at), &Event::Pass { text: text.trim_ascii() })
}
