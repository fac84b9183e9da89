//! The wrapper: flat moves in, steps out, one at a time.

mod burn;
mod plain;
mod plunge;
mod scan;
mod speed;
mod travel;

use stave_rig::{Beam, Misfit, Reach, Rig, Zones};
use stave_setup::{Dose, Setup};
use stave_toolpath::{BeamWord, Feed, PassKind, PauseWord, StepSink};
use stave_wall::{Anchor, LabelRoom, Lay, LayError, LayKind, LaySetting, Wall};

use crate::curve::FlatPoint;
use crate::cut::Ground;
use crate::emit::{Emitter, Spot, Words};
use crate::halt::Halt;
use crate::stats::Stats;

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
    spot: Spot,
}

/// Lays the moves of one program on one wall.
#[derive(Debug)]
pub struct Wrapper<'a> {
    setup: &'a Setup,
    wall: &'a Wall,
    lay: Lay,
    /// How far a label reaches; `None` for the other lays.
    label_room: Option<LabelRoom>,
    emit: Emitter<'a>,
    reach: Reach,
    zones: Zones,
    tolerance_mm: f64,
    even_dose: bool,
    /// Straight burns may be judged by bounds alone.
    plain: bool,
    /// Where on the wall the last place was found.
    hint: usize,
    here: Option<Here>,
    /// Where the program stands while the machine waits: in what another set-up burns.
    away: Option<FlatPoint>,
    breaks: Vec<f64>,
    crossings: Vec<f64>,
}

/// The lay of a setup's job, for all of a program.
///
/// # Errors
/// Where the lay does not suit the wall.
pub fn lay_of(setup: &Setup, anchor: Anchor) -> Result<Lay, LayError> {
    let (wall, job) = (&setup.blank.wall, &setup.job);
    Lay::new(
        wall,
        LaySetting {
            kind: job.lay,
            origin_s_mm: wall.s_of_at(job.place.at_mm),
            origin_turn_rad: job.place.turn_rad,
            reference_radius_mm: job.reference_radius_mm,
            anchor,
        },
    )
}

impl<'a> Wrapper<'a> {
    /// A wrapper for a setup, with the lay the job names anchored at `anchor`.
    ///
    /// # Errors
    /// Where the lay does not suit the wall.
    pub fn new(setup: &'a Setup, anchor: Anchor) -> Result<Self, LayError> {
        let (wall, job) = (&setup.blank.wall, &setup.job);
        let lay = lay_of(setup, anchor)?;
        let emit = Emitter::new(setup);
        let rig = &emit.rig;
        let reach = Reach::new(wall, &rig.crest, setup.machine.controller.steepest_rad);
        let even_dose = job.dose == Some(Dose::Even);
        let rounding_mm = 0.5 * rig.count.hypot(rig.rad_per_count * wall.largest_radius_mm());
        Ok(Self {
            setup,
            wall,
            plain: job.lay != LayKind::Label
                && !even_dose
                && !emit.focus.follows()
                && !job.is_part(),
            label_room: lay.label_room(wall),
            lay,
            reach,
            zones: Zones::new(setup),
            // The rounding of the words is part of what the machine burns.
            tolerance_mm: (job.tolerance_mm - rounding_mm).max(0.5 * job.tolerance_mm),
            emit,
            even_dose,
            here: None,
            away: None,
            hint: 0,
            breaks: Vec::new(),
            crossings: Vec::new(),
        })
    }

    /// The lay.
    #[must_use]
    pub fn lay(&self) -> &Lay {
        &self.lay
    }

