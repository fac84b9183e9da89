//! The quick way for burns that need no cutting: straight, inside one span of a straight wall, far
//! from every zone.
//!
//! Nearly every move of a long program is such a burn. A closed bound shows that it stays within
//! the tolerance; whatever else comes up, nothing has been changed and the burn goes the general
//! way. Numbers are handed on one by one, not as structures: a structure that is copied just after
//! it was written costs more than the arithmetic here.

use stave_toolpath::{Feed, MoveKind};

use super::give::Asked;
use super::{Burn, MoveSink, Words, Wrapper};
use crate::curve::FlatPoint;
use crate::error::Halt;

impl Wrapper<'_> {
    /// Burns to `to` if that is plain to see; false where nothing was done.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub(super) fn plain_burn<S: MoveSink>(
        &mut self,
        to: FlatPoint,
        burn: Burn,
        sink: &mut S,
    ) -> Result<bool, Halt<S::Error>> {
        let (true, Feed::PerMinute(feed), Some(here)) = (self.plain, burn.feed, &self.here) else {
            return Ok(false);
        };
        if to.z != here.flat.z || !(feed > 0.0 && feed < f64::INFINITY) {
            return Ok(false);
        }
        let mut hint = here.laid.span;
        let laid = self.lay.map(self.wall, to.u, to.v, &mut hint);
        if laid.span != here.laid.span
            || self.keepouts.near(here.laid.s_mm, laid.s_mm)
            || !self.reach.surely(here.laid.s_mm, laid.s_mm)
        {
            return Ok(false);
        }
        let ground = self.ground();
        let bound = ground.straight_bound(&here.laid, &laid);
        if !ground.within_bound(bound) {
            return Ok(false);
        }
        let Some((along, rotary)) = self.frame.counts(&laid) else { return Ok(false) };
        let words = Words { along, rotary, z: here.words.z };
        let step =
            Words { along: along - here.words.along, rotary: rotary - here.words.rotary, z: 0 };
        let wall_mm =
            self.frame.wall_mm(step.along, step.rotary, &here.laid.section, &laid.section);
        if !self.burning {
            let first = here.laid;
            self.extend(&first);
        }
        self.extend(&laid);
        self.stats.moves_in += 1;
        self.stats.burns_in += 1;
        if bound.0 > self.stats.chord_error_max_mm {
            self.stats.chord_error_max_mm = bound.0;
        }
        if let Some(here) = &mut self.here {
            here.flat = to;
            here.laid = laid;
            here.words = words;
        }
        let time_s = wall_mm * (60.0 / feed);
        self.timed_inline(
            sink,
            words,
            step,
            Asked { kind: MoveKind::Burn, time_s, wall_mm, power: burn.power },
        )?;
        Ok(true)
    }
}
