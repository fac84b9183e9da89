//! A flat program, laid on the wall move by move for the survey. What does not fit is noted and
//! passed by, so that all of it is told.

use std::convert::Infallible;
use std::io::Read;

use stave_check::{Code, Finding, Severity};
use stave_parse::gcode::{self, ReadOptions, ReadSummary, Sink};
use stave_setup::{Along, RotaryWord, Setup};
use stave_toolpath::{BeamWord, Event, Feed, MachineMove, Position};
use stave_transform::{Burn, Curve, FlatPoint, Halt, Misfit, MoveSink, Wrapper};
use stave_wall::{Anchor, Distortion, Lay, LayError, LaySetting};
use stave_plan::PlanError;

use super::survey::{Seen, Step, Survey, Tally};
use crate::error::{Error, Refusal};

/// Distortion is looked at no more often than this along the flat path, mm.
const LOOK_MM: f64 = 0.5;

/// What only a flat program shows.
#[derive(Debug, Default)]
pub(super) struct FlatFacts {
    /// Burns that could not be laid, by what kept them off.
    pub(super) misfits: Vec<(Misfit, Tally)>,
    /// Greatest angle error, degrees, and greatest area error as a share.
    pub(super) angle: Tally,
    pub(super) area: Tally,
    /// A point of the last scan line, flat.
    pub(super) scan_at: (f64, f64),
    pub(super) slowed_power: u64,
    pub(super) below_least_power: u64,
    pub(super) masked_mm: f64,
}

/// Where a flat program's words go.
pub(super) fn survey<R: Read>(
    input: R,
    survey: &mut Survey<'_>,
    setup: &Setup,
    anchor: Anchor,
    options: &ReadOptions,
    name: &str,
) -> Result<(FlatFacts, ReadSummary), Error> {
    let wrapper = Wrapper::new(setup, anchor)?;
    let mut flat = Flat {
        along_y: wrapper.along_y(),
        wrapper,
        lay: lay(setup, anchor)?,
        setup,
        out: Out { survey, setup, line: 0, speed: None, broken: None },
        facts: FlatFacts::default(),
        looked: None,
        beam: None,
        power: None,
        strict: options.strict,
    };
    let summary =
        gcode::read(input, options, &mut flat).map_err(|error| Error::of_reading(error, name))?;
    if let Some(broken) = flat.out.broken {
        return Err(Error::Setting(broken.to_string()));
    }
    let stats = flat.wrapper.stats();
    flat.facts.slowed_power = stats.slowed_power;
    flat.facts.below_least_power = stats.below_least_power;
    flat.facts.masked_mm = stats.masked_mm;
    Ok((flat.facts, summary))
}

/// The lay of a flat program.
pub(super) fn lay(setup: &Setup, anchor: Anchor) -> Result<Lay, LayError> {
    let job = &setup.job;
    let setting = LaySetting {
        kind: job.lay,
        origin_s_mm: setup.blank.wall.s_of_at(job.place.at_mm),
        origin_turn_rad: job.place.turn_rad,
        reference_radius_mm: job.reference_radius_mm,
        anchor,
    };
    Lay::new(&setup.blank.wall, setting)
}

/// Hands machine moves to the survey.
struct Out<'s, 'a> {
    survey: &'s mut Survey<'a>,
    setup: &'s Setup,
    line: u64,
    /// The speed on the wall that is asked of the moves to come, mm/s.
    speed: Option<f64>,
    broken: Option<PlanError>,
}

impl MoveSink for Out<'_, '_> {
    type Error = Infallible;

    fn machine_move(&mut self, machine_move: &MachineMove) -> Result<(), Infallible> {
        let step = Step {
            to: position(self.setup, machine_move),
            kind: machine_move.kind,
            line: self.line,
            power: machine_move.power,
            time_s: machine_move.time_s,
            asked_s: self.speed.map(|speed| machine_move.wall_mm / speed),
        };
        if let Err(error) = self.survey.step(&step) {
            self.broken = Some(error);
        }
        Ok(())
    }
}

