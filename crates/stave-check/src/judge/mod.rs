//! The judge: is this run of steps fit for its blank and machine?
//!
//! It stands beside every run, whether that is being written or read, and costs little: extents,
//! stretches and cells that are known already are passed by with a comparison; what is new is
//! looked at exactly. What can be said of a step is said at once ([`Judge::refuses`]), what only
//! the whole run shows at its end ([`Judge::verdict`]).

mod doubts;
mod findings;
mod heights;
mod laps;
mod optical;
mod planes;
mod seen;
#[cfg(test)]
mod tests;
mod turns;
mod uneven;

use std::convert::Infallible;

use stave_rig::{
    AXES, Clearance, CrestLine, HeadOverWork, Keeps, LeastGap, MadeFor, Meant, OverFacet, Pose,
    ROTARY, Reach, Rig, SAME_PLACE_MM, Z, Zones,
};
use stave_setup::{AxisLimits, FocusMode, Setup};
use stave_toolpath::{Place, Stand, Step, StepKind, StepSink};

use crate::finding::{Code, Finding};
use crate::spacing::ScanFinder;
use crate::stretches::JoinedStretches;
use doubts::CRAWL_MM_PER_S;
use laps::Laps;
use seen::{Range, Seen, Tally};
use turns::Turns;

pub use findings::{NozzleGap, spacing_against_spot};
pub use optical::FocusPlace;

/// A speed this much over what an axis does is told; less is rounding.
const OVER_SPEED: f64 = 1.0 + 1e-3;
/// Where light comes late a burn falls where its words say to so much, mm: F words are rounded, and
/// stand while that changes a speed by little.
const LATE_MM: f64 = 0.01;
/// An S this much over full power is told.
const OVER_POWER: f64 = 1.0 + 1e-9;

/// Where a run comes from.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Made {
    /// Laid just now: what is off the wall or out of reach was found on the way.
    Here,
    /// Read from a finished program.
    Before,
}

/// What of a run is known besides its steps.
#[derive(Clone, Copy, Debug, Default)]
pub struct RunFacts {
    /// Moves slowed because an even dose would have needed more than full power.
    pub slowed_power: u64,
    /// Moves whose even dose lies below what marks.
    pub below_least_power: u64,
    /// Burned length that a mask left dark, mm.
    pub masked_mm: f64,
    /// How long the burns take, seconds; 0 where it is not known.
    pub burns_take_s: f64,
    /// The spacing of scan lines is judged by the operations, which know it better.
    pub spacing_known: bool,
}

/// What a run comes to.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// What was found.
    pub findings: Vec<Finding>,
    /// What a person should know besides, a sentence each.
    pub told: Vec<String>,
    /// Whether anything burned.
    pub burned: bool,
    /// Where the run is focused.
    pub focus: FocusPlace,
    /// The least gap of every nozzle of the machine.
    pub nozzles: Vec<NozzleGap>,
}

impl Verdict {
    /// What two set-ups of one run come to: what either found, once; the place where the first is
    /// focused, and how far off it is where that is worst in either; of each nozzle the lesser gap.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        for finding in other.findings {
            if !self.findings.contains(&finding) {
                self.findings.push(finding);
            }
        }
        self.burned |= other.burned;
        if other.focus.defocus_mm > self.focus.defocus_mm {
            self.focus.defocus_mm = other.focus.defocus_mm;
            self.focus.worst_at_mm = other.focus.worst_at_mm;
        }
        for told in other.told {
            if !self.told.contains(&told) {
                self.told.push(told);
            }
        }
        for (own, other) in self.nozzles.iter_mut().zip(other.nozzles) {
            let gap = |one: &Option<LeastGap<u64>>| one.as_ref().map_or(f64::MAX, |one| one.gap_mm);
            if gap(&other.least) < gap(&own.least) {
                own.least = other.least;
            }
        }
        self
    }
}

/// A nozzle of the machine, followed over what is burned.
#[derive(Debug)]
enum Nozzle {
    /// Over work that turns.
    Turning(Clearance<u64>),
    /// Over a flat place of it, which stands still.
    Still(OverFacet<u64>),
}

