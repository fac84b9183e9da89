//! Moves that do not burn: travels, gaps at feed, dots, and how long any straight move is on the
//! wall.

use stave_rig::{Keeps, Misfit, SAME_PLACE_MM};
use stave_toolpath::{Feed, StepKind, StepSink};
use stave_wall::WallShape;

use super::plunge::along_z;
use super::speed::flat_speed;
use super::{Here, Wrapper};
use crate::asked::Asked;
use crate::curve::{Curve, FlatPoint};
use crate::emit::Spot;
use crate::halt::Halt;
use crate::track::Track;

impl Wrapper<'_> {
    /// Whether a place belongs to another set-up.
    pub(super) fn is_left_out(&self, at: FlatPoint) -> Result<bool, Misfit> {
        if !self.setup.job.is_part() {
            return Ok(false);
        }
        let held = self.zones.holds(&self.place(at)?.spot.laid);
        Ok(held.is_some_and(|zone| zone.keeps == Keeps::ForAnotherPart))
    }

    /// A travel to where the program stands, where the machine does not: at its beginning, and
    /// after what another set-up burns.
    pub(super) fn come_to<S: StepSink>(
        &mut self,
        at: FlatPoint,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        if self.here.is_none() || self.away.is_some() {
            self.go(at, sink)?;
        }
        Ok(())
    }

    /// At the end of a program: the machine goes where it ends, if it waited elsewhere.
    ///
    /// # Errors
    /// Where a word cannot hold the place, or the sink refuses.
    pub fn arrive<S: StepSink>(&mut self, sink: &mut S) -> Result<(), Halt<S::Error>> {
        match self.away {
            Some(at) => self.go(at, sink),
            None => Ok(()),
        }
    }

    /// A travel to a flat point, straight between the mapped ends. With driven focus it first lifts
    /// where the work would be in the way.
    ///
    /// # Errors
    /// Where a word cannot hold the place, or the sink refuses.
    pub fn travel<S: StepSink>(
        &mut self,
        to: FlatPoint,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.emit.stats.moves_in += 1;
        if self.is_left_out(to)? {
            self.away = Some(to);
            return Ok(());
        }
        self.go(to, sink)
    }

    fn go<S: StepSink>(&mut self, to: FlatPoint, sink: &mut S) -> Result<(), Halt<S::Error>> {
        let there = self.place(to)?;
        self.heed_z(to.z);
        let from = self.here.map(|here| here.spot);
        let wall_mm = match &from {
            Some(from) => self.straight_mm(from, &there.spot),
            None => self.emit.way_to_mm(&there.spot),
        };
        self.emit.travel(from.as_ref(), &there.spot, wall_mm, sink)?;
        self.here = Some(there);
        self.away = None;
        Ok(())
    }

    /// A dark move at a feed rate, straight between the mapped ends; with driven focus it follows
    /// the crest. Without a feed it is a travel.
    ///
    /// # Errors
    /// Where a word cannot hold the place, or the sink refuses.
    pub fn dark<S: StepSink>(
        &mut self,
        curve: &Curve<'_>,
        feed: Option<Feed>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let end = curve.point(1.0);
        let Some(feed) = feed else { return self.travel(end, sink) };
        self.emit.stats.moves_in += 1;
        if self.away.is_some() && self.is_left_out(end)? {
            self.away = Some(end);
            return Ok(());
        }
        self.come_to(curve.point(0.0), sink)?;
        let there = self.place(end)?;
        self.heed_z(end.z);
        let Some(Here { flat, spot: from }) = self.here else { return Ok(()) };
        let speed = flat_speed(curve, feed)?;
        if let Some(to) = along_z(curve) {
            return self.plunge(to, speed, None, StepKind::Dark, sink);
        }
        let on_wall = |s: f64| s >= 0.0 && s <= self.wall.length_mm();
        let (a, b) = (&from.laid, &there.spot.laid);
        if self.emit.focus.follows() && on_wall(a.s_mm) && on_wall(b.s_mm) {
            let ends = Curve::Line { from: flat, to: end };
            return self.pieces(&Track::of(&ends), speed, None, StepKind::Dark, sink);
        }
        let wall_mm = self.straight_mm(&from, &there.spot);
        let time_s = speed.time_s(wall_mm, 1.0);
        let asked = Asked::taking(time_s, StepKind::Dark, wall_mm);
        let words = there.spot.words;
        self.emit.timed(b, words, words.since(from.words), asked, sink)?;
        self.here = Some(there);
        Ok(())
    }

    /// Whether a dwell with the beam on may burn where the program stands: false where a mask keeps
    /// it dark.
    pub(super) fn dot(&mut self) -> Result<bool, Misfit> {
        let Some(here) = self.here else { return Ok(false) };
        let laid = here.spot.laid;
        let Some(zone) = self.zones.holds(&laid) else {
            self.reach.allows(self.wall, &self.emit.rig.crest, laid.s_mm, laid.s_mm)?;
            self.emit.marks(laid.section.at_mm, laid.turn_rad);
            self.emit.stats.burns_in += 1;
            return Ok(true);
        };
        if zone.keeps != Keeps::Refused {
            return Ok(false);
        }
        Err(Misfit::Zone {
            name: zone.name.clone(),
            at_mm: laid.section.at_mm,
            turn_deg: laid.turn_rad.to_degrees(),
        })
    }

    /// The length on the wall of one straight machine move, as its words are written, over whatever
    /// spans it crosses and past the wall's ends, mm.
    fn straight_mm(&self, from: &Spot, to: &Spot) -> f64 {
        let rig = &self.emit.rig;
        let (a, b) = (&from.laid, &to.laid);
        let inside = |s_mm: f64| s_mm >= 0.0 && s_mm <= self.wall.length_mm();
        let one_span = a.span == b.span
            && self.wall.shape() == WallShape::Straight
            && inside(a.s_mm)
            && inside(b.s_mm);
        let way = to.words.since(from.words);
        if one_span || (b.s_mm - a.s_mm).abs() < SAME_PLACE_MM {
            return rig.short_wall_mm(way.along, way.rotary, &a.section, &b.section);
        }
        let words = |spot: &Spot| rig.of_counts(spot.words.along, spot.words.rotary, 0);
        rig.wall_mm(&words(from), &words(to), &mut 0)
    }
}
