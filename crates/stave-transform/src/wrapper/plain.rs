//! The quick way for burns that need no cutting: straight, inside one span of a straight wall or
//! anywhere on a smooth one, far from every zone.
//!
//! Nearly every move of a long program is such a burn. A closed bound shows that it stays within
//! the tolerance; whatever else comes up, nothing has been changed and the burn goes the general
//! way. Numbers are handed on one by one, not as structures: a structure that is copied just after
//! it was written costs more than the arithmetic here.

use stave_toolpath::{Feed, StepKind, StepSink};
use stave_wall::{Laid, WallShape};

use super::{Burn, Wrapper};
use crate::asked::Asked;
use crate::curve::{Curve, FlatPoint};
use crate::cut::{Cut, KNOWN, Point, STRAY};
use crate::emit::Words;
use crate::halt::Halt;
use crate::track::Track;

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
        let mut hint = self.hint;
        let laid = self.lay.map(self.wall, to.u, to.v, &mut hint);
        if !self.reach.surely(from.s_mm, laid.s_mm) {
            return Ok(false);
        }
        let (deviation_mm, length_ratio, stray) = if self.emit.bends.is_none() {
            // On one run of a straight wall a straight burn goes one way in turn too.
            let box_of = ((from.s_mm, laid.s_mm), (from.turn_rad, laid.turn_rad));
            if laid.span != from.span || self.zones.near_box(box_of.0, box_of.1) {
                return Ok(false);
            }
            let ground = self.ground();
            let bound = ground.straight_bound(from, &laid);
            if !ground.within_bound(bound) {
                return Ok(false);
            }
            (bound.0, 1.0, bound.1)
        } else {
            let Some(found) = self.plain_on_smooth(to, &laid) else { return Ok(false) };
            found
        };
        let rig = &self.emit.rig;
        let Some((along, rotary)) = rig.counts(&laid) else { return Ok(false) };
        let before = here.spot.words;
        let words = Words { along, rotary, z: before.z };
        let way = Words { along: along - before.along, rotary: rotary - before.rotary, z: 0 };
        let wall_mm =
            length_ratio * rig.short_wall_mm(way.along, way.rotary, &from.section, &laid.section);
        if !self.emit.burning {
            let first = *from;
            self.emit.extend(&first);
        }
        self.emit.extend(&laid);
        let stats = &mut self.emit.stats;
        stats.moves_in += 1;
        stats.burns_in += 1;
        if deviation_mm > KNOWN * stats.chord_error_max_mm {
            self.look_at_error(to, &laid);
        }
        self.hint = hint;
        if let Some(here) = &mut self.here {
            here.flat = to;
            here.spot.laid = laid;
            here.spot.words = words;
        }
        let (time_s, power_s) = (wall_mm * (60.0 / feed), burn.power);
        let asked = Asked { power_s, stray, ..Asked::taking(time_s, StepKind::Burn, wall_mm) };
        self.emit.timed_inline(&laid, words, way, asked, sink)?;
        Ok(true)
    }

    /// The deviation, the length ratio and the stray of a straight burn on a smooth wall, where
    /// bounds show that it needs no cutting.
    fn plain_on_smooth(&self, to: FlatPoint, laid: &Laid) -> Option<(f64, f64, f64)> {
        let here = self.here.as_ref()?;
        let curve = Curve::Line { from: here.flat, to };
        let track = Track::of(&curve);
        let ground = self.ground();
        if self.zones.near(here.spot.laid.s_mm, laid.s_mm) {
            let stretch = ground.stretch(&track)?;
            if self.zones.near_box(stretch, ground.turns(&track, stretch)?) {
                return None;
            }
        }
        let from = Point { t: 0.0, flat: here.flat, laid: here.spot.laid };
        let bounded = ground.bounded(&track, &from, &Point { t: 1.0, flat: to, laid: *laid })?;
        bounded.fits().then_some((
            bounded.deviation.high * self.tolerance_mm,
            bounded.length_ratio,
            bounded.stray.high * STRAY,
        ))
    }

    /// A deviation that may be the greatest so far is looked at: first by the closer bound.
    #[cold]
    fn look_at_error(&mut self, to: FlatPoint, laid: &Laid) {
        let Some(here) = self.here.as_ref() else { return };
        let curve = Curve::Line { from: here.flat, to };
        let track = Track::of(&curve);
        let ground = self.ground();
        let from = Point { t: 0.0, flat: here.flat, laid: here.spot.laid };
        let to = Point { t: 1.0, flat: to, laid: *laid };
        let known = self.emit.stats.chord_error_max_mm;
        let closer = ground.bounded(&track, &from, &to);
        if closer.is_some_and(|b| b.deviation.high * self.tolerance_mm <= KNOWN * known) {
            return;
        }
        let cut = Cut { to, deviation_mm: 0.0, measured: false, length_ratio: 1.0, stray: 0.0 };
        let span = Some(laid.span).filter(|_| self.wall.shape() == WallShape::Straight);
        let found = ground.measured_mm(&track, &from, &cut, span);
        if found > known {
            self.emit.stats.chord_error_max_mm = found;
        }
    }
}