impl Nozzle {
    fn of(nozzle: &stave_setup::Nozzle, setup: &Setup, made_for: &MadeFor) -> Self {
        let held_at_mm = made_for.held_at_mm.unwrap_or(setup.job.held_at_mm);
        if let Some(on) = &setup.facet {
            return Self::Still(OverFacet::new(on, nozzle, made_for.toward, held_at_mm));
        }
        Self::Turning(Clearance::new(HeadOverWork::of(
            (&setup.blank, &setup.machine),
            Some(nozzle),
            made_for.tilt_rad,
            made_for.toward,
            held_at_mm,
        )))
    }

    #[inline]
    fn go(&mut self, from: &Pose, to: &Pose, line: u64) {
        match self {
            Self::Turning(clearance) => clearance.go(from, to, line),
            Self::Still(over) => over.go(from, to, line),
        }
    }

    /// The least gap for a focus at a height, mm, of the crest `crest_mm` high at the zero.
    fn least(&self, height_mm: f64, crest_mm: f64, gap_mm: f64) -> Option<LeastGap<u64>> {
        match self {
            Self::Turning(clearance) => clearance.least(height_mm, gap_mm),
            Self::Still(over) => over.least(height_mm - crest_mm, gap_mm),
        }
    }
}

/// Looks at a run step by step.
#[derive(Debug)]
pub struct Judge<'a> {
    setup: &'a Setup,
    made_for: MadeFor,
    made: Made,
    rig: Rig<'a>,
    crest: CrestLine,
    limits: [AxisLimits; AXES],
    /// The least and the greatest word of each axis, and the half count by which a word that is
    /// written as one of them may lie past it before it is rounded.
    ends: [(f64, f64); AXES],
    per_speed: [f64; AXES],
    full_power_s: f64,
    zones: Zones,
    zone_hits: Vec<Tally>,
    zone_slack_mm: f64,
    reach: Reach,
    off_wall: Tally,
    steep: Tally,
    nozzles: Vec<Nozzle>,
    off_facet: Tally,
    /// For each flat place of round ware what burns across it.
    planes: Vec<Tally>,
    burns: u64,
    at: Range,
    turn: Range,
    any_turn: Range,
    /// The place along the axis and the turn at which the last burn ended; no numbers before the
    /// first.
    burned_to: (f64, f64),
    words: [Range; AXES],
    over_speed: [Tally; AXES],
    power: Range,
    beam_on_travel: Tally,
    /// Dwells in the dark, and dots: how long the longest takes, s.
    waits: Tally,
    dots: Tally,
    /// Burns that hardly move: how long the slowest takes for a mm, s.
    crawls: Tally,
    laps: Laps,
    scan: ScanFinder,
    /// What of the rail burns at no lift, and the heights of what burns under one, or on uneven
    /// ware.
    swept: JoinedStretches,
    /// Turns at which that burns.
    turns: Turns,
    /// What of the rail burns under a lift, and the least and the greatest lift: the program's own
    /// Z, where the focus is fixed.
    passed: JoinedStretches,
    lifts: Range,
    lifted: Range,
    asked_burn_s: f64,
    /// What the operation at hand does on purpose.
    meant: Meant,
    hint: usize,
    /// What keeps the run from being written, in the order in which it came.
    refusals: Vec<Code>,
}

