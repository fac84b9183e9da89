//! From places on the wall to steps, for art: what stands where, how long a move takes, and what it
//! burns with.

use stave_rig::{Misfit, ROTARY};
use stave_setup::Setup;
use stave_toolpath::{StepKind, StepSink};
use stave_wall::Laid;

use crate::area::{Runner, Step, Way};
use crate::asked::Asked;
use crate::emit::{Emitter, Spot, Words};
use crate::halt::Halt;

/// An axis's end so near to a count of its word, counts, is that count: what is left of decimals
/// that no binary number holds.
const ON_COUNT: f64 = 1e-3;

/// How a burn burns.
#[derive(Clone, Copy, Debug)]
pub(crate) struct How {
    /// On the wall, mm/s.
    pub(crate) speed_mm_per_s: f64,
    /// At that speed and, for areas, at the spacing asked: S counts.
    pub(crate) power_s: f64,
    /// Whether power goes down with a speed that an axis cannot keep.
    pub(crate) even: bool,
}

/// Makes the steps of one drawing.
#[derive(Debug)]
pub(crate) struct Drive<'a> {
    pub(crate) emit: Emitter<'a>,
    /// Run-ups that an axis's end made shorter than the axis needs.
    pub(crate) short_run_ups: u64,
    here: Option<Spot>,
    /// What is added to the Z word of what burns, mm: the head out of focus on purpose.
    out_of_focus_z_mm: f64,
}

impl<'a> Drive<'a> {
    pub(crate) fn new(setup: &'a Setup) -> Self {
        Self { emit: Emitter::new(setup), short_run_ups: 0, here: None, out_of_focus_z_mm: 0.0 }
    }

    /// Goes on with a run that has begun, from where the machine stands.
    pub(crate) fn resume(emit: Emitter<'a>, here: Option<Spot>) -> Self {
        Self { emit, short_run_ups: 0, here, out_of_focus_z_mm: 0.0 }
    }

    /// The run as it has become, and where the machine stands.
    pub(crate) fn rest(self) -> (Emitter<'a>, Option<Spot>) {
        (self.emit, self.here)
    }

    /// From here on the head is so much farther from the work than in focus, mm.
    pub(crate) fn out_of_focus(&mut self, defocus_mm: f64) {
        self.out_of_focus_z_mm = self.emit.rig.z_sign * defocus_mm;
    }

    /// Where a place of the wall is for the machine; at a station the section is taken from `span`,
    /// if given.
    pub(crate) fn spot(
        &self,
        s_mm: f64,
        turn_rad: f64,
        span: Option<usize>,
    ) -> Result<Spot, Misfit> {
        let wall = self.emit.rig.wall;
        let mut hint = span.unwrap_or(0);
        let section = match span {
            Some(span) => wall.section_in(span, s_mm),
            None => wall.section(s_mm, &mut hint),
        };
        let span = span.unwrap_or_else(|| wall.span_of(s_mm, hint));
        self.spot_of(Laid { s_mm, turn_rad, span, section })
    }

    pub(crate) fn spot_of(&self, laid: Laid) -> Result<Spot, Misfit> {
        let (rig, focus) = (&self.emit.rig, &self.emit.focus);
        let (along, rotary) = rig.words(&laid)?;
        let program_z_mm = self.out_of_focus_z_mm;
        let z = if focus.follows() {
            rig.z_word(focus.z_mm(&rig.crest, &laid.section, program_z_mm))?
        } else {
            rig.z_word(program_z_mm)?
        };
        Ok(Spot { laid, words: Words { along, rotary, z }, program_z_mm })
    }

    /// Whether the step from one line to the next can be made on the way out of the first: play is
    /// taken up by moves of its own, and a focus that follows along the axis has ways out of many
    /// moves.
    pub(crate) fn turns_on_the_way(&self, way: Way) -> bool {
        self.emit.take_up.width == 0 && (way != Way::Along || !self.emit.focus.follows())
    }

