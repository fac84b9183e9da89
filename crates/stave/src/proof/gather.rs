//! A program's steps as the pictures have them: what burned where, and the way there.

use std::f64::consts::TAU;

use stave_check::JoinedStretches;
use stave_picture::proof::{BurnMap, Burns, LegKind, Track, TrackPoint, WallPlace};
use stave_plan::{Follow, TimedStep};
use stave_rig::Rig;
use stave_setup::Setup;
use stave_toolpath::xml::isolated;
use stave_toolpath::{BeamWord, Place, Stand, StepKind};
use stave_wall::{Wall, WallShape};

use super::scanned::Scanned;
use super::width::Widths;
use crate::run::{OwnNames, Sections, place_between};

/// Moves that pass a station, or go over a smooth wall, are followed by steps no longer than this,
/// mm on the wall.
const STEP_MM: f64 = 0.5;
/// Steps of one move at the most.
const MOST_STEPS: f64 = 2000.0;
/// Stretches that burn no farther from each other than this are one, mm.
const NEAR_MM: f64 = 1.0;
/// Sections that are kept apart; the last is all that follows.
const MOST_SECTIONS: u32 = 255;

/// Where burns reach.
#[derive(Clone, Debug, Default)]
pub(super) struct Burned {
    /// Along the meridian.
    pub(super) stretches: JoinedStretches,
    /// From, to, rad, unfolded.
    pub(super) turn_rad: Option<(f64, f64)>,
    /// How wide that is on the wall, mm.
    pub(super) around_mm: Option<f64>,
    /// Where it goes in the dark at a speed of its own: along the meridian, mm, and turns, rad.
    pub(super) walked: Option<((f64, f64), (f64, f64))>,
    /// Power, percent: least and most.
    pub(super) power_percent: Option<(f64, f64)>,
}

/// What takes the steps.
pub(super) struct Gathered<'a> {
    setup: &'a Setup,
    rig: Rig<'a>,
    hint: usize,
    map: BurnMap,
    burns: Burns,
    track: Track,
    burned: Burned,
    widths: Widths,
    scanned: Scanned,
    /// What that found of a burn, kept for its room alone.
    edges: Vec<[WallPlace; 2]>,
    /// What burns in each set-up that a comment began, along the meridian.
    set_ups: Vec<JoinedStretches>,
    /// The most that a section's number came to.
    last_section: u32,
    started: bool,
}

fn wider(known: Option<(f64, f64)>, a: f64, b: f64) -> Option<(f64, f64)> {
    let (low, high) = known.unwrap_or((a, a));
    Some((low.min(a).min(b), high.max(a).max(b)))
}

/// The turn at which the picture shows a turn of the wall: that of a flat place goes once around
/// it.
pub(super) fn turn_shown(setup: &Setup, turn_rad: f64) -> f64 {
    let Some(on) = &setup.facet else { return turn_rad };
    on.facet.across_mm(turn_rad) / on.facet.width_mm * TAU
}

impl Follow for Gathered<'_> {
    fn set_up(&mut self, tilt_rad: f64) {
        self.rig = self.rig.tilted(tilt_rad);
        self.set_ups.push(JoinedStretches::joined_within(NEAR_MM));
        self.hint = 0;
    }

    fn timed(&mut self, timed: &TimedStep) {
        self.take(timed);
    }
}

impl<'a> Gathered<'a> {
    /// On the wall of the picture, which for a flat place is no wider than that.
    pub(super) fn new(setup: &'a Setup, wall: &Wall, rig: Rig<'a>, spot_mm: f64) -> Self {
        Self {
            setup,
            rig,
            hint: 0,
            map: BurnMap::new(wall, spot_mm),
            burns: Burns::new(wall, spot_mm),
            track: Track::new(wall.largest_radius_mm()),
            burned: Burned {
                stretches: JoinedStretches::joined_within(NEAR_MM),
                ..Burned::default()
            },
            widths: Widths::new(wall),
            scanned: Scanned::new(spot_mm),
            edges: Vec::new(),
            set_ups: Vec::new(),
            last_section: 0,
            started: false,
        }
    }

    fn shown(&self, place: &Place) -> WallPlace {
        WallPlace { s_mm: place.s_mm, turn_rad: turn_shown(self.setup, place.turn_rad) }
    }

    fn take(&mut self, timed: &TimedStep) {
        let step = &timed.step;
        let (Some(from), Some(to)) = (step.from.place, step.to.place) else { return };
        let section = step.section.min(MOST_SECTIONS);
        self.last_section = self.last_section.max(section);
        let number = u16::try_from(section).unwrap_or(u16::MAX);
        let burns = step.kind.marks();
        let energy = if burns { self.energy(timed) } else { 0.0 };
        let kind = match step.kind {
            _ if burns => LegKind::Burn,
            StepKind::Dark => LegKind::RunUp,
            _ => LegKind::Travel,
        };
        if !self.started {
            self.started = true;
            let at_s = timed.start_s;
            let place = self.shown(&from);
            self.track.go(TrackPoint { place, at_s, kind, section: number });
        }
        let parts = if step.kind == StepKind::Dot { 1 } else { self.parts(&from, &to) };
        let mut before = (from, timed.start_s);
        for k in 1..=parts {
            let share = f64::from(k) / f64::from(parts);
            let next = if k == parts { to } else { self.between(&step.from, &step.to, share) };
            let at_s = timed.start_s + share * timed.duration_s;
            if burns {
                let here = (self.shown(&before.0), self.shown(&next));
                let energy = energy / f64::from(parts);
                self.map.burn(here.0, here.1, energy, at_s, number);
                self.burns.burn(here, energy, (before.1, at_s), number);
                self.reach(&before.0, &next);
            }
            if kind == LegKind::RunUp {
                self.walk(&before.0, &next);
            }
            let place = self.shown(&next);
            self.track.go(TrackPoint { place, at_s, kind, section: number });
            before = (next, at_s);
        }
    }

