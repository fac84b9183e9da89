//! The points that a program burns.

use std::convert::Infallible;

use stave_parse::gcode::Sink;
use stave_rig::{Beam, FIRST_WORDS, Rig};
use stave_setup::{Along, Setup};
use stave_toolpath::{Event, Position, Stand, Step, StepKind, StepSink};
use stave_transform::{Around, Curve, FlatPoint};

use crate::error::{ProgramFault, Refusal};

/// Into how many chords an arc is taken apart.
const CHORDS: u32 = 96;
/// Burns over more than one stretch of wall are followed by parts no longer than this, mm.
const PART_MM: f64 = 1.0;
const MOST_PARTS: f64 = 4096.0;

/// Gathers what a flat program burns, by the same rule as `wrap`.
pub(super) struct BurnedFlat {
    along_y: bool,
    beam: Beam,
    here: FlatPoint,
    pub(super) points: Around,
}

impl BurnedFlat {
    pub(super) fn new(setup: &Setup, strict: bool) -> Self {
        Self {
            along_y: setup.machine.rotary.along == Along::Y,
            beam: Beam::new(strict),
            here: FlatPoint::default(),
            points: Around::default(),
        }
    }

    fn flat(&self, from: &Position, to: &Position) -> Result<[FlatPoint; 2], Refusal> {
        if from.a != to.a || from.b != to.b || from.c != to.c {
            return Err(ProgramFault::Turns.into());
        }
        Ok([FlatPoint::of(from, self.along_y), FlatPoint::of(to, self.along_y)])
    }

    fn burn(&mut self, curve: &Curve<'_>, chords: u32) {
        self.here = curve.point(1.0);
        if self.beam.burns() {
            for k in 0..=chords {
                let point = curve.point(f64::from(k) / f64::from(chords));
                self.points.add((point.u, point.v));
            }
        }
    }
}

impl Sink for BurnedFlat {
    type Error = Refusal;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { from, to, feed } => {
                self.beam.burns_at(feed)?;
                let [from, to] = self.flat(from, to)?;
                self.burn(&Curve::Line { from, to }, 1);
            }
            Event::Arc { from, to, arc, feed } => {
                self.beam.burns_at(feed)?;
                self.flat(from, to)?;
                self.burn(&Curve::Arc { from, to, arc, along_y: self.along_y }, CHORDS);
            }
            Event::Travel { from, to } => self.here = self.flat(from, to)?[1],
            Event::Dwell { .. } if self.beam.dwell_burns() => {
                self.points.add((self.here.u, self.here.v));
            }
            Event::FirstWord { letter } if letter != b'Z' => return Err(ProgramFault::Turns.into()),
            Event::Comment { text }
                if text.trim_ascii_start().starts_with(FIRST_WORDS.as_bytes()) =>
            {
                return Err(ProgramFault::Wrapped.into());
            }
            Event::Power { s } => self.beam.power_s = Some(s),
            Event::Beam { word } => self.beam.word = word,
            _ => {}
        }
        Ok(())
    }
}

/// Gathers the places of the wall that a finished program burns: mm of meridian, and turn times a
/// radius, mm.
pub(super) struct BurnedWall<'a> {
    rig: Rig<'a>,
    radius_mm: f64,
    hint: usize,
    pub(super) points: Around,
}

impl<'a> BurnedWall<'a> {
    pub(super) fn new(rig: Rig<'a>, radius_mm: f64) -> Self {
        Self { rig, radius_mm, hint: 0, points: Around::default() }
    }

    fn add(&mut self, words: &[f64; 4]) {
        let place = self.rig.place(words, &mut self.hint);
        self.points.add((place.s_mm, place.turn_rad * self.radius_mm));
    }
}

impl StepSink for BurnedWall<'_> {
    type Error = Infallible;

    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        if !step.kind.marks() {
            return Ok(());
        }
        let (from, to): (&Stand, &Stand) = (&step.from, &step.to);
        self.add(&from.words);
        if step.kind == StepKind::Burn {
            // Even in the words is not even on the wall: between the ends it may bulge.
            let parts = (step.length_mm / PART_MM).ceil().clamp(1.0, MOST_PARTS);
            let mut k = 1.0;
            while k <= parts {
                let mix = |axis: usize| {
                    from.words[axis] + (to.words[axis] - from.words[axis]) * k / parts
                };
                self.add(&std::array::from_fn(mix));
                k += 1.0;
            }
        }
        Ok(())
    }
}
