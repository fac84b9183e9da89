//! Taking up the play of the rotary, always in the dark.
//!
//! Whoever makes moves knows nothing of it. All words go through the emitter, where those that fall
//! while they burn stand lower by the play than those that grow, and where what must be taken up
//! first is a move of its own.

use stave_toolpath::{Place, StepSink};

use crate::asked::Asked;
use crate::emit::{Emitter, Spot, Words};
use crate::halt::Halt;

/// How many times the play a burn is come to from below.
const RUN_UPS: i64 = 2;

/// How the rotary's play stands.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct TakeUp {
    /// The play, counts; 0 for none.
    pub(crate) width: i64,
    /// Whether the word drives the work from above, as it does while a burn goes back.
    falls: bool,
    /// By how much the word has grown since it last fell, counts.
    risen: i64,
    /// Whether what burns has been come to, and goes on.
    burns: bool,
    /// Whether a line around is under way: its run-up, gaps and run-out take the work along as its
    /// burns do.
    on_line: bool,
    /// Whether what is dark shows where burns would go, and so goes as they would.
    pub(crate) shows: bool,
}

impl TakeUp {
    pub(crate) fn new(width: i64) -> Self {
        Self { width, ..Self::default() }
    }

    /// What is added to the word of where the work is to stand, counts.
    #[inline]
    pub(crate) fn shift(&self) -> i64 {
        if self.falls { -self.width } else { 0 }
    }

    /// Whether the work is taken along from below, and has been for long enough.
    fn is_settled(&self) -> bool {
        !self.falls && self.risen >= RUN_UPS * self.width
    }

    /// Whether a dark move by so many counts goes on as the line does that it is part of.
    #[inline]
    pub(crate) fn goes_on(&self, turns: i64) -> bool {
        self.on_line && self.burns && (turns == 0 || (turns < 0) == self.falls)
    }

    /// Nobody knows how the work was turned last.
    pub(crate) fn forget(&mut self) {
        (self.risen, self.burns, self.on_line) = (0, false, false);
    }

    /// The word has gone so many counts.
    #[inline]
    pub(crate) fn gone(&mut self, by: i64) {
        self.risen = if by < 0 { 0 } else { self.risen.saturating_add(by) };
    }
}

impl Emitter<'_> {
    /// A travel that ends with a growing word, from far enough below.
    pub(crate) fn travel_from_below<S: StepSink>(
        &mut self,
        from: Option<&Spot>,
        to: &Spot,
        wall_mm: f64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let play = &mut self.take_up;
        (play.falls, play.burns, play.on_line) = (false, false, false);
        let grows = self.given.map(|given| to.words.rotary - given.rotary);
        let play = &self.take_up;
        let known = !self.known.is_lost();
        let settles =
            |by: i64| known && by >= 0 && play.risen.saturating_add(by) >= RUN_UPS * play.width;
        if grows.is_some_and(settles) {
            return self.travel_plain(from, to, wall_mm, sink);
        }
        let below = self.below(to);
        let way = |a: &Spot, b: &Spot| {
            let words = |spot: &Spot| self.rig.of_counts(spot.words.along, spot.words.rotary, 0);
            self.rig.wall_mm(&words(a), &words(b), &mut 0)
        };
        let there = from.map_or_else(|| self.way_to_mm(&below), |from| way(from, &below));
        let up = way(&below, to);
        self.travel_plain(from, &below, there, sink)?;
        self.travel_plain(Some(&below), to, up, sink)
    }

    /// The same place, so far turned back that the word grows from there for long enough.
    fn below(&self, spot: &Spot) -> Spot {
        let by = RUN_UPS * self.take_up.width;
        let mut below = *spot;
        below.words.rotary -= by;
        below.laid.turn_rad -= self.turned_rad(by);
        below
    }

    #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    fn turned_rad(&self, counts: i64) -> f64 {
        counts as f64 * self.rig.rad_per_count
    }

    /// Before something burns from where the machine stands, which turns the work by `turns`
    /// counts: the play is taken up on the side from which the work is then taken along.
    #[cold]
    pub(crate) fn settle<S: StepSink>(
        &mut self,
        from: Words,
        turns: i64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(place) = self.stands_at() else { return Ok(()) };
        if !self.take_up.burns && !self.take_up.is_settled() {
            self.take_up.falls = false;
            let by = RUN_UPS * self.take_up.width;
            let below = Place { turn_rad: place.turn_rad - self.turned_rad(by), ..place };
            let wall_mm = self.turned_rad(by).abs() * place.radius_mm;
            self.give_at(
                below,
                Words { rotary: from.rotary - by, ..from },
                Asked::travel(wall_mm),
                sink,
            )?;
            self.give_at(place, from, Asked::travel(wall_mm), sink)?;
        }
        let falls = if turns == 0 { self.take_up.falls } else { turns < 0 };
        if falls != self.take_up.falls {
            self.take_up.falls = falls;
            self.give_at(place, from, Asked::travel(0.0), sink)?;
        }
        self.take_up.burns = true;
        Ok(())
    }

    /// A line around begins with its run-up from where the machine stands, toward larger turns
    /// where `sign` is +1: its play is taken up before, so that the run-up and all that follows
    /// takes the work along from one side.
    pub(crate) fn begin_line<S: StepSink>(
        &mut self,
        sign: f64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        if self.take_up.width > 0
            && let Some(here) = self.stood_at()
        {
            let turns = if sign * self.rig.rad_per_count > 0.0 { 1 } else { -1 };
            self.settle(here, turns, sink)?;
            self.take_up.on_line = true;
        }
        Ok(())
    }

    /// The line has run out.
    pub(crate) fn end_line(&mut self) {
        self.take_up.on_line = false;
    }

    /// Whether what burns next, and turns the work by so many counts, can go on as it is.
    #[inline]
    pub(crate) fn is_taken_up(&self, turns: i64) -> bool {
        let play = &self.take_up;
        play.width == 0 || (play.burns && (turns == 0 || (turns < 0) == play.falls))
    }

    /// A dark move at feed begins: the word of where it goes is that of growing words. By how much
    /// more the word goes than was meant, counts.
    pub(crate) fn goes_dark(&mut self) -> i64 {
        let shift = self.take_up.shift();
        (self.take_up.falls, self.take_up.burns) = (false, false);
        -shift
    }

    /// The words that the work stands at, as whoever makes moves has them.
    pub(crate) fn stood_at(&self) -> Option<Words> {
        let given = self.given?;
        Some(Words { rotary: given.rotary - self.take_up.shift(), ..given })
    }
}
