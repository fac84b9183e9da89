//! Burns: kept on the wall and out of zones, cut to the tolerance, their dose held.

use stave_rig::{Keeps, Misfit};
use stave_toolpath::{StepKind, StepSink};
use stave_wall::WallShape;

use super::plunge::along_z;
use super::speed::{FlatSpeed, flat_speed};
use super::{Burn, Here, Wrapper};
use crate::asked::Asked;
use crate::curve::Curve;
use crate::cut::{Cut, Ground, KNOWN, Point};
use crate::dose;
use crate::emit::{Spot, Words};
use crate::halt::Halt;
use crate::track::Track;

/// How far apart zones are looked for along a burn, mm in the flat plane.
const ZONE_LOOK_MM: f64 = 0.25;

/// A curve is looked at for whether a label has room in lines no longer than this, mm.
const LABEL_LOOK_MM: f64 = 0.25;

impl Wrapper<'_> {
    /// A burn along a flat curve that starts where the program stands.
    ///
    /// # Errors
    /// Where it leaves the wall or the machine's reach, enters a zone that is to be refused, has a
    /// feed rate that is not positive, or the sink refuses.
    #[inline]
    pub fn burn<S: StepSink>(
        &mut self,
        curve: &Curve<'_>,
        burn: Burn,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        if let Curve::Line { to, .. } = curve
            && self.plain_burn(*to, burn, sink)?
        {
            return Ok(());
        }
        self.burn_with_care(curve, burn, sink)
    }

    fn burn_with_care<S: StepSink>(
        &mut self,
        curve: &Curve<'_>,
        burn: Burn,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let is_part = self.setup.job.is_part();
        // Of one set-up of several, what comes before what it burns is passed by.
        if !is_part || along_z(curve).is_some() {
            self.come_to(curve.point(0.0), sink)?;
        }
        self.emit.stats.moves_in += 1;
        let speed = flat_speed(curve, burn.feed)?;
        self.heed_z(curve.point(0.0).z);
        self.heed_z(curve.point(1.0).z);
        if let Some(to) = along_z(curve) {
            return self.plunge(to, speed, burn.power, StepKind::Burn, sink);
        }
        self.emit.stats.burns_in += 1;
        let track = Track::of(curve);
        self.check_label(curve)?;
        if !is_part {
            self.check_reach(&track)?;
        }
        self.pieces(&track, speed, burn.power, StepKind::Burn, sink)
    }

    /// Along a flat curve as a burn would go, but over whatever lies there: dark, or with a
    /// pointer's power.
    ///
    /// # Errors
    /// Where a word cannot hold a place, the feed rate is not positive, or the sink refuses.
    pub fn trace<S: StepSink>(
        &mut self,
        curve: &Curve<'_>,
        how: Burn,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.come_to(curve.point(0.0), sink)?;
        self.emit.stats.moves_in += 1;
        let speed = flat_speed(curve, how.feed)?;
        let kind = if how.power.is_some() { StepKind::Burn } else { StepKind::Dark };
        if let Some(to) = along_z(curve) {
            return self.plunge(to, speed, how.power, kind, sink);
        }
        self.emit.take_up.shows = true;
        let traced = self.pieces(&Track::of(curve), speed, how.power, kind, sink);
        self.emit.take_up.shows = false;
        traced
    }

    /// Whether a label lies on the wall without folding or meeting itself.
    fn check_label(&self, curve: &Curve<'_>) -> Result<(), Misfit> {
        let Some(room) = &self.label_room else { return Ok(()) };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let looks = match curve {
            Curve::Line { .. } => 1,
            _ => (curve.length_mm() / LABEL_LOOK_MM).ceil().clamp(16.0, 1e6) as u32,
        };
        let flat = |k: u32| {
            let point = curve.point(f64::from(k) / f64::from(looks));
            (point.u, point.v)
        };
        self.lay
            .check_label_lines_in(room, (0..looks).map(|k| [flat(k), flat(k + 1)]))
            .map_err(Misfit::Label)
    }

    /// The wall and the reach, between the points where the place along the meridian is extreme.
    fn check_reach(&mut self, track: &Track<'_>) -> Result<(), Misfit> {
        let (wall, crest) = (self.wall, &self.emit.rig.crest);
        let surely = |(low, high)| self.reach.allows(wall, crest, low, high).is_ok();
        if self.ground().stretch(track).is_some_and(surely) {
            return Ok(());
        }
        let mut turns = std::mem::take(&mut self.breaks);
        turns.clear();
        turns.push(0.0);
        self.ground().turning_points(track, &mut turns);
        turns.push(1.0);
        turns.sort_by(f64::total_cmp);
        let ground = self.ground();
        let result = turns.windows(2).try_for_each(|pair| {
            let ends = [pair[0], pair[1]].map(|t| ground.place(track, t).s_mm);
            self.reach.allows(self.wall, &self.emit.rig.crest, ends[0], ends[1])
        });
        self.breaks = turns;
        result
    }

    pub(super) fn pieces<S: StepSink>(
        &mut self,
        track: &Track<'_>,
        speed: FlatSpeed,
        power: Option<f64>,
        kind: StepKind,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let mut breaks = std::mem::take(&mut self.breaks);
        let mut crossings = std::mem::take(&mut self.crossings);
        crossings.clear();
        self.ground().breaks(track, &mut breaks);
        let length_mm = track.curve.length_mm();
        if kind == StepKind::Burn && self.near_a_zone(track) {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps = (length_mm / ZONE_LOOK_MM).clamp(8.0, 1e6) as usize;
            let ground = self.ground();
            let mut place = |t: f64| ground.place(track, t);
            self.zones.crossings(&mut place, 0.0, 1.0, steps, &mut crossings);
            breaks.extend_from_slice(&crossings);
            breaks.sort_by(f64::total_cmp);
        }
        let result = self.each_piece(track, &breaks, length_mm, speed, power, kind, sink);
        self.breaks = breaks;
        self.crossings = crossings;
        result
    }

    fn near_a_zone(&self, track: &Track<'_>) -> bool {
        if self.zones.is_empty() {
            return false;
        }
        let ground = self.ground();
        if let Some(stretch) = ground.stretch(track) {
            match ground.turns(track, stretch) {
                Some(turns) => return self.zones.near_box(stretch, turns),
                None if !self.zones.near(stretch.0, stretch.1) => return false,
                None => {}
            }
        }
        let ends = self.breaks_of_s(track, &ground);
        self.zones.near(ends.0, ends.1)
    }

    /// The least and greatest place along the meridian a curve comes to.
    fn breaks_of_s(&self, track: &Track<'_>, ground: &Ground<'_>) -> (f64, f64) {
        let mut turns = vec![0.0, 1.0];
        ground.turning_points(track, &mut turns);
        turns.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| {
            let s = ground.place(track, *t).s_mm;
            (low.min(s), high.max(s))
        })
    }

    #[allow(clippy::too_many_arguments)]
    fn each_piece<S: StepSink>(
        &mut self,
        track: &Track<'_>,
        breaks: &[f64],
        length_mm: f64,
        speed: FlatSpeed,
        power: Option<f64>,
        kind: StepKind,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let straight = self.wall.shape() == WallShape::Straight;
        for pair in breaks.windows(2) {
            let (from_t, to_t) = (pair[0], pair[1]);
            if to_t <= from_t {
                continue;
            }
            // Only zones and the spans of a straight wall ask what lies between the ends.
            let ground = self.ground();
            let asked = straight || !self.zones.is_empty();
            let middle = if asked {
                ground.place(track, 0.5 * (from_t + to_t))
            } else {
                ground.point(track, to_t, None).laid
            };
            let mut masked = false;
            let kind = match self.zones.holds(&middle) {
                Some(zone) if kind == StepKind::Burn && zone.keeps == Keeps::ForAnotherPart => {
                    self.away = Some(track.point(to_t));
                    continue;
                }
                Some(zone) if kind == StepKind::Burn => {
                    if zone.keeps == Keeps::Refused {
                        return Err(Halt::Misfit(Misfit::Zone {
                            name: zone.name.clone(),
                            at_mm: middle.section.at_mm,
                            turn_deg: middle.turn_rad.to_degrees(),
                        }));
                    }
                    masked = zone.keeps == Keeps::Masked;
                    StepKind::Dark
                }
                _ => kind,
            };
            // A piece lies within one span of a straight wall; at its ends the stations belong to
            // that span.
            let span = Some(middle.span).filter(|_| straight);
            let ground = self.ground();
            let last = if asked {
                ground.point(track, to_t, span)
            } else {
                Point { t: to_t, flat: track.point(to_t), laid: middle }
            };
            let flat = track.point(from_t);
            let mut from = match self.here {
                // Where the last one ended.
                Some(here) if !straight && here.flat == flat => {
                    Point { t: from_t, flat, laid: here.spot.laid }
                }
                _ => ground.point(track, from_t, span),
            };
            if kind == StepKind::Burn && self.setup.job.is_part() {
                self.come_to(from.flat, sink)?;
                let looks = [from.laid.s_mm, middle.s_mm, last.laid.s_mm];
                let low = looks.iter().copied().fold(f64::INFINITY, f64::min);
                let high = looks.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                self.reach.allows(self.wall, &self.emit.rig.crest, low, high)?;
            }
            while from.t < last.t {
                let cut = self.ground().longest(track, &from, &last, span, length_mm);
                if kind == StepKind::Burn {
                    if cut.deviation_mm > KNOWN * self.emit.stats.chord_error_max_mm {
                        let found = self.ground().measured_mm(track, &from, &cut, span);
                        let stats = &mut self.emit.stats;
                        stats.chord_error_max_mm = stats.chord_error_max_mm.max(found);
                    }
                    self.emit.extend(&from.laid);
                    self.emit.extend(&cut.to.laid);
                }
                let wall_mm = self.piece(track, &from, &cut, speed, power, kind, sink)?;
                if masked {
                    self.emit.stats.masked_mm += wall_mm;
                }
                from = cut.to;
            }
        }
        // The next move starts from the exact end, whichever span a station at it was taken for.
        if straight && let Some(here) = self.here.as_mut() {
            let mut hint = here.spot.laid.span;
            here.spot.laid = self.lay.map(self.wall, here.flat.u, here.flat.v, &mut hint);
        }
        Ok(())
    }

    /// Gives one machine move; returns its length on the wall, mm.
    #[allow(clippy::too_many_arguments)]
    fn piece<S: StepSink>(
        &mut self,
        track: &Track<'_>,
        from: &Point,
        cut: &Cut,
        speed: FlatSpeed,
        power: Option<f64>,
        kind: StepKind,
        sink: &mut S,
    ) -> Result<f64, Halt<S::Error>> {
        let Some(here) = self.here else { return Ok(0.0) };
        let to = &cut.to;
        let (along, rotary) = self.emit.rig.words(&to.laid)?;
        let words = Words { along, rotary, z: self.z_count(&to.laid, to.flat)? };
        let way = words.since(here.spot.words);
        let sections = (&from.laid.section, &to.laid.section);
        let ends_mm = self.emit.rig.short_wall_mm(way.along, way.rotary, sections.0, sections.1);
        let wall_mm = ends_mm * cut.length_ratio;
        let asked_s = speed.time_s(wall_mm, to.t - from.t);
        let power_s = power.filter(|_| kind == StepKind::Burn);
        let mut asked =
            Asked { power_s, stray: cut.stray, ..Asked::taking(asked_s, kind, wall_mm) };
        if self.even_dose && power_s.is_some() {
            let middle = self.ground().point(track, 0.5 * (from.t + to.t), None);
            let spacing =
                dose::spacing_ratio(&self.lay, self.wall, track.curve, middle.flat, middle.t);
            asked = self.emit.even_dose(asked, way, spacing);
        }
        self.emit.timed(&to.laid, words, way, asked, sink)?;
        let spot = Spot { laid: to.laid, words, program_z_mm: to.flat.z };
        self.here = Some(Here { flat: to.flat, spot });
        Ok(wall_mm)
    }
}
