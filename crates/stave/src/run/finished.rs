//! A finished program, read as steps: one for the rotary on its wall, any other in the flat.

use stave_parse::gcode::{ReadSummary, Sink};
use stave_plan::ARC_TOLERANCE;
use stave_rig::{
    AXES, Beam, LateLight, MadeFor, Play, ROTARY, Rig, SetUp, Z, axis_letter, other_rotary,
    play_of, words_of, written_s,
};
use stave_setup::{FeedCounts, Machine, RotaryWord};
use stave_toolpath::{
    Arc, Corner, Event, Feed, LinePart, PathControl, Position, Stand, Step, StepKind, StepSink,
};

use super::flat::stops;
use super::set_ups::SetUps;
use super::{INPUT_WORDS, Sections, cut_short, says_broken_off};
use crate::error::{Error, ProgramFault, Refusal, SourceFault};
use crate::flat_place::Index;

/// Chords to a whole turn, at least and at most.
const CHORDS: (f64, f64) = (16.0, 20_000.0);

/// A finished program on its way to whoever looks at it.
#[derive(Debug)]
pub(crate) struct Finished<'a, S> {
    machine: &'a Machine,
    /// Where the program is one for the rotary and its wall is known.
    rig: Option<Rig<'a>>,
    /// The rig of a program that turns out to be one for the rotary.
    in_reserve: Option<Rig<'a>>,
    /// Whether places on the wall are of use to the sink, or lengths alone.
    places: bool,
    /// True for a program of ours: nothing but its rig's words moves.
    ours: bool,
    /// True for a program of ours, or where a rotary word was met.
    pub(crate) turns: bool,
    pub(crate) sink: S,
    pub(crate) beam: Beam,
    pub(crate) sections: Sections,
    corner: Corner,
    /// The rotary's play, which its work is behind by.
    play: Play,
    /// Where burns fall whose light comes late.
    light: Option<LateLight<'a>>,
    hint: usize,
    here: Stand,
    section: u32,
    /// Whether the last section, the end of the program has been told of.
    pub(crate) ended: Option<bool>,
    pub(crate) broken_off: bool,
    pub(crate) z_unknown: bool,
    /// The digest of the input it was made from, as its end tells; and whether that end is to.
    pub(crate) input: Option<String>,
    tells_input: bool,
    /// Where the rotary stands, for a program that burns a flat place.
    index: Option<Index>,
    /// Whether the rotary has come there: what brings it back, after a line that may have turned
    /// it, comes from nobody knows where, and takes no time that is counted.
    indexed: bool,
    /// In how many set-ups it burns, where it is more than one.
    set_ups: Option<SetUps>,
    /// Bytes of the line at hand, and the chords that it makes.
    line_bytes: f64,
    chords: f64,
}

