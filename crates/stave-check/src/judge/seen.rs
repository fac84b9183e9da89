//! Values with where they came up.

use stave_toolpath::Stand;

/// A value with the place and line at which it came up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Seen {
    pub(super) value: f64,
    pub(super) stand: Stand,
    pub(super) line: u64,
    pub(super) section: u32,
}

/// Something that came up on so many lines, at its worst where `worst` says.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tally {
    pub(super) count: u64,
    pub(super) worst: Option<Seen>,
    last_line: u64,
}

impl Tally {
    /// Counts once a line; the greatest value is the worst.
    pub(super) fn note(&mut self, seen: Seen) {
        if self.last_line != seen.line || self.count == 0 {
            self.count += 1;
            self.last_line = seen.line;
        }
        if self.worst.is_none_or(|worst| seen.value > worst.value) {
            self.worst = Some(seen);
        }
    }
}

/// The least and the greatest of something.
#[derive(Clone, Copy, Debug)]
pub(super) struct Range {
    least: f64,
    most: f64,
    ends: Option<(Seen, Seen)>,
}

/// Of nothing yet: it holds no value.
impl Default for Range {
    fn default() -> Self {
        Self { least: f64::INFINITY, most: f64::NEG_INFINITY, ends: None }
    }
}

impl Range {
    /// True where a value lies within what is known, so that nothing need be noted.
    #[inline]
    pub(super) fn holds(&self, value: f64) -> bool {
        value >= self.least && value <= self.most
    }

    /// Takes in a value.
    #[cold]
    pub(super) fn note(&mut self, seen: Seen) {
        let (mut least, mut most) = self.ends.unwrap_or((seen, seen));
        if seen.value < least.value {
            least = seen;
        }
        if seen.value > most.value {
            most = seen;
        }
        (self.least, self.most) = (least.value, most.value);
        self.ends = Some((least, most));
    }

    pub(super) fn ends(&self) -> Option<(Seen, Seen)> {
        self.ends
    }
}
