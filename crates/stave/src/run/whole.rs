//! Whether all of a program came in.

use stave_parse::gcode::{ProgramEnd, ReadSummary};
use stave_rig::{Beam, FIRST_WORDS};

use super::INPUT_WORDS;
use crate::error::SourceFault;

/// Whether a comment is one that only stands in programs of ours, at their beginning or end.
pub(crate) fn is_ours(comment: &[u8]) -> bool {
    let comment = comment.trim_ascii_start();
    [FIRST_WORDS, INPUT_WORDS].iter().any(|words| comment.starts_with(words.as_bytes()))
}

/// Whether a comment is what Stave ends a program with that was broken off.
pub(crate) fn says_broken_off(comment: &[u8]) -> bool {
    comment.trim_ascii_start().starts_with(b"broken off:")
}

/// What ends in the middle of a line with the beam on was cut off: no command takes it for whole.
pub(crate) fn cut_short(summary: &ReadSummary, beam: &Beam) -> Option<SourceFault> {
    let is_cut = summary.end == ProgramEnd::Input
        && !summary.last_line_ended
        && beam.word.is_some()
        && beam.burns();
    is_cut.then_some(SourceFault::Cut { line: summary.lines })
}
