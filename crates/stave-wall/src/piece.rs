//! A piece of a curved meridian, tabulated as polynomials so that no point needs quadrature or
//! iteration.

use crate::Section;

/// Terms of each polynomial: nine is the degree at which a bottle's shoulder takes a few pieces,
/// not dozens, and a point still costs some tens of nanoseconds.
pub(crate) const TERMS: usize = 10;

/// A polynomial in `t`, −1..1, lowest power first.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Polynomial(pub(crate) [f64; TERMS]);

impl Polynomial {
    #[inline]
    pub(crate) fn value(&self, t: f64) -> f64 {
        self.0.iter().rev().fold(0.0, |sum, &term| sum * t + term)
    }

    /// The value and its derivative with respect to `t`.
    #[inline]
    pub(crate) fn value_and_slope(&self, t: f64) -> (f64, f64) {
        self.0
            .iter()
            .rev()
            .fold((0.0, 0.0), |(value, slope), &term| (value * t + term, slope * t + value))
    }

    /// The second derivative with respect to `t`.
    pub(crate) fn bend(&self, t: f64) -> f64 {
        (2..TERMS).rev().fold(0.0, |sum, i| sum * t + (i * (i - 1)) as f64 * self.0[i])
    }
}

/// A variable's interval and its place in −1..1.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Interval {
    middle: f64,
    per_half: f64,
}

impl Interval {
    pub(crate) fn new(from: f64, to: f64) -> Interval {
        Interval { middle: 0.5 * (from + to), per_half: 2.0 / (to - from) }
    }

    #[inline]
    pub(crate) fn local(&self, x: f64) -> f64 {
        (x - self.middle) * self.per_half
    }

    /// `dt/dx`.
    #[inline]
    pub(crate) fn per_half(&self) -> f64 {
        self.per_half
    }

    #[inline]
    pub(crate) fn global(&self, t: f64) -> f64 {
        self.middle + t / self.per_half
    }
}

/// One piece: `z`, `r` and `∫ ds/r` over `s`, and `s` over `∫ ds/r`.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) span: usize,
    pub(crate) s_mm: Interval,
    pub(crate) q: Interval,
    pub(crate) at_mm: Polynomial,
    pub(crate) radius_mm: Polynomial,
    pub(crate) q_of_s: Polynomial,
    /// As a distance from the middle of the piece.
    pub(crate) s_of_q_mm: Polynomial,
}

impl Piece {
    #[inline]
    pub(crate) fn section(&self, s_mm: f64) -> Section {
        let t = self.s_mm.local(s_mm);
        let (at_mm, at_slope) = self.at_mm.value_and_slope(t);
        let (radius_mm, radius_slope) = self.radius_mm.value_and_slope(t);
        let per_half = self.s_mm.per_half();
        Section {
            at_mm,
            radius_mm,
            cos_slope: at_slope * per_half,
            sin_slope: radius_slope * per_half,
        }
    }

    /// Radius, mm, and the sine of the slope: half of [`Piece::section`].
    #[inline]
    pub(crate) fn radius_and_slope(&self, s_mm: f64) -> (f64, f64) {
        let (radius_mm, slope) = self.radius_mm.value_and_slope(self.s_mm.local(s_mm));
        (radius_mm, slope * self.s_mm.per_half())
    }

    /// The section at a place that may lie outside the piece, where it runs on straight.
    pub(crate) fn section_beyond(&self, s_mm: f64) -> Section {
        let (low, high) = (self.s_mm.global(-1.0), self.s_mm.global(1.0));
        let inside = s_mm.max(low).min(high);
        let mut section = self.section(inside);
        let beyond = s_mm - inside;
        section.at_mm += beyond * section.cos_slope;
        section.radius_mm += beyond * section.sin_slope;
        section
    }

    /// `d²r/ds²`, 1/mm.
    pub(crate) fn radius_bend(&self, s_mm: f64) -> f64 {
        let per_half = self.s_mm.per_half();
        self.radius_mm.bend(self.s_mm.local(s_mm).clamp(-1.0, 1.0)) * per_half * per_half
    }

    #[inline]
    pub(crate) fn q_of_s(&self, s_mm: f64) -> f64 {
        self.q_of_s.value(self.s_mm.local(s_mm))
    }

    #[inline]
    pub(crate) fn s_of_q(&self, q: f64) -> f64 {
        self.s_mm.middle + self.s_of_q_mm.value(self.q.local(q))
    }

    /// The `s` at which the axis distance is reached, within the piece: Newton's method kept inside
    /// a bracket.
    pub(crate) fn s_of_at(&self, at_mm: f64) -> f64 {
        let (mut low, mut high) = (-1.0, 1.0);
        let mut t = 0.0;
        // Each round halves the bracket at the least, so 60 rounds exhaust the digits of t.
        for _ in 0..60 {
            let (value, slope) = self.at_mm.value_and_slope(t);
            let error = value - at_mm;
            if error == 0.0 {
                break;
            } else if error > 0.0 {
                high = t;
            } else {
                low = t;
            }
            let newton = t - error / slope;
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            if (next - t).abs() <= f64::EPSILON {
                return self.s_mm.global(next);
            }
            t = next;
        }
        self.s_mm.global(t)
    }

    /// The largest radius between two places of the piece: at an end, or where the slope passes 0
    /// downwards.
    pub(crate) fn largest_radius_mm(&self, from_mm: f64, to_mm: f64) -> f64 {
        let (mut low, mut high) = (from_mm, to_mm);
        let ends = self.section(low).radius_mm.max(self.section(high).radius_mm);
        if self.section(low).sin_slope <= 0.0 || self.section(high).sin_slope >= 0.0 {
            return ends;
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.section(middle).sin_slope > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        ends.max(self.section(low).radius_mm)
    }
}
