//! The quick way for lines that hold nothing but plain G0 to G3, axis, I, J, F and S words, an N
//! number before them.
//!
//! Nearly every line of a long program is such a line. The scan takes it in one pass and without
//! finding its end first; whatever else it meets, it leaves the line to the general way and has
//! changed nothing. Both ways give the same events.

use stave_toolpath::{FeedMode, Plane};

use super::decimal;
use super::execute::State;
use super::fault::Stop;
use super::line_number;
use super::modes::Motion;
use super::parameters::FARTHEST;
use super::reader::Sink;
use super::words::{AXES, Words, letters};

/// Marks the letters of plain words in [`KIND`]; the five bits below are the letter's index.
const VALUE: u8 = 0x20;

#[expect(clippy::indexing_slicing, reason = "a byte is below 256, and the loop ends with the list")]
const KIND: [u8; 256] = {
    let mut kind = [0; 256];
    let list = b"XYZABCIJFS";
    let mut i = 0;
    while i < list.len() {
        let index = list[i] - b'A';
        kind[list[i] as usize] = VALUE | index;
        kind[(list[i] | 0x20) as usize] = VALUE | index;
        i += 1;
    }
    kind
};

const ARC_OFFSETS: u32 = letters(b"IJ");

/// A plain line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plain {
    /// Bytes taken, the line feed included.
    pub(super) used: usize,
    /// The motion word, if there is one.
    motion: Option<Motion>,
    /// The N number, if there is one.
    pub(super) number: Option<u64>,
    /// Whether there is anything on the line.
    pub(super) blank: bool,
}

/// Scans the line that `bytes` begins with, which must end in a line feed within them. `None` if it
/// is not plain.
#[inline]
#[expect(clippy::indexing_slicing, reason = "a byte is below 256")]
pub(super) fn scan(bytes: &[u8], strict: bool, limit: usize, words: &mut Words) -> Option<Plain> {
    words.clear();
    let mut motion = None;
    let mut number = None;
    let mut negative = 0;
    let mut largest = 0.0_f64;
    let mut i = 0;
    loop {
        let byte = *bytes.get(i)?;
        i += 1;
        let kind = KIND[usize::from(byte)];
        if kind & VALUE != 0 {
            let number = decimal::short(bytes, i)?;
            i = number.end;
            let index = kind & 0x1f;
            negative |= u32::from(number.negative) << index;
            let magnitude = number.value.abs();
            largest = if largest > magnitude { largest } else { magnitude };
            if !words.set(usize::from(index), number.value) {
                return None;
            }
            continue;
        }
        match byte {
            b'\n' => break,
            b' ' | b'\t' => {}
            b'G' | b'g' => {
                if motion.is_some() {
                    return None;
                }
                // At most two digits and no point: the rest is for the general way to tell of.
                let (value, end) = decimal::digits(bytes, i);
                if end == i || end > i + 2 || bytes.get(end) == Some(&b'.') {
                    return None;
                }
                motion = Some(match value {
                    0 => Motion::Travel,
                    1 => Motion::Straight,
                    2 => Motion::Clockwise,
                    3 => Motion::CounterClockwise,
                    _ => return None,
                });
                i = end;
            }
            b'N' | b'n' if motion.is_none() && words.present() == 0 && number.is_none() => {
                let (value, end) = line_number::read(bytes, i, strict).ok()?;
                number = Some(value);
                i = end;
            }
            b'\r' if bytes.get(i) == Some(&b'\n') => {}
            _ => return None,
        }
    }
    // What is out of range is for the general way to refuse.
    if i > limit || largest > FARTHEST || negative & const { letters(b"FS") } != 0 {
        return None;
    }
    let blank = motion.is_none() && number.is_none() && words.present() == 0;
    Some(Plain { used: i, motion, number, blank })
}

impl State {
    /// Whether a scanned line can be carried out the plain way: it has no fault that shows before
    /// its first event.
    #[inline]
    fn takes(&self, plain: &Plain, words: &Words) -> bool {
        let modes = &self.modes;
        let motion = plain.motion.unwrap_or(modes.motion);
        let axes = words.any(AXES);
        let moves = match motion {
            Motion::None => !axes,
            Motion::Travel | Motion::Straight => !words.any(ARC_OFFSETS),
            Motion::Clockwise | Motion::CounterClockwise => modes.plane == Plane::Xy,
        };
        // Under G93 every feed move needs an F of its own, above zero.
        let fed = modes.feed_mode == FeedMode::PerMinute
            || motion == Motion::Travel
            || !axes
            || words.get(b'F').is_some_and(|f| f > 0.0);
        moves && fed && (axes || (plain.motion.is_none() && !words.any(ARC_OFFSETS)))
    }

    /// Carries out a scanned line; `None` if it must go the general way.
    #[inline]
    pub(super) fn run_plain<S: Sink>(
        &mut self,
        line: u64,
        plain: &Plain,
        words: &Words,
        sink: &mut S,
    ) -> Option<Result<(), Stop<S::Error>>> {
        if !self.takes(plain, words) {
            return None;
        }
        Some(self.plain(line, plain, words, sink))
    }

    #[inline]
    fn plain<S: Sink>(
        &mut self,
        line: u64,
        plain: &Plain,
        words: &Words,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let motion = plain.motion.unwrap_or(self.modes.motion);
        if let Some(f) = words.get(b'F') {
            match self.modes.feed_mode {
                FeedMode::PerMinute => self.rate(line, f, self.scale, sink)?,
                FeedMode::InverseTime if words.any(AXES) => {
                    self.move_rate(line, motion, f, sink)?;
                }
                FeedMode::InverseTime => {}
            }
        }
        if let Some(s) = words.get(b'S') {
            self.power(line, s, sink)?;
        }
        self.modes.motion = motion;
        if words.any(AXES) {
            self.run_motion(line, motion, words, false, sink)?;
        }
        Ok(())
    }
}
