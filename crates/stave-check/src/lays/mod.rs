//! What a lay does to a piece: how far angles, widths, heights and areas come out from what was
//! drawn, how large the piece is on the wall, and whether it closes where it goes all the way
//! around.
//!
//! At a point the lay's Jacobian `J` tells all: `|J e_u|` is height on the wall over height drawn,
//! `|J e_v|` the same for widths, `det J` for areas, and `ω = 2 asin((a − b)/(a + b))` the greatest
//! angle error, `a ≥ b` its singular values (J. P. Snyder, *Map Projections: A Working Manual*,
//! USGS Professional Paper 1395, 1987, ch. 4).

mod advice;
mod overlap;

pub use advice::{Advice, LayCost, Wants, advise, lay_cost, least_cost};
pub use overlap::{LaidPiece, Overlap, overlaps};

use std::f64::consts::TAU;

use stave_wall::{Distortion, Lay, Wall};

/// From here on an angle error is worth a warning, rad: 5 degrees.
pub const ANGLE_WARNING_RAD: f64 = 5.0 * TAU / 360.0;
/// From here on a change of size is worth a warning: 5 per cent.
pub const SIZE_WARNING: f64 = 0.05;
/// A piece so much of one turn wide goes all the way around.
const ALL_ROUND: f64 = 0.995;
/// An end that meets its beginning so closely, mm on the wall, closes.
const CLOSES_MM: f64 = 0.05;
/// Level lines of a piece's box that are measured.
const LEVELS: u32 = 32;
/// Steps along a height: a station under it is a jump of the scale.
const STEPS_UP: u32 = 64;
/// Steps along a level line, where the scale changes slowly or not at all.
const STEPS_AROUND: u32 = 12;

/// A piece in the flat plane, as points to look at: mm.
#[derive(Clone, Copy, Debug)]
pub struct Sampled<'p> {
    /// Along its outlines, close together.
    pub outline: &'p [(f64, f64)],
    /// Spread evenly inside its areas; none for a piece of lines.
    pub inside: &'p [(f64, f64)],
    /// The least `(u, v)` of its box.
    pub from: (f64, f64),
    /// The greatest.
    pub to: (f64, f64),
}

/// What a lay makes of a piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayFigures {
    /// The greatest angle error anywhere, rad.
    pub omega_max_rad: f64,
    /// Its mean: over the area, or along the lines.
    pub omega_mean_rad: f64,
    /// Width on the wall over width drawn, where it strays most from 1.
    pub width_max: f64,
    /// Height on the wall over height drawn, where it strays most.
    pub height_max: f64,
    /// Area on the wall over area drawn, where it strays most.
    pub area_max: f64,
    /// The largest area scale over the smallest, as lengths: 1 where every part comes out as large
    /// as every other.
    pub lopsided: f64,
    /// Its width on the wall through its middle, mm.
    pub width_mm: f64,
    /// Its height on the wall through its middle, mm.
    pub height_mm: f64,
    /// Its width on the wall where it is widest, mm.
    pub widest_mm: f64,
    /// For a piece that goes all the way around, and for one that comes to lie on itself: how far
    /// end and beginning lie apart where that is worst, mm on the wall; negative where they
    /// overlap.
    pub seam_mm: Option<f64>,
}

impl LayFigures {
    /// Whether end and beginning meet; `None` for a piece that does not go all the way around.
    #[must_use]
    pub fn closes(&self) -> Option<bool> {
        self.seam_mm.map(|gap| gap.abs() <= CLOSES_MM)
    }

    /// The greatest change of width or height, as a share.
    #[must_use]
    pub fn size_change(&self) -> f64 {
        (self.width_max - 1.0).abs().max((self.height_max - 1.0).abs())
    }

    /// Whether angles are off by 5 degrees or sizes by 5 per cent.
    #[must_use]
    pub fn is_worth_a_warning(&self) -> bool {
        // A rounding of the last digits is not.
        self.omega_max_rad >= ANGLE_WARNING_RAD - 1e-9 || self.size_change() >= SIZE_WARNING - 1e-9
    }
}

