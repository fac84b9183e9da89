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

/// Where the machine stands as far as the program has said.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Standing {
    pub(super) along: Option<i64>,
    pub(super) rotary: Option<i64>,
    pub(super) z: Option<i64>,
}

/// Where a move goes, counts.
#[derive(Clone, Copy, Debug)]
pub(super) struct To {
    pub(super) along: i64,
    pub(super) rotary: i64,
    /// `None` where the run does not drive Z.
    pub(super) z: Option<i64>,
}

impl Standing {
    pub(super) fn after(self, to: To) -> Self {
        Self { along: Some(to.along), rotary: Some(to.rotary), z: to.z.or(self.z) }
    }
}