impl<'a> Judge<'a> {
    /// For a run by a setup that was made for `made_for`.
    #[must_use]
    pub fn new(setup: &'a Setup, made_for: &MadeFor, made: Made) -> Self {
        let (blank, machine) = (&setup.blank, &setup.machine);
        let rig = Rig::new(blank, machine, made_for);
        let limits = std::array::from_fn(|axis| rig.limits(axis));
        let spot_mm =
            setup.job.lens.as_ref().and_then(|l| l.spot_in_focus_mm(machine.beam.as_ref()));
        let spot_rad = spot_mm.unwrap_or(0.0) / blank.wall.largest_radius_mm();
        let zones = Zones::new(setup);
        // And what is left of decimals that no binary number holds.
        let half_count = 0.501 * 0.1_f64.powf(f64::from(machine.controller.decimals));
        Self {
            made_for: made_for.clone(),
            made,
            crest: CrestLine::new(&blank.wall, made_for.tilt_rad),
            limits,
            ends: limits.map(|limits| {
                let (min, max) = (limits.min, limits.max);
                (
                    min.map_or(f64::NEG_INFINITY, |min| min - half_count),
                    max.map_or(f64::INFINITY, |max| max + half_count),
                )
            }),
            per_speed: limits.map(|limits: AxisLimits| 1.0 / limits.speed),
            full_power_s: machine.controller.full_power_s,
            zone_hits: vec![Tally::default(); blank.zones.len()],
            zones,
            // What the words' rounding and, under a mask, the tolerance may carry over an edge.
            zone_slack_mm: setup.job.tolerance_mm + 1e-3,
            reach: Reach::new(&blank.wall, &rig.crest, machine.controller.steepest_rad),
            off_wall: Tally::default(),
            steep: Tally::default(),
            nozzles: (machine.nozzles.iter())
                .map(|nozzle| Nozzle::of(nozzle, setup, made_for))
                .collect(),
            off_facet: Tally::default(),
            planes: planes::tallies(&blank.facets),
            burns: 0,
            at: Range::default(),
            turn: Range::default(),
            any_turn: Range::default(),
            burned_to: (f64::NAN, f64::NAN),
            words: [Range::default(); AXES],
            over_speed: [Tally::default(); AXES],
            power: Range::default(),
            beam_on_travel: Tally::default(),
            waits: Tally::default(),
            dots: Tally::default(),
            crawls: Tally::default(),
            laps: Laps::new(blank.wall.length_mm(), spot_rad),
            scan: ScanFinder::default(),
            swept: JoinedStretches::default(),
            turns: Turns::default(),
            passed: JoinedStretches::default(),
            lifts: Range::default(),
            lifted: Range::default(),
            asked_burn_s: 0.0,
            meant: Meant::default(),
            hint: 0,
            refusals: Vec::new(),
            rig,
            setup,
        }
    }

    /// With what the burns before were asked to take, where the clock ran on from them.
    #[must_use]
    pub fn going_on_from(self, before: &Self) -> Self {
        Self { asked_burn_s: before.asked_burn_s, ..self }
    }

    /// The first thing in a step that keeps a run from being written and is not accepted: full
    /// power passed, an axis' end, a zone.
    #[must_use]
    #[inline]
    pub fn refuses(&self, accepted: &[Code]) -> Option<Code> {
        self.refusals.iter().copied().find(|code| !accepted.contains(code))
    }

    #[cold]
    fn refuse(&mut self, code: Code) {
        if !self.refusals.contains(&code) {
            self.refusals.push(code);
        }
    }

    /// True where anything burned so far.
    #[must_use]
    pub fn burned(&self) -> bool {
        self.burns > 0
    }

    /// Places along the axis that burned so far, mm: least and greatest.
    #[must_use]
    pub fn burned_at_mm(&self) -> Option<(f64, f64)> {
        self.at.ends().map(|(least, most)| (least.value, most.value))
    }

    #[inline]
    fn place(&mut self, stand: &Stand) -> Place {
        match stand.place {
            Some(place) => place,
            None => self.rig.place(&stand.words, &mut self.hint),
        }
    }

    #[inline]
    fn pose(&self, stand: &Stand) -> Pose {
        let words = &stand.words;
        Pose {
            along_mm: self.rig.rail_mm(words),
            // Where the rotary has play, the work is not where its word is.
            turn_rad: stand.place.map_or_else(|| self.rig.turn_rad(words), |place| place.turn_rad),
            lift_mm: self.rig.z_sign * words[Z],
        }
    }

    #[inline]
    fn go(&mut self, step: &Step) {
        let (was, is) = (self.pose(&step.from), self.pose(&step.to));
        for nozzle in &mut self.nozzles {
            nozzle.go(&was, &is, step.line);
        }
        let to = &step.to.words;
        if !self.any_turn.holds(is.turn_rad) {
            self.any_turn.note(seen(is.turn_rad, step));
        }
        for axis in [self.rig.along, Z, ROTARY] {
            if !self.words[axis].holds(to[axis]) {
                self.new_word(axis, step);
            }
        }
        if step.kind == StepKind::Travel {
            if step.beam.is_some() && step.power_s != Some(0.0) {
                self.beam_on_travel.note(seen(0.0, step));
            }
            return;
        }
        self.hold_to_speed(step);
        if step.kind == StepKind::Dark && !self.made_for.walk {
            self.dark(step, &was, &is);
        }
        // A walk points at most: nothing of it marks.
        if step.kind == StepKind::Burn && !self.made_for.walk {
            self.asked_burn_s += step.time_s;
            if step.length_mm > 0.0 && step.length_mm < CRAWL_MM_PER_S * step.asked_s {
                self.crawls.note(seen(step.asked_s / step.length_mm, step));
            }
            self.burn(step, &was, &is);
        }
    }