/// What it is known to be.
#[derive(Debug)]
pub(crate) enum Known<'a> {
    /// A program for the rotary, by what it was made for.
    Wrapped(Rig<'a>),
    /// A program that may turn the work: if it does, by this rig.
    MayTurn(Rig<'a>),
    /// Nothing, and no wall: lengths are those of the flat, until it turns.
    Flat,
    /// A program for the rotary whose wall is not known.
    WrappedSomewhere,
}

impl<'a, S> Finished<'a, S> {
    pub(crate) fn new(
        machine: &'a Machine,
        known: Known<'a>,
        places: bool,
        strict: bool,
        sink: S,
    ) -> Self {
        let turns = matches!(known, Known::Wrapped(_) | Known::WrappedSomewhere);
        let (rig, in_reserve) = match known {
            Known::Wrapped(rig) => (Some(rig), None),
            Known::MayTurn(rig) => (None, Some(rig)),
            Known::Flat | Known::WrappedSomewhere => (None, None),
        };
        let mut finished = Self {
            machine,
            rig,
            in_reserve,
            places,
            ours: turns,
            turns,
            sink,
            beam: Beam::new(strict),
            sections: Sections::default(),
            corner: Corner::Tolerance,
            play: Play::new(play_of(machine).1, 0.0),
            light: LateLight::new(&machine.lag).filter(|_| places),
            hint: 0,
            here: Stand::default(),
            section: 0,
            ended: None,
            broken_off: false,
            z_unknown: false,
            input: None,
            tells_input: false,
            index: None,
            indexed: false,
            set_ups: None,
            line_bytes: 0.0,
            chords: 1.0,
        };
        finished.here = finished.stand(&Position::default());
        finished
    }

    /// The same for a program of ours: it may burn a flat place, the rotary standing still, or in
    /// several set-ups. `machine` is that of its file.
    pub(crate) fn made_for(self, machine: &Machine, made_for: &MadeFor) -> Self {
        let streamed = made_for.files.as_ref().is_some_and(|files| files.input == "-");
        Self {
            index: Index::of(machine, made_for),
            set_ups: made_for.set_ups.map(SetUps::of),
            tells_input: streamed && !made_for.walk && made_for.swatch.is_none(),
            ..self
        }
    }

    #[inline]
    fn stand(&mut self, position: &Position) -> Stand {
        let words = if self.turns {
            words_of(self.machine, position)
        } else {
            [position.x, position.y, position.z, 0.0]
        };
        let place = match &self.rig {
            Some(rig) if self.places => {
                let mut worked = words;
                worked[ROTARY] = self.play.to(words[ROTARY]);
                Some(rig.place(&worked, &mut self.hint))
            }
            _ => {
                self.play.to(words[ROTARY]);
                None
            }
        };
        Stand { words, place }
    }

    /// The length on the wall of a straight move, mm: what the rotary's play swallows is none.
    fn wall_mm(&mut self, from: &[f64; AXES], to: &[f64; AXES], before: f64) -> Option<f64> {
        let rig = self.rig.as_ref()?;
        let (mut from, mut to) = (*from, *to);
        (from[ROTARY], to[ROTARY]) = (before, self.play.work());
        Some(rig.wall_mm(&from, &to, &mut self.hint))
    }

    /// The first word that turns the work: from here on lengths are those on the wall, if that is
    /// known.
    fn first_turn(&mut self, letter: char) -> Result<(), Refusal> {
        if axis_letter(self.machine, ROTARY) != letter {
            return Err(self.wrong_rig(letter));
        }
        if !self.turns {
            self.turns = true;
            self.rig = self.in_reserve.take();
        }
        Ok(())
    }

    /// A program of ours that does not say that it is whole, or any that was cut off.
    ///
    /// # Errors
    /// Where its end is missing, or it says that it was broken off.
    pub(crate) fn refuse_unfinished(
        &self,
        ours: bool,
        summary: &ReadSummary,
        name: &str,
    ) -> Result<(), Error> {
        match self.unfinished(ours).or_else(|| cut_short(summary, &self.beam)) {
            Some(why) => Err(Error::of_source(name, why)),
            None => Ok(()),
        }
    }

    /// Why a program is not whole.
    pub(crate) fn unfinished(&self, ours: bool) -> Option<SourceFault> {
        if self.broken_off {
            Some(SourceFault::BrokenOff)
        } else if ours && self.ended != Some(true) {
            Some(SourceFault::NoEnd)
        } else if ours && self.tells_input && self.input.is_none() {
            Some(SourceFault::EndEarly)
        } else {
            self.set_ups.as_ref().and_then(SetUps::missing)
        }
    }

    #[cold]
    fn wrong_rig(&self, letter: char) -> Refusal {
        let (machine, word) = (self.machine.name.clone(), axis_letter(self.machine, ROTARY));
        ProgramFault::WrongRig { letter, machine, word }.into()
    }
}

impl<S: StepSink<Error: Into<Refusal>>> Finished<'_, S> {
    /// A step goes on; the places of a burn are those where its light falls.
    #[inline]
    fn give(&mut self, mut step: Step) -> Result<(), Refusal> {
        if let (Some(light), Some(rig)) = (&mut self.light, &self.rig)
            && let Some([from, to]) = light.of(rig, &step)
        {
            (step.from.place, step.to.place) = (Some(from), Some(to));
        }
        self.sink.step(&step).map_err(Into::into)
    }

    /// Words that this machine, or the rig of a program on its wall, does not have. What is not
    /// ours may go across while no wall is known: the axis is there, and has its limits.
    fn look_at_letters(&mut self, from: &Position, to: &Position) -> Result<(), Refusal> {
        let other = if self.turns && (self.ours || self.rig.is_some()) {
            let across = if self.machine.rotary.along == stave_setup::Along::Y {
                ('X', to.x - from.x)
            } else {
                ('Y', to.y - from.y)
            };
            let stray = self.machine.rotary.word != RotaryWord::Y && across.1 != 0.0;
            stray.then_some(across.0).or_else(|| other_rotary(self.machine, from, to))
        } else {
            other_rotary(self.machine, from, to)
        };
        match other {
            Some(letter) => Err(self.wrong_rig(letter)),
            None => Ok(()),
        }
    }

    /// The step to a position. `linear_mm` is its way over X, Y and Z where it is no straight line.
    #[inline]
    fn go(
        &mut self,
        line: u64,
        kind: StepKind,
        to: &Position,
        (feed, joined, corner): (Option<Feed>, bool, Corner),
        linear_mm: Option<f64>,
    ) -> Result<(), Refusal> {
        let (from, before) = (self.here, self.play.work());
        let to = self.stand(to);
        let mut step = Step {
            kind,
            from,
            to,
            drives_z: true,
            beam: self.beam.word,
            power_s: if kind == StepKind::Burn || kind == StepKind::Travel {
                self.beam.power_s
            } else {
                Some(0.0)
            },
            time_s: 0.0,
            asked_s: 0.0,
            length_mm: f64::NAN,
            corner,
            joined,
            even_dose: false,
            line,
            section: self.section,
        };
        let delta = step.delta();
        if delta[Z] != 0.0 {
            self.z_unknown |= self.machine.z.is_none();
        }
        let straight = || (delta[0] * delta[0] + delta[1] * delta[1] + delta[Z] * delta[Z]).sqrt();
        step.length_mm = match self.wall_mm(&from.words, &to.words, before) {
            Some(length_mm) => length_mm,
            None if self.turns => f64::NAN,
            None => linear_mm.unwrap_or_else(straight),
        };
        step.time_s = match feed {
            Some(Feed::PerMinute(f)) => {
                let counts = self.counts();
                written_s(counts, &delta, linear_mm.unwrap_or_else(straight), f)
            }
            Some(Feed::InverseTime(f)) => 60.0 / f,
            None => 0.0,
        };
        step.asked_s = step.time_s;
        self.here = to;
        let part = LinePart { lines: 1.0 / self.chords, bytes: self.line_bytes / self.chords };
        self.sink.on_line(part);
        self.give(step)
    }

    /// What F counts: to the controller a rotary on Y is a linear axis.
    fn counts(&self) -> FeedCounts {
        if self.machine.rotary.word == RotaryWord::Y && self.turns {
            FeedCounts::AllAxes
        } else {
            self.machine.controller.feed_counts
        }
    }

    fn straight(
        &mut self,
        line: u64,
        from: &Position,
        to: &Position,
        feed: Option<Feed>,
    ) -> Result<(), Refusal> {
        self.look_at_letters(from, to)?;
        let burns = self.beam.burns_at(feed)?;
        let kind = match feed {
            // As in a flat program: what is dark and has no feed goes at the axes' own limits.
            None => StepKind::Travel,
            Some(_) if burns => StepKind::Burn,
            Some(_) => StepKind::Dark,
        };
        self.go(line, kind, to, (feed, false, self.corner), None)
    }

    /// An arc as equal chords, each with its share of the time asked.
    fn arc(
        &mut self,
        line: u64,
        (from, to): (&Position, &Position),
        arc: &Arc,
        feed: Option<Feed>,
    ) -> Result<(), Refusal> {
        self.look_at_letters(from, to)?;
        let burns = self.beam.burns_at(feed)?;
        let length_mm = arc.length_mm(from, to);
        let tolerance = self.machine.controller.corner_tolerance;
        let tolerance = if tolerance > 0.0 { tolerance } else { ARC_TOLERANCE };
        let sagitta = (tolerance / arc.radius_mm(from)).min(1.0);
        let per_turn = (std::f64::consts::PI / (1.0 - sagitta).acos()).clamp(CHORDS.0, CHORDS.1);
        let chords = (arc.sweep_rad.abs() / std::f64::consts::TAU * per_turn).ceil().max(1.0);
        let kind = match feed {
            None => StepKind::Travel,
            Some(_) if burns => StepKind::Burn,
            Some(_) => StepKind::Dark,
        };
        // Under inverse time F is for all of the arc.
        let feed = feed.map(|feed| match feed {
            Feed::InverseTime(f) => Feed::InverseTime(f * chords),
            feed @ Feed::PerMinute(_) => feed,
        });
        let mut chord = 1.0;
        self.chords = chords;
        while chord <= chords {
            let last = chord == chords;
            let next = arc.point(from, to, chord / chords);
            let corner = if last { self.corner } else { Corner::Arc };
            self.go(line, kind, &next, (feed, chord > 1.0, corner), Some(length_mm / chords))?;
            chord += 1.0;
        }
        self.chords = 1.0;
        Ok(())
    }

    /// A step that moves nothing.
    fn still(&mut self, line: u64, kind: StepKind, time_s: f64) -> Result<(), Refusal> {
        let step = Step {
            kind,
            from: self.here,
            to: self.here,
            drives_z: true,
            beam: self.beam.word,
            power_s: self.beam.power_s.filter(|_| kind == StepKind::Dot),
            time_s,
            asked_s: time_s,
            length_mm: 0.0,
            corner: self.corner,
            joined: false,
            even_dose: false,
            line,
            section: self.section,
        };
        self.give(step)
    }

    fn path(&mut self, control: PathControl) {
        self.corner = match control {
            PathControl::ExactStop => Corner::Stop,
            PathControl::ExactPath => Corner::Exact,
            PathControl::Continuous => Corner::Tolerance,
        };
    }

    /// The work lies otherwise from here on, and the machine stands at its zero, which is set again
    /// for it: from there it goes to the first burn, as at the beginning.
    fn set_up(&mut self, set_up: &SetUp) {
        let Some(rig) = &mut self.rig else { return };
        *rig = rig.tilted(set_up.tilt_rad);
        self.hint = 0;
        self.play = Play::new(play_of(self.machine).1, 0.0);
        self.here = self.stand(&Position::default());
    }

    fn comment(&mut self, text: &[u8]) {
        self.broken_off |= says_broken_off(text);
        if let Some(digest) = text.trim_ascii().strip_prefix(INPUT_WORDS.as_bytes()) {
            self.input = Some(String::from_utf8_lossy(digest).into_owned());
        }
        let begins = self.set_ups.as_mut().and_then(|set_ups| set_ups.comment(text));
        if let Some(set_up) = begins {
            self.set_up(&set_up);
        }
        self.sections.comment(text);
        self.sink.on_comment(text);
    }
}

