//! What a program does to the work, gathered move by move from the machine's words.

use stave_check::{Clearance, CrestLine, OnWall, Pose, ScanLines, ZoneWatch};
use stave_setup::{Along, AxisLimits, FocusUp, RotaryWord, Setup, ZoneRule};
use stave_toolpath::{MoveKind, Position};
use stave_wall::Crest;
use stave_plan::{Asked, AxisLimit, Move, PlanError, Planner, Totals};

use crate::header::WrappedFor;
use crate::retrace::Retrace;

/// A value with where it came up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Seen {
    pub(super) value: f64,
    pub(super) at_mm: f64,
    pub(super) turn_rad: f64,
    pub(super) line: u64,
}

/// Something that came up so many times, at its worst where `worst` says.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tally {
    pub(super) count: u64,
    pub(super) worst: Option<Seen>,
    last_line: u64,
}

impl Tally {
    /// Counts once a line; the greatest value is the worst.
    pub(super) fn note(&mut self, seen: Seen) {
        if self.last_line != seen.line || self.count == 0 {
            self.count += 1;
            self.last_line = seen.line;
        }
        if self.worst.is_none_or(|worst| seen.value > worst.value) {
            self.worst = Some(seen);
        }
    }
}

/// The least and the greatest of something.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Range(pub(super) Option<(Seen, Seen)>);

impl Range {
    pub(super) fn note(&mut self, seen: Seen) {
        match &mut self.0 {
            Some((least, most)) => {
                if seen.value < least.value {
                    *least = seen;
                }
                if seen.value > most.value {
                    *most = seen;
                }
            }
            none => *none = Some((seen, seen)),
        }
    }
}

/// One straight move of the machine.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub(super) to: Position,
    pub(super) kind: MoveKind,
    pub(super) line: u64,
    /// Power of a burn, S counts.
    pub(super) power: Option<f64>,
    /// How long it is to take as written, seconds; nothing for a travel.
    pub(super) time_s: f64,
    /// How long it would take at the speed that was asked before any axis held it back, seconds.
    pub(super) asked_s: Option<f64>,
}

/// The three axes, in the order they are planned and told.
pub(super) const ALONG: usize = 0;
pub(super) const ROTARY: usize = 1;
pub(super) const Z: usize = 2;

/// Everything that was gathered.
pub(super) struct Survey<'a> {
    pub(super) setup: &'a Setup,
    pub(super) wrapped: WrappedFor,
    pub(super) crest: CrestLine,
    crest_exact: Crest,
    retrace: Retrace<'a>,
    zones: Vec<ZoneWatch>,
    pub(super) zone_hits: Vec<Tally>,
    zone_slack_mm: f64,
    /// Whether burns off the wall or out of reach are found here, and not where they are laid.
    looks_for_reach: bool,
    pub(super) off_wall: Tally,
    pub(super) reach: Tally,
    /// One for each nozzle of the machine.
    pub(super) nozzles: Vec<Clearance<u64>>,
    here: Position,
    hint: usize,
    pub(super) burns: u64,
    /// Place along the axis and turn of what is burned.
    pub(super) at: Range,
    pub(super) turn: Range,
    /// Turn of every move.
    pub(super) any_turn: Range,
    /// Height of the crest above where the head is lifted to, where it burns: what the focus height
    /// must be.
    pub(super) focus_height: Range,
    /// What of the rail is burned already at the lift that was, so that its heights are known.
    known: Option<(f64, f64, f64)>,
    pub(super) words: [Range; 3],
    pub(super) over_speed: [Tally; 3],
    planner: Planner<3>,
    pub(super) totals: Totals<3>,
    pub(super) asked_burn_s: f64,
    pub(super) power: Range,
    pub(super) beam_on_travel: Tally,
    pub(super) beam_on_end: Option<u64>,
    pub(super) scan: ScanLines,
    z_sign: f64,
}

fn axis_limit(limits: &AxisLimits) -> AxisLimit {
    AxisLimit {
        speed_per_s: limits.speed,
        acceleration_per_s2: limits.acceleration,
        jerk_per_s3: limits.jerk,
    }
}

