//! What is kept of settled moves: sums by section, the clock, and who listens.

use std::collections::VecDeque;

use stave_toolpath::{BeamWord, Position};
use stave_plan::{ASKED, Settle, Settled, Totals};

use super::axes::AXES;
use super::{Follow, TimedMove};

/// The most sections that are kept apart; what follows is one more.
pub(super) const MOST_SECTIONS: usize = 1000;

/// A section in the making.
#[derive(Clone, Debug, Default)]
pub(super) struct Part {
    pub(super) name: String,
    pub(super) line: u64,
    pub(super) dwell_s: f64,
    pub(super) moves: u64,
    pub(super) totals: Totals<AXES>,
}

/// What a listener is told of a move, besides what the planner says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Waiting {
    pub(super) line: u64,
    pub(super) from: Position,
    pub(super) to: Position,
    pub(super) nominal_s: f64,
    pub(super) beam: Option<BeamWord>,
    pub(super) power: Option<f64>,
}

pub(super) struct Book<F> {
    /// At least one; a move's tag is its index.
    pub(super) parts: Vec<Part>,
    pub(super) clock_s: f64,
    pub(super) waiting: VecDeque<Waiting>,
    pub(super) lengths_known: bool,
    pub(super) letters: [char; AXES],
    pub(super) follow: F,
}

impl<F: Follow> Settle for Book<F> {
    #[inline]
    fn settled(&mut self, settled: &Settled) {
        if let Some(part) = self.parts.get_mut(settled.tag as usize) {
            part.totals.settled(settled);
        }
        if F::LISTENS
            && let Some(one) = self.waiting.pop_front()
        {
            let held_by = self.letters.get(usize::from(settled.speed_axis)).copied();
            self.follow.timed(&TimedMove {
                line: one.line,
                kind: settled.kind,
                from: one.from,
                to: one.to,
                start_s: self.clock_s,
                duration_s: settled.duration_s,
                nominal_s: one.nominal_s,
                wall_mm: Some(settled.wall_mm).filter(|_| self.lengths_known),
                held_by: held_by.filter(|_| settled.speed_axis != ASKED && one.nominal_s > 0.0),
                beam: one.beam,
                power: one.power,
                section: settled.tag,
            });
            self.clock_s += settled.duration_s;
        }
    }
}