impl<S: StepSink<Error: Into<Refusal>>> Sink for Finished<'_, S> {
    type Error = Refusal;

    const COUNTS_BYTES: bool = true;

    #[inline]
    fn begins_line(&mut self, _: u64, bytes: usize) {
        self.line_bytes = u32::try_from(bytes).map_or(f64::MAX, f64::from);
    }

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { from, to, feed } => {
                self.section = self.sections.now();
                return self.straight(line, from, to, feed);
            }
            Event::Power { s } => self.beam.power_s = Some(s),
            Event::Travel { from, to } => {
                self.section = self.sections.now();
                if let Some((seconds, there)) =
                    self.index.and_then(|index| index.travel_s(from, to))
                {
                    let seconds = if self.indexed { 0.0 } else { seconds };
                    self.indexed |= there;
                    return self.still(line, StepKind::Dwell, seconds);
                }
                self.look_at_letters(from, to)?;
                return self.go(line, StepKind::Travel, to, (None, false, self.corner), None);
            }
            Event::Arc { from, to, ref arc, feed } => {
                self.section = self.sections.now();
                return self.arc(line, (from, to), arc, feed);
            }
            Event::Dwell { seconds } => {
                self.section = self.sections.now();
                let dot = self.beam.dwell_burns();
                return self.still(
                    line,
                    if dot { StepKind::Dot } else { StepKind::Dwell },
                    seconds,
                );
            }
            Event::Beam { word } => {
                self.beam.word = word;
                return self.still(line, StepKind::Beam, 0.0);
            }
            Event::Path { control } => self.path(control),
            Event::Pause { word } => return self.still(line, StepKind::Pause(word), 0.0),
            Event::Pass { text, .. } if stops(text) => {
                return self.still(line, StepKind::Stop, 0.0);
            }
            Event::Comment { text } | Event::Message { text } => self.comment(text),
            Event::FirstWord { letter }
                if letter != b'Z'
                    && self.index.is_none_or(|index| index.letter != char::from(letter)) =>
            {
                return self.first_turn(char::from(letter));
            }
            Event::End { word } => self.ended = Some(word.is_some()),
            _ => {}
        }
        Ok(())
    }
}
