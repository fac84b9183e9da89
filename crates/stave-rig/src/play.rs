//! The play of a rotary: what its work does while its word turns back.

use stave_setup::Machine;

/// Where work stands that follows a word with play: it is taken along from below where the word
/// grows, and from above, so much later, where it falls.
///
/// ```
/// use stave_rig::Play;
/// let mut play = Play::new(0.5, 0.0);
/// let work: Vec<f64> = [3.0, 2.75, 2.5, 2.0, 2.25, 3.0].map(|word| play.to(word)).into();
/// assert_eq!(work, [3.0, 3.0, 3.0, 2.5, 2.5, 3.0]);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Play {
    width: f64,
    work: f64,
}

impl Play {
    /// Work that stands at a word, as if that had grown until there.
    #[must_use]
    pub fn new(width: f64, word: f64) -> Self {
        Self { width, work: word }
    }

    /// Where the work stands, as the word that takes it there from below.
    #[must_use]
    #[inline]
    pub fn work(&self) -> f64 {
        self.work
    }

    /// The word goes straight to `word`; where the work then stands.
    #[inline]
    pub fn to(&mut self, word: f64) -> f64 {
        self.work = self.work.max(word).min(word + self.width);
        self.work
    }
}

/// The play of a machine's rotary in counts of its word, and in units as so many counts are.
#[must_use]
pub fn play_of(machine: &Machine) -> (i64, f64) {
    let count = machine.controller.count();
    let counts = (machine.rotary.backlash / count).round();
    #[expect(clippy::cast_possible_truncation, reason = "a play is a small part of a turn")]
    let whole = counts as i64;
    (whole, counts * count)
}