/// The figures of a lay for a piece; `None` where the piece is empty or the lay has no place for
/// part of it.
#[must_use]
pub fn lay_figures(wall: &Wall, lay: &Lay, piece: &Sampled<'_>) -> Option<LayFigures> {
    let jacobian = |&(u, v): &(f64, f64)| lay.jacobian(wall, u, v);
    let mut figures = Gathered::default();
    for point in piece.outline {
        figures.add(jacobian(point))?;
    }
    let along_outline = figures.omega_sum_rad / f64::from(figures.count.max(1));
    let mut inside = Gathered::default();
    for point in piece.inside {
        let j = jacobian(point);
        figures.add(j)?;
        inside.add(j)?;
    }
    if figures.count == 0 {
        return None;
    }
    let omega_mean_rad = if inside.count > 0 {
        inside.omega_sum_rad / f64::from(inside.count)
    } else {
        along_outline
    };
    let ((u0, v0), (u1, v1)) = (piece.from, piece.to);
    // A width is drawn along `v`, a height along `u`; what they are on the wall is the way they go
    // there.
    let width = |u: f64| way_mm(wall, lay, (u, v0), (u, v1), STEPS_AROUND);
    let widest_mm = (0..=LEVELS)
        .map(|k| width(u0 + (u1 - u0) * f64::from(k) / f64::from(LEVELS)))
        .fold(0.0, f64::max);
    let middle_v = 0.5 * (v0 + v1);
    Some(LayFigures {
        omega_max_rad: figures.omega_max_rad,
        omega_mean_rad,
        width_max: figures.width.most,
        height_max: figures.height.most,
        area_max: figures.area.most,
        lopsided: (figures.area.high / figures.area.low).abs().sqrt(),
        width_mm: width(0.5 * (u0 + u1)),
        height_mm: way_mm(wall, lay, (u0, middle_v), (u1, middle_v), STEPS_UP),
        widest_mm,
        seam_mm: seam_mm(wall, lay, piece),
    })
}

/// How far a ratio strays, and between what.
#[derive(Clone, Copy, Debug)]
struct Strays {
    most: f64,
    low: f64,
    high: f64,
}

impl Default for Strays {
    fn default() -> Self {
        Self { most: 1.0, low: f64::INFINITY, high: f64::NEG_INFINITY }
    }
}

impl Strays {
    fn add(&mut self, ratio: f64) {
        if (ratio - 1.0).abs() > (self.most - 1.0).abs() {
            self.most = ratio;
        }
        self.low = self.low.min(ratio);
        self.high = self.high.max(ratio);
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Gathered {
    count: u32,
    omega_max_rad: f64,
    omega_sum_rad: f64,
    width: Strays,
    height: Strays,
    area: Strays,
}

impl Gathered {
    fn add(&mut self, j: [[f64; 2]; 2]) -> Option<()> {
        let at = Distortion::of_jacobian(j);
        if !at.is_finite() {
            return None;
        }
        self.count = self.count.saturating_add(1);
        self.omega_max_rad = self.omega_max_rad.max(at.omega_rad);
        self.omega_sum_rad += at.omega_rad;
        self.height.add(j[0][0].hypot(j[1][0]));
        self.width.add(j[0][1].hypot(j[1][1]));
        self.area.add(at.area);
        Some(())
    }
}

/// The length on the wall, mm, of a straight flat line.
fn way_mm(wall: &Wall, lay: &Lay, from: (f64, f64), to: (f64, f64), steps: u32) -> f64 {
    let (du, dv) = (to.0 - from.0, to.1 - from.1);
    let rate = |t: f64| {
        let j = lay.jacobian(wall, from.0 + du * t, from.1 + dv * t);
        (j[0][0] * du + j[0][1] * dv).hypot(j[1][0] * du + j[1][1] * dv)
    };
    // The midpoint rule: a station under the line is a jump of the rate, which no better rule
    // likes.
    let step = 1.0 / f64::from(steps);
    (0..steps).map(|k| rate((f64::from(k) + 0.5) * step) * step).sum()
}

/// Whether a piece with this box, mm, goes all the way around where a turn is drawn as one of the
/// reference radius.
#[must_use]
pub fn goes_all_round(from: (f64, f64), to: (f64, f64), reference_radius_mm: f64) -> bool {
    to.1 - from.1 >= ALL_ROUND * TAU * reference_radius_mm
}

/// How far end and beginning of a piece that goes all the way around lie apart, where that is
/// worst; of one that is drawn narrower than a turn, how far it lies on itself, if it does.
fn seam_mm(wall: &Wall, lay: &Lay, piece: &Sampled<'_>) -> Option<f64> {
    let mut hint = 0;
    let gaps = (0..=LEVELS).map(|k| {
        let u = piece.from.0 + (piece.to.0 - piece.from.0) * f64::from(k) / f64::from(LEVELS);
        let one = lay.map(wall, u, piece.from.1, &mut hint);
        let other = lay.map(wall, u, piece.to.1, &mut hint);
        let around = (TAU - (other.turn_rad - one.turn_rad)) * one.section.radius_mm;
        let along = other.s_mm - one.s_mm;
        if along.abs() > CLOSES_MM { along.hypot(around) } else { around }
    });
    if goes_all_round(piece.from, piece.to, lay.setting().reference_radius_mm) {
        let worse = |worst: f64, gap: f64| if gap.abs() > worst.abs() { gap } else { worst };
        return Some(gaps.fold(0.0, worse));
    }
    gaps.reduce(f64::min).filter(|gap| *gap < -CLOSES_MM)
}

#[cfg(test)]
mod tests;