    #[cold]
    fn new_word(&mut self, axis: usize, step: &Step) {
        let word = step.to.words[axis];
        self.words[axis].note(seen(word, step));
        let (least, most) = self.ends[axis];
        if word < least || word > most {
            self.refuse(Code::TravelLimit);
        }
    }

    #[inline]
    fn hold_to_speed(&mut self, step: &Step) {
        let (delta, room) = (step.delta(), step.asked_s * OVER_SPEED);
        // All axes without a jump between them.
        let each = delta.iter().zip(&self.per_speed);
        if each.fold(false, |over, (delta, per)| over | (delta.abs() * per > room)) {
            self.too_fast(step, room);
        }
    }

    #[cold]
    fn too_fast(&mut self, step: &Step, room: f64) {
        let delta = step.delta();
        for ((delta, per_speed), over) in
            delta.iter().zip(&self.per_speed).zip(&mut self.over_speed)
        {
            if delta.abs() * per_speed > room {
                let speed = delta.abs() / step.asked_s;
                if speed.is_finite() {
                    over.note(seen(speed, step));
                }
            }
        }
    }

    #[inline]
    fn burn(&mut self, step: &Step, was: &Pose, is: &Pose) {
        self.burns += 1;
        let in_focus;
        let (was, is) = if self.meant.defocus_mm == 0.0 {
            (was, is)
        } else {
            in_focus = [was, is].map(|pose| self.as_in_focus(pose));
            (&in_focus[0], &in_focus[1])
        };
        let looked_up;
        let (from, to) = match (&step.from.place, &step.to.place) {
            (Some(from), Some(to)) => (from, to),
            _ => {
                looked_up = [self.place(&step.from), self.place(&step.to)];
                (&looked_up[0], &looked_up[1])
            }
        };
        if let Some(power) = step.power_s
            && !self.power.holds(power)
        {
            self.new_power(power, step);
        }
        // What one burn comes to, the next one starts from.
        if self.burned_to != (from.at_mm, from.turn_rad) {
            self.burns_at(from, &step.from, step);
        }
        self.burned_to = (to.at_mm, to.turn_rad);
        self.burns_at(to, &step.to, step);
        let is_level = was.lift_mm == 0.0 && is.lift_mm == 0.0;
        let (rail, on_rail) = if self.setup.machine.lag.is_none() {
            (was.along_mm, is.along_mm)
        } else {
            // Over what burns stands the head when its light comes.
            (self.rig.rail_of(from), self.rig.rail_of(to))
        };
        if is_level && self.swept.add(rail, on_rail) {
            self.turns.add((from.at_mm, from.turn_rad), (to.at_mm, to.turn_rad));
        }
        if !is_level && self.made_for.focus == FocusMode::Fixed {
            self.own_lift(step, was, is);
        }
        if !self.setup.blank.running.is_true() {
            self.uneven_heights(step, (from, was), (to, is));
        } else if !is_level {
            self.heights(step, was, is);
        }
        if let Some(on) = &self.setup.facet {
            let past =
                |place: &Place| on.facet.across_mm(place.turn_rad).abs() - 0.5 * on.facet.width_mm;
            for (place, stand) in [(from, &step.from), (to, &step.to)] {
                if past(place) > self.zone_slack_mm {
                    self.off_facet.note(Seen { stand: *stand, ..seen(past(place), step) });
                    self.refuse(Code::OffWall);
                }
            }
        }
        if self.setup.facet.is_none() && !self.planes.is_empty() {
            self.look_at_planes(step, from, to);
        }
        self.laps.burn(from, to, &self.meant);
        if step.kind == StepKind::Burn {
            let radius_mm = self.rig.wall.largest_radius_mm();
            self.scan.burn(
                (rail, was.turn_rad * radius_mm),
                (on_rail, is.turn_rad * radius_mm),
                (from.s_mm, to.s_mm),
            );
        }
        if !self.zones.is_empty()
            && self.zones.near_box((from.s_mm, to.s_mm), (from.turn_rad, to.turn_rad))
        {
            self.look_at_zones(step, from, to);
        }
        if self.made == Made::Before && !self.reach.surely(from.s_mm, to.s_mm) {
            self.look_at_reach(step, from, to);
        }
    }

