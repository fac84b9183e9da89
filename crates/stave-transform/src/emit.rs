//! One emitter of steps, for programs and art alike.
//!
//! Whatever burns where is decided by the callers; here a move is slowed to what its axes can do,
//! its power held between what the beam has and what marks, travels are lifted over what sticks
//! out, the beam is dark wherever nothing burns, what changes no word is left out, and all of it is
//! counted.

use stave_rig::{AXES, FeedRule, Focus, LateLight, Misfit, ROTARY, Rig, SAME_FEED, Z, play_of};
use stave_setup::Setup;
use stave_toolpath::{
    BeamWord, Corner, PassKind, PauseWord, Place, Stand, Step, StepKind, StepSink, number,
};
use stave_wall::{Bends, Laid};

use crate::asked::Asked;
use crate::come_back::KnownPlace;
use crate::cut::STRAY;
use crate::halt::Halt;
use crate::stats::Stats;
use crate::take_up::TakeUp;

/// Moves that need this much more than asked are slowed; less is rounding.
const SLACK: f64 = 1.0 + 1e-9;
/// F words are written to six figures, which show no less than this share.
const FEED_FIGURES: f64 = 1e-9;
/// So many digits F words have.
const FEED_DIGITS: u32 = 6;
/// Feeds that F words surely hold, units a minute or one over minutes.
const SURELY_WRITTEN: std::ops::Range<f64> = 1e-6..number::MOST_WORD;

/// Counts of the machine's words, or the way between two sets of them.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(crate) struct Words {
    pub(crate) along: i64,
    pub(crate) rotary: i64,
    pub(crate) z: i64,
}

impl Words {
    /// The way from `from` to here.
    #[inline]
    pub(crate) fn since(self, from: Self) -> Self {
        Self {
            along: self.along - from.along,
            rotary: self.rotary - from.rotary,
            z: self.z - from.z,
        }
    }
}

/// A place, on the wall or beside it for a run-up, with the words that take the machine there.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    pub(crate) laid: Laid,
    pub(crate) words: Words,
    /// The program's own Z there, mm.
    pub(crate) program_z_mm: f64,
}

/// Seconds each axis needs for one count at its top speed.
#[derive(Clone, Copy, Debug)]
struct Pace {
    along_s: f64,
    rotary_s: f64,
    z_s: f64,
}

impl Pace {
    fn new(rig: &Rig<'_>) -> Self {
        let of = |axis: usize| rig.count / rig.limits(axis).speed;
        Self { along_s: of(rig.along), rotary_s: of(ROTARY), z_s: of(Z) }
    }

    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    #[allow(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    fn times_s(&self, step: Words) -> (f64, f64, f64) {
        (
            (step.along as f64).abs() * self.along_s,
            (step.rotary as f64).abs() * self.rotary_s,
            (step.z as f64).abs() * self.z_s,
        )
    }
}

/// The beam as the run has it, beside what is wanted.
#[derive(Clone, Copy, Debug, Default)]
struct Lit {
    /// The word the source has in effect.
    wanted: Option<BeamWord>,
    /// The word the run has in effect.
    given: Option<BeamWord>,
    /// Whether it came with an S.
    with_s: bool,
}

/// Emits the steps of one run.
#[derive(Debug)]
pub(crate) struct Emitter<'a> {
    pub(crate) setup: &'a Setup,
    pub(crate) rig: Rig<'a>,
    pub(crate) focus: Focus,
    /// What a smooth wall does between any two places; `None` for a straight one.
    pub(crate) bends: Option<Bends>,
    pub(crate) stats: Stats,
    pace: Pace,
    feed: FeedRule,
    /// The F in effect; not a number before the first.
    standing_f: f64,
    full_power_s: f64,
    least_power_s: f64,
    /// From here on Z words are written.
    pub(crate) drives_z: bool,
    lit: Lit,
    /// The words of the last move given: a move that changes none of them is none.
    pub(crate) given: Option<Words>,
    given_z: Option<i64>,
    here: Stand,
    pub(crate) take_up: TakeUp,
    pub(crate) known: KnownPlace,
    /// Where burns fall whose light comes late.
    light: Option<LateLight<'a>>,
    /// Whether the last move given was a burn, whose end is then counted among the extents already.
    pub(crate) burning: bool,
    /// The line that what comes belongs to.
    pub(crate) line: u64,
    /// The section that it belongs to.
    pub(crate) section: u32,
}

