//! Who looks at every run: the judge and the clock.

use std::convert::Infallible;
use std::io::{Sink, sink};

use stave_check::{Code, Finding, Judge, Made, RunFacts, Verdict};
use stave_plan::{ByCurves, Follow, PlanError, SectionTime, Starved, Timer};
use stave_rig::{FocusAt, MadeFor, SetUp};
use stave_setup::{Machine, Setup};
use stave_toolpath::number::fixed;
use stave_toolpath::{LinePart, Step, StepSink};
use stave_write::gcode::{Dialect, Writer};

use crate::error::Error;
use crate::flat_place::Index;

/// The judge and the clock of one run.
#[derive(Debug)]
pub(crate) struct Onlookers<'a, F> {
    pub(crate) judge: Judge<'a>,
    setup: &'a Setup,
    made_for: MadeFor,
    made: Made,
    /// What the set-ups before the one at hand came to.
    before: Vec<Verdict>,
    set_ups: Vec<SetUp>,
    pub(crate) timer: Timer<F>,
    /// Writes to nowhere, to say how long the lines are of a run that no program holds yet; only
    /// where the machine minds.
    scribe: Option<Writer<Sink>>,
}

/// What they saw.
#[derive(Debug)]
pub(crate) struct Seen<F> {
    pub(crate) verdict: Verdict,
    pub(crate) times: Times,
    /// The set-ups that the program says it is burned in; none where it is one.
    #[cfg_attr(not(feature = "pictures"), expect(dead_code, reason = "pictures tell them"))]
    pub(crate) set_ups: Vec<SetUp>,
    #[cfg_attr(not(feature = "pictures"), expect(dead_code, reason = "pictures follow a run"))]
    pub(crate) follow: F,
}

/// How long a run takes.
#[derive(Clone, Debug)]
pub(crate) struct Times {
    pub(crate) sections: Vec<SectionTime>,
    pub(crate) by_curves: ByCurves,
    pub(crate) pauses: u64,
    pub(crate) at_feeds_s: f64,
    pub(crate) times_full: u64,
    pub(crate) starved: Option<Starved>,
}

impl Times {
    /// What a timer came to.
    ///
    /// # Errors
    /// A move that cannot be planned.
    pub(crate) fn of<F: Follow>(timer: Timer<F>) -> Result<(Self, F), PlanError> {
        let (pauses, at_feeds_s) = (timer.pauses(), timer.at_feeds_s());
        let (times_full, starved) = (timer.times_full(), timer.starved());
        let (sections, by_curves, follow) = timer.finish_both()?;
        Ok((Self { sections, by_curves, pauses, at_feeds_s, times_full, starved }, follow))
    }
}

/// What is to be said where moves wait for their lines.
pub(crate) fn of_starved(starved: &Starved) -> String {
    let what = if starved.bytes { "bytes" } else { "lines" };
    let moves = if starved.moves == 1 {
        "a move needs".to_owned()
    } else {
        format!("{} moves need", starved.moves)
    };
    format!(
        "{moves} more {what} a second than the controller takes, up to {} where it takes {}: they \
         wait for them and burn deeper; ask for less speed, or a wider tolerance",
        fixed(starved.needed_per_s, 0),
        fixed(starved.limit_per_s, 0)
    )
}

impl<'a, F: Follow> Onlookers<'a, F> {
    pub(crate) fn new(
        setup: &'a Setup,
        made_for: &MadeFor,
        made: Made,
        follow: F,
    ) -> Result<Self, Error> {
        let counts = made == Made::Here && minds_lines(&setup.machine);
        let mut timer = Timer::new(&setup.machine, true, follow)?;
        if let Some(index) = Index::of_setup(setup).filter(|_| made == Made::Here) {
            let Ok(()) = timer.step(&index.step());
        }
        Ok(Self {
            judge: Judge::new(setup, made_for, made),
            setup,
            made_for: made_for.clone(),
            made,
            before: Vec::new(),
            set_ups: Vec::new(),
            timer,
            scribe: counts.then(|| Writer::new(sink(), Dialect::of(&setup.machine))),
        })
    }

    /// The work lies otherwise from here on: what burned before is judged by itself.
    fn set_up(&mut self, set_up: &SetUp) {
        // Where it says no turn, at that of the zero.
        let (blank, said) = (&self.setup.blank, set_up.focus_at);
        let turn_rad = said.turn_rad.unwrap_or(self.made_for.zero.1);
        let focus_at = FocusAt::of(blank, said.at_mm, turn_rad);
        let height_mm = focus_at.height_mm(blank, set_up.tilt_rad, self.made_for.zero.1);
        let made_for = MadeFor {
            tilt_rad: set_up.tilt_rad,
            focus_height_mm: Some(height_mm),
            focus_at: Some(focus_at).filter(|place| place.turn_rad.is_some()),
            ..self.made_for.clone()
        };
        let judge = Judge::new(self.setup, &made_for, self.made).going_on_from(&self.judge);
        let before = std::mem::replace(&mut self.judge, judge);
        if before.burned() {
            self.before.push(before.verdict(&RunFacts::default()));
        }
        self.timer.set_up(set_up.tilt_rad);
        self.set_ups.push(*set_up);
    }

    /// What they have to say at the end, by what else is known of the run.
    pub(crate) fn end(self, facts: RunFacts) -> Result<Seen<F>, Error> {
        let (times, follow) = Times::of(self.timer)?;
        let burns_take_s =
            times.sections.iter().map(|section| section.totals.burn.duration_s).sum();
        let last = self.judge.verdict(&RunFacts { burns_take_s, ..facts });
        let mut verdict = match self.before.into_iter().reduce(Verdict::and) {
            Some(before) => before.and(last),
            None => last,
        };
        if let Some(starved) = &times.starved {
            let step = &starved.step;
            let finding = Finding::new(Code::LineRate, of_starved(starved))
                .on_line(step.line)
                .figures(starved.needed_per_s, starved.limit_per_s);
            let finding = Finding { section: Some(step.section), ..finding };
            verdict.findings.push(match step.from.place {
                Some(place) => finding.at(place.at_mm, place.turn_rad),
                None => finding,
            });
        }
        Ok(Seen { verdict, times, set_ups: self.set_ups, follow })
    }
}

/// Whether a machine takes only so many lines or bytes a second.
fn minds_lines(machine: &Machine) -> bool {
    let controller = &machine.controller;
    controller.lines_per_second.is_some() || controller.bytes_per_second.is_some()
}

impl<F: Follow> StepSink for Onlookers<'_, F> {
    type Error = Infallible;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        self.judge.step(step)?;
        if let Some(scribe) = &mut self.scribe {
            let before = scribe.bytes();
            // What no word can hold is told by whoever writes it.
            let _ = scribe.step(step);
            let bytes = u32::try_from(scribe.bytes() - before).map_or(0.0, f64::from);
            let lines = if bytes > 0.0 { 1.0 } else { 0.0 };
            self.timer.on_line(LinePart { lines, bytes });
        }
        self.timer.step(step)
    }

    fn on_comment(&mut self, text: &[u8]) {
        if self.made_for.set_ups.is_some()
            && let Some(set_up) = SetUp::of_comment(text)
        {
            self.set_up(&set_up);
        }
        self.judge.on_comment(text);
    }

    #[inline]
    fn on_line(&mut self, part: LinePart) {
        if self.scribe.is_none() {
            self.timer.on_line(part);
        }
    }
}
