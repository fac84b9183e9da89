//! A program's moves, brought back to the wall as they come.

use stave_check::{Clearance, Pose};
use stave_picture::proof::{BurnMap, LegKind, Track, TrackPoint, WallPlace};
use stave_setup::{FocusUp, Setup};
use stave_toolpath::{BeamWord, MoveKind, Position};
use stave_wall::{Crest, WallShape};

use crate::estimate::{Estimate, TimedMove};
use crate::header::WrappedFor;
use crate::retrace::{Retrace, WallPoint};

/// Moves that pass a station, or go over a smooth wall, are followed by steps no longer than this,
/// mm on the wall.
const STEP_MM: f64 = 0.5;
/// Steps of one move at the most.
const MOST_STEPS: f64 = 2000.0;
/// Sections that are kept apart; the last is all that follows.
const MOST_SECTIONS: u32 = 255;
/// How far past an end of the wall a burn may be before it is told, mm: the words are rounded.
const END_SLACK_MM: f64 = 0.01;

/// Places and lengths found on the way.
#[derive(Clone, Debug, Default)]
pub(super) struct Found {
    /// Burned from, to, mm of meridian.
    pub(super) burned_s_mm: Option<(f64, f64)>,
    /// Burned from, to, rad, unfolded.
    pub(super) burned_turn_rad: Option<(f64, f64)>,
    /// Burned past the ends of the wall, mm, and where first.
    pub(super) off_wall_mm: f64,
    pub(super) off_wall: Option<WallPlace>,
    /// Moves with the beam on: all, and those held back by an axis.
    pub(super) burns: u64,
    pub(super) held: Vec<(char, u64)>,
    /// Power, percent: least and most of the burns.
    pub(super) power_percent: Option<(f64, f64)>,
    /// The greatest speed of the rotary on burns, its units per second.
    pub(super) sections: Vec<u32>,
    pub(super) clearance: Option<Clearance<u64>>,
}

impl Found {
    /// The names of the sections, by the numbers that the map and the track have.
    pub(super) fn section_names(&self, estimate: &Estimate) -> Vec<String> {
        let mut names = estimate.operations.iter().filter(|section| section.moves > 0);
        let last = self.sections.iter().copied().max().unwrap_or(0);
        (0..=last)
            .map(|number| {
                if number == MOST_SECTIONS {
                    return "all that follows".to_owned();
                }
                let known = self.sections.binary_search(&number).is_ok();
                known
                    .then(|| names.next().map(|section| section.name.clone()))
                    .flatten()
                    .unwrap_or_default()
            })
            .collect()
    }
}

/// What takes the moves.
pub(super) struct Gathered<'a> {
    setup: &'a Setup,
    retrace: Retrace<'a>,
    crest: Crest,
    map: BurnMap,
    track: Track,
    found: Found,
    hint: usize,
    lift_sign: f64,
    started: bool,
}

impl<'a> Gathered<'a> {
    pub(super) fn new(setup: &'a Setup, wrapped: &WrappedFor, spot_mm: f64) -> Self {
        let wall = &setup.blank.wall;
        let nozzle = setup.job.nozzle.as_ref();
        let clearance = nozzle.map(|nozzle| {
            Clearance::new(wall, &setup.blank.zones, wrapped.tilt_rad, nozzle.radius_mm)
        });
        let away = setup.machine.z.as_ref().is_none_or(|z| z.up == FocusUp::Away);
        Self {
            setup,
            retrace: Retrace::new(&setup.blank, &setup.machine, wrapped),
            crest: Crest::new(wrapped.tilt_rad),
            map: BurnMap::new(wall, spot_mm),
            track: Track::new(wall.largest_radius_mm()),
            found: Found { clearance, ..Found::default() },
            hint: 0,
            lift_sign: if away { 1.0 } else { -1.0 },
            started: false,
        }
    }

