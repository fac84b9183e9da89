//! Programs that burn a flat place of the ware, and the setup that such a program was made for.

use std::borrow::Cow;

use stave_plan::{Nobody, Timer};
use stave_rig::{Header, MadeFor, ROTARY, axis_letter, play_of};
use stave_setup::{Blank, Facet, Machine, Setup};
use stave_toolpath::number::fixed;
use stave_toolpath::{Corner, Position, Stand, Step, StepKind, StepSink};

use crate::error::{Error, SourceFault};

/// From so many times its play below the rotary comes to a flat place, as to whatever burns.
const RUN_UPS: f64 = 2.0;

/// The word at which the rotary stands while a flat place burns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Index {
    pub(crate) letter: char,
    /// Rotary units.
    pub(crate) word: f64,
    /// How long the rotary takes there from its zero, seconds, by where it takes up its play.
    seconds: f64,
    /// Where it takes up its play, so that the work is come to with a growing word; and how long it
    /// takes there from zero, and from there, seconds.
    below: Option<(f64, [f64; 2])>,
    decimals: u32,
}

impl Index {
    /// That of a program, on a machine with its rotary as its file says; `None` where it burns the
    /// wall.
    pub(crate) fn of(machine: &Machine, made_for: &MadeFor) -> Option<Self> {
        let (_, word) = made_for.facet.as_ref()?;
        let run_up = RUN_UPS * play_of(machine).1;
        let below = (run_up > 0.0).then(|| {
            let below = *word - run_up;
            (below, [travel_s(machine, below), travel_s(machine, run_up)])
        });
        Some(Self {
            letter: axis_letter(machine, ROTARY),
            word: *word,
            seconds: below.map_or_else(|| travel_s(machine, *word), |(_, [a, b])| a + b),
            below,
            decimals: machine.controller.decimals,
        })
    }

    /// That of a setup, for a program that is made by it.
    pub(crate) fn of_setup(setup: &Setup) -> Option<Self> {
        Self::of(setup.whole().1, &MadeFor::of_setup(setup))
    }

    /// The word itself.
    pub(crate) fn word_text(&self) -> String {
        self.text(self.word)
    }

    fn text(&self, word: f64) -> String {
        format!("{}{}", self.letter, fixed(word + 0.0, self.decimals))
    }

    /// The lines that bring the rotary there, dark.
    pub(crate) fn lines(&self) -> impl Iterator<Item = String> {
        let words = [self.below.map(|(below, _)| below), Some(self.word)];
        words.into_iter().flatten().map(|word| format!("G0 {}", self.text(word)))
    }

    /// How long a travel takes that is one of those lines, seconds, and whether it is the last.
    pub(crate) fn travel_s(&self, from: &Position, to: &Position) -> Option<(f64, bool)> {
        let word = |position: &Position| match self.letter {
            'A' => position.a,
            'B' => position.b,
            _ => position.c,
        };
        let others = |position: &Position| {
            let all = [position.a, position.b, position.c];
            all.into_iter().sum::<f64>() - word(position)
        };
        if (from.x, from.y, from.z) != (to.x, to.y, to.z) || others(from) != others(to) {
            return None;
        }
        let rounding = 10_f64.powi(-self.decimals.cast_signed());
        let is_at = |position: &Position, at: f64| (word(position) - at).abs() <= rounding;
        match self.below {
            Some((below, [there_s, _])) if is_at(to, below) => Some((there_s, false)),
            Some((below, [_, up_s])) if is_at(from, below) && is_at(to, self.word) => {
                Some((up_s, true))
            }
            _ => is_at(to, self.word).then_some((self.seconds, true)),
        }
    }

    /// What the clock sees of it: a wait.
    pub(crate) fn step(&self) -> Step {
        Step { time_s: self.seconds, asked_s: self.seconds, ..step(StepKind::Dwell) }
    }
}

/// How long the rotary takes from its zero to a word, seconds, as the planner has it; 0 where that
/// cannot be planned.
fn travel_s(machine: &Machine, word: f64) -> f64 {
    let Ok(mut timer) = Timer::new(machine, true, Nobody) else { return 0.0 };
    let mut to = Stand::default();
    to.words[ROTARY] = word;
    let Ok(()) = timer.step(&Step { to, ..step(StepKind::Travel) });
    timer.finish().map_or(0.0, |(sections, _)| {
        sections.iter().map(|section| section.totals.duration_s()).sum()
    })
}

