//! What a flat program burns, for whoever looks at the flat plane alone.

use stave_parse::gcode::{ReadSummary, Sink};
use stave_rig::Beam;
use stave_setup::{Along, Setup};
use stave_toolpath::{Event, Position};
use stave_transform::{Curve, FlatPoint};

use super::flat::turns;
use super::{cut_short, is_ours, says_broken_off};
use crate::error::{ProgramFault, Refusal, SourceFault};

/// Takes what burns in the flat plane.
pub(crate) trait TakesBurns {
    /// A line or an arc.
    fn burn(&mut self, curve: &Curve<'_>);

    /// A dwell that burns where the program stands.
    fn dot(&mut self, at: FlatPoint);
}

/// Reads a flat program, by the same rule of what burns as `wrap`.
pub(crate) struct FlatBurns<T> {
    along_y: bool,
    beam: Beam,
    here: FlatPoint,
    broken_off: bool,
    taken: T,
}

impl<T: TakesBurns> FlatBurns<T> {
    /// What was taken of a program that came in whole.
    ///
    /// # Errors
    /// Where it was cut off.
    pub(crate) fn taken(self, summary: &ReadSummary) -> Result<T, SourceFault> {
        let broken_off = self.broken_off.then_some(SourceFault::BrokenOff);
        broken_off.or_else(|| cut_short(summary, &self.beam)).map_or(Ok(self.taken), Err)
    }

    pub(crate) fn new(setup: &Setup, strict: bool, taken: T) -> Self {
        Self {
            along_y: setup.machine.rotary.along == Along::Y,
            beam: Beam::new(strict),
            here: FlatPoint::default(),
            broken_off: false,
            taken,
        }
    }

    fn flat(&self, from: &Position, to: &Position) -> Result<[FlatPoint; 2], Refusal> {
        if turns(from, to) {
            return Err(ProgramFault::Turns.into());
        }
        Ok([FlatPoint::of(from, self.along_y), FlatPoint::of(to, self.along_y)])
    }

    fn go(&mut self, curve: &Curve<'_>, burns: bool) {
        self.here = curve.point(1.0);
        if burns {
            self.taken.burn(curve);
        }
    }
}

impl<T: TakesBurns> Sink for FlatBurns<T> {
    type Error = Refusal;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { from, to, feed } => {
                let burns = self.beam.burns_at(feed)?;
                let [from, to] = self.flat(from, to)?;
                self.go(&Curve::Line { from, to }, burns);
            }
            Event::Arc { from, to, arc, feed } => {
                let burns = self.beam.burns_at(feed)?;
                self.flat(from, to)?;
                self.go(&Curve::Arc { from, to, arc, along_y: self.along_y }, burns);
            }
            Event::Travel { from, to } => [_, self.here] = self.flat(from, to)?,
            Event::Dwell { .. } if self.beam.dwell_burns() => self.taken.dot(self.here),
            Event::FirstWord { letter } if letter != b'Z' => {
                return Err(ProgramFault::Turns.into());
            }
            Event::Comment { text } if is_ours(text) => {
                return Err(ProgramFault::Wrapped.into());
            }
            Event::Comment { text } => self.broken_off |= says_broken_off(text),
            Event::Power { s } => self.beam.power_s = Some(s),
            Event::Beam { word } => self.beam.word = word,
            _ => {}
        }
        Ok(())
    }
}