    pub(super) fn take(&mut self, timed: &TimedMove) {
        let section = timed.section.min(MOST_SECTIONS);
        if let Err(at) = self.found.sections.binary_search(&section) {
            self.found.sections.insert(at, section);
        }
        let burns = timed.kind == MoveKind::Burn;
        let energy = if burns { self.energy(timed) } else { 0.0 };
        let (from, to) = (self.point(&timed.from), self.point(&timed.to));
        let number = u16::try_from(section).unwrap_or(u16::MAX);
        let kind = if burns { LegKind::Burn } else { LegKind::Travel };
        if !self.started {
            self.started = true;
            self.track.go(TrackPoint {
                place: place(&from),
                at_s: timed.start_s,
                kind,
                section: number,
            });
        }
        let steps = self.steps(&from, &to);
        let mut before = from;
        for k in 1..=steps {
            let share = f64::from(k) / f64::from(steps);
            let next =
                if k == steps { to } else { self.point(&between(&timed.from, &timed.to, share)) };
            let at_s = timed.start_s + share * timed.duration_s;
            if burns {
                self.map.burn(
                    place(&before),
                    place(&next),
                    energy / f64::from(steps),
                    at_s,
                    number,
                );
                self.reach(&before, &next);
            }
            self.track.go(TrackPoint { place: place(&next), at_s, kind, section: number });
            before = next;
        }
        if burns {
            self.found.burns += 1;
            if let Some(axis) = timed.held_by {
                match self.found.held.iter_mut().find(|(letter, _)| *letter == axis) {
                    Some((_, count)) => *count += 1,
                    None => self.found.held.push((axis, 1)),
                }
            }
        }
        let poses = (self.pose(&timed.from, &from), self.pose(&timed.to, &to));
        if let Some(clearance) = &mut self.found.clearance {
            clearance.go(&poses.0, &poses.1, timed.line);
        }
    }

    /// All that was taken.
    pub(super) fn finish(self, _estimate: &Estimate) -> (BurnMap, Vec<TrackPoint>, Found) {
        (self.map, self.track.finish(), self.found)
    }

    /// Percent of full power times seconds.
    fn energy(&mut self, timed: &TimedMove) -> f64 {
        let full = self.setup.machine.controller.full_power_s;
        // A program without any S is for a beam that is only on or off.
        let percent = timed.power.map_or(100.0, |s| 100.0 * s / full);
        let (least, most) = self.found.power_percent.unwrap_or((percent, percent));
        self.found.power_percent = Some((least.min(percent), most.max(percent)));
        let seconds =
            if timed.beam == Some(BeamWord::M3) { timed.duration_s } else { timed.nominal_s };
        percent * seconds
    }

    fn point(&mut self, position: &Position) -> WallPoint {
        self.retrace.wall_point(position, &mut self.hint)
    }

    /// In how many steps a move is followed: one where it is straight in (s, turn).
    fn steps(&self, from: &WallPoint, to: &WallPoint) -> u32 {
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
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        {
            (length / STEP_MM).ceil().clamp(1.0, MOST_STEPS) as u32
        }
    }

    /// Takes note of where burns reach.
    fn reach(&mut self, from: &WallPoint, to: &WallPoint) {
        let wider = |known: Option<(f64, f64)>, a: f64, b: f64| {
            let (low, high) = known.unwrap_or((a, a));
            Some((low.min(a).min(b), high.max(a).max(b)))
        };
        let length = self.setup.blank.wall.length_mm();
        let on = |s: f64| s.clamp(0.0, length);
        self.found.burned_s_mm = wider(self.found.burned_s_mm, on(from.s_mm), on(to.s_mm));
        self.found.burned_turn_rad = wider(self.found.burned_turn_rad, from.turn_rad, to.turn_rad);
        let past = |s: f64| (s - length).max(-s).max(0.0);
        if past(from.s_mm).max(past(to.s_mm)) > END_SLACK_MM {
            self.found.off_wall_mm +=
                (to.s_mm - from.s_mm).hypot((to.turn_rad - from.turn_rad) * to.radius_mm);
            self.found.off_wall.get_or_insert(place(to));
        }
    }

    fn pose(&self, position: &Position, point: &WallPoint) -> Pose {
        let section = self.setup.blank.wall.section(point.s_mm, &mut 0);
        Pose {
            along_mm: self.crest.along_mm(&section),
            turn_rad: point.turn_rad,
            lift_mm: self.lift_sign * position.z,
        }
    }
}

fn place(point: &WallPoint) -> WallPlace {
    WallPlace { s_mm: point.s_mm, turn_rad: point.turn_rad }
}

fn between(from: &Position, to: &Position, share: f64) -> Position {
    let mix = |a: f64, b: f64| a + share * (b - a);
    Position {
        x: mix(from.x, to.x),
        y: mix(from.y, to.y),
        z: mix(from.z, to.z),
        a: mix(from.a, to.a),
        b: mix(from.b, to.b),
        c: mix(from.c, to.c),
    }
}
