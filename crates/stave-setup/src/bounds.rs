//! What a number may be, and how a message says so.

use stave_toolpath::number;

use crate::LengthUnit;

/// The longest length taken, mm: 100 m, far past any ware, and small enough that counts of 1e-9 mm stay exact.
pub(crate) const LONGEST_MM: f64 = 1e5;

/// The range of a number, in mm for a length.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounds {
    low: f64,
    low_open: bool,
    high: f64,
    high_open: bool,
}

impl Bounds {
    pub(crate) const fn positive(high: f64) -> Self {
        Self { low: 0.0, low_open: true, high, high_open: false }
    }

    pub(crate) const fn closed(low: f64, high: f64) -> Self {
        Self { low, low_open: false, high, high_open: false }
    }

    pub(crate) const fn open(low: f64, high: f64) -> Self {
        Self { low, low_open: true, high, high_open: true }
    }

    pub(crate) fn hold(&self, value: f64) -> bool {
        let low = if self.low_open { value > self.low } else { value >= self.low };
        let high = if self.high_open { value < self.high } else { value <= self.high };
        low && high
    }

    /// "from 0 to 100", "more than 0 and at most 3937.0079 in".
    pub(crate) fn text(&self, unit: Option<LengthUnit>) -> String {
        let show = |mm: f64| match unit {
            None => plain(mm),
            Some(LengthUnit::Mm) => format!("{} mm", plain(mm)),
            Some(LengthUnit::Inch) => format!("{} in", plain(mm / LengthUnit::Inch.mm())),
        };
        match (self.low_open, self.high_open) {
            (false, false) => format!("from {} to {}", show(self.low), show(self.high)),
            (true, true) => format!("more than {} and less than {}", show(self.low), show(self.high)),
            (true, false) => format!("more than {} and at most {}", show(self.low), show(self.high)),
            (false, true) => format!("at least {} and less than {}", show(self.low), show(self.high)),
        }
    }
}

/// A number for a message: enough decimals to tell it from its neighbours, no more.
pub(crate) fn plain(value: f64) -> String {
    if value != 0.0 && value.abs() < 1e-3 { format!("{value:e}") } else { number::fixed(value, 4) }
}
