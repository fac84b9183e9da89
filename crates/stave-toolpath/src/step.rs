//! What the machine does, one thing at a time.
//!
//! A run of [`Step`]s is what every part of the house looks at: the writer makes bytes of it, the
//! planner times it, the judge holds it against blank and machine, the proof draws it. It comes
//! from the wrapper before any byte is written, and from a finished program when that is read.

use crate::{BeamWord, PauseWord};

/// What a step is.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum StepKind {
    /// G0: at the axes' own limits, beam dark.
    Travel,
    /// G1 with the beam dark: a gap in a scan line, a run-up.
    Dark,
    /// G1 with the beam on.
    Burn,
    /// G4, the beam dark.
    Dwell,
    /// G4 with the beam on: a dot where the machine stands.
    Dot,
    /// M0, M1 or M60: the machine waits for a person.
    Pause(PauseWord),
    /// M3, M4 or M5: [`Step::beam`] and [`Step::power_s`] are in effect from here on.
    Beam,
    /// Another M word or a command to the controller, at which the machine comes to rest.
    Stop,
}

impl StepKind {
    /// True for what moves an axis.
    #[must_use]
    #[inline]
    pub fn moves(self) -> bool {
        matches!(self, Self::Travel | Self::Dark | Self::Burn)
    }

    /// True for what marks the wall: burns and dots.
    #[must_use]
    #[inline]
    pub fn marks(self) -> bool {
        matches!(self, Self::Burn | Self::Dot)
    }
}

/// A place under the beam, on the wall or past its ends.
///
/// # Units
/// mm and radians; the turn is never folded into one. Past the ends `s_mm` runs on and the wall is
/// a cylinder.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Place {
    /// Length along the meridian, 0 at the first station.
    pub s_mm: f64,
    /// Turn about the axis.
    pub turn_rad: f64,
    /// Distance along the axis.
    pub at_mm: f64,
    /// The wall's radius.
    pub radius_mm: f64,
}

/// Where the machine stands: its words and the place under the beam.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stand {
    /// X, Y, Z, mm, and the rotary in its own units, never folded.
    pub words: [f64; 4],
    /// The place of the wall, of a burn that where its light falls; `None` for a flat program.
    pub place: Option<Place>,
}

/// How the corner at the end of a move is taken.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Corner {
    /// Rounded within the controller's tolerance.
    #[default]
    Tolerance,
    /// Rounded between two chords of an arc: within the tolerance, whatever the path control.
    Arc,
    /// The path is kept exactly.
    Exact,
    /// The machine stops.
    Stop,
}

/// One thing that the machine does.
///
/// # Units
/// mm, seconds, the controller's S counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// What it is.
    pub kind: StepKind,
    /// Where it starts.
    pub from: Stand,
    /// Where it ends: the start, for what moves nothing.
    pub to: Stand,
    /// Whether the program says where Z is.
    pub drives_z: bool,
    /// The beam word in effect; `None` is off.
    pub beam: Option<BeamWord>,
    /// The S word of what marks; `None` for a laser that is only on or off. `Some(0.0)` for a beam
    /// word that lights nothing yet.
    pub power_s: Option<f64>,
    /// How long it is to take as written: by its F, or as a dwell. 0 for a travel, which takes what
    /// the axes take.
    pub time_s: f64,
    /// How long it would take at the speed that was asked, before an axis or an even dose slowed
    /// it; as [`Step::time_s`] where nobody knows better.
    pub asked_s: f64,
    /// True where an even dose has made its power for the time it is to take, slowed or not; else
    /// the power is meant for the speed that was asked.
    pub even_dose: bool,
    /// Length on the wall, or in the flat plane of a flat program; not a number where it is not
    /// known.
    pub length_mm: f64,
    /// How the corner at its end is taken.
    pub corner: Corner,
    /// True for all but the first chord of an arc: they are one move of the program.
    pub joined: bool,
    /// The line of the input it comes from, from 1; 0 where there is none.
    pub line: u64,
    /// Its section: an index into what the source of the run keeps of operations and pieces.
    pub section: u32,
}

/// Takes steps in order. The second of two must have no errors of its own, so that any number of
/// onlookers can stand beside one writer.
pub trait StepSink {
    /// Why it could not.
    type Error;

    /// One step.
    ///
    /// # Errors
    /// Where the sink cannot take it; the run ends there.
    fn step(&mut self, step: &Step) -> Result<(), Self::Error>;

    /// What the step that comes next takes of the lines of a program, where that is known: it is
    /// said before the step.
    #[inline]
    fn on_line(&mut self, _: LinePart) {}

    /// A comment of the program that stands before the step that comes next.
    fn on_comment(&mut self, _: &[u8]) {}
}

/// What a step takes of the lines of a program.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LinePart {
    /// Lines: 1, or a share of one for a chord of an arc.
    pub lines: f64,
    /// Bytes, line ends and all.
    pub bytes: f64,
}

/// Nobody.
impl StepSink for () {
    type Error = std::convert::Infallible;

    #[inline]
    fn step(&mut self, _: &Step) -> Result<(), Self::Error> {
        Ok(())
    }
}

impl<S: StepSink + ?Sized> StepSink for &mut S {
    type Error = S::Error;

    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    fn step(&mut self, step: &Step) -> Result<(), Self::Error> {
        (**self).step(step)
    }

    #[inline]
    fn on_line(&mut self, part: LinePart) {
        (**self).on_line(part);
    }

    fn on_comment(&mut self, text: &[u8]) {
        (**self).on_comment(text);
    }
}

impl<S: StepSink> StepSink for Option<S> {
    type Error = S::Error;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Self::Error> {
        self.as_mut().map_or(Ok(()), |sink| sink.step(step))
    }

    #[inline]
    fn on_line(&mut self, part: LinePart) {
        if let Some(sink) = self {
            sink.on_line(part);
        }
    }

    fn on_comment(&mut self, text: &[u8]) {
        if let Some(sink) = self {
            sink.on_comment(text);
        }
    }
}

impl<A: StepSink, B: StepSink<Error = std::convert::Infallible>> StepSink for (A, B) {
    type Error = A::Error;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Self::Error> {
        self.0.step(step)?;
        match self.1.step(step) {
            Ok(()) => Ok(()),
            Err(never) => match never {},
        }
    }

    #[inline]
    fn on_line(&mut self, part: LinePart) {
        self.0.on_line(part);
        self.1.on_line(part);
    }

    fn on_comment(&mut self, text: &[u8]) {
        self.0.on_comment(text);
        self.1.on_comment(text);
    }
}

impl Step {
    /// How far each axis goes, mm and rotary units.
    #[must_use]
    #[inline]
    pub fn delta(&self) -> [f64; 4] {
        let (a, b) = (&self.from.words, &self.to.words);
        [b[0] - a[0], b[1] - a[1], b[2] - a[2], b[3] - a[3]]
    }
}