    /// The way of the focus from place to place.
    #[allow(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    pub(crate) fn z_step(&self, from: &Spot, to: &Spot) -> Step {
        let counts = (to.words.z - from.words.z).unsigned_abs() as f64;
        let acceleration = self.emit.rig.limits(stave_rig::Z).acceleration;
        Step { units: counts * self.emit.rig.count, acceleration }
    }

    /// A way beside the burn at `start` under the axis of its line, so far in that axis's units;
    /// `sign` is +1 toward the larger `at` or turn. Along the crest without driven focus it is one
    /// move; with it, one for every stretch over which the crest is straight. The last place is the
    /// far end.
    pub(crate) fn runway(
        &mut self,
        start: &Spot,
        sign: f64,
        length: f64,
        runner: &Runner,
    ) -> Result<Vec<Spot>, Misfit> {
        let mut way = match runner.way {
            Way::Along => self.along_crest(start, sign, length)?,
            Way::Around { .. } => {
                let turn_rad = start.laid.turn_rad + sign * runner.turn_rad(length);
                vec![self.spot_of(Laid { turn_rad, ..start.laid })?]
            }
        };
        let mut is_short = false;
        for spot in &mut way {
            is_short |= self.keep_within(start, runner, spot);
        }
        self.short_run_ups += u64::from(is_short);
        Ok(way)
    }

    /// Keeps a place beside the burn at `start` within the ends of the axis that runs under its
    /// line, where `start` is: no count past an end, wherever between two that lies; an end on a
    /// count is that. Whether it lay past one.
    pub(crate) fn keep_within(&self, start: &Spot, runner: &Runner, spot: &mut Spot) -> bool {
        let rig = &self.emit.rig;
        let (axis, start_word) = match runner.way {
            Way::Along => (rig.along, start.words.along),
            Way::Around { .. } => (ROTARY, start.words.rotary),
        };
        let limits = rig.limits(axis);
        let counts = |end: f64| end / rig.count;
        #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
        let ends = (
            limits
                .min
                .map_or(i64::MIN, |end| (counts(end) - ON_COUNT).ceil() as i64)
                .min(start_word),
            limits
                .max
                .map_or(i64::MAX, |end| (counts(end) + ON_COUNT).floor() as i64)
                .max(start_word),
        );
        let word = if axis == ROTARY { &mut spot.words.rotary } else { &mut spot.words.along };
        let within = (*word).clamp(ends.0, ends.1);
        let past = *word - within;
        #[allow(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
        if axis == ROTARY {
            spot.laid.turn_rad -= past as f64 * rig.rad_per_count;
        }
        *word = within;
        past != 0
    }

    fn along_crest(&self, start: &Spot, sign: f64, along_mm: f64) -> Result<Vec<Spot>, Misfit> {
        let mut way = Vec::new();
        if self.emit.focus.follows() {
            self.follow_crest(start, sign, along_mm, &mut way)?;
        }
        let rig = &self.emit.rig;
        let last = way.last().unwrap_or(start);
        let gone = (rig.along_mm(&last.laid.section) - rig.along_mm(&start.laid.section)).abs();
        if along_mm - gone > rig.count {
            // Past the wall, or with a focus that is fixed, only the word counts.
            let mut laid = last.laid;
            laid.section.at_mm += sign * (along_mm - gone) / self.emit.setup.job.tilt_rad.cos();
            let words = Words { z: last.words.z, ..self.spot_of(laid)?.words };
            // The place under the beam there is the one that the words mean.
            laid.s_mm = rig.s_of_rail(rig.along_mm(&laid.section), &mut 0);
            laid.section = rig.wall.section(laid.s_mm, &mut 0);
            way.push(Spot { laid, words, program_z_mm: self.out_of_focus_z_mm });
        }
        Ok(way)
    }

    fn follow_crest(
        &self,
        start: &Spot,
        sign: f64,
        along_mm: f64,
        way: &mut Vec<Spot>,
    ) -> Result<(), Misfit> {
        const STEP_MM: f64 = 0.5;
        let x0 = self.emit.rig.along_mm(&start.laid.section);
        let gone = |spot: &Spot| (self.emit.rig.along_mm(&spot.laid.section) - x0).abs();
        let (mut s, mut before) = (start.laid.s_mm, 0.0);
        // A crest that stands nearly upright takes many steps for a little way: then the word alone
        // does the rest.
        for _ in 0..400 {
            s += sign * STEP_MM;
            let spot = self.spot(s, start.laid.turn_rad, None)?;
            let come = gone(&spot);
            if come <= before {
                break;
            }
            if come >= along_mm {
                let share = (along_mm - before) / (come - before);
                let s_mm = s - sign * STEP_MM * (1.0 - share);
                way.push(self.spot(s_mm, start.laid.turn_rad, None)?);
                break;
            }
            way.push(spot);
            before = come;
        }
        Ok(())
    }

    /// Straight there at the axes' own limits; with driven focus above all that stands in the way.
    pub(crate) fn travel<S: StepSink>(
        &mut self,
        to: &Spot,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.emit.stats.moves_in += 1;
        // Before its first move the machine stands at its zero, where it was focused.
        let from = self.here.replace(*to).or_else(|| self.at_zero());
        let wall_mm = from.map_or(0.0, |from| self.straight_mm(&from, to));
        self.emit.travel(from.as_ref(), to, wall_mm, sink)
    }

    fn at_zero(&self) -> Option<Spot> {
        let zero = &self.emit.setup.job.zero;
        let s_mm = self.emit.rig.wall.s_of_at(zero.at_mm);
        self.spot(s_mm, zero.turn_rad, None).ok()
    }

    /// Dark at a speed of the axis that runs under a line, its own units per second.
    pub(crate) fn dark<S: StepSink>(
        &mut self,
        to: &Spot,
        units_per_s: f64,
        runner: &Runner,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(from) = self.here else { return self.travel(to, sink) };
        let way = to.words.since(from.words);
        let counts = match runner.way {
            Way::Along => way.along,
            Way::Around { .. } => way.rotary,
        };
        #[allow(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
        let asked_s = counts.unsigned_abs() as f64 * self.emit.rig.count / units_per_s;
        let wall_mm = self.straight_mm(&from, to);
        let asked = Asked::taking(asked_s, StepKind::Dark, wall_mm);
        self.here = Some(*to);
        self.emit.timed(&to.laid, to.words, way, asked, sink)
    }

    /// A burn, straight in the machine's words to `there`, at a steady speed on the wall between
    /// `from` and `to`: where its light falls, or where the machine stands for that.
    /// `spacing_ratio` is what an area's lines lie apart there over what was asked, 1 for lines;
    /// `stray` the share by which the speed on the wall strays from its mean within it, at the
    /// most. The ends' sections must be those of the stretch between them.
    pub(crate) fn burn<S: StepSink>(
        &mut self,
        (from, to): (&Laid, &Laid),
        there: &Spot,
        how: &How,
        spacing_ratio: f64,
        (length_ratio, stray): (f64, f64),
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(here) = self.here else { return Ok(()) };
        let way = there.words.since(here.words);
        let (a, b) = (&from.section, &to.section);
        let wall_mm = self.emit.rig.short_wall_mm(way.along, way.rotary, a, b) * length_ratio;
        let asked_s = wall_mm / how.speed_mm_per_s;
        let (kind, power_s) = (StepKind::Burn, Some(how.power_s));
        let mut asked = Asked { power_s, stray, ..Asked::taking(asked_s, kind, wall_mm) };
        if how.even {
            asked = self.emit.even_dose(asked, way, spacing_ratio);
        }
        self.emit.stats.burns_in += 1;
        self.emit.extend(from);
        self.emit.extend(to);
        self.here = Some(*there);
        self.emit.timed(&there.laid, there.words, way, asked, sink)
    }

    /// The length on the wall of a straight move as its words are written, mm.
    fn straight_mm(&self, from: &Spot, to: &Spot) -> f64 {
        let rig = &self.emit.rig;
        let words = |spot: &Spot| rig.of_counts(spot.words.along, spot.words.rotary, 0);
        rig.wall_mm(&words(from), &words(to), &mut 0)
    }
}
