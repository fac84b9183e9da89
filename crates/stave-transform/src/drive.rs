//! From places on the wall to steps, for art: what stands where, how long a move takes, and what it
//! burns with.

use stave_rig::Misfit;
use stave_setup::Setup;
use stave_toolpath::{StepKind, StepSink};
use stave_wall::Laid;

use crate::emit::{Asked, Emitter, Spot, Words};
use crate::halt::Halt;

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

    /// The greatest speed that the axis along can follow, mm/s.
    pub(crate) fn along_limit_mm_per_s(&self) -> f64 {
        self.emit.rig.limits(self.emit.rig.along).speed
    }

    fn along_acceleration(&self) -> f64 {
        self.emit.rig.limits(self.emit.rig.along).acceleration
    }

    /// How far the axis along goes while it reaches a speed from a standstill, mm: `v²/2a`.
    pub(crate) fn run_up_mm(&self, along_mm_per_s: f64) -> f64 {
        along_mm_per_s * along_mm_per_s / (2.0 * self.along_acceleration())
    }

    /// The time from one place along to another at rest at both ends, without a limit on the feed,
    /// s.
    pub(crate) fn jump_s(&self, along_mm: f64) -> f64 {
        let (speed, acceleration) = (self.along_limit_mm_per_s(), self.along_acceleration());
        let ramps = speed * speed / acceleration;
        if along_mm < ramps {
            2.0 * (along_mm / acceleration).sqrt()
        } else {
            along_mm / speed + speed / acceleration
        }
    }

    /// A way beside the burn at `start`, so far along the crest; `sign` is +1 toward the larger
    /// `at`. Without driven focus it is one move; with it, one for every stretch over which the
    /// crest is straight. The last place is the far end.
    pub(crate) fn runway(
        &mut self,
        start: &Spot,
        sign: f64,
        along_mm: f64,
    ) -> Result<Vec<Spot>, Misfit> {
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
        let limits = rig.limits(rig.along);
        let counts = |end: f64| (end / rig.count).round();
        #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
        let ends = (
            limits.min.map_or(i64::MIN, |end| counts(end) as i64).min(start.words.along),
            limits.max.map_or(i64::MAX, |end| counts(end) as i64).max(start.words.along),
        );
        if way.iter().any(|spot| spot.words.along < ends.0 || spot.words.along > ends.1) {
            self.short_run_ups += 1;
            for spot in &mut way {
                spot.words.along = spot.words.along.clamp(ends.0, ends.1);
            }
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
        let wall_mm = self.here.map_or(0.0, |from| self.straight_mm(&from, to));
        let from = self.here.replace(*to);
        self.emit.travel(from.as_ref(), to, wall_mm, sink)
    }

    /// Dark at a speed along the axis, mm/s of its word.
    pub(crate) fn dark<S: StepSink>(
        &mut self,
        to: &Spot,
        along_mm_per_s: f64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(from) = self.here else { return self.travel(to, sink) };
        let way = to.words.since(from.words);
        #[allow(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
        let along_mm = way.along.unsigned_abs() as f64 * self.emit.rig.count;
        let asked_s = along_mm / along_mm_per_s;
        let wall_mm = self.straight_mm(&from, to);
        let kind = StepKind::Dark;
        let asked = Asked { kind, asked_s, time_s: asked_s, wall_mm, power_s: None, stray: 0.0 };
        self.here = Some(*to);
        self.emit.timed(&to.laid, to.words, way, asked, sink)
    }

    /// A burn, straight in the machine's words, at a steady speed on the wall. `spacing_ratio` is
    /// what an area's lines lie apart there over what was asked, 1 for lines; `stray` the share by
    /// which the speed on the wall strays from its mean within it, at the most. The ends' sections
    /// must be those of the stretch between them.
    pub(crate) fn burn<S: StepSink>(
        &mut self,
        from: &Laid,
        to: &Spot,
        how: &How,
        spacing_ratio: f64,
        (length_ratio, stray): (f64, f64),
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(here) = self.here else { return Ok(()) };
        let way = to.words.since(here.words);
        let (a, b) = (&from.section, &to.laid.section);
        let wall_mm = self.emit.rig.short_wall_mm(way.along, way.rotary, a, b) * length_ratio;
        let asked_s = wall_mm / how.speed_mm_per_s;
        let (kind, power_s) = (StepKind::Burn, Some(how.power_s));
        let mut asked = Asked { kind, asked_s, time_s: asked_s, wall_mm, power_s, stray };
        if how.even {
            asked = self.emit.even_dose(asked, way, spacing_ratio);
        }
        self.emit.stats.burns_in += 1;
        self.emit.extend(from);
        self.emit.extend(&to.laid);
        self.here = Some(*to);
        self.emit.timed(&to.laid, to.words, way, asked, sink)
    }

    /// The length on the wall of a straight move as its words are written, mm.
    fn straight_mm(&self, from: &Spot, to: &Spot) -> f64 {
        let rig = &self.emit.rig;
        let words = |spot: &Spot| rig.of_counts(spot.words.along, spot.words.rotary, 0);
        rig.wall_mm(&words(from), &words(to), &mut 0)
    }
}
