//! The outer surface of a blank.

mod build;

use crate::curve::ParametricPoint;
use crate::frustum::Frustum;
use crate::knots::find;
use crate::piece::Piece;
use crate::{Section, WallError};

/// A measured place of the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Station {
    /// Distance along the axis from any datum, mm.
    pub at_mm: f64,
    /// Radius of the wall there, mm.
    pub radius_mm: f64,
}

/// How the wall runs between its stations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum WallShape {
    /// Straight: a stack of cone frusta.
    Straight,
    /// The monotone cubic of Fritsch and Carlson, or a parametric curve.
    Smooth,
}

/// A surface of revolution.
///
/// `s` is the length along the meridian, 0 at the first station, [`Wall::length_mm`] at the last.
/// Past either end the wall runs on as a cylinder.
///
/// ```
/// use stave_wall::{Station, Wall, WallShape};
///
/// // A bowl that widens by 30 mm over 40 mm: its side is 50 mm long.
/// let station = |at_mm, radius_mm| Station { at_mm, radius_mm };
/// let stations = [station(0.0, 40.0), station(40.0, 70.0)];
/// let wall = Wall::from_stations(&stations, WallShape::Straight)?;
/// assert_eq!(wall.length_mm(), 50.0);
/// assert_eq!(wall.at_of_s(25.0), 20.0);
/// let section = wall.section(25.0, &mut 0);
/// assert!((section.radius_mm - 55.0).abs() < 1e-12);
/// # Ok::<(), stave_wall::WallError>(())
/// ```
#[derive(Debug, Clone)]
pub struct Wall {
    shape: WallShape,
    span_ends_mm: Vec<f64>,
    largest_radius_mm: f64,
    /// Ends of the pieces: the stations of a straight wall, finer on a curved one. All ascend.
    s_knots_mm: Vec<f64>,
    q_knots: Vec<f64>,
    at_knots_mm: Vec<f64>,
    pub(crate) body: Body,
    foot: End,
    head: End,
}

#[derive(Debug, Clone)]
pub(crate) enum Body {
    Straight(Vec<Frustum>),
    Curved { pieces: Vec<Piece>, first_of_span: Vec<usize> },
}

/// One end of the wall, from which it runs on as a cylinder.
#[derive(Debug, Clone, Copy)]
struct End {
    s_mm: f64,
    at_mm: f64,
    radius_mm: f64,
    q: f64,
}

impl End {
    fn section(&self, s_mm: f64) -> Section {
        Section {
            at_mm: self.at_mm + (s_mm - self.s_mm),
            radius_mm: self.radius_mm,
            cos_slope: 1.0,
            sin_slope: 0.0,
        }
    }
}

#[inline(never)]
fn curved_section(pieces: &[Piece], piece: usize, s_mm: f64) -> (Section, usize) {
    (pieces[piece].section(s_mm), pieces[piece].span)
}

impl Wall {
    /// The wall through measured stations.
    ///
    /// # Errors
    /// Fewer than two stations, a value that is not finite, distances that do not strictly
    /// increase, a radius that is not above 0.
    pub fn from_stations(stations: &[Station], shape: WallShape) -> Result<Wall, WallError> {
        build::from_stations(stations, shape)
    }

    /// The wall whose outline is a parametric curve, as one smooth span: spheres, spheroids, tori.
    ///
    /// The curve is followed from `from` to `to` (`from < to`), along which `at` must grow; it must
    /// be smooth, and the rates must be its derivatives. Lengths are kept to 1e-13 of the wall's
    /// size.
    ///
    /// # Errors
    /// A point that no wall can have, or a curve too rough to follow.
    ///
    /// ```
    /// use stave_wall::{ParametricPoint, Wall};
    /// // A ball of radius 40 mm between 60 degrees south and north of its equator.
    /// let ball = |t: f64| ParametricPoint {
    ///     at_mm: 40.0 * t.sin(),
    ///     radius_mm: 40.0 * t.cos(),
    ///     at_rate: 40.0 * t.cos(),
    ///     radius_rate: -40.0 * t.sin(),
    /// };
    /// let end = 60_f64.to_radians();
    /// let wall = Wall::parametric(&ball, -end, end)?;
    /// assert!((wall.length_mm() - 80.0 * end).abs() < 1e-11);
    /// # Ok::<(), stave_wall::WallError>(())
    /// ```
    pub fn parametric(
        curve: &dyn Fn(f64) -> ParametricPoint,
        from: f64,
        to: f64,
    ) -> Result<Wall, WallError> {
        build::parametric(curve, from, to)
    }

