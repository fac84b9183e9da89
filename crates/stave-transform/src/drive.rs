//! From places on the wall to machine moves, for art: what stands where, how long a move takes, and
//! what it burns with.

use stave_setup::Setup;
use stave_toolpath::{MachineMove, MoveKind};
use stave_wall::{Laid, Wall};

use crate::error::{Halt, Misfit};
use crate::focus::Focus;
use crate::frame::Frame;
use crate::stats::Stats;
use crate::wrapper::MoveSink;

/// Moves that need this much more than asked are slowed; less is rounding.
const SLACK: f64 = 1.0 + 1e-9;

/// A place on the wall, or beside it for a run-up, and the words that take the machine there.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    pub(crate) laid: Laid,
    pub(crate) along: i64,
    pub(crate) rotary: i64,
    z: i64,
}

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

/// Emits the moves of one program.
#[derive(Debug)]
pub(crate) struct Drive<'a> {
    pub(crate) setup: &'a Setup,
    pub(crate) wall: &'a Wall,
    pub(crate) frame: Frame,
    pub(crate) focus: Focus,
    pub(crate) stats: Stats,
    /// G0 so far, mm over the wall.
    pub(crate) travel_mm: f64,
    /// Run-ups that an axis's end made shorter than the axis needs.
    pub(crate) short_run_ups: u64,
    here: Option<Spot>,
    given: Option<(i64, i64, Option<i64>)>,
}

impl<'a> Drive<'a> {
    pub(crate) fn new(setup: &'a Setup) -> Self {
        let frame = Frame::new(setup);
        let focus = Focus::new(setup, frame.zero_height_mm);
        Self {
            setup,
            wall: &setup.blank.wall,
            frame,
            focus,
            stats: Stats::default(),
            travel_mm: 0.0,
            short_run_ups: 0,
            here: None,
            given: None,
        }
    }

    /// Where a place of the wall is for the machine; at a station the section is taken from `span`,
    /// if given.
    pub(crate) fn spot(
        &self,
        s_mm: f64,
        turn_rad: f64,
        span: Option<usize>,
    ) -> Result<Spot, Misfit> {
        let mut hint = span.unwrap_or(0);
        let section = match span {
            Some(span) => self.wall.section_in(span, s_mm),
            None => self.wall.section(s_mm, &mut hint),
        };
        let span = span.unwrap_or_else(|| self.wall.span_of(s_mm, hint));
        self.spot_of(Laid { s_mm, turn_rad, span, section })
    }

    pub(crate) fn spot_of(&self, laid: Laid) -> Result<Spot, Misfit> {
        let (along, rotary) = self.frame.words(&laid)?;
        let z = if self.focus.follows() {
            self.frame.z_word(self.focus.z_mm(&self.frame.crest, &laid.section, 0.0))?
        } else {
            0
        };
        Ok(Spot { laid, along, rotary, z })
    }

    /// The greatest speed on the wall along the meridian that the axis along can follow, mm/s.
    pub(crate) fn along_limit_mm_per_s(&self) -> f64 {
        let machine = &self.setup.machine;
        if self.frame.along_y { machine.y.speed } else { machine.x.speed }
    }

    fn along_acceleration(&self) -> f64 {
        let machine = &self.setup.machine;
        if self.frame.along_y { machine.y.acceleration } else { machine.x.acceleration }
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
        if self.focus.follows() {
            self.follow_crest(start, sign, along_mm, &mut way)?;
        }
        let last = way.last().unwrap_or(start);
        let gone = (self.frame.along_mm(&last.laid.section)
            - self.frame.along_mm(&start.laid.section))
        .abs();
        if along_mm - gone > self.frame.count {
            // Past the wall, or with a focus that is fixed, only the word counts.
            let mut laid = last.laid;
            laid.section.at_mm += sign * (along_mm - gone) / self.setup.job.tilt_rad.cos();
            way.push(Spot { z: last.z, ..self.spot_of(laid)? });
        }
        let limits = if self.frame.along_y { &self.setup.machine.y } else { &self.setup.machine.x };
        let counts = |end: f64| (end / self.frame.count).round();
        #[allow(clippy::cast_possible_truncation)]
        let low = limits.min.map_or(i64::MIN, |end| counts(end) as i64).min(start.along);
        #[allow(clippy::cast_possible_truncation)]
        let high = limits.max.map_or(i64::MAX, |end| counts(end) as i64).max(start.along);
        if way.iter().any(|spot| spot.along < low || spot.along > high) {
            self.short_run_ups += 1;
            for spot in &mut way {
                spot.along = spot.along.clamp(low, high);
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
        let x0 = self.frame.along_mm(&start.laid.section);
        let gone = |spot: &Spot| (self.frame.along_mm(&spot.laid.section) - x0).abs();
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
                way.push(self.spot(
                    s - sign * STEP_MM * (1.0 - share),
                    start.laid.turn_rad,
                    None,
                )?);
                break;
            }
            way.push(spot);
            before = come;
        }
        Ok(())
    }

