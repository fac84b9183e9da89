//! Who looks at every run: the judge and the clock.

use std::convert::Infallible;

use stave_check::{Judge, Made, RunFacts, Verdict};
use stave_plan::{Follow, PlanError, SectionTime, Timer};
use stave_rig::MadeFor;
use stave_setup::Setup;
use stave_toolpath::{Step, StepSink};

use crate::error::Error;

/// The judge and the clock of one run.
#[derive(Debug)]
pub(crate) struct Onlookers<'a, F> {
    pub(crate) judge: Judge<'a>,
    pub(crate) timer: Timer<F>,
}

/// What they saw.
#[derive(Debug)]
pub(crate) struct Seen<F> {
    pub(crate) verdict: Verdict,
    pub(crate) times: Times,
    #[cfg_attr(not(feature = "pictures"), expect(dead_code, reason = "pictures follow a run"))]
    pub(crate) follow: F,
}

/// How long a run takes.
#[derive(Clone, Debug)]
pub(crate) struct Times {
    pub(crate) sections: Vec<SectionTime>,
    pub(crate) pauses: u64,
    pub(crate) at_feeds_s: f64,
    pub(crate) times_full: u64,
}

impl Times {
    /// What a timer came to.
    ///
    /// # Errors
    /// A move that cannot be planned.
    pub(crate) fn of<F: Follow>(timer: Timer<F>) -> Result<(Self, F), PlanError> {
        let (pauses, at_feeds_s) = (timer.pauses(), timer.at_feeds_s());
        let times_full = timer.times_full();
        let (sections, follow) = timer.finish()?;
        Ok((Self { sections, pauses, at_feeds_s, times_full }, follow))
    }
}

impl<'a, F: Follow> Onlookers<'a, F> {
    pub(crate) fn new(
        setup: &'a Setup,
        made_for: &MadeFor,
        made: Made,
        follow: F,
    ) -> Result<Self, Error> {
        Ok(Self {
            judge: Judge::new(setup, made_for, made),
            timer: Timer::new(&setup.machine, true, follow)?,
        })
    }

    /// What they have to say at the end, by what else is known of the run.
    pub(crate) fn end(self, facts: RunFacts) -> Result<Seen<F>, Error> {
        let (times, follow) = Times::of(self.timer)?;
        let burns_take_s =
            times.sections.iter().map(|section| section.totals.burn.duration_s).sum();
        let verdict = self.judge.verdict(&RunFacts { burns_take_s, ..facts });
        Ok(Seen { verdict, times, follow })
    }
}

impl<F: Follow> StepSink for Onlookers<'_, F> {
    type Error = Infallible;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        self.judge.step(step)?;
        self.timer.step(step)
    }
}