    /// How the wall runs between its stations.
    pub fn shape(&self) -> WallShape {
        self.shape
    }

    /// Length of the meridian, mm: `s` runs from 0 to this.
    pub fn length_mm(&self) -> f64 {
        self.head.s_mm
    }

    /// The first and the last place along the axis, mm.
    pub fn at_range_mm(&self) -> (f64, f64) {
        (self.foot.at_mm, self.head.at_mm)
    }

    /// The largest radius anywhere on the wall, mm.
    #[inline]
    pub fn largest_radius_mm(&self) -> f64 {
        self.largest_radius_mm
    }

    /// Number of spans between stations.
    pub fn span_count(&self) -> usize {
        self.span_ends_mm.len() - 1
    }

    /// `s` of every station, mm, ascending: one more than there are spans.
    pub fn span_ends_mm(&self) -> &[f64] {
        &self.span_ends_mm
    }

    /// `s` at a place along the axis, mm.
    pub fn s_of_at(&self, at_mm: f64) -> f64 {
        if at_mm <= self.foot.at_mm {
            return at_mm - self.foot.at_mm;
        } else if at_mm >= self.head.at_mm {
            return self.head.s_mm + (at_mm - self.head.at_mm);
        }
        let piece = find(&self.at_knots_mm, at_mm, 0);
        let s_mm = match &self.body {
            Body::Straight(frusta) => {
                let frustum = &frusta[piece];
                frustum.s_mm + (at_mm - frustum.at_mm) / frustum.cos_slope
            }
            Body::Curved { pieces, .. } => pieces[piece].s_of_at(at_mm),
        };
        s_mm.max(self.s_knots_mm[piece]).min(self.s_knots_mm[piece + 1])
    }

    /// The place along the axis, mm, at a length along the meridian.
    pub fn at_of_s(&self, s_mm: f64) -> f64 {
        self.section(s_mm, &mut 0).at_mm
    }

    /// The span that holds `s`, clamped to the first and the last; a station belongs to the span
    /// above it.
    ///
    /// Fast when the hint is right or a neighbour; the answer never depends on it.
    #[inline]
    pub fn span_of(&self, s_mm: f64, hint: usize) -> usize {
        find(&self.span_ends_mm, s_mm, hint)
    }

    /// The wall at `s`; past the ends a cylinder. `hint` is kept by the caller between calls, 0 at
    /// first.
    #[inline]
    pub fn section(&self, s_mm: f64, hint: &mut usize) -> Section {
        self.locate(s_mm, hint).0
    }

    /// The wall at `s` by the formula of one span (clamped to the last), which runs on straight
    /// past the span's ends: so both sides of a station can be asked for.
    pub fn section_in(&self, span: usize, s_mm: f64) -> Section {
        let span = span.min(self.span_count() - 1);
        match &self.body {
            Body::Straight(frusta) => frusta[span].section(s_mm),
            Body::Curved { pieces, first_of_span } => {
                let first = first_of_span[span];
                let end = first_of_span.get(span + 1).copied().unwrap_or(pieces.len());
                let piece = find(&self.s_knots_mm[first..=end], s_mm, 0);
                pieces[first + piece].section_beyond(s_mm)
            }
        }
    }

    /// `∫ ds/r` from `s` = 0: the latitude of the true-shape lay (Mercator's, for a globe).
    pub fn conformal(&self, s_mm: f64) -> f64 {
        if s_mm < self.foot.s_mm {
            return s_mm / self.foot.radius_mm;
        } else if s_mm >= self.head.s_mm {
            return self.head.q + (s_mm - self.head.s_mm) / self.head.radius_mm;
        }
        let piece = find(&self.s_knots_mm, s_mm, 0);
        match &self.body {
            Body::Straight(frusta) => {
                frusta[piece].conformal + frusta[piece].conformal_along(s_mm - frusta[piece].s_mm)
            }
            Body::Curved { pieces, .. } => pieces[piece].q_of_s(s_mm),
        }
    }

