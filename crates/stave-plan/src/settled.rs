//! What the planner says of each move once nothing later can change it.

/// What a move is for, as far as time goes.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum MoveKind {
    /// At the axes' own limits.
    Travel,
    /// At a feed, the beam dark.
    Dark,
    /// At a feed, the beam on.
    Burn,
}

/// The value of [`Settled::speed_axis`] where no axis but the asked speed holds the move back.
pub const ASKED: u8 = u8::MAX;

/// A move whose time is settled.
///
/// Speeds are kept as squares, as the planner reckons with them, so that whoever does not want them
/// pays for no root.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// The caller's own mark.
    pub tag: u32,
    /// What the move is for.
    pub kind: MoveKind,
    /// Axis that limits the speed (index in the caller's order), or [`ASKED`].
    pub speed_axis: u8,
    /// Axis that limits the acceleration along the move.
    pub acceleration_axis: u8,
    /// Length in axis space, mixed units.
    pub length: f64,
    /// Length on the wall as the caller gave it, mm.
    pub wall_mm: f64,
    /// How long it takes, seconds.
    pub duration_s: f64,
    /// The part of [`duration_s`](Self::duration_s) spent gaining or losing speed; the rest goes at
    /// the limit.
    pub ramp_s: f64,
    /// Speed at its start, squared, axis units per second.
    pub entry_squared: f64,
    /// Speed at its end, squared.
    pub exit_squared: f64,
    /// Greatest speed within it, squared.
    pub peak_squared: f64,
}

impl Settled {
    /// Greatest speed on the wall within the move, mm/s.
    #[must_use]
    pub fn peak_wall_mm_per_s(&self) -> f64 {
        self.peak_squared.sqrt() * self.wall_mm / self.length
    }

    /// Time at the speed asked, seconds: zero where an axis holds the move below it.
    #[must_use]
    #[inline]
    pub fn at_asked_s(&self) -> f64 {
        if self.speed_axis == ASKED { self.duration_s - self.ramp_s } else { 0.0 }
    }
}

/// Takes settled moves, in the order they were pushed. A closure will do.
pub trait Settle {
    /// One move.
    fn settled(&mut self, settled: &Settled);
}

impl<F: FnMut(&Settled)> Settle for F {
    #[inline]
    fn settled(&mut self, settled: &Settled) {
        self(settled);
    }
}