    /// Takes in a dark move at a feed.
    fn dark(&mut self, step: &Step, was: &Pose, is: &Pose) {
        let (from, to) = (self.place(&step.from), self.place(&step.to));
        let radius_mm = self.rig.wall.largest_radius_mm();
        self.scan.dark(
            (was.along_mm, was.turn_rad * radius_mm),
            (is.along_mm, is.turn_rad * radius_mm),
            (from.s_mm, to.s_mm),
        );
    }

    /// Takes in a place that burns.
    #[inline]
    fn burns_at(&mut self, place: &Place, stand: &Stand, step: &Step) {
        if !self.at.holds(place.at_mm) {
            self.at.note(Seen { stand: *stand, ..seen(place.at_mm, step) });
        }
        if !self.turn.holds(place.turn_rad) {
            self.turn.note(Seen { stand: *stand, ..seen(place.turn_rad, step) });
        }
    }

    /// The pose without what the head is out of focus on purpose.
    fn as_in_focus(&self, pose: &Pose) -> Pose {
        let lift_mm = pose.lift_mm - self.meant.defocus_mm;
        // To the rounding of the words it is none.
        Pose { lift_mm: if lift_mm.abs() < 2.0 * self.rig.count { 0.0 } else { lift_mm }, ..*pose }
    }

    #[cold]
    fn new_power(&mut self, power: f64, step: &Step) {
        self.power.note(seen(power, step));
        if power > self.full_power_s * OVER_POWER {
            self.refuse(Code::Power);
        }
    }

    fn look_at_zones(&mut self, step: &Step, from: &Place, to: &Place) {
        let zones = self.zones.iter().filter(|zone| zone.keeps != Keeps::ForAnotherPart);
        let mut is_hit = false;
        for (zone, hits) in zones.zip(&mut self.zone_hits) {
            let deep = zone.deepest(from, to).filter(|inside| inside.depth_mm > self.zone_slack_mm);
            let Some(inside) = deep else { continue };
            let at_mm = self.rig.wall.at_of_s(inside.s_mm);
            let place = Place { s_mm: inside.s_mm, turn_rad: inside.turn_rad, at_mm, ..*to };
            let stand = Stand { place: Some(place), ..step.to };
            hits.note(Seen { stand, ..seen(inside.depth_mm, step) });
            is_hit = true;
        }
        if is_hit {
            self.refuse(Code::Zone);
        }
    }

    fn look_at_reach(&mut self, step: &Step, from: &Place, to: &Place) {
        let wall = self.rig.wall;
        for (place, stand) in [(from, &step.from), (to, &step.to)] {
            let past = (-place.s_mm).max(place.s_mm - wall.length_mm());
            let is_late = !self.setup.machine.lag.is_none();
            if !(self.rig.on_wall(place.s_mm) || is_late && past < LATE_MM) {
                self.off_wall.note(Seen { stand: *stand, ..seen(past, step) });
            }
        }
        let on = |s_mm: f64| s_mm.clamp(0.0, wall.length_mm());
        let (s0, s1) = (on(from.s_mm), on(to.s_mm));
        if (s1 - s0).abs() > SAME_PLACE_MM
            && let Err(stave_rig::Misfit::Reach { slope_deg, .. }) =
                self.reach.allows(wall, &self.rig.crest, s0, s1)
        {
            self.steep.note(seen(slope_deg.abs(), step));
        }
    }
}

#[inline]
fn seen(value: f64, step: &Step) -> Seen {
    Seen { value, stand: step.to, line: step.line, section: step.section }
}

impl StepSink for Judge<'_> {
    type Error = Infallible;

    fn on_comment(&mut self, text: &[u8]) {
        let Some(meant) = Meant::of_comment(text) else { return };
        // Without a Z of its own the machine's person has moved the head.
        let moves = self.setup.machine.z.is_some();
        self.meant = Meant { defocus_mm: if moves { meant.defocus_mm } else { 0.0 }, ..meant };
    }

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        if step.kind.moves() {
            self.go(step);
        } else if step.kind == StepKind::Dot {
            let pose = self.pose(&step.to);
            self.burn(step, &pose, &pose);
            self.dots.note(seen(step.time_s, step));
        } else if step.kind == StepKind::Dwell {
            self.waits.note(seen(step.time_s, step));
        }
        Ok(())
    }
}