    /// The `s` at which [`Wall::conformal`] has a value, mm.
    pub fn s_of_conformal(&self, q: f64) -> f64 {
        self.locate_conformal(q, &mut 0).0
    }

    /// The section and the span at `s`.
    // Inlined whatever its size: a section handed back through memory costs more than finding it.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub(crate) fn locate(&self, s_mm: f64, hint: &mut usize) -> (Section, usize) {
        let piece = find(&self.s_knots_mm, s_mm, *hint);
        *hint = piece;
        let (section, span) = match &self.body {
            Body::Straight(frusta) => (frusta[piece].section(s_mm), piece),
            Body::Curved { pieces, .. } => curved_section(pieces, piece, s_mm),
        };
        // Not a number counts as past the head, and stays not a number there.
        if s_mm < self.foot.s_mm {
            (self.foot.section(s_mm), span)
        } else if s_mm <= self.head.s_mm {
            (section, span)
        } else {
            (self.head.section(s_mm), span)
        }
    }

    /// Radius, mm, and the sine of the slope at `s`: what a geodesic asks for at every turn.
    #[inline]
    pub(crate) fn radius_and_slope(&self, s_mm: f64, hint: &mut usize) -> (f64, f64) {
        let Body::Curved { pieces, .. } = &self.body else {
            let section = self.locate(s_mm, hint).0;
            return (section.radius_mm, section.sin_slope);
        };
        // What is no number is past the head, and is none there.
        if s_mm < self.foot.s_mm {
            (self.foot.radius_mm, 0.0)
        } else if s_mm <= self.head.s_mm {
            *hint = find(&self.s_knots_mm, s_mm, *hint);
            pieces[*hint].radius_and_slope(s_mm)
        } else {
            (self.head.radius_mm, if s_mm.is_nan() { s_mm } else { 0.0 })
        }
    }

    pub(crate) fn is_curved(&self) -> bool {
        matches!(self.body, Body::Curved { .. })
    }

    /// `d²r/ds²` of a curved wall, 1/mm; 0 on straight runs and past the ends.
    pub(crate) fn radius_bend(&self, s_mm: f64, hint: usize) -> f64 {
        match &self.body {
            Body::Curved { pieces, .. } if s_mm >= self.foot.s_mm && s_mm <= self.head.s_mm => {
                pieces[find(&self.s_knots_mm, s_mm, hint)].radius_bend(s_mm)
            }
            _ => 0.0,
        }
    }

    /// The places between which the wall is one polynomial, mm, ascending: its stations among them.
    pub(crate) fn joints_mm(&self) -> &[f64] {
        &self.s_knots_mm
    }

    /// The radius at the last station, mm.
    pub(crate) fn head_radius_mm(&self) -> f64 {
        self.head.radius_mm
    }

    /// `s`, the section and the span at a value of `∫ ds/r`.
    #[inline]
    pub(crate) fn locate_conformal(&self, q: f64, hint: &mut usize) -> (f64, Section, usize) {
        let piece = find(&self.q_knots, q, *hint);
        *hint = piece;
        if q < self.foot.q {
            let s_mm = q * self.foot.radius_mm;
            return (s_mm, self.foot.section(s_mm), 0);
        } else if q > self.head.q || q.is_nan() {
            let s_mm = self.head.s_mm + (q - self.head.q) * self.head.radius_mm;
            return (s_mm, self.head.section(s_mm), self.span_count() - 1);
        }
        match &self.body {
            Body::Straight(frusta) => {
                let frustum = &frusta[piece];
                let s_mm = frustum.s_mm + frustum.along_of_conformal(q - frustum.conformal);
                (s_mm, frustum.section(s_mm), piece)
            }
            Body::Curved { pieces, .. } => {
                let s_mm = pieces[piece].s_of_q(q);
                (s_mm, pieces[piece].section(s_mm), pieces[piece].span)
            }
        }
    }
}