/// Where the machine stands after a move, as a reader of the program finds it.
#[allow(clippy::cast_precision_loss)]
fn position(setup: &Setup, machine_move: &MachineMove) -> Position {
    let count = 10_f64.powi(-i32::try_from(setup.machine.controller.decimals).unwrap_or(0));
    let mut position = Position::default();
    let rotary = machine_move.rotary as f64 * count;
    let along = machine_move.along as f64 * count;
    match setup.machine.rotary.along {
        Along::X => position.x = along,
        Along::Y => position.y = along,
    }
    match setup.machine.rotary.word {
        RotaryWord::A => position.a = rotary,
        RotaryWord::B => position.b = rotary,
        RotaryWord::C => position.c = rotary,
        RotaryWord::Y => position.y = rotary,
    }
    position.z = machine_move.z.map_or(0.0, |z| z as f64 * count);
    position
}

struct Flat<'s, 'a> {
    wrapper: Wrapper<'s>,
    lay: Lay,
    setup: &'s Setup,
    out: Out<'s, 'a>,
    facts: FlatFacts,
    /// The flat point at which distortion was looked at last.
    looked: Option<(f64, f64)>,
    along_y: bool,
    beam: Option<BeamWord>,
    power: Option<f64>,
    strict: bool,
}

impl Flat<'_, '_> {
    fn burns(&self) -> bool {
        self.beam.is_some() && self.power.map_or(!self.strict, |s| s > 0.0)
    }

    /// What came of a move: what does not fit is noted, and the program goes on where the move
    /// would have ended.
    fn settle(
        &mut self,
        result: Result<(), Halt<Infallible>>,
        to: FlatPoint,
    ) -> Result<(), Refusal> {
        let misfit = match result {
            Ok(()) => return Ok(()),
            Err(Halt::Misfit(misfit)) => misfit,
            Err(Halt::Sink(never)) => match never {},
        };
        if misfit.is_bad_input() {
            return Err(Refusal::Misfit(misfit));
        }
        self.note(misfit, to);
        // Past a place that no word can hold there is nothing to go on from; the next move finds
        // its own.
        let _ = self.wrapper.travel(to, &mut self.out);
        Ok(())
    }

    fn note(&mut self, misfit: Misfit, to: FlatPoint) {
        let laid = self.lay.map(&self.setup.blank.wall, to.u, to.v, &mut 0);
        let length_mm = self.setup.blank.wall.length_mm();
        let value = match &misfit {
            Misfit::OffWall { .. } => (-laid.s_mm).max(laid.s_mm - length_mm).max(0.0),
            Misfit::Reach { slope_deg, .. } => slope_deg.abs(),
            _ => 0.0,
        };
        let at_mm = match &misfit {
            Misfit::OffWall { at_mm, .. }
            | Misfit::Reach { at_mm, .. }
            | Misfit::Zone { at_mm, .. } => *at_mm,
            _ => laid.section.at_mm,
        };
        let seen = Seen { value, at_mm, turn_rad: laid.turn_rad, line: self.out.line };
        let kind = std::mem::discriminant(&misfit);
        let known =
            self.facts.misfits.iter_mut().find(|(one, _)| std::mem::discriminant(one) == kind);
        let (_, tally) = match known {
            Some(known) => known,
            None => {
                self.facts.misfits.push((misfit, Tally::default()));
                let last = self.facts.misfits.len() - 1;
                &mut self.facts.misfits[last]
            }
        };
        tally.note(seen);
    }

    fn look_at_distortion(&mut self, curve: &Curve<'_>) {
        for t in [0.0, 0.5, 1.0] {
            let point = curve.point(t);
            let far = |(u, v): (f64, f64)| (point.u - u).hypot(point.v - v) >= LOOK_MM;
            if !self.looked.is_none_or(far) {
                continue;
            }
            self.looked = Some((point.u, point.v));
            let wall = &self.setup.blank.wall;
            let distortion = Distortion::of_jacobian(self.lay.jacobian(wall, point.u, point.v));
            let laid = self.lay.map(wall, point.u, point.v, &mut 0);
            let seen = |value: f64| Seen {
                value,
                at_mm: laid.section.at_mm,
                turn_rad: laid.turn_rad,
                line: self.out.line,
            };
            if distortion.is_finite() {
                self.facts.angle.note(seen(distortion.omega_rad.to_degrees()));
                self.facts.area.note(seen((distortion.area - 1.0).abs()));
            }
        }
    }

