//! What a number may be, and how a message says so.

use stave_toolpath::number;

use crate::LengthUnit;

/// The longest length taken, mm: 100 m, far past any ware, and small enough that counts of 1e-9 mm
/// stay exact.
pub(crate) const LONGEST_MM: f64 = 1e5;

/// The thinnest wall taken, mm across: what is thinner is a slip of the pen, and too thin to turn
/// angles into lengths (a thousandth of an inch).
pub(crate) const THINNEST_MM: f64 = 0.0254;

/// The least of what must be more than nothing: less is a slip of the pen, and what is reckoned
/// from it runs out of numbers.
const LEAST: f64 = 1e-6;

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

    /// The least, and whether it is itself left out.
    pub(crate) fn low(&self) -> (f64, bool) {
        if self.low == 0.0 && self.low_open { (LEAST, false) } else { (self.low, self.low_open) }
    }

    /// The greatest, and whether it is itself left out.
    pub(crate) fn high(&self) -> (f64, bool) {
        (self.high, self.high_open)
    }

    /// False for NaN.
    pub(crate) fn hold(&self, value: f64) -> bool {
        let high = if self.high_open { value < self.high } else { value <= self.high };
        self.hold_low(value) && high
    }

    fn hold_low(&self, value: f64) -> bool {
        match (self.low == 0.0, self.low_open) {
            (true, true) => value >= LEAST,
            (_, true) => value > self.low,
            (_, false) => value >= self.low,
        }
    }

    /// What is allowed, for a message about `found` (mm for a length; `None` for what is no
    /// number): "more than 0" (a millionth at least), "from 0 to 100". Limits that only keep
    /// nonsense out are left unsaid where they are not what was passed, so it may be empty for what
    /// is no number.
    pub(crate) fn text(&self, unit: Option<LengthUnit>, found: Option<f64>) -> String {
        let low = match (self.low == 0.0, self.low_open) {
            (true, true) if found.is_some_and(|found| found > 0.0 && found < LEAST) => {
                format!("at least {}", shown(LEAST, unit))
            }
            (true, true) => "more than 0".to_owned(),
            (true, false) => "0 or more".to_owned(),
            (false, true) => format!("more than {}", shown(self.low, unit)),
            (false, false) => format!("at least {}", shown(self.low, unit)),
        };
        let too_high = found.is_some_and(|found| self.hold_low(found));
        if self.high >= LONGEST_MM && !too_high {
            return if self.low <= -LONGEST_MM && found.is_none() { String::new() } else { low };
        }
        let high = shown(self.high, unit);
        match (self.low_open, self.high_open) {
            (false, false) => format!("from {} to {high}", shown(self.low, unit)),
            (_, true) => format!("{low} and less than {high}"),
            (true, false) => format!("{low} and at most {high}"),
        }
    }
}

/// A number with its unit; a bare zero needs none.
fn shown(value: f64, unit: Option<LengthUnit>) -> String {
    match unit {
        Some(unit) if value != 0.0 => {
            let name = if unit == LengthUnit::Mm { "mm" } else { "in" };
            format!("{} {name}", plain(unit.of_mm(value)))
        }
        _ => plain(value),
    }
}

/// A number for a message: enough decimals to tell it from its neighbours, no more.
pub(crate) fn plain(value: f64) -> String {
    if (value != 0.0 && value.abs() < 1e-3) || value.abs() >= 1e7 {
        format!("{value:e}")
    } else {
        number::fixed(value, 4)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn say_only_what_was_passed() {
        let length = Bounds::positive(LONGEST_MM);
        let unit = Some(LengthUnit::Inch);
        assert_eq!(length.text(unit, Some(-1.0)), "more than 0");
        assert_eq!(length.text(unit, Some(2e5)), "more than 0 and at most 3937.0079 in");
        assert_eq!(length.text(unit, None), "more than 0");
        assert_eq!(Bounds::positive(LONGEST_MM).text(None, Some(1e-20)), "at least 1e-6");
        assert_eq!(Bounds::closed(0.0, 100.0).text(None, Some(101.0)), "from 0 to 100");
        assert_eq!(Bounds::open(-90.0, 90.0).text(None, None), "more than -90 and less than 90");
        assert_eq!(Bounds::closed(-LONGEST_MM, LONGEST_MM).text(unit, None), "");
    }

    #[test]
    fn nan_is_never_held() {
        assert!(!Bounds::closed(f64::NEG_INFINITY, f64::INFINITY).hold(f64::NAN));
        assert!(!Bounds::open(-90.0, 90.0).hold(90.0));
        assert!(Bounds::closed(0.0, 1.0).hold(0.0));
    }
}
