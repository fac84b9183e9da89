//! Moves that do not burn: travels, gaps at feed, and how long any straight move is on the wall.

use stave_setup::ZoneRule;
use stave_toolpath::{Feed, MoveKind};
use stave_wall::{Laid, WallShape};

use super::give::Asked;
use super::speed::flat_speed;
use super::{Here, MoveSink, Words, Wrapper};
use crate::curve::{Curve, FlatPoint};
use crate::error::{Halt, Misfit};
use crate::reach::SAME_PLACE_MM;

/// Into how many pieces a straight move over a smooth wall is taken apart to find its length.
const SMOOTH_STEPS: u32 = 64;

/// A travel of a length on the wall, mm: it takes what the axes take.
fn travel(wall_mm: f64) -> Asked {
    Asked { kind: MoveKind::Travel, time_s: 0.0, wall_mm, power: None }
}

impl Wrapper<'_> {
    /// A travel to a flat point, straight between the mapped ends. With driven focus it first lifts
    /// where the work would be in the way.
    ///
    /// # Errors
    /// Where a word cannot hold the place, or the sink refuses.
    pub fn travel<S: MoveSink>(
        &mut self,
        to: FlatPoint,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.stats.moves_in += 1;
        let there = self.place(to)?;
        let from = self.here;
        self.drives_z |= to.z != 0.0;
        if let Some(from) = from.filter(|from| {
            self.focus.follows()
                && (from.words.along != there.words.along
                    || from.words.rotary != there.words.rotary)
        }) {
            let lift = self.focus.lift_mm(
                self.wall,
                &self.frame.crest,
                [
                    (&from.laid.section, from.laid.s_mm, from.flat.z),
                    (&there.laid.section, there.laid.s_mm, there.flat.z),
                ],
            );
            if let Some(lift) = lift {
                let z = self.frame.z_word(lift)?;
                let wall_mm = self.straight_mm(&from, &there);
                self.give(sink, Words { z, ..from.words }, travel(0.0))?;
                self.give(sink, Words { z, ..there.words }, travel(wall_mm))?;
                self.give(sink, there.words, travel(0.0))?;
                self.here = Some(there);
                return Ok(());
            }
        }
        let wall_mm = from.map_or(0.0, |from| self.straight_mm(&from, &there));
        self.give(sink, there.words, travel(wall_mm))?;
        self.here = Some(there);
        Ok(())
    }

    /// A dark move at a feed rate, straight between the mapped ends; with driven focus it follows
    /// the crest. Without a feed it is a travel.
    ///
    /// # Errors
    /// Where a word cannot hold the place, or the sink refuses.
    pub fn dark<S: MoveSink>(
        &mut self,
        curve: &Curve<'_>,
        feed: Option<Feed>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let end = curve.point(1.0);
        let Some(feed) = feed else { return self.travel(end, sink) };
        if self.here.is_none() {
            self.travel(curve.point(0.0), sink)?;
            self.stats.moves_in -= 1;
        }
        self.stats.moves_in += 1;
        let there = self.place(end)?;
        self.drives_z |= end.z != 0.0;
        let Some(from) = self.here else { return Ok(()) };
        let speed = flat_speed(curve, feed)?;
        let on_wall = |s: f64| s >= 0.0 && s <= self.wall.length_mm();
        if self.focus.follows() && on_wall(from.laid.s_mm) && on_wall(there.laid.s_mm) {
            let ends = Curve::Line { from: from.flat, to: end };
            return self.pieces(&ends, speed, None, MoveKind::Dark, sink);
        }
        let wall_mm = self.straight_mm(&from, &there);
        let time_s = speed.time_s(wall_mm, 1.0);
        let asked = Asked { kind: MoveKind::Dark, time_s, wall_mm, power: None };
        self.timed(sink, there.words, there.words.since(from.words), asked)?;
        self.here = Some(there);
        Ok(())
    }

    /// Whether a dwell with the beam on may burn where the program stands: false where a mask keeps
    /// it dark.
    ///
    /// # Errors
    /// Where the place is off the wall, out of reach, or in a zone that is to be refused.
    pub fn dot(&mut self) -> Result<bool, Misfit> {
        let Some(here) = self.here else { return Ok(false) };
        self.reach.allows(self.wall, &self.frame.crest, here.laid.s_mm, here.laid.s_mm)?;
        let Some(name) = self.keepouts.holds(&here.laid) else {
            self.extend(&here.laid);
            return Ok(true);
        };
        if self.setup.job.zones == ZoneRule::Mask {
            return Ok(false);
        }
        Err(Misfit::Zone {
            name: name.to_owned(),
            at_mm: here.laid.section.at_mm,
            turn_deg: here.laid.turn_rad.to_degrees(),
        })
    }

    /// The length on the wall of one straight machine move, as its words are written, over whatever
    /// spans it crosses, mm.
    pub(super) fn straight_mm(&self, from: &Here, to: &Here) -> f64 {
        let (a, b) = (&from.laid, &to.laid);
        let written_mm = self.frame.wall_mm(
            to.words.along - from.words.along,
            to.words.rotary - from.words.rotary,
            &a.section,
            &b.section,
        );
        let one_span = a.span == b.span && self.wall.shape() == WallShape::Straight;
        if one_span || (b.s_mm - a.s_mm).abs() < SAME_PLACE_MM {
            return written_mm;
        }
        let (x0, x1) = (self.frame.along_mm(&a.section), self.frame.along_mm(&b.section));
        let dturn = b.turn_rad - a.turn_rad;
        // What the ground between the ends adds to what the middle of the ends would give, by the
        // exact places.
        let rate = 0.5
            * (self.frame.crest.along_rate(&a.section) + self.frame.crest.along_rate(&b.section));
        let radius = 0.5 * (a.section.radius_mm + b.section.radius_mm);
        let by_ends_mm = ((x1 - x0) / rate).hypot(dturn * radius);
        let (low, high) = (a.s_mm.min(b.s_mm), a.s_mm.max(b.s_mm));
        let mut length = 0.0;
        let mut before = if a.s_mm <= b.s_mm { *a } else { *b };
        let last = if a.s_mm <= b.s_mm { *b } else { *a };
        let mut step = |s: f64, section: stave_wall::Section| {
            let x = self.frame.along_mm(&section);
            let share = if x1 == x0 {
                (s - before.s_mm) / (high - low).max(f64::MIN_POSITIVE)
            } else {
                (x - self.frame.along_mm(&before.section)) / (x1 - x0)
            };
            let around = share * dturn * 0.5 * (section.radius_mm + before.section.radius_mm);
            length += (s - before.s_mm).hypot(around);
            before = Laid { s_mm: s, section, ..before };
        };
        let mut hint = 0;
        let stations = self.wall.span_ends_mm().iter().copied().filter(|s| *s > low && *s < high);
        if self.wall.shape() == WallShape::Straight {
            stations.for_each(|s| step(s, self.wall.section(s, &mut hint)));
        } else {
            let between = (1..SMOOTH_STEPS)
                .map(|k| low + (high - low) * f64::from(k) / f64::from(SMOOTH_STEPS));
            between.for_each(|s| step(s, self.wall.section(s, &mut hint)));
        }
        step(last.s_mm, last.section);
        if by_ends_mm > 0.0 && written_mm > 0.0 { written_mm * length / by_ends_mm } else { length }
    }
}
