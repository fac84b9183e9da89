//! The words of one controller: which letter an axis has, and what F means.

use stave_rig::{X, Y};
use stave_setup::{Along, FeedCounts, Machine, RotaryWord};
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
    counts: FeedCounts,
    /// With the rotary on Y it is a linear axis to the controller.
    rotary_is_linear: bool,
    count: f64,
}

impl Dialect {
    /// The words of `machine`.
    #[must_use]
    pub fn of(machine: &Machine) -> Self {
        let rotary = match machine.rotary.word {
            RotaryWord::A => b'A',
            RotaryWord::B => b'B',
            RotaryWord::C => b'C',
            RotaryWord::Y => b'Y',
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
            counts: machine.controller.feed_counts,
            rotary_is_linear: machine.rotary.word == RotaryWord::Y,
            count: 10_f64.powi(-i32::try_from(decimals).unwrap_or(0)),
        }
    }

    /// The F word of a move by `d_along`, `d_rotary`, `d_z` counts that is to take `time_s`.
    ///
    /// Per minute: counted over X, Y and Z alone (RS274/NGC 2.1.2.5: with any linear motion the
    /// rotary just keeps pace, a rotary alone goes by degrees per minute) or over all words.
    /// Inverse time: `60 / time_s`.
    #[inline]
    pub(super) fn feed_word(&self, d_along: i64, d_rotary: i64, d_z: i64, time_s: f64) -> f64 {
        if self.mode == FeedMode::InverseTime {
            return 60.0 / time_s;
        }
        #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
        let (along, rotary, z) = (d_along as f64, d_rotary as f64, d_z as f64);
        let linear = along * along + z * z;
        let all = self.counts == FeedCounts::AllAxes || self.rotary_is_linear || linear == 0.0;
        let squared = if all { linear + rotary * rotary } else { linear };
        squared.sqrt() * self.count * 60.0 / time_s
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