#[inline]
fn place_of(laid: &Laid) -> Place {
    Place {
        s_mm: laid.s_mm,
        turn_rad: laid.turn_rad,
        at_mm: laid.section.at_mm,
        radius_mm: laid.section.radius_mm,
    }
}

impl<'a> Emitter<'a> {
    pub(crate) fn new(setup: &'a Setup) -> Self {
        let rig = Rig::of_setup(setup);
        let focus = Focus::new(setup, rig.zero_height_mm);
        let controller = &setup.machine.controller;
        let words = [0.0; AXES];
        // A program's machine starts at zero.
        let here = Stand { words, place: Some(rig.place(&words, &mut 0)) };
        Self {
            setup,
            pace: Pace::new(&rig),
            feed: FeedRule::of(&setup.machine),
            standing_f: f64::NAN,
            drives_z: focus.follows(),
            bends: Bends::new(rig.wall, &rig.crest),
            rig,
            focus,
            stats: Stats::default(),
            full_power_s: controller.full_power_s,
            least_power_s: controller.least_power_percent / 100.0 * controller.full_power_s,
            lit: Lit::default(),
            given: None,
            given_z: None,
            here,
            take_up: TakeUp::new(play_of(&setup.machine).0),
            known: KnownPlace::default(),
            light: LateLight::new(&setup.machine.lag),
            burning: false,
            line: 0,
            section: 0,
        }
    }

    /// The word the source has for the beam from here on; `None` is off.
    ///
    /// With `s_known` the word goes out at once with S0, and the next burn brings its power.
    /// Without, the word waits for the next burn, since alone it would light the beam where the
    /// work stands.
    pub(crate) fn beam<S: StepSink>(
        &mut self,
        word: Option<BeamWord>,
        s_known: bool,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.lit.wanted = word;
        match word {
            None => self.beam_off(sink),
            Some(_) if s_known => self.beam_on(Some(0.0), sink),
            Some(_) => Ok(()),
        }
    }

    /// A dwell, with the beam on if `power_s` says so: at that S, or (`Some(None)`) on/off.
    pub(crate) fn dwell<S: StepSink>(
        &mut self,
        seconds: f64,
        power_s: Option<Option<f64>>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let kind = match power_s {
            Some(power) => {
                self.come_back(None, sink)?;
                if !self.is_taken_up(0)
                    && let Some(here) = self.stood_at()
                {
                    self.settle(here, 0, sink)?;
                }
                self.beam_on(power, sink)?;
                StepKind::Dot
            }
            None => {
                self.rest(sink)?;
                StepKind::Dwell
            }
        };
        self.still(kind, seconds, power_s.flatten(), sink)
    }

    /// A wait for a person, the beam dark.
    pub(crate) fn pause<S: StepSink>(
        &mut self,
        word: PauseWord,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.rest(sink)?;
        self.still(StepKind::Pause(word), 0.0, None, sink)
    }

    /// The machine comes to rest for a word that moves nothing, the beam dark: off where only the
    /// controller knows the word, which may skip it and take the S beside it for the beam's.
    pub(crate) fn stop<S: StepSink>(
        &mut self,
        kind: PassKind,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        match kind {
            PassKind::Known => self.rest(sink)?,
            PassKind::UnknownM | PassKind::Dollar => self.beam_off(sink)?,
        }
        self.still(StepKind::Stop, 0.0, None, sink)
    }

    /// After a word that may have changed the modes: the beam is switched off, whatever it is now,
    /// and its word comes anew with the next burn.
    pub(crate) fn anew<S: StepSink>(&mut self, sink: &mut S) -> Result<(), Halt<S::Error>> {
        (self.lit.given, self.lit.with_s) = (None, false);
        self.still(StepKind::Beam, 0.0, None, sink)
    }

    /// A beam that only its word can darken is switched off.
    fn rest<S: StepSink>(&mut self, sink: &mut S) -> Result<(), Halt<S::Error>> {
        if self.lit.given.is_some() && !self.lit.with_s { self.beam_off(sink) } else { Ok(()) }
    }

    fn beam_on<S: StepSink>(
        &mut self,
        power_s: Option<f64>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        if self.lit.wanted.is_none() || self.lit.given == self.lit.wanted {
            return Ok(());
        }
        self.lit.given = self.lit.wanted;
        self.lit.with_s = power_s.is_some();
        self.still(StepKind::Beam, 0.0, power_s, sink)
    }

