//! The wrapper: flat moves in, machine moves out, one at a time.

use stave_setup::{Dose, Setup, ZoneRule};
use stave_toolpath::{Feed, MachineMove, MoveKind};
use stave_wall::{Anchor, Laid, Lay, LayError, LayKind, LaySetting, Wall, WallShape};

use crate::curve::{Curve, FlatPoint};
use crate::cut::{Cut, Ground, Point};
use crate::dose;
use crate::error::{Halt, Misfit};
use crate::focus::Focus;
use crate::frame::Frame;
use crate::keepout::Keepouts;
use crate::reach::{Reach, SAME_PLACE_MM};
use crate::stats::Stats;

/// How far apart zones are looked for along a burn, mm in the flat plane.
const ZONE_LOOK_MM: f64 = 0.25;

/// Into how many pieces a straight move over a smooth wall is taken apart to find its length.
const SMOOTH_STEPS: u32 = 64;

/// Takes machine moves in order.
pub trait MoveSink {
    /// Why it could not.
    type Error;
    /// One move.
    ///
    /// # Errors
    /// Where the sink cannot take it; the wrap ends there.
    fn machine_move(&mut self, machine_move: &MachineMove) -> Result<(), Self::Error>;
}

/// How a flat move burns.
#[derive(Clone, Copy, Debug)]
pub struct Burn {
    /// Its feed rate in the flat plane.
    pub feed: Feed,
    /// Its power in S counts; `None` for a laser that is only on or off.
    pub power: Option<f64>,
}

/// Where the program has come to.
#[derive(Clone, Copy, Debug)]
struct Here {
    flat: FlatPoint,
    laid: Laid,
    along: i64,
    rotary: i64,
    z: i64,
}

/// Lays the moves of one program on one wall.
#[derive(Debug)]
pub struct Wrapper<'a> {
    setup: &'a Setup,
    wall: &'a Wall,
    lay: Lay,
    frame: Frame,
    focus: Focus,
    reach: Reach,
    keepouts: Keepouts,
    limits: Limits,
    tolerance_mm: f64,
    even_dose: bool,
    /// Straight burns inside one span may be judged by the cheap bound alone.
    plain: bool,
    here: Option<Here>,
    drives_z: bool,
    /// The words of the last move given: a move that changes none of them is none.
    given: Option<(i64, i64)>,
    given_z: Option<i64>,
    /// Whether the last move given was a burn, whose end is then counted among the extents already.
    burning: bool,
    breaks: Vec<f64>,
    crossings: Vec<f64>,
    stats: Stats,
}

/// Seconds each axis needs for one count at its top speed.
#[derive(Clone, Copy, Debug)]
struct Limits {
    along_s: f64,
    rotary_s: f64,
    z_s: f64,
}

impl<'a> Wrapper<'a> {
    /// A wrapper for a setup, with the lay the job names anchored at `anchor`.
    ///
    /// # Errors
    /// Where the lay does not suit the wall.
    pub fn new(setup: &'a Setup, anchor: Anchor) -> Result<Self, LayError> {
        let wall = &setup.blank.wall;
        let job = &setup.job;
        let lay = Lay::new(
            wall,
            LaySetting {
                kind: job.lay,
                origin_s_mm: wall.s_of_at(job.place.at_mm),
                origin_turn_rad: job.place.turn_rad,
                reference_radius_mm: job.reference_radius_mm,
                anchor,
            },
        )?;
        let frame = Frame::new(setup);
        let focus = Focus::new(setup, frame.zero_height_mm);
        let reach = Reach::new(wall, &frame.crest, setup.machine.controller.steepest_rad);
        let even_dose = job.dose == Some(Dose::Even);
        let rounding_mm = 0.5 * frame.count.hypot(frame.rad_per_count * wall.largest_radius_mm());
        let along = if frame.along_y { &setup.machine.y } else { &setup.machine.x };
        Ok(Self {
            setup,
            wall,
            plain: wall.shape() == WallShape::Straight
                && job.lay != LayKind::Label
                && !even_dose
                && !focus.follows(),
            lay,
            limits: Limits {
                along_s: frame.count / along.speed,
                rotary_s: frame.count / setup.machine.rotary.limits.speed,
                z_s: setup.machine.z.as_ref().map_or(0.0, |z| frame.count / z.limits.speed),
            },
            drives_z: focus.follows(),
            frame,
            focus,
            reach,
            keepouts: if job.zones == ZoneRule::Ignore { Keepouts::default() } else { Keepouts::new(setup) },
            // The rounding of the words is part of what the machine burns.
            tolerance_mm: (job.tolerance_mm - rounding_mm).max(0.5 * job.tolerance_mm),
            even_dose,
            here: None,
            given: None,
            given_z: None,
            burning: false,
            breaks: Vec::new(),
            crossings: Vec::new(),
            stats: Stats::default(),
        })
    }

