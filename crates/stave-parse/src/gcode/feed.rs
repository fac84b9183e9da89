//! F under G94 and G93: what it says, and what a move then goes by (2.1.2.5, 3.5.19, 3.7.1).

use stave_toolpath::{Event, Feed, FeedMode, Position};

use super::block::Block;
use super::check::Plan;
use super::code::{Code, GGroup};
use super::execute::{State, emit, units_of};
use super::fault::{Place, Stop};
use super::modes::Motion;
use super::reader::{Sink, WarningCode};
use super::words::{Words, letters};

/// A feed rate of G94.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rate {
    /// As written: degrees per minute where only rotary axes move.
    written: f64,
    mm_per_min: f64,
}

impl State {
    /// Steps 2 and 3: feed rate mode and feed rate.
    pub(super) fn feed_words<S: Sink>(
        &mut self,
        line: u64,
        block: &Block,
        plan: Plan,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        if let Some(code) = block.g(GGroup::FeedMode) {
            let mode =
                if code == Code::g(930) { FeedMode::InverseTime } else { FeedMode::PerMinute };
            if mode != self.modes.feed_mode {
                // A rate of the other mode means nothing in this one, and one from before it is too
                // old to trust.
                self.rate = None;
            }
            self.modes.feed_mode = mode;
        }
        let units = block.g(GGroup::Units).map(units_of);
        let changed = units.is_some_and(|u| u != self.modes.units);
        let Some(f) = block.words.get(b'F') else {
            if changed && self.rate.is_some() {
                self.warn(line, WarningCode::FeedKept);
            }
            return Ok(());
        };
        if self.modes.feed_mode == FeedMode::PerMinute {
            // By table 8 F comes before G20 and G21, by 4.3.3.3 the stored rate is then read in the
            // new units: either way the writer meant the new ones.
            if changed {
                self.warn(line, WarningCode::FeedInNewUnits);
            }
            let scale = units.unwrap_or(self.modes.units).millimetres();
            return self.rate(line, f, scale, sink);
        }
        match plan.motion {
            Some(motion) => self.move_rate(line, motion, f, sink),
            None => Ok(()),
        }
    }

    /// F under G93: it belongs to its line's move and is ignored on lines without one (3.5.19).
    #[inline]
    pub(super) fn move_rate<S: Sink>(
        &self,
        line: u64,
        motion: Motion,
        f: f64,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        if matches!(motion, Motion::Travel | Motion::None) {
            return Ok(());
        }
        let event = Event::FeedRate { f, mode: FeedMode::InverseTime };
        emit(sink, line, Place::Letters(const { letters(b"F") }), &event)
    }

    /// The feed rate of a move to `to`, along an arc or straight.
    ///
    /// What F is scaled by follows from what moves along the path, not from where it ends: a full
    /// circle ends where it began.
    #[inline]
    pub(super) fn feed(&self, words: &Words, to: &Position, arc: bool) -> Option<Feed> {
        if self.modes.feed_mode == FeedMode::InverseTime {
            return words.get(b'F').map(Feed::InverseTime);
        }
        let rate = self.rate.filter(|r| r.written > 0.0)?;
        // In millimetres the two are one number, and there is nothing to find out.
        let degrees = rate.written != rate.mm_per_min && !arc && self.turns_only(to);
        Some(Feed::PerMinute(if degrees { rate.written } else { rate.mm_per_min }))
    }

    /// True where a straight move to `to` moves nothing but rotary axes.
    #[inline(never)]
    fn turns_only(&self, to: &Position) -> bool {
        let from = &self.position;
        Feed::goes_by_degrees(from.linear_distance_mm(to), from.rotary_distance_deg(to))
    }

    /// F under G94, in units of `scale` mm.
    #[inline]
    pub(super) fn rate<S: Sink>(
        &mut self,
        line: u64,
        written: f64,
        scale: f64,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let mm_per_min = written * scale;
        self.rate = Some(Rate { written, mm_per_min });
        let event = Event::FeedRate { f: mm_per_min, mode: FeedMode::PerMinute };
        emit(sink, line, Place::Letters(const { letters(b"F") }), &event)
    }
}