    pub(super) fn set_ups(&self) -> &[JoinedStretches] {
        &self.set_ups
    }

    pub(super) fn burned(&self) -> Burned {
        Burned { around_mm: self.widths.around_mm(), ..self.burned.clone() }
    }

    /// The names of the sections, by the numbers that the map and the track have: as they were
    /// drawn, where that is known.
    pub(super) fn section_names(&self, sections: &Sections, own: &OwnNames) -> Vec<String> {
        let name = |number: u32| {
            if number == MOST_SECTIONS {
                "all that follows".to_owned()
            } else {
                own_way(&own.of(sections, number))
            }
        };
        (0..=self.last_section).map(name).collect()
    }

    /// All that was taken.
    pub(super) fn finish(self) -> (BurnMap, Burns, Vec<TrackPoint>) {
        (self.map, self.burns, self.track.finish())
    }

    /// Percent of full power times seconds.
    fn energy(&mut self, timed: &TimedStep) -> f64 {
        let step = &timed.step;
        let full = self.setup.machine.controller.full_power_s;
        // A program without any S is for a beam that is only on or off.
        let percent = step.power_s.map_or(100.0, |s| 100.0 * s / full);
        self.burned.power_percent = wider(self.burned.power_percent, percent, percent);
        // Under M4 the power follows the speed (common practice, no source).
        let follows = step.beam != Some(BeamWord::M3) && step.kind == StepKind::Burn;
        percent * if follows { step.time_s } else { timed.duration_s }
    }

    /// In how many parts a move is followed: one where it is straight in (s, turn).
    fn parts(&self, from: &Place, to: &Place) -> u32 {
        let wall = &self.setup.blank.wall;
        let straight = wall.shape() == WallShape::Straight && {
            let (low, high) = (from.s_mm.min(to.s_mm), from.s_mm.max(to.s_mm));
            !wall.span_ends_mm().iter().any(|end| *end > low + 1e-6 && *end < high - 1e-6)
        };
        if straight || from.s_mm == to.s_mm {
            return 1;
        }
        let around = (to.turn_rad - from.turn_rad) * from.radius_mm.max(to.radius_mm);
        let length = (to.s_mm - from.s_mm).hypot(around);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        {
            (length / STEP_MM).ceil().clamp(1.0, MOST_STEPS) as u32
        }
    }

    /// A place of a move: even in the words, but for the rotary's play.
    fn between(&mut self, from: &Stand, to: &Stand, share: f64) -> Place {
        place_between(&self.rig, (from, to), share, &mut self.hint)
    }

    /// Takes note of how far the beam goes in the dark.
    fn walk(&mut self, from: &Place, to: &Place) {
        let (from, to) = (self.shown(from), self.shown(to));
        let (s_mm, turn_rad) = self.burned.walked.unzip();
        let s_mm = wider(s_mm, from.s_mm, to.s_mm);
        self.burned.walked = s_mm.zip(wider(turn_rad, from.turn_rad, to.turn_rad));
    }

    /// Takes note of where burns reach: lines by their middle, areas to their edges.
    fn reach(&mut self, from: &Place, to: &Place) {
        let (here, there) = (self.shown(from), self.shown(to));
        // A flat place is shown as a wall of one radius.
        let radius_mm = match &self.setup.facet {
            Some(on) => on.facet.width_mm / TAU,
            None => 0.5 * (from.radius_mm + to.radius_mm),
        };
        self.reach_to([here, there]);
        let mut edges = std::mem::take(&mut self.edges);
        self.scanned.burn((here, there), radius_mm, |edge| edges.push(edge));
        edges.drain(..).for_each(|edge| self.reach_to(edge));
        self.edges = edges;
    }

    fn reach_to(&mut self, burn: [WallPlace; 2]) {
        let length = self.setup.blank.wall.length_mm();
        let [a, b] = burn.map(|place| (place.s_mm.clamp(0.0, length), place.turn_rad));
        self.burned.stretches.add(a.0, b.0);
        if let Some(here) = self.set_ups.last_mut() {
            here.add(a.0, b.0);
        }
        self.widths.burn(a, b);
        self.burned.turn_rad = wider(self.burned.turn_rad, a.1, b.1);
    }
}

/// The name of a section, `piece NAME: OPERATION: WHAT`, in which each part that is read from the
/// right keeps to itself: as one they would change places.
fn own_way(name: &str) -> String {
    let heads = ["piece ", "operation "].into_iter();
    let mut found = heads.filter_map(|head| Some((head, name.strip_prefix(head)?)));
    let (head, rest) = found.next().unwrap_or(("", name));
    let parts: Vec<_> = rest.split(": ").map(isolated).collect();
    format!("{head}{}", parts.join(": "))
}

#[cfg(test)]
mod tests {
    use super::own_way;

    #[test]
    fn parts_of_a_section_s_name_keep_to_themselves() {
        assert_eq!(own_way("piece ring: areas"), "piece ring: areas");
        assert_eq!(own_way("stroke 3 of 19"), "stroke 3 of 19");
        let both = own_way("piece כוס (2): טבעת: areas");
        assert_eq!(both, "piece \u{2068}כוס (2)\u{2069}: \u{2068}טבעת\u{2069}: areas");
    }
}