    /// The rig.
    #[must_use]
    pub fn rig(&self) -> &Rig<'a> {
        &self.emit.rig
    }

    /// The figures so far.
    #[must_use]
    pub fn stats(&self) -> &Stats {
        &self.emit.stats
    }

    /// From here on what is emitted belongs to this line and section of the source.
    #[inline]
    pub fn belongs_to(&mut self, line: u64, section: u32) {
        self.emit.line = line;
        self.emit.section = section;
    }

    /// The line that what comes belongs to.
    #[must_use]
    pub fn line(&self) -> u64 {
        self.emit.line
    }

    /// Where the program has come to in the flat plane.
    #[must_use]
    pub fn flat(&self) -> FlatPoint {
        self.away.or(self.here.map(|here| here.flat)).unwrap_or_default()
    }

    /// From here on Z words are written even where the program's Z is 0.
    pub fn drive_z(&mut self) {
        self.emit.drives_z = self.setup.machine.z.is_some();
    }

    /// The beam word the program has from here on; `None` is off. See [`StepSink`] for what the
    /// sink is told: a word with an S known goes out dark, one without waits for its burn.
    ///
    /// # Errors
    /// Where the sink refuses.
    pub fn beam<S: StepSink>(
        &mut self,
        word: Option<BeamWord>,
        s_known: bool,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.emit.beam(word, s_known, sink)
    }

    /// A dwell; where `beam` says so it burns a dot where the program stands, but for zones that
    /// stay dark.
    ///
    /// # Errors
    /// Where a dot would lie off the wall, out of reach, or in a zone that is to be refused; where
    /// the sink refuses.
    pub fn dwell<S: StepSink>(
        &mut self,
        seconds: f64,
        beam: &Beam,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let mut lit = beam.dwell_burns();
        if lit {
            lit = !self.is_left_out(self.flat())? && {
                self.come_to(self.flat(), sink)?;
                self.dot()?
            };
        }
        self.emit.dwell(seconds, lit.then_some(beam.power_s), sink)
    }

    /// A wait for a person, the beam dark.
    ///
    /// # Errors
    /// Where the sink refuses.
    pub fn pause<S: StepSink>(
        &mut self,
        word: PauseWord,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.emit.pause(word, sink)
    }

    /// The machine comes to rest, the beam dark, for a word that moves nothing; off, where only the
    /// controller knows what the word does.
    ///
    /// # Errors
    /// Where the sink refuses.
    pub fn stop<S: StepSink>(
        &mut self,
        kind: PassKind,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.emit.stop(kind, sink)
    }

    /// After a word of the program's that may have changed the modes: the beam is switched off, and
    /// its word comes anew with the next burn.
    ///
    /// # Errors
    /// Where the sink refuses.
    pub fn anew<S: StepSink>(&mut self, sink: &mut S) -> Result<(), Halt<S::Error>> {
        self.emit.anew(sink)
    }

    /// A word of the program's may have moved the machine: before anything goes on at feed, it
    /// comes back in the dark to where the program has it.
    pub fn lost(&mut self) {
        self.emit.lost();
    }

    pub(crate) fn ground(&self) -> Ground<'_> {
        Ground {
            wall: self.wall,
            lay: &self.lay,
            rig: &self.emit.rig,
            focus: &self.emit.focus,
            tolerance_mm: self.tolerance_mm,
            even_dose: self.even_dose,
            bends: self.emit.bends.as_ref(),
        }
    }

    fn place(&self, flat: FlatPoint) -> Result<Here, Misfit> {
        let mut hint = self.here.map_or(0, |here| here.spot.laid.span);
        let laid = self.lay.map(self.wall, flat.u, flat.v, &mut hint);
        let (along, rotary) = self.emit.rig.words(&laid)?;
        let z = self.z_count(&laid, flat)?;
        let words = Words { along, rotary, z };
        Ok(Here { flat, spot: Spot { laid, words, program_z_mm: flat.z } })
    }

    #[inline]
    fn z_count(&self, laid: &stave_wall::Laid, flat: FlatPoint) -> Result<i64, Misfit> {
        let rig = &self.emit.rig;
        if self.emit.focus.follows() {
            rig.z_word(self.emit.focus.z_mm(&rig.crest, &laid.section, flat.z))
        } else if flat.z == 0.0 || self.setup.machine.z.is_none() {
            Ok(0)
        } else {
            rig.z_word(flat.z)
        }
    }
}
