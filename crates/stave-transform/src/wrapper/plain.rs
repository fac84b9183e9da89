//! The quick way for burns that need no cutting: straight, inside one span of a straight wall, far
//! from every zone.
//!
//! Nearly every move of a long program is such a burn. A closed bound shows that it stays within
//! the tolerance; whatever else comes up, nothing has been changed and the burn goes the general
//! way. Numbers are handed on one by one, not as structures: a structure that is copied just after
//! it was written costs more than the arithmetic here.

use stave_toolpath::{Feed, StepKind, StepSink};

use super::{Burn, Wrapper};
use crate::curve::FlatPoint;
use crate::emit::{Asked, Words};
use crate::halt::Halt;

impl Wrapper<'_> {
    /// Burns to `to` if that is plain to see; false where nothing was done.
    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    pub(super) fn plain_burn<S: StepSink>(
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
        let from = &here.spot.laid;
        let mut hint = from.span;
        let laid = self.lay.map(self.wall, to.u, to.v, &mut hint);
        if laid.span != from.span
            || self.zones.near(from.s_mm, laid.s_mm)
            || !self.reach.surely(from.s_mm, laid.s_mm)
        {
            return Ok(false);
        }
        let ground = self.ground();
        let bound = ground.straight_bound(from, &laid);
        if !ground.within_bound(bound) {
            return Ok(false);
        }
        let rig = &self.emit.rig;
        let Some((along, rotary)) = rig.counts(&laid) else { return Ok(false) };
        let before = here.spot.words;
        let words = Words { along, rotary, z: before.z };
        let way = Words { along: along - before.along, rotary: rotary - before.rotary, z: 0 };
        let wall_mm = rig.short_wall_mm(way.along, way.rotary, &from.section, &laid.section);
        if !self.emit.burning {
            let first = *from;
            self.emit.extend(&first);
        }
        self.emit.extend(&laid);
        let stats = &mut self.emit.stats;
        stats.moves_in += 1;
        stats.burns_in += 1;
        if bound.0 > stats.chord_error_max_mm {
            stats.chord_error_max_mm = bound.0;
        }
        if let Some(here) = &mut self.here {
            here.flat = to;
            here.spot.laid = laid;
            here.spot.words = words;
        }
        let time_s = wall_mm * (60.0 / feed);
        let asked =
            Asked { kind: StepKind::Burn, asked_s: time_s, time_s, wall_mm, power_s: burn.power };
        self.emit.timed_inline(&laid, words, way, asked, sink)?;
        Ok(true)
    }
}