impl<'a> Survey<'a> {
    pub(super) fn new(
        setup: &'a Setup,
        wrapped: WrappedFor,
        looks_for_reach: bool,
    ) -> Result<Self, PlanError> {
        let (blank, machine) = (&setup.blank, &setup.machine);
        let tilt_rad = wrapped.tilt_rad;
        let limits = limits(setup).map(|limits| axis_limit(&limits));
        Ok(Self {
            crest: CrestLine::new(&blank.wall, tilt_rad),
            crest_exact: Crest::new(tilt_rad),
            retrace: Retrace::new(blank, machine, &wrapped),
            zones: blank
                .zones
                .iter()
                .map(|zone| ZoneWatch::new(&blank.wall, zone, setup.zone_margin_mm(zone)))
                .collect(),
            zone_hits: vec![Tally::default(); blank.zones.len()],
            // What the words' rounding and, under a mask, the tolerance may carry over an edge.
            zone_slack_mm: if looks_for_reach || setup.job.zones == ZoneRule::Mask {
                setup.job.tolerance_mm + 1e-3
            } else {
                1e-3
            },
            looks_for_reach,
            off_wall: Tally::default(),
            reach: Tally::default(),
            nozzles: machine
                .nozzles
                .iter()
                .map(|nozzle| Clearance::new(&blank.wall, &blank.zones, tilt_rad, nozzle.radius_mm))
                .collect(),
            here: Position::default(),
            hint: 0,
            burns: 0,
            at: Range::default(),
            turn: Range::default(),
            any_turn: Range::default(),
            focus_height: Range::default(),
            known: None,
            words: [Range::default(); 3],
            over_speed: [Tally::default(); 3],
            planner: Planner::new(limits, machine.controller.corner_tolerance)?,
            totals: Totals::default(),
            asked_burn_s: 0.0,
            power: Range::default(),
            beam_on_travel: Tally::default(),
            beam_on_end: None,
            scan: ScanLines::default(),
            z_sign: match &machine.z {
                Some(z) if z.up == FocusUp::Toward => -1.0,
                _ => 1.0,
            },
            setup,
            wrapped,
        })
    }

    pub(super) fn wrapped(&self) -> &WrappedFor {
        &self.wrapped
    }

    /// The words of the three axes.
    fn words_of(&self, position: &Position) -> [f64; 3] {
        let rotary = &self.setup.machine.rotary;
        let along = if rotary.along == Along::Y { position.y } else { position.x };
        let turned = match rotary.word {
            RotaryWord::A => position.a,
            RotaryWord::B => position.b,
            RotaryWord::C => position.c,
            RotaryWord::Y => position.y,
        };
        [along, turned, position.z]
    }

    pub(super) fn pose(&self, position: &Position) -> Pose {
        Pose {
            along_mm: self.retrace.x_of(position),
            turn_rad: self.retrace.turn_of(position),
            lift_mm: self.z_sign * position.z,
        }
    }

    /// A value at the place that the machine's words mean.
    pub(super) fn seen(&self, value: f64, position: &Position, line: u64) -> Seen {
        let pose = self.pose(position);
        Seen { value, at_mm: self.crest.at_mm(pose.along_mm), turn_rad: pose.turn_rad, line }
    }

    /// Takes one move.
    pub(super) fn step(&mut self, step: &Step) -> Result<(), PlanError> {
        let from = self.here;
        let (was, is) = (self.pose(&from), self.pose(&step.to));
        for nozzle in &mut self.nozzles {
            nozzle.go(&was, &is, step.line);
        }
        let (before, after) = (self.words_of(&from), self.words_of(&step.to));
        let turned = self.seen(is.turn_rad, &step.to, step.line);
        self.any_turn.note(turned);
        for (range, word) in self.words.iter_mut().zip(after) {
            range.note(Seen { value: word, ..turned });
        }
        let delta = [after[0] - before[0], after[1] - before[1], after[2] - before[2]];
        let travels = step.kind == MoveKind::Travel;
        let asked = if travels || step.time_s <= 0.0 {
            Asked::Limits
        } else {
            Asked::Duration(step.time_s)
        };
        let planned = Move { delta, asked, kind: step.kind, wall_mm: None, tag: 0 };
        self.planner.push(&planned, &mut self.totals)?;
        if let Some(asked_s) = step.asked_s.filter(|_| !travels) {
            self.hold_to_limits(&delta, asked_s, turned);
        }
        if step.kind == MoveKind::Burn {
            self.asked_burn_s += step.time_s;
            self.burn(&from, &was, &is, step);
        }
        self.here = step.to;
        Ok(())
    }

    /// Plans what is still waiting.
    pub(super) fn finish(&mut self) {
        self.planner.stop(&mut self.totals);
    }

    fn hold_to_limits(&mut self, delta: &[f64; 3], asked_s: f64, place: Seen) {
        const SLACK: f64 = 1.0 + 1e-3;
        for (axis, limits) in limits(self.setup).iter().enumerate() {
            let speed = delta[axis].abs() / asked_s;
            if speed.is_finite() && speed > limits.speed * SLACK {
                self.over_speed[axis].note(Seen { value: speed, ..place });
            }
        }
    }