    fn beam_off<S: StepSink>(&mut self, sink: &mut S) -> Result<(), Halt<S::Error>> {
        if self.lit.given.take().is_none() {
            return Ok(());
        }
        self.lit.with_s = false;
        self.still(StepKind::Beam, 0.0, None, sink)
    }

    /// A step that moves nothing.
    fn still<S: StepSink>(
        &mut self,
        kind: StepKind,
        time_s: f64,
        power_s: Option<f64>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.send(Step { power_s, time_s, asked_s: time_s, ..self.standing(kind) }, sink)
    }

    /// A step from where the machine stands to there, in the dark and in no time.
    fn standing(&self, kind: StepKind) -> Step {
        Step {
            kind,
            from: self.here,
            to: self.here,
            drives_z: self.drives_z,
            beam: self.lit.given,
            power_s: None,
            time_s: 0.0,
            asked_s: 0.0,
            even_dose: false,
            length_mm: 0.0,
            corner: Corner::Tolerance,
            joined: false,
            line: self.line,
            section: self.section,
        }
    }

    /// Takes in a place at an end of a burn; where light comes late, its step says where it falls.
    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    pub(crate) fn extend(&mut self, laid: &Laid) {
        if self.light.is_none() {
            self.marks(laid.section.at_mm, laid.turn_rad);
        }
    }

    /// Takes in a place that is marked.
    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    pub(crate) fn marks(&mut self, at: f64, turn: f64) {
        let stats = &mut self.stats;
        if at < stats.at_min_mm {
            stats.at_min_mm = at;
        }
        if at > stats.at_max_mm {
            stats.at_max_mm = at;
        }
        if turn < stats.turn_min_rad {
            stats.turn_min_rad = turn;
        }
        if turn > stats.turn_max_rad {
            stats.turn_max_rad = turn;
        }
    }

    /// A travel over `wall_mm`, straight there at the axes' own limits; with driven focus above all
    /// that stands in the way.
    pub(crate) fn travel<S: StepSink>(
        &mut self,
        from: Option<&Spot>,
        to: &Spot,
        wall_mm: f64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        if self.take_up.width > 0 {
            return self.travel_from_below(from, to, wall_mm, sink);
        }
        self.travel_plain(from, to, wall_mm, sink)
    }

    /// Where the machine stands before its first move: at the zero, in focus, as its person has set
    /// it. Only where Z follows, which has to know from how high it comes.
    fn start(&self) -> Option<Spot> {
        let before = self.given.is_none() && self.focus.follows();
        let place = self.here.place.filter(|_| before)?;
        let mut span = 0;
        let section = self.rig.wall.section(place.s_mm, &mut span);
        let laid = Laid { s_mm: place.s_mm, turn_rad: place.turn_rad, span, section };
        Some(Spot { laid, words: Words { along: 0, rotary: 0, z: 0 }, program_z_mm: 0.0 })
    }

    pub(crate) fn travel_plain<S: StepSink>(
        &mut self,
        from: Option<&Spot>,
        to: &Spot,
        wall_mm: f64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let start = self.start();
        let from = from.or(start.as_ref());
        let lift = from.filter(|_| self.focus.follows()).and_then(|from| {
            let moves = from.words.along != to.words.along || from.words.rotary != to.words.rotary;
            let ends = [from, to].map(|spot| (&spot.laid.section, spot.program_z_mm));
            moves
                .then(|| self.focus.lift_mm(&self.rig.crest, ends))
                .flatten()
                .map(|lift| (from, lift))
        });
        if let Some((from, lift)) = lift {
            let z = self.rig.z_word(lift)?;
            self.give(&from.laid, Words { z, ..from.words }, Asked::travel(0.0), sink)?;
            self.give(&to.laid, Words { z, ..to.words }, Asked::travel(wall_mm), sink)?;
            return self.give(&to.laid, to.words, Asked::travel(0.0), sink);
        }
        self.give(&to.laid, to.words, Asked::travel(wall_mm), sink)
    }

    /// What the slowest axis needs for a way, seconds.
    pub(crate) fn least_time_s(&self, way: Words) -> f64 {
        let (along, rotary, z) = self.pace.times_s(way);
        along.max(rotary).max(z)
    }

