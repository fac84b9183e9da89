//! What an F word says of a move, and when it need not be written again.

use stave_setup::{FeedCounts, Machine, RotaryWord};
use stave_toolpath::FeedMode;

/// An F that differs from the one in effect by no more than this share of it is not written.
pub const SAME_FEED: f64 = 0.002;

/// The controller's rule for F: what of a move it counts.
///
/// ```
/// use stave_rig::FeedRule;
///
/// let machine = stave_setup::read_machine(
///     "[controller]\ndecimals = 3\n[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\n\
///      acceleration = 5000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\n\
///      acceleration = 2000\n", "bench.toml")?;
/// let rule = FeedRule::of(&machine);
/// // 3 mm along and 4 degrees in half a second: 5 in all, 600 a minute.
/// assert_eq!(rule.word(3000, 4000, 0, 0.5), 600.0);
/// assert_eq!(rule.time_s(3000, 4000, 0, 600.0), 0.5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug)]
pub struct FeedRule {
    mode: FeedMode,
    counts: FeedCounts,
    /// With the rotary on Y it is a linear axis to the controller.
    rotary_is_linear: bool,
    /// Units a minute for a count in a second.
    per_minute: f64,
}

impl FeedRule {
    /// The rule of `machine`.
    #[must_use]
    pub fn of(machine: &Machine) -> Self {
        Self {
            mode: machine.controller.feed,
            counts: machine.controller.feed_counts,
            rotary_is_linear: machine.rotary.word == RotaryWord::Y,
            per_minute: 60.0 * machine.controller.count(),
        }
    }

    /// Whether an F stands until the next.
    #[must_use]
    #[inline]
    pub fn stands(&self) -> bool {
        self.mode == FeedMode::PerMinute
    }

    /// How far a move by so many counts goes for F, in units a minute for one in a second.
    ///
    /// Counted over X, Y and Z alone (RS274/NGC 2.1.2.5: with any linear motion the rotary just
    /// keeps pace, a rotary alone goes by degrees per minute) or over all words.
    #[must_use]
    #[inline]
    pub fn way(&self, d_along: i64, d_rotary: i64, d_z: i64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
        let (along, rotary, z) = (d_along as f64, d_rotary as f64, d_z as f64);
        let linear = along * along + z * z;
        let all = self.counts == FeedCounts::AllAxes || self.rotary_is_linear || linear == 0.0;
        let squared = if all { linear + rotary * rotary } else { linear };
        squared.sqrt() * self.per_minute
    }

    /// The F word of a move by so many counts that is to take `time_s`: units a minute, or 60 over
    /// the time where F is the inverse of it.
    #[must_use]
    #[inline]
    pub fn word(&self, d_along: i64, d_rotary: i64, d_z: i64, time_s: f64) -> f64 {
        self.word_over(self.way(d_along, d_rotary, d_z), time_s)
    }

    /// As [`FeedRule::word`], for a move whose [`FeedRule::way`] is known.
    #[must_use]
    #[inline]
    pub fn word_over(&self, way: f64, time_s: f64) -> f64 {
        if self.stands() { way / time_s } else { 60.0 / time_s }
    }

    /// How long a move by so many counts takes at that F, seconds.
    #[must_use]
    #[inline]
    pub fn time_s(&self, d_along: i64, d_rotary: i64, d_z: i64, f: f64) -> f64 {
        if self.stands() { self.way(d_along, d_rotary, d_z) / f } else { 60.0 / f }
    }
}
