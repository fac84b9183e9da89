//! Ranges of numbers: what a value can be where only bounds of what it is made of are known.

use std::ops::{Add, Mul, Neg, Sub};

/// All numbers from `low` to `high`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Range {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

#[inline]
fn lesser(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

#[inline]
fn greater(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

impl Range {
    /// From the lesser to the greater of two.
    #[inline]
    pub(crate) fn between(a: f64, b: f64) -> Self {
        if a < b { Self { low: a, high: b } } else { Self { low: b, high: a } }
    }

    #[inline]
    pub(crate) fn one(value: f64) -> Self {
        Self { low: value, high: value }
    }

    /// With another value among them.
    #[inline]
    pub(crate) fn with(self, value: f64) -> Self {
        Self { low: lesser(self.low, value), high: greater(self.high, value) }
    }

    /// Wider by so much at both ends.
    #[inline]
    pub(crate) fn wider(self, by: f64) -> Self {
        Self { low: self.low - by, high: self.high + by }
    }

    #[inline]
    pub(crate) fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }

    /// Half of its width.
    #[inline]
    pub(crate) fn half(self) -> f64 {
        0.5 * (self.high - self.low)
    }

    /// The greatest size of any of it.
    #[inline]
    pub(crate) fn most(self) -> f64 {
        greater(self.low.abs(), self.high.abs())
    }

    /// The least size of any of it.
    #[inline]
    pub(crate) fn least(self) -> f64 {
        if self.low > 0.0 {
            self.low
        } else if self.high < 0.0 {
            -self.high
        } else {
            0.0
        }
    }

    #[cfg(test)]
    pub(crate) fn holds(self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }

    /// All squares of it.
    #[inline]
    pub(crate) fn squared(self) -> Self {
        let (least, most) = (self.least(), self.most());
        Self { low: least * least, high: most * most }
    }

    /// One over all of it; it must be above 0.
    #[inline]
    pub(crate) fn inverse(self) -> Self {
        Self { low: 1.0 / self.high, high: 1.0 / self.low }
    }
}

impl From<(f64, f64)> for Range {
    #[inline]
    fn from((low, high): (f64, f64)) -> Self {
        Self { low, high }
    }
}

impl Add for Range {
    type Output = Self;

    #[inline]
    fn add(self, other: Self) -> Self {
        Self { low: self.low + other.low, high: self.high + other.high }
    }
}

impl Sub for Range {
    type Output = Self;

    #[inline]
    fn sub(self, other: Self) -> Self {
        Self { low: self.low - other.high, high: self.high - other.low }
    }
}

impl Neg for Range {
    type Output = Self;

    #[inline]
    fn neg(self) -> Self {
        Self { low: -self.high, high: -self.low }
    }
}

impl Mul for Range {
    type Output = Self;

    #[inline]
    fn mul(self, other: Self) -> Self {
        let (a, b) = (self.low * other.low, self.low * other.high);
        let (c, d) = (self.high * other.low, self.high * other.high);
        Self {
            low: lesser(lesser(a, b), lesser(c, d)),
            high: greater(greater(a, b), greater(c, d)),
        }
    }
}

impl Mul<f64> for Range {
    type Output = Self;

    #[inline]
    fn mul(self, by: f64) -> Self {
        Self::between(self.low * by, self.high * by)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn ranges_hold_what_they_are_made_of(
            a in (-9.0..9.0_f64, -9.0..9.0_f64), b in (-9.0..9.0_f64, -9.0..9.0_f64),
            s in 0.0..1.0_f64, t in 0.0..1.0_f64,
        ) {
            let (p, q) = (Range::between(a.0, a.1), Range::between(b.0, b.1));
            let (x, y) = (p.low + (p.high - p.low) * s, q.low + (q.high - q.low) * t);
            prop_assert!((p + q).wider(1e-9).holds(x + y));
            prop_assert!((p - q).wider(1e-9).holds(x - y));
            prop_assert!((p * q).wider(1e-9).holds(x * y));
            prop_assert!((p * -2.5).wider(1e-9).holds(x * -2.5));
            prop_assert!(p.squared().wider(1e-9).holds(x * x));
            prop_assert!((-p).holds(-x));
            prop_assert!(x.abs() <= p.most() && x.abs() >= p.least());
            if p.low > 1e-3 {
                prop_assert!(p.inverse().wider(1e-9).holds(1.0 / x));
            }
        }
    }
}