    /// The figures so far.
    #[must_use]
    pub fn stats(&self) -> &Stats {
        &self.stats
    }

    /// True where the work lies along Y.
    #[must_use]
    pub fn along_y(&self) -> bool {
        self.frame.along_y
    }

    /// True while no move has been made.
    #[must_use]
    pub fn is_fresh(&self) -> bool {
        self.here.is_none()
    }

    /// From here on Z words are written even where the program's Z is 0.
    pub fn drive_z(&mut self) {
        self.drives_z = true;
    }

    fn ground(&self) -> Ground<'_> {
        Ground {
            wall: self.wall,
            lay: &self.lay,
            frame: &self.frame,
            focus: &self.focus,
            tolerance_mm: self.tolerance_mm,
            even_dose: self.even_dose,
        }
    }

    fn place(&self, flat: FlatPoint) -> Result<Here, Misfit> {
        let mut hint = self.here.map_or(0, |here| here.laid.span);
        let laid = self.lay.map(self.wall, flat.u, flat.v, &mut hint);
        let (along, rotary) = self.frame.words(&laid)?;
        let z = self.z_count(&laid, flat)?;
        Ok(Here { flat, laid, along, rotary, z })
    }

    #[inline]
    fn z_count(&self, laid: &Laid, flat: FlatPoint) -> Result<i64, Misfit> {
        if self.focus.follows() {
            self.frame.z_word(self.focus.z_mm(&self.frame.crest, &laid.section, flat.z))
        } else if flat.z == 0.0 {
            Ok(0)
        } else {
            self.frame.z_word(flat.z)
        }
    }

    /// A travel to a flat point, straight between the mapped ends. With driven focus it first lifts where the work would be in the way.
    ///
    /// # Errors
    /// Where a word cannot hold the place, or the sink refuses.
    pub fn travel<S: MoveSink>(&mut self, to: FlatPoint, sink: &mut S) -> Result<(), Halt<S::Error>> {
        self.stats.moves_in += 1;
        let there = self.place(to)?;
        let from = self.here;
        self.drives_z |= to.z != 0.0;
        if let Some(from) = from
            .filter(|from| self.focus.follows() && (from.along != there.along || from.rotary != there.rotary))
        {
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
                self.give(sink, MoveKind::Travel, Here { z, ..from }, 0.0, 0.0, None)?;
                let wall_mm = self.straight_mm(&from, &there);
                self.give(sink, MoveKind::Travel, Here { z, ..there }, 0.0, wall_mm, None)?;
                self.give(sink, MoveKind::Travel, there, 0.0, 0.0, None)?;
                self.here = Some(there);
                return Ok(());
            }
        }
        let wall_mm = from.map_or(0.0, |from| self.straight_mm(&from, &there));
        self.give(sink, MoveKind::Travel, there, 0.0, wall_mm, None)?;
        self.here = Some(there);
        Ok(())
    }

    /// A dark move at a feed rate, straight between the mapped ends; with driven focus it follows the crest. Without a feed it is a travel.
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
        self.timed(sink, MoveKind::Dark, there, time_s, wall_mm, None)?;
        self.here = Some(there);
        Ok(())
    }

    /// Whether a dwell with the beam on may burn where the program stands: false where a mask keeps it dark.
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

    /// A burn along a flat curve that starts where the program stands.
    ///
    /// # Errors
    /// Where it leaves the wall or the machine's reach, enters a zone that is to be refused, has a feed rate that is not positive, or
    /// the sink refuses.
    #[inline]
    pub fn burn<S: MoveSink>(
        &mut self,
        curve: &Curve<'_>,
        burn: Burn,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        if self.here.is_none() {
            self.travel(curve.point(0.0), sink)?;
            self.stats.moves_in -= 1;
        }
        self.stats.moves_in += 1;
        self.stats.burns_in += 1;
        let speed = flat_speed(curve, burn.feed)?;
        if let (true, Curve::Line { to, .. }, Some(from)) = (self.plain, curve, self.here)
            && to.z == from.flat.z
        {
            let mut hint = from.laid.span;
            let laid = self.lay.map(self.wall, to.u, to.v, &mut hint);
            if laid.span == from.laid.span && !self.keepouts.near(from.laid.s_mm, laid.s_mm) {
                self.reach.allows(self.wall, &self.frame.crest, from.laid.s_mm, laid.s_mm)?;
                let ground = self.ground();
                let bound = ground.straight_bound(&from.laid, &laid);
                if ground.within_bound(bound) {
                    let (along, rotary) = self.frame.words(&laid)?;
                    let there = Here { flat: *to, laid, along, rotary, z: from.z };
                    if bound.0 > self.stats.chord_error_max_mm {
                        self.stats.chord_error_max_mm = bound.0;
                    }
                    if !self.burning {
                        self.extend(&from.laid);
                    }
                    self.extend(&laid);
                    let wall_mm = self.frame.wall_mm(
                        along - from.along,
                        rotary - from.rotary,
                        &from.laid.section,
                        &laid.section,
                    );
                    let time_s = speed.time_s(wall_mm, 1.0);
                    self.timed(sink, MoveKind::Burn, there, time_s, wall_mm, burn.power)?;
                    self.here = Some(there);
                    return Ok(());
                }
            }
        }
        self.burn_with_care(curve, speed, burn.power, sink)
    }

    fn burn_with_care<S: MoveSink>(
        &mut self,
        curve: &Curve<'_>,
        speed: FlatSpeed,
        power: Option<f64>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.drives_z |= curve.point(0.0).z != 0.0 || curve.point(1.0).z != 0.0;
        self.check_reach(curve)?;
        self.pieces(curve, speed, power, MoveKind::Burn, sink)
    }

    /// The wall and the reach, between the points where the place along the meridian is extreme.
    fn check_reach(&mut self, curve: &Curve<'_>) -> Result<(), Misfit> {
        let mut turns = std::mem::take(&mut self.breaks);
        turns.clear();
        turns.push(0.0);
        curve.turning_points(&mut turns);
        turns.push(1.0);
        turns.sort_by(f64::total_cmp);
        let ground = self.ground();
        let result = turns.windows(2).try_for_each(|pair| {
            let ends = [pair[0], pair[1]].map(|t| ground.point(curve, t, None).laid.s_mm);
            self.reach.allows(self.wall, &self.frame.crest, ends[0], ends[1])
        });
        self.breaks = turns;
        result
    }

    fn pieces<S: MoveSink>(
        &mut self,
        curve: &Curve<'_>,
        speed: FlatSpeed,
        power: Option<f64>,
        kind: MoveKind,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let mut breaks = std::mem::take(&mut self.breaks);
        let mut crossings = std::mem::take(&mut self.crossings);
        crossings.clear();
        self.ground().breaks(curve, &mut breaks);
        let length_mm = curve.length_mm();
        if kind == MoveKind::Burn && self.near_a_zone(curve) {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps = (length_mm / ZONE_LOOK_MM).clamp(8.0, 1e6) as usize;
            let ground = self.ground();
            let mut place = |t: f64| ground.point(curve, t, None).laid;
            self.keepouts.crossings(&mut place, 0.0, 1.0, steps, &mut crossings);
            breaks.extend_from_slice(&crossings);
            breaks.sort_by(f64::total_cmp);
        }
        let result = self.each_piece(curve, &breaks, length_mm, speed, power, kind, sink);
        self.breaks = breaks;
        self.crossings = crossings;
        result
    }

    fn near_a_zone(&self, curve: &Curve<'_>) -> bool {
        let ground = self.ground();
        let ends = self.breaks_of_s(curve, &ground);
        self.keepouts.near(ends.0, ends.1)
    }

    /// The least and greatest place along the meridian a curve comes to.
    fn breaks_of_s(&self, curve: &Curve<'_>, ground: &Ground<'_>) -> (f64, f64) {
        let mut turns = vec![0.0, 1.0];
        curve.turning_points(&mut turns);
        turns.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| {
            let s = ground.point(curve, *t, None).laid.s_mm;
            (low.min(s), high.max(s))
        })
    }

    #[allow(clippy::too_many_arguments)]
    fn each_piece<S: MoveSink>(
        &mut self,
        curve: &Curve<'_>,
        breaks: &[f64],
        length_mm: f64,
        speed: FlatSpeed,
        power: Option<f64>,
        kind: MoveKind,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        for pair in breaks.windows(2) {
            let (from_t, to_t) = (pair[0], pair[1]);
            if to_t <= from_t {
                continue;
            }
            let middle = self.ground().point(curve, 0.5 * (from_t + to_t), None).laid;
            let mut masked = false;
            let kind = match self.keepouts.holds(&middle) {
                Some(name) if kind == MoveKind::Burn => {
                    if self.setup.job.zones == ZoneRule::Refuse {
                        return Err(Halt::Misfit(Misfit::Zone {
                            name: name.to_owned(),
                            at_mm: middle.section.at_mm,
                            turn_deg: middle.turn_rad.to_degrees(),
                        }));
                    }
                    masked = true;
                    MoveKind::Dark
                }
                _ => kind,
            };
            // A piece lies within one span of a straight wall; at its ends the stations belong to that span.
            let span = Some(middle.span).filter(|_| self.wall.shape() == WallShape::Straight);
            let mut from = self.ground().point(curve, from_t, span);
            let last = self.ground().point(curve, to_t, span);
            while from.t < last.t {
                let cut = self.ground().longest(curve, &from, &last, span, length_mm);
                if kind == MoveKind::Burn {
                    self.stats.chord_error_max_mm = self.stats.chord_error_max_mm.max(cut.deviation_mm);
                    self.extend(&from.laid);
                    self.extend(&cut.to.laid);
                }
                let wall_mm = self.piece(curve, &from, &cut, speed, power, kind, sink)?;
                if masked {
                    self.stats.masked_mm += wall_mm;
                }
                from = cut.to;
            }
        }
        // The next move starts from the exact end, whichever span a station at it was taken for.
        if let Some(here) = self.here.as_mut() {
            let mut hint = here.laid.span;
            here.laid = self.lay.map(self.wall, here.flat.u, here.flat.v, &mut hint);
        }
        Ok(())
    }

    /// Gives one machine move; returns its length on the wall, mm.
    #[allow(clippy::too_many_arguments)]
    fn piece<S: MoveSink>(
        &mut self,
        curve: &Curve<'_>,
        from: &Point,
        cut: &Cut,
        speed: FlatSpeed,
        power: Option<f64>,
        kind: MoveKind,
        sink: &mut S,
    ) -> Result<f64, Halt<S::Error>> {
        let Some(here) = self.here else { return Ok(0.0) };
        let to = &cut.to;
        let (along, rotary) = self.frame.words(&to.laid)?;
        let there = Here { flat: to.flat, laid: to.laid, along, rotary, z: self.z_count(&to.laid, to.flat)? };
        let ends_mm = self.frame.wall_mm(
            along - here.along,
            rotary - here.rotary,
            &from.laid.section,
            &to.laid.section,
        );
        let wall_mm = ends_mm * cut.length_ratio;
        let time_s = speed.time_s(wall_mm, to.t - from.t);
        let burning = kind == MoveKind::Burn;
        let (mut asked, mut time) = (power.filter(|_| burning), time_s);
        if let (true, Some(power)) = (self.even_dose && burning, power) {
            let slowed = self.least_time_s(&here, &there).max(time_s);
            let ground = self.ground();
            let middle = ground.point(curve, 0.5 * (from.t + to.t), None);
            let spacing = dose::spacing_ratio(&self.lay, self.wall, curve, middle.flat, middle.t);
            let even = if slowed > 0.0 { power * (time_s / slowed) * spacing } else { power };
            let full = self.setup.machine.controller.full_power_s;
            if even > full && power > 0.0 {
                self.stats.slowed_power += 1;
                time = slowed * even / full;
                asked = Some(full);
            } else {
                asked = Some(even);
            }
            let least = self.setup.machine.controller.least_power_percent / 100.0 * full;
            self.stats.below_least_power += u64::from(even < least);
        }
        self.stats.nominal_s += time_s - time;
        self.timed(sink, kind, there, time, wall_mm, asked)?;
        self.here = Some(there);
        Ok(wall_mm)
    }

    #[inline]
    fn extend(&mut self, laid: &Laid) {
        let (at, turn) = (laid.section.at_mm, laid.turn_rad);
        let stats = &mut self.stats;
        if at < stats.at_min_mm {
            stats.at_min_mm = at;
        }
        if at > stats.at_max_mm {
            stats.at_max_mm = at;
        }
        if turn < stats.turn_min_rad {
            stats.turn_min_rad = turn;
        }
        if turn > stats.turn_max_rad {
            stats.turn_max_rad = turn;
        }
    }

    /// What the slowest axis needs between two places, seconds.
    #[allow(clippy::cast_precision_loss)]
    fn least_time_s(&self, from: &Here, to: &Here) -> f64 {
        let along = (to.along - from.along).unsigned_abs() as f64 * self.limits.along_s;
        let rotary = (to.rotary - from.rotary).unsigned_abs() as f64 * self.limits.rotary_s;
        let z = (to.z - from.z).unsigned_abs() as f64 * self.limits.z_s;
        along.max(rotary).max(z)
    }

    /// A move at feed: slowed to the axes' limits, counted, given.
    #[inline]
    #[allow(clippy::cast_precision_loss)]
    fn timed<S: MoveSink>(
        &mut self,
        sink: &mut S,
        kind: MoveKind,
        there: Here,
        asked_s: f64,
        wall_mm: f64,
        power: Option<f64>,
    ) -> Result<(), Halt<S::Error>> {
        const SLACK: f64 = 1.0 + 1e-9;
        let Some(here) = self.here else { return Ok(()) };
        let along_s = (there.along - here.along).unsigned_abs() as f64 * self.limits.along_s;
        let rotary_counts = (there.rotary - here.rotary).unsigned_abs() as f64;
        let rotary_s = rotary_counts * self.limits.rotary_s;
        let z_s = (there.z - here.z).unsigned_abs() as f64 * self.limits.z_s;
        let asked = asked_s * SLACK;
        let mut time_s = asked_s;
        if along_s > asked || rotary_s > asked || z_s > asked {
            self.stats.slowed_along += u64::from(along_s > asked);
            self.stats.slowed_rotary += u64::from(rotary_s > asked);
            self.stats.slowed_z += u64::from(z_s > asked);
            time_s = along_s.max(rotary_s).max(z_s);
        }
        self.stats.nominal_s += asked_s;
        if kind == MoveKind::Burn {
            self.stats.burn_mm += wall_mm;
        }
        if rotary_counts > self.stats.rotary_speed_max * time_s {
            self.stats.rotary_speed_max = rotary_counts / time_s;
        }
        self.give(sink, kind, there, time_s, wall_mm, power)
    }

    #[inline]
    fn give<S: MoveSink>(
        &mut self,
        sink: &mut S,
        kind: MoveKind,
        there: Here,
        time_s: f64,
        wall_mm: f64,
        power: Option<f64>,
    ) -> Result<(), Halt<S::Error>> {
        let z = self.drives_z.then_some(there.z);
        if self.given.is_some_and(|(along, rotary)| along == there.along && rotary == there.rotary)
            && self.given_z == z
        {
            return Ok(());
        }
        self.given = Some((there.along, there.rotary));
        self.given_z = z;
        self.burning = kind == MoveKind::Burn;
        self.stats.moves_out += 1;
        let machine_move =
            MachineMove { kind, along: there.along, rotary: there.rotary, z, time_s, wall_mm, power };
        sink.machine_move(&machine_move).map_err(Halt::Sink)
    }

    /// The length on the wall of one straight machine move, as its words are written, over whatever spans it crosses, mm.
    fn straight_mm(&self, from: &Here, to: &Here) -> f64 {
        let (a, b) = (&from.laid, &to.laid);
        let written_mm =
            self.frame.wall_mm(to.along - from.along, to.rotary - from.rotary, &a.section, &b.section);
        let one_span = a.span == b.span && self.wall.shape() == WallShape::Straight;
        if one_span || (b.s_mm - a.s_mm).abs() < SAME_PLACE_MM {
            return written_mm;
        }
        let (x0, x1) = (self.frame.along_mm(&a.section), self.frame.along_mm(&b.section));
        let dturn = b.turn_rad - a.turn_rad;
        // What the ground between the ends adds to what the middle of the ends would give, by the exact places.
        let rate = 0.5 * (self.frame.crest.along_rate(&a.section) + self.frame.crest.along_rate(&b.section));
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
            let between =
                (1..SMOOTH_STEPS).map(|k| low + (high - low) * f64::from(k) / f64::from(SMOOTH_STEPS));
            between.for_each(|s| step(s, self.wall.section(s, &mut hint)));
        }
        step(last.s_mm, last.section);
        if by_ends_mm > 0.0 && written_mm > 0.0 { written_mm * length / by_ends_mm } else { length }
    }
}

