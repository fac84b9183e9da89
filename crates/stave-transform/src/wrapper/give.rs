//! Handing a move on: slowed to the axes' limits, counted, and left out where it changes no word.

use stave_setup::Setup;
use stave_toolpath::{MachineMove, MoveKind};
use stave_wall::Laid;

use super::{MoveSink, Words, Wrapper};
use crate::error::Halt;
use crate::frame::Frame;

/// Seconds each axis needs for one count at its top speed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    along_s: f64,
    rotary_s: f64,
    z_s: f64,
}

impl Limits {
    pub(super) fn new(setup: &Setup, frame: &Frame) -> Self {
        let machine = &setup.machine;
        let along = if frame.along_y { &machine.y } else { &machine.x };
        Self {
            along_s: frame.count / along.speed,
            rotary_s: frame.count / machine.rotary.limits.speed,
            z_s: machine.z.as_ref().map_or(0.0, |z| frame.count / z.limits.speed),
        }
    }

    /// What each axis needs for a step, seconds.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    #[allow(clippy::cast_precision_loss)]
    fn times_s(&self, step: Words) -> (f64, f64, f64) {
        (
            (step.along as f64).abs() * self.along_s,
            (step.rotary as f64).abs() * self.rotary_s,
            (step.z as f64).abs() * self.z_s,
        )
    }

    /// What the slowest axis needs for a step, seconds.
    pub(super) fn least_time_s(&self, step: Words) -> f64 {
        let (along, rotary, z) = self.times_s(step);
        along.max(rotary).max(z)
    }
}

/// What a move at feed is to be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asked {
    pub(super) kind: MoveKind,
    /// How long it takes at its asked speed, seconds.
    pub(super) time_s: f64,
    /// Its length on the wall, mm.
    pub(super) wall_mm: f64,
    /// Its power in S counts.
    pub(super) power: Option<f64>,
}

impl Wrapper<'_> {
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub(super) fn extend(&mut self, laid: &Laid) {
        let (at, turn) = (laid.section.at_mm, laid.turn_rad);
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

    /// A move at feed to `to`, which lies `step` from where the machine stands: slowed to the axes'
    /// limits, counted, given.
    pub(super) fn timed<S: MoveSink>(
        &mut self,
        sink: &mut S,
        to: Words,
        step: Words,
        asked: Asked,
    ) -> Result<(), Halt<S::Error>> {
        self.timed_inline(sink, to, step, asked)
    }

    /// A move to `to`, left out where it changes no word.
    pub(super) fn give<S: MoveSink>(
        &mut self,
        sink: &mut S,
        to: Words,
        asked: Asked,
    ) -> Result<(), Halt<S::Error>> {
        self.give_inline(sink, to, asked)
    }

    /// As [`Wrapper::timed`], for the one place that every move of a long program goes through.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    #[allow(clippy::cast_precision_loss)]
    pub(super) fn timed_inline<S: MoveSink>(
        &mut self,
        sink: &mut S,
        to: Words,
        step: Words,
        asked: Asked,
    ) -> Result<(), Halt<S::Error>> {
        const SLACK: f64 = 1.0 + 1e-9;
        let (along_s, rotary_s, z_s) = self.limits.times_s(step);
        let bound = asked.time_s * SLACK;
        let mut time_s = asked.time_s;
        if along_s > bound || rotary_s > bound || z_s > bound {
            self.stats.slowed_along += u64::from(along_s > bound);
            self.stats.slowed_rotary += u64::from(rotary_s > bound);
            self.stats.slowed_z += u64::from(z_s > bound);
            time_s = along_s.max(rotary_s).max(z_s);
        }
        self.stats.nominal_s += asked.time_s;
        if asked.kind == MoveKind::Burn {
            self.stats.burn_mm += asked.wall_mm;
        }
        let rotary_counts = (step.rotary as f64).abs();
        if rotary_counts > self.stats.rotary_speed_max * time_s {
            self.stats.rotary_speed_max = rotary_counts / time_s;
        }
        self.give_inline(sink, to, Asked { time_s, ..asked })
    }

    #[allow(clippy::inline_always)]
    #[inline(always)]
    fn give_inline<S: MoveSink>(
        &mut self,
        sink: &mut S,
        to: Words,
        asked: Asked,
    ) -> Result<(), Halt<S::Error>> {
        let Asked { kind, time_s, wall_mm, power } = asked;
        let z = self.drives_z.then_some(to.z);
        if self.given.is_some_and(|given| given.along == to.along && given.rotary == to.rotary)
            && self.given_z == z
        {
            return Ok(());
        }
        self.given = Some(to);
        self.given_z = z;
        self.burning = kind == MoveKind::Burn;
        self.stats.moves_out += 1;
        let machine_move =
            MachineMove { kind, along: to.along, rotary: to.rotary, z, time_s, wall_mm, power };
        sink.machine_move(&machine_move).map_err(Halt::Sink)
    }
}