    /// A burn's power and time where its dose is held even: `spacing` is what neighbouring lines
    /// lie apart there over what was asked. More than full power is never asked for: the burn goes
    /// slower instead.
    pub(crate) fn even_dose(&mut self, asked: Asked, way: Words, spacing: f64) -> Asked {
        let Some(power) = asked.power_s else { return asked };
        let slowed = self.least_time_s(way).max(asked.time_s);
        let even = if slowed > 0.0 { power * (asked.asked_s / slowed) * spacing } else { power };
        self.stats.below_least_power += u64::from(even < self.least_power_s);
        if even > self.full_power_s && power > 0.0 {
            self.stats.slowed_power += 1;
            let time_s = slowed * even / self.full_power_s;
            return Asked { time_s, power_s: Some(self.full_power_s), even: true, ..asked };
        }
        Asked { power_s: Some(even), even: true, ..asked }
    }

    /// A move at feed to words that lie `way` from where the machine stands: slowed to the axes'
    /// limits, counted, given.
    pub(crate) fn timed<S: StepSink>(
        &mut self,
        laid: &Laid,
        to: Words,
        way: Words,
        asked: Asked,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.timed_inline(laid, to, way, asked, sink)
    }

    /// As [`Emitter::timed`], for the one place that every move of a long program goes through.
    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    #[allow(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    pub(crate) fn timed_inline<S: StepSink>(
        &mut self,
        laid: &Laid,
        to: Words,
        way: Words,
        asked: Asked,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let mut way = way;
        if self.take_up.width > 0 {
            if asked.kind != StepKind::Burn && !self.take_up.shows {
                if !self.take_up.goes_on(way.rotary) {
                    way.rotary += self.goes_dark();
                }
            } else if !self.is_taken_up(way.rotary) {
                self.settle(to.since(way), way.rotary, sink)?;
            }
        }
        let (along_s, rotary_s, z_s) = self.pace.times_s(way);
        let bound = asked.time_s * SLACK;
        let mut time_s = asked.time_s;
        if along_s > bound || rotary_s > bound || z_s > bound {
            self.stats.slowed_along += u64::from(along_s > bound);
            self.stats.slowed_rotary += u64::from(rotary_s > bound);
            self.stats.slowed_z += u64::from(z_s > bound);
            time_s = along_s.max(rotary_s).max(z_s);
        }
        let counted = self.feed.way(way.along, way.rotary, way.z);
        let mut f = self.feed.word_over(counted, time_s);
        if f > number::MOST_WORD {
            // A way of next to nothing takes next to no time: so little more is not felt.
            time_s *= f / number::MOST_WORD;
            f = number::MOST_WORD;
        }
        let off = f - self.standing_f;
        if off != 0.0 {
            if !SURELY_WRITTEN.contains(&f) {
                self.see_that_it_can_be_written(f, way)?;
            }
            time_s =
                self.at_standing_feed((way, counted), time_s, off, &asked).unwrap_or_else(|| {
                    self.standing_f = f;
                    time_s
                });
        }
        self.stats.nominal_s += asked.asked_s;
        self.stats.at_feeds_s += time_s;
        if asked.kind == StepKind::Burn {
            self.stats.burn_mm += asked.wall_mm;
        }
        let rotary_counts = (way.rotary as f64).abs();
        if rotary_counts > self.stats.rotary_speed_max * time_s {
            self.stats.rotary_speed_max = rotary_counts / time_s;
        }
        self.give_inline(laid, to, Asked { time_s, ..asked }, sink)
    }

    /// An F far from all that is ever asked: nothing slower or faster than a word can say goes on.
    #[cold]
    fn see_that_it_can_be_written(&self, f: f64, way: Words) -> Result<(), Misfit> {
        let moves = way.along != 0 || way.rotary != 0 || (self.drives_z && way.z != 0);
        let fits = number::significant(f, FEED_DIGITS).is_some_and(|(counts, _)| counts > 0);
        if moves && !fits { Err(Misfit::FeedWord { feed: f }) } else { Ok(()) }
    }

    /// How long a move takes that needs an F `off` the one in effect, if it can do with that: its
    /// way with what F counts of it, where
    /// no axis is asked for more than it has, and the speed on the wall stays within its bound.
    #[inline]
    fn at_standing_feed(
        &self,
        (way, counted): (Words, f64),
        time_s: f64,
        off: f64,
        asked: &Asked,
    ) -> Option<f64> {
        let share = off.abs() / self.standing_f;
        let near = self.feed.stands()
            && (share <= FEED_FIGURES
                || share <= SAME_FEED
                    && (asked.kind == StepKind::Dark || asked.stray + share <= STRAY));
        if !near {
            return None;
        }
        let held_s = counted / self.standing_f;
        (held_s >= time_s || self.least_time_s(way) <= held_s * SLACK).then_some(held_s)
    }

    fn give<S: StepSink>(
        &mut self,
        laid: &Laid,
        to: Words,
        asked: Asked,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.give_inline(laid, to, asked, sink)
    }

    /// A move, left out where it changes no word.
    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    fn give_inline<S: StepSink>(
        &mut self,
        laid: &Laid,
        to: Words,
        asked: Asked,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.give_at(place_of(laid), to, asked, sink)
    }

    /// How long the way to a place is on the wall from where the machine stands, mm: before its
    /// first move that is its zero.
    pub(crate) fn way_to_mm(&self, to: &Spot) -> f64 {
        let words = self.rig.of_counts(to.words.along, to.words.rotary, 0);
        self.rig.wall_mm(&self.here.words, &words, &mut 0)
    }

    /// Where the work stands.
    pub(crate) fn stands_at(&self) -> Option<Place> {
        self.here.place
    }

    /// As [`Emitter::give`], to a place that is known.
    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    pub(crate) fn give_at<S: StepSink>(
        &mut self,
        place: Place,
        to: Words,
        asked: Asked,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let to = Words { rotary: to.rotary + self.take_up.shift(), ..to };
        let z = self.drives_z.then_some(to.z);
        let says = !self.known.is_said() && self.come_back(Some((asked.kind, to)), sink)?;
        let same = self.given.is_some_and(|given| {
            given.along == to.along && given.rotary == to.rotary && self.given_z == z
        });
        if same && !says {
            return Ok(());
        }
        let burns = asked.kind == StepKind::Burn;
        if burns {
            if self.lit.given != self.lit.wanted {
                self.beam_on(asked.power_s.map(|_| 0.0), sink)?;
            }
        } else {
            self.rest(sink)?;
        }
        let words: [f64; AXES] = self.rig.of_counts(to.along, to.rotary, z.unwrap_or(0));
        let there = Stand { words, place: Some(place) };
        let from = self.here;
        if self.take_up.width > 0 {
            self.take_up.gone(self.given.map_or(0, |given| to.rotary - given.rotary));
        }
        self.given = Some(to);
        self.given_z = z;
        self.here = there;
        self.burning = burns;
        self.stats.moves_out += u64::from(!same);
        let step = Step {
            kind: asked.kind,
            from,
            to: there,
            drives_z: self.drives_z,
            beam: self.lit.given,
            power_s: if burns { asked.power_s } else { Some(0.0) },
            time_s: asked.time_s,
            asked_s: asked.asked_s,
            even_dose: asked.even,
            length_mm: asked.wall_mm,
            corner: Corner::Tolerance,
            joined: false,
            line: self.line,
            section: self.section,
        };
        self.send(step, sink)
    }

    /// A travel that goes out even where it changes no word, as the machine may stand elsewhere
    /// than the run has it. It says no Z where `z` is `None`.
    #[cold]
    pub(crate) fn travel_anyhow<S: StepSink>(
        &mut self,
        to: Words,
        z: Option<i64>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let words = self.rig.of_counts(to.along, to.rotary, z.or(self.given_z).unwrap_or(0));
        let there = Stand { words, ..self.here };
        let from = std::mem::replace(&mut self.here, there);
        self.given = Some(to);
        self.given_z = z.or(self.given_z);
        self.burning = false;
        self.stats.moves_out += u64::from(from.words != words);
        let step = Step {
            from,
            drives_z: z.is_some(),
            power_s: Some(0.0),
            ..self.standing(StepKind::Travel)
        };
        self.send(step, sink)
    }

    /// The Z word given last, counts.
    pub(crate) fn given_z(&self) -> i64 {
        self.given_z.unwrap_or(0)
    }

    /// A step goes out, with the places where its light falls.
    #[allow(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    fn send<S: StepSink>(&mut self, step: Step, sink: &mut S) -> Result<(), Halt<S::Error>> {
        let step = if self.light.is_some() { self.lit(step) } else { step };
        sink.step(&step).map_err(Halt::Sink)
    }

    #[cold]
    fn lit(&mut self, mut step: Step) -> Step {
        if let Some(light) = &mut self.light
            && let Some([from, to]) = light.of(&self.rig, &step)
        {
            (step.from.place, step.to.place) = (Some(from), Some(to));
        }
        if step.kind == StepKind::Burn {
            for place in [step.from.place, step.to.place].into_iter().flatten() {
                self.marks(place.at_mm, place.turn_rad);
            }
        }
        step
    }
}