/// A dark step of a machine at its zero.
fn step(kind: StepKind) -> Step {
    Step {
        kind,
        from: Stand::default(),
        to: Stand::default(),
        drives_z: false,
        beam: None,
        power_s: None,
        time_s: 0.0,
        asked_s: 0.0,
        length_mm: 0.0,
        corner: Corner::Stop,
        joined: false,
        even_dose: false,
        line: 0,
        section: 0,
    }
}

/// The flat place of a blank that a program names; line 1 has names cleaned, and shortened where
/// they are long.
fn named<'b>(blank: &'b Blank, name: &str) -> Option<&'b Facet> {
    blank.facets.iter().find(|facet| Header::names(name, &facet.name))
}

/// What is to be said of a program for a flat place that the blank at hand does not have.
fn no_facet(input: &str, facet: &str, blank: &Blank) -> Error {
    let fault = SourceFault::NoFacet { facet: facet.to_owned(), blank: blank.name.clone() };
    Error::of_source(input, fault)
}

/// The setup at hand for what a program of ours burns: a flat place, or the wall.
///
/// # Errors
/// A flat place that the blank at hand does not have.
pub(crate) fn for_program<'a>(
    setup: &'a Setup,
    made_for: &MadeFor,
    input: &str,
) -> Result<Cow<'a, Setup>, Error> {
    let stands = match &made_for.facet {
        None => setup.standing_on(None).unwrap_or(Cow::Borrowed(setup)),
        Some((name, index)) => {
            let blank = setup.whole().0;
            let facet = named(blank, name).map(|facet| facet.name.as_str());
            let stands = facet.and_then(|facet| setup.standing_on(Some((facet, *index))));
            stands.ok_or_else(|| no_facet(input, name, blank))?
        }
    };
    Ok(fitted_for(stands, made_for))
}

/// With the lens and the nozzle that the program was made for, unless the job at hand fits others
/// than the machine's first.
fn fitted_for<'a>(mut setup: Cow<'a, Setup>, made_for: &MadeFor) -> Cow<'a, Setup> {
    let (lens, nozzle) = &made_for.fitted;
    let machine = &setup.machine;
    let lens = lens.as_deref().filter(|_| setup.job.lens.as_ref() == machine.lenses.first());
    let lens = lens
        .and_then(|said| machine.lenses.iter().find(|one| Header::names(said, &one.name)).cloned());
    let nozzle = nozzle.as_deref().filter(|_| setup.job.nozzle.as_ref() == machine.nozzles.first());
    let nozzle = nozzle.and_then(|said| {
        machine.nozzles.iter().find(|one| Header::names(said, &one.name)).cloned()
    });
    if let Some(lens) = lens {
        setup.to_mut().job.lens = Some(lens);
    }
    if let Some(nozzle) = nozzle {
        setup.to_mut().job.nozzle = Some(nozzle);
    }
    setup
}

/// The machine, and the blank where it is at hand, for what a program of ours burns.
///
/// # Errors
/// As [`for_program`].
pub(crate) fn machine_for_program<'a>(
    (machine, blank): (&'a Machine, Option<&'a Blank>),
    made_for: Option<&MadeFor>,
    input: &str,
) -> Result<(Cow<'a, Machine>, Option<Cow<'a, Blank>>), Error> {
    let Some((name, _)) = made_for.and_then(|made_for| made_for.facet.as_ref()) else {
        return Ok((Cow::Borrowed(machine), blank.map(Cow::Borrowed)));
    };
    let Some(blank) = blank else {
        // Words across are mm whatever the place.
        return Ok((Cow::Owned(machine.across_the_work(360.0)), None));
    };
    let stands = named(blank, name).and_then(|facet| facet.unrolled(blank, machine));
    let (plane, across) = stands.ok_or_else(|| no_facet(input, name, blank))?;
    Ok((Cow::Owned(across), Some(Cow::Owned(plane))))
}
