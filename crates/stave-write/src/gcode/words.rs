//! The words of one controller: which letter an axis has, and what F means.

use stave_rig::{FeedRule, X, Y};
use stave_setup::{Along, Machine, RotaryWord};
use stave_toolpath::{FeedMode, number};

/// What the writer must know of a controller.
#[derive(Clone, Copy, Debug)]
pub struct Dialect {
    pub(super) along: u8,
    /// Where its word stands among a step's.
    pub(super) along_axis: usize,
    pub(super) rotary: u8,
    pub(super) decimals: u32,
    pub(super) mode: FeedMode,
    pub(super) feed: FeedRule,
}

impl Dialect {
    /// The words of `machine`.
    #[must_use]
    pub fn of(machine: &Machine) -> Self {
        let rotary = match (machine.rotary.word, machine.rotary.along) {
            (RotaryWord::A, _) => b'A',
            (RotaryWord::B, _) => b'B',
            (RotaryWord::C, _) => b'C',
            (RotaryWord::Y, Along::X) => b'Y',
            (RotaryWord::Y, Along::Y) => b'X',
        };
        let (along, along_axis) = match machine.rotary.along {
            Along::X => (b'X', X),
            Along::Y => (b'Y', Y),
        };
        let decimals = machine.controller.decimals.min(number::MOST_DECIMALS);
        Self {
            along,
            along_axis,
            rotary,
            decimals,
            mode: machine.controller.feed,
            feed: FeedRule::of(machine),
        }
    }
}

/// Counts that no word has.
const UNSAID: i64 = i64::MIN;

/// Where the machine stands as far as the program has said, counts.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standing {
    along: i64,
    rotary: i64,
    z: i64,
}

/// Nothing is said yet.
impl Default for Standing {
    fn default() -> Self {
        Self { along: UNSAID, rotary: UNSAID, z: UNSAID }
    }
}

/// Where a move goes, counts.
#[derive(Clone, Copy, Debug)]
pub(super) struct To {
    pub(super) along: i64,
    pub(super) rotary: i64,
    /// `None` where the run does not drive Z.
    pub(super) z: Option<i64>,
}

/// Which words a move changes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Changes {
    pub(super) along: bool,
    pub(super) rotary: bool,
    pub(super) z: bool,
}

impl Standing {
    /// Whether nothing is said yet of the place along the work.
    #[inline]
    pub(super) fn is_unsaid(&self) -> bool {
        self.along == UNSAID
    }

    #[inline]
    pub(super) fn changes(&self, to: To) -> Changes {
        Changes {
            along: self.along != to.along,
            rotary: self.rotary != to.rotary,
            z: to.z.is_some_and(|z| z != self.z),
        }
    }

    /// The way there along, around and in Z, counts: none of what is not said yet, but Z stands at
    /// zero until its first word.
    #[inline]
    pub(super) fn way(&self, to: To) -> (i64, i64, i64) {
        let since = |from: i64, to: i64| if from == UNSAID { 0 } else { to - from };
        let z = if self.z == UNSAID { 0 } else { self.z };
        let d_z = to.z.map_or(0, |to| to - z);
        (since(self.along, to.along), since(self.rotary, to.rotary), d_z)
    }

    /// A move went there; one that only `lifts` changed Z alone.
    #[inline]
    pub(super) fn go(&mut self, to: To, lifts: bool) {
        if !lifts {
            (self.along, self.rotary) = (to.along, to.rotary);
        }
        if let Some(z) = to.z {
            self.z = z;
        }
    }
}