    /// Straight there at the axes' own limits; with driven focus above all that stands in the way.
    pub(crate) fn travel<S: MoveSink>(
        &mut self,
        to: &Spot,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        self.stats.moves_in += 1;
        if let Some(from) = self.here {
            let radius = 0.5 * (from.laid.section.radius_mm + to.laid.section.radius_mm);
            let along =
                self.frame.along_mm(&to.laid.section) - self.frame.along_mm(&from.laid.section);
            let wall_mm = along.hypot((to.laid.turn_rad - from.laid.turn_rad) * radius);
            self.travel_mm += wall_mm;
            let moves = from.along != to.along || from.rotary != to.rotary;
            let lift = (moves && self.focus.follows())
                .then(|| {
                    self.focus.lift_mm(
                        self.wall,
                        &self.frame.crest,
                        [
                            (&from.laid.section, from.laid.s_mm, 0.0),
                            (&to.laid.section, to.laid.s_mm, 0.0),
                        ],
                    )
                })
                .flatten();
            if let Some(lift) = lift {
                let z = self.frame.z_word(lift)?;
                self.give(&Spot { z, ..from }, MoveKind::Travel, 0.0, 0.0, None, sink)?;
                self.give(&Spot { z, ..*to }, MoveKind::Travel, 0.0, wall_mm, None, sink)?;
                return self.give(to, MoveKind::Travel, 0.0, 0.0, None, sink);
            }
            return self.give(to, MoveKind::Travel, 0.0, wall_mm, None, sink);
        }
        self.give(to, MoveKind::Travel, 0.0, 0.0, None, sink)
    }

    /// Dark at a speed along the axis, mm/s of its word.
    pub(crate) fn dark<S: MoveSink>(
        &mut self,
        to: &Spot,
        along_mm_per_s: f64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(from) = self.here else { return self.travel(to, sink) };
        let along_mm = self.counts_mm(to.along - from.along);
        let asked_s = along_mm / along_mm_per_s;
        let time_s = asked_s.max(self.least_time_s(&from, to));
        self.stats.nominal_s += asked_s;
        self.give(to, MoveKind::Dark, time_s, along_mm, None, sink)
    }

    /// A burn, straight in the machine's words, at a steady speed on the wall. `spacing_ratio` is
    /// what an area's lines lie apart there over what was asked, 1 for lines. The ends' sections
    /// must be those of the stretch between them.
    pub(crate) fn burn<S: MoveSink>(
        &mut self,
        from: &Laid,
        to: &Spot,
        how: &How,
        spacing_ratio: f64,
        length_ratio: f64,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(here) = self.here else { return Ok(()) };
        let (along, rotary) = (to.along - here.along, to.rotary - here.rotary);
        let wall_mm =
            self.frame.wall_mm(along, rotary, &from.section, &to.laid.section) * length_ratio;
        let asked_s = wall_mm / how.speed_mm_per_s;
        let least_s = self.least_time_s(&here, to);
        let time_s = if least_s > asked_s * SLACK {
            self.count_slowed(&here, to, asked_s * SLACK);
            least_s
        } else {
            asked_s
        };
        let controller = &self.setup.machine.controller;
        let mut power = how.power_s;
        if how.even && time_s > 0.0 {
            power = (power * (asked_s / time_s) * spacing_ratio).min(controller.full_power_s);
        }
        let least_s = controller.least_power_percent / 100.0 * controller.full_power_s;
        self.stats.below_least_power += u64::from(power < least_s);
        self.stats.burns_in += 1;
        self.stats.nominal_s += asked_s;
        self.stats.burn_mm += wall_mm;
        for laid in [from, &to.laid] {
            self.extend(laid);
        }
        self.give(to, MoveKind::Burn, time_s, wall_mm, Some(power), sink)
    }

    fn extend(&mut self, laid: &Laid) {
        let stats = &mut self.stats;
        stats.at_min_mm = stats.at_min_mm.min(laid.section.at_mm);
        stats.at_max_mm = stats.at_max_mm.max(laid.section.at_mm);
        stats.turn_min_rad = stats.turn_min_rad.min(laid.turn_rad);
        stats.turn_max_rad = stats.turn_max_rad.max(laid.turn_rad);
    }

    #[allow(clippy::cast_precision_loss)]
    fn counts_mm(&self, counts: i64) -> f64 {
        counts.unsigned_abs() as f64 * self.frame.count
    }

    /// What the axis along, the rotary and Z need between two places, seconds.
    fn axis_times_s(&self, from: &Spot, to: &Spot) -> [f64; 3] {
        let machine = &self.setup.machine;
        [
            self.counts_mm(to.along - from.along) / self.along_limit_mm_per_s(),
            self.counts_mm(to.rotary - from.rotary) / machine.rotary.limits.speed,
            machine.z.as_ref().map_or(0.0, |z| self.counts_mm(to.z - from.z) / z.limits.speed),
        ]
    }

    fn least_time_s(&self, from: &Spot, to: &Spot) -> f64 {
        self.axis_times_s(from, to).into_iter().fold(0.0, f64::max)
    }

    fn count_slowed(&mut self, from: &Spot, to: &Spot, asked_s: f64) {
        let [along, rotary, z] = self.axis_times_s(from, to);
        self.stats.slowed_along += u64::from(along > asked_s);
        self.stats.slowed_rotary += u64::from(rotary > asked_s);
        self.stats.slowed_z += u64::from(z > asked_s);
    }

    #[allow(clippy::cast_precision_loss)]
    fn give<S: MoveSink>(
        &mut self,
        to: &Spot,
        kind: MoveKind,
        time_s: f64,
        wall_mm: f64,
        power: Option<f64>,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let z = self.focus.follows().then_some(to.z);
        let before = self.here.replace(*to);
        if self.given == Some((to.along, to.rotary, z)) {
            return Ok(());
        }
        self.given = Some((to.along, to.rotary, z));
        if let Some(before) = before.filter(|_| time_s > 0.0) {
            let rotary = (to.rotary - before.rotary).unsigned_abs() as f64;
            self.stats.rotary_speed_max = self.stats.rotary_speed_max.max(rotary / time_s);
        }
        self.stats.moves_out += 1;
        let machine_move =
            MachineMove { kind, along: to.along, rotary: to.rotary, z, time_s, wall_mm, power };
        sink.machine_move(&machine_move).map_err(Halt::Sink)
    }
}
