//! Scan lines of a program, burned anew as a picture.

use stave_rig::Meant;
use stave_toolpath::{BeamWord, Step, StepSink};

use super::{Here, Wrapper};
use crate::art::{ArtSink, HatchFigures, plan_art};
use crate::burns::Burns;
use crate::drive::Drive;
use crate::emit::Emitter;
use crate::halt::Halt;

/// Steps of one section, with nothing told beside them.
struct Bare<'s, S> {
    sink: &'s mut S,
    section: u32,
}

impl<S: StepSink> StepSink for Bare<'_, S> {
    type Error = S::Error;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), S::Error> {
        self.sink.step(step)
    }
}

impl<S: StepSink> ArtSink for Bare<'_, S> {
    fn operation(&mut self, _: usize, _: u32, _: &Meant) -> Result<(), S::Error> {
        Ok(())
    }

    fn pieces(&mut self, _: &[usize]) -> Result<u32, S::Error> {
        Ok(self.section)
    }

    fn word(&mut self, _: &str) -> Result<(), S::Error> {
        Ok(())
    }
}

impl Wrapper<'_> {
    /// Burns what stands for `moves` moves of the program under its beam word, and tells how its
    /// lines lie. The machine then
    /// stands where it came to, which is not where the program does: a travel must follow before
    /// anything else moves.
    ///
    /// # Errors
    /// Where something would burn off the wall, out of reach or in a zone that is to be refused;
    /// where the sink refuses.
    pub fn scan<S: StepSink>(
        &mut self,
        burns: &Burns<'_>,
        word: BeamWord,
        moves: u64,
        sink: &mut S,
    ) -> Result<Option<HatchFigures>, Halt<S::Error>> {
        let plan = match plan_art(burns, self.setup) {
            Ok(plan) => plan,
            Err(hits) => match hits.into_iter().next() {
                Some(hit) => return Err(Halt::Misfit(hit.misfit)),
                None => return Ok(None),
            },
        };
        let counted = self.emit.stats.moves_in + moves;
        let section = self.emit.section;
        let emit = std::mem::replace(&mut self.emit, Emitter::new(self.setup));
        let mut drive = Drive::resume(emit, self.here.map(|here| here.spot));
        let burned = plan.burn_on(&mut drive, word, &mut Bare { sink, section });
        let (emit, here) = drive.rest();
        self.emit = emit;
        self.emit.stats.moves_in = counted;
        self.emit.stats.masked_mm += plan.figures().iter().map(|f| f.masked_mm).sum::<f64>();
        if let Some(spot) = here {
            self.here = Some(Here { flat: self.flat(), spot });
        }
        burned.map(|()| plan.figures().iter().find_map(|figures| figures.hatch))
    }
}