    fn burn(&mut self, from: &Position, was: &Pose, is: &Pose, step: &Step) {
        self.burns += 1;
        let ends = [self.seen(0.0, from, step.line), self.seen(0.0, &step.to, step.line)];
        for end in ends {
            self.at.note(Seen { value: end.at_mm, ..end });
            self.turn.note(Seen { value: end.turn_rad, ..end });
        }
        if let Some(power) = step.power {
            self.power.note(Seen { value: power, ..ends[1] });
        }
        self.heights(was, is, ends);
        let places = self.looks_for_reach || !self.zones.is_empty();
        if !places {
            return;
        }
        let mut hint = self.hint;
        let points = [from, &step.to].map(|position| self.retrace.wall_point(position, &mut hint));
        self.hint = hint;
        let [a, b] = points.map(|point| OnWall {
            s_mm: point.s_mm,
            turn_rad: point.turn_rad,
            radius_mm: point.radius_mm,
        });
        for (zone, hits) in self.zones.iter().zip(&mut self.zone_hits) {
            if let Some(inside) =
                zone.deepest(&a, &b).filter(|inside| inside.depth_mm > self.zone_slack_mm)
            {
                let at_mm = self.setup.blank.wall.at_of_s(inside.s_mm);
                hits.note(Seen {
                    value: inside.depth_mm,
                    at_mm,
                    turn_rad: inside.turn_rad,
                    line: step.line,
                });
            }
        }
        if self.looks_for_reach {
            self.look_for_reach(&points.map(|point| (point.s_mm, point.on_wall)), &ends);
        }
    }

    fn look_for_reach(&mut self, points: &[(f64, bool); 2], ends: &[Seen; 2]) {
        let wall = &self.setup.blank.wall;
        for ((s_mm, on_wall), end) in points.iter().zip(ends) {
            if !on_wall {
                let past = (-s_mm).max(s_mm - wall.length_mm());
                self.off_wall.note(Seen { value: past, ..*end });
            }
        }
        let section = wall.section(0.5 * (points[0].0 + points[1].0), &mut self.hint);
        let rate = self.crest_exact.along_rate(&section);
        if rate < self.setup.machine.controller.steepest_rad.cos() {
            let slope = self.crest_exact.height_rate(&section).atan2(rate).abs();
            self.reach.note(Seen { value: slope.to_degrees(), at_mm: section.at_mm, ..ends[1] });
        }
    }

    /// The heights of the crest along a burn, less the lift of the head.
    fn heights(&mut self, was: &Pose, is: &Pose, ends: [Seen; 2]) {
        let (low, high) = (was.along_mm.min(is.along_mm), was.along_mm.max(is.along_mm));
        if was.lift_mm != is.lift_mm {
            // Z follows the wall, or is driven otherwise: the ends are what is known.
            for (pose, end) in [(was, ends[0]), (is, ends[1])] {
                if let Some((_, height)) = self.crest.heights_mm(pose.along_mm, pose.along_mm) {
                    self.focus_height.note(Seen { value: height - pose.lift_mm, ..end });
                }
            }
            return;
        }
        if let Some((from, to, lift)) = self.known
            && lift == is.lift_mm
            && low >= from
            && high <= to
        {
            return;
        }
        if let Some((least, most)) = self.crest.heights_mm(low, high) {
            for height in [least, most] {
                let along_mm = self.crest.along_at_height(low, high, height);
                let at_mm = self.crest.at_mm(along_mm);
                self.focus_height.note(Seen { value: height - is.lift_mm, at_mm, ..ends[1] });
            }
        }
        self.known = match self.known {
            Some((from, to, lift)) if lift == is.lift_mm && low <= to && high >= from => {
                Some((from.min(low), to.max(high), lift))
            }
            _ => Some((low, high, is.lift_mm)),
        };
    }
}

/// The limits of the three axes, in their order; a machine without Z has one that holds nothing
/// back.
pub(super) fn limits(setup: &Setup) -> [AxisLimits; 3] {
    let machine = &setup.machine;
    let free = AxisLimits { speed: 1e6, acceleration: 1e9, jerk: None, min: None, max: None };
    [
        if machine.rotary.along == Along::Y { machine.y } else { machine.x },
        machine.rotary.limits,
        machine.z.as_ref().map_or(free, |z| z.limits),
    ]
}
