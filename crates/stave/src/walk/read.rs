//! The points that a program burns.

use stave_parse::gcode::Sink;
use stave_setup::{Along, RotaryWord, Setup};
use stave_toolpath::{Arc, BeamWord, Event, Position};
use stave_transform::{Around, Curve, FlatPoint};

use crate::error::Refusal;

/// Into how many chords an arc is taken apart.
const CHORDS: u32 = 96;

/// Which two numbers of a position are looked at.
#[derive(Clone, Copy, Debug)]
pub(super) enum Plane {
    /// The flat plane `(u, v)` of a flat program.
    Flat { along_y: bool },
    /// The words of a program that turns the work: along, and the rotary's.
    Words { along: Along, rotary: RotaryWord },
}

impl Plane {
    pub(super) fn flat(setup: &Setup) -> Self {
        Self::Flat { along_y: setup.machine.rotary.along == Along::Y }
    }

    pub(super) fn words(setup: &Setup) -> Self {
        Self::Words { along: setup.machine.rotary.along, rotary: setup.machine.rotary.word }
    }

    fn point(self, position: &Position) -> (f64, f64) {
        match self {
            Self::Flat { along_y } => {
                let flat = FlatPoint::of(position, along_y);
                (flat.u, flat.v)
            }
            Self::Words { along, rotary } => {
                let along = if along == Along::Y { position.y } else { position.x };
                let rotary = match rotary {
                    RotaryWord::A => position.a,
                    RotaryWord::B => position.b,
                    RotaryWord::C => position.c,
                    RotaryWord::Y => position.y,
                };
                (along, rotary)
            }
        }
    }
}

/// Gathers what burns, by the same rule as `wrap`.
pub(super) struct Burned {
    plane: Plane,
    strict: bool,
    beam: Option<BeamWord>,
    power: Option<f64>,
    pub(super) points: Around,
}

impl Burned {
    pub(super) fn new(plane: Plane, strict: bool) -> Self {
        Self { plane, strict, beam: None, power: None, points: Around::default() }
    }

    fn burns(&self) -> bool {
        self.beam.is_some() && self.power.map_or(!self.strict, |s| s > 0.0)
    }

    fn straight(&mut self, from: &Position, to: &Position) -> Result<(), Refusal> {
        if matches!(self.plane, Plane::Flat { .. })
            && (from.a != to.a || from.b != to.b || from.c != to.c)
        {
            return Err(Refusal::Rotary);
        }
        if self.burns() {
            self.points.add(self.plane.point(from));
            self.points.add(self.plane.point(to));
        }
        Ok(())
    }

    fn arc(&mut self, from: &Position, to: &Position, arc: Arc) -> Result<(), Refusal> {
        self.straight(from, to)?;
        if let (true, Plane::Flat { along_y }) = (self.burns(), self.plane) {
            let curve = Curve::Arc { from, to, arc, along_y };
            for k in 1..CHORDS {
                let point = curve.point(f64::from(k) / f64::from(CHORDS));
                self.points.add((point.u, point.v));
            }
        }
        Ok(())
    }
}

impl Sink for Burned {
    type Error = Refusal;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { from, to, .. } => self.straight(from, to)?,
            Event::Arc { from, to, arc, .. } => self.arc(from, to, arc)?,
            Event::Power { s } => self.power = Some(s),
            Event::Beam { word } => self.beam = word,
            _ => {}
        }
        Ok(())
    }
}
