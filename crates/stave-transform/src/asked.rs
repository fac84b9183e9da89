//! What a move at feed is to be, before an axis slows it.

use stave_toolpath::StepKind;

/// What a move at feed is to be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked {
    pub(crate) kind: StepKind,
    /// How long it takes at its asked speed, seconds.
    pub(crate) asked_s: f64,
    /// How long it takes before any axis slows it, seconds: more where the dose asks for it.
    pub(crate) time_s: f64,
    /// Its length on the wall, mm.
    pub(crate) wall_mm: f64,
    /// Its power in S counts.
    pub(crate) power_s: Option<f64>,
    /// The share by which its speed on the wall strays from its mean at the most, its own axes
    /// straight.
    pub(crate) stray: f64,
    /// Whether an even dose has made its power for the time it takes.
    pub(crate) even: bool,
}

impl Asked {
    /// A dark move that is to take so long; what is lit says more.
    #[inline]
    pub(crate) const fn taking(time_s: f64, kind: StepKind, wall_mm: f64) -> Self {
        Self { kind, asked_s: time_s, time_s, wall_mm, power_s: None, stray: 0.0, even: false }
    }

    /// A dark move at the axes' own limits.
    pub(crate) const fn travel(wall_mm: f64) -> Self {
        Self::taking(0.0, StepKind::Travel, wall_mm)
    }
}
