//! Where the machine stands, after what may have moved it.
//!
//! A line that only the controller knows may home the machine or jog it. What goes on at feed from
//! there would burn from wherever it stands: it comes back first, in the dark.

use stave_rig::Misfit;
use stave_toolpath::{StepKind, StepSink};

use crate::emit::{Emitter, Words};
use crate::halt::Halt;

/// What of the machine's place the run has told it.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct KnownPlace {
    /// Both axes have been said since nobody knew where they stand.
    said: bool,
    /// The machine may have been moved, and no move has come since.
    lost: bool,
}

impl KnownPlace {
    /// Whether both axes stand where the run has them.
    #[inline]
    pub(crate) fn is_said(self) -> bool {
        self.said
    }

    /// Whether the machine may have been moved, and no move has come since.
    #[inline]
    pub(crate) fn is_lost(self) -> bool {
        self.lost
    }
}

impl Emitter<'_> {
    /// The machine may have been moved by what the run knows nothing of.
    pub(crate) fn lost(&mut self) {
        // Before its first move nothing is said, and that goes to a place of its own.
        self.known = KnownPlace { said: false, lost: self.given.is_some() };
        self.take_up.forget();
    }

    /// Before a step of this kind to these words, or before a dot: where the axes are not known to
    /// stand, the machine comes to where the run has it. A travel goes to its own end instead,
    /// unless Z must go before or after: true where it is the one that says where, and must go out
    /// whatever it changes.
    #[cold]
    pub(crate) fn come_back<S: StepSink>(
        &mut self,
        before: Option<(StepKind, Words)>,
        sink: &mut S,
    ) -> Result<bool, Halt<S::Error>> {
        if self.known.said {
            return Ok(false);
        }
        let lost = std::mem::take(&mut self.known.lost);
        let here = self.given.unwrap_or_default();
        let travel = before.filter(|(kind, _)| *kind == StepKind::Travel).map(|(_, to)| to);
        self.known.said = true;
        if lost && self.drives_z {
            self.come_back_in_height(here, sink)?;
            return Ok(false);
        }
        let Some(to) = travel else {
            self.travel_anyhow(here, None, sink)?;
            return Ok(false);
        };
        // A first move of Z alone says nothing of the axes yet.
        let same = to.along == here.along && to.rotary == here.rotary;
        self.known.said = !(self.drives_z && same && to.z != self.given_z());
        Ok(true)
    }

    /// The head is never swept along where it may meet something: where Z follows it first goes
    /// above all there is, from wherever it stands; where it is the program's own it may have been
    /// parked high, and comes down last.
    fn come_back_in_height<S: StepSink>(
        &mut self,
        here: Words,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let z = self.given_z();
        let Some(above_mm) = self.focus.above_all_mm(&self.rig.crest, self.rig.wall) else {
            self.travel_anyhow(here, None, sink)?;
            return self.travel_anyhow(here, Some(z), sink);
        };
        let above = self.above(above_mm, z)?;
        self.travel_anyhow(here, Some(above), sink)?;
        self.travel_anyhow(here, Some(above), sink)?;
        self.travel_anyhow(here, Some(z), sink)
    }

    /// A height, counts, that is a lift from `z` whatever it is, so that Z is said alone.
    fn above(&self, above_mm: f64, z: i64) -> Result<i64, Misfit> {
        let above = self.rig.z_word(above_mm)?;
        Ok(if self.focus.up() < 0.0 { above.min(z - 1) } else { above.max(z + 1) })
    }
}