/// A flat move's speed: over the flat plane, and, for moves that only change Z, its whole time.
#[derive(Clone, Copy, Debug)]
struct FlatSpeed {
    /// Seconds the whole flat move takes.
    whole_s: f64,
    /// mm/s in the flat plane, where the move keeps one; `None` where it moves in Z alone or speeds up and slows down under an arc in ZX or YZ.
    even_mm_per_s: Option<f64>,
}

impl FlatSpeed {
    /// The time for a length on the wall that is `share` of the flat move.
    #[inline]
    fn time_s(self, wall_mm: f64, share: f64) -> f64 {
        match self.even_mm_per_s {
            Some(speed) => wall_mm / speed,
            None => self.whole_s * share,
        }
    }
}

#[inline]
fn flat_speed(curve: &Curve<'_>, feed: Feed) -> Result<FlatSpeed, Misfit> {
    let value = match feed {
        Feed::PerMinute(f) | Feed::InverseTime(f) => f,
    };
    if !(value > 0.0 && value.is_finite()) {
        return Err(Misfit::FeedNotPositive { feed: value });
    }
    if let (Curve::Line { from, to }, Feed::PerMinute(f)) = (curve, feed)
        && from.z == to.z
    {
        return Ok(FlatSpeed { whole_s: 0.0, even_mm_per_s: Some(f / 60.0) });
    }
    let length_mm = curve.length_mm();
    let whole_s = match feed {
        Feed::PerMinute(f) => length_mm * 60.0 / f,
        Feed::InverseTime(f) => 60.0 / f,
    };
    let even_mm = match curve {
        Curve::Line { from, to } => Some((to.u - from.u).hypot(to.v - from.v)),
        Curve::Arc { from, to, arc, .. } if arc.plane == stave_toolpath::Plane::Xy => {
            Some(arc.radius_mm(from) * arc.sweep_rad.abs()).filter(|_| from != to || arc.sweep_rad != 0.0)
        }
        Curve::Arc { .. } => None,
    };
    let even_mm_per_s = even_mm.filter(|mm| *mm > 0.0 && whole_s > 0.0).map(|mm| mm / whole_s);
    Ok(FlatSpeed { whole_s, even_mm_per_s })
}