    fn feed(&mut self, curve: &Curve<'_>, feed: Option<Feed>) -> Result<(), Refusal> {
        let to = curve.point(1.0);
        self.out.speed = match feed {
            Some(Feed::PerMinute(f)) if f > 0.0 => Some(f / 60.0),
            _ => None,
        };
        if !self.burns() {
            let result = self.wrapper.dark(curve, feed, &mut self.out);
            return self.settle(result, to);
        }
        let Some(feed) = feed else { return Err(Refusal::Misfit(Misfit::NoFeed)) };
        self.look_at_distortion(curve);
        if let Curve::Line { from, to } = curve {
            self.out.survey.scan.burn((from.u, from.v), (to.u, to.v));
            self.facts.scan_at = (0.5 * (from.u + to.u), 0.5 * (from.v + to.v));
        }
        let result = self.wrapper.burn(curve, Burn { feed, power: self.power }, &mut self.out);
        self.settle(result, to)
    }
}

fn turns(from: &Position, to: &Position) -> bool {
    from.a != to.a || from.b != to.b || from.c != to.c
}

impl Sink for Flat<'_, '_> {
    type Error = Refusal;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        self.out.line = line;
        match *event {
            Event::Straight { from, to, feed } => {
                if turns(from, to) {
                    return Err(Refusal::Rotary);
                }
                let (from, to) =
                    (FlatPoint::of(from, self.along_y), FlatPoint::of(to, self.along_y));
                self.feed(&Curve::Line { from, to }, feed)
            }
            Event::Arc { from, to, arc, feed } => {
                if turns(from, to) {
                    return Err(Refusal::Rotary);
                }
                self.feed(&Curve::Arc { from, to, arc, along_y: self.along_y }, feed)
            }
            Event::Travel { from, to } => {
                if turns(from, to) {
                    return Err(Refusal::Rotary);
                }
                let to = FlatPoint::of(to, self.along_y);
                self.out.speed = None;
                let result = self.wrapper.travel(to, &mut self.out);
                self.settle(result, to)?;
                if self.burns() {
                    let laid = self.lay.map(&self.setup.blank.wall, to.u, to.v, &mut 0);
                    let seen = Seen {
                        value: 0.0,
                        at_mm: laid.section.at_mm,
                        turn_rad: laid.turn_rad,
                        line,
                    };
                    self.out.survey.beam_on_travel.note(seen);
                }
                Ok(())
            }
            Event::Dwell { .. } if self.beam == Some(BeamWord::M3) && self.burns() => {
                if let Err(misfit) = self.wrapper.dot() {
                    self.note(misfit, FlatPoint::default());
                }
                Ok(())
            }
            Event::Power { s } => {
                self.power = Some(s);
                Ok(())
            }
            Event::Beam { word } => {
                self.beam = word;
                Ok(())
            }
            Event::End { .. } => {
                self.out.survey.beam_on_end = self.burns().then_some(line);
                Ok(())
            }
            _ => Ok(()),
        }
    }
}

/// The findings that only a flat program brings.
pub(super) fn misfit_finding(misfit: &Misfit, tally: &Tally) -> Option<Finding> {
    let worst = tally.worst?;
    let (code, limit) = match misfit {
        Misfit::OffWall { .. } => (Code::OffWall, 0.0),
        Misfit::Reach { steepest_deg, .. } => (Code::Reach, *steepest_deg),
        Misfit::Zone { .. } => (Code::Zone, 0.0),
        _ => (Code::TravelLimit, 0.0),
    };
    let more = match tally.count {
        1 => String::new(),
        count => format!("; so do {} more lines", count - 1),
    };
    Some(
        Finding::new(code, Severity::Error, format!("{misfit}{more}"))
            .at(worst.at_mm, worst.turn_rad)
            .on_line(worst.line)
            .figures(worst.value, limit),
    )
}
