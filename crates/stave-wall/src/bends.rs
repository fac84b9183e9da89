//! Bounds of what a wall does between two places of its meridian: how wide it is, how it slopes,
//! how it bends.
//!
//! A straight run needs none of this: its ends say all. A smooth wall is looked at once, in cells
//! of a quarter of a millimetre that end at its stations and at the joints of its pieces (where the
//! bend may jump), and the bounds of cells are joined two by two, four by four and so on, so that a
//! stretch of any length is covered by a few of them.
//!
//! Within a cell the meridian is one polynomial. It is looked at in [`LOOKS`] places a `d` apart; a
//! function whose second difference there is at most `Δ²` lies between the looks at most `Δ²/8`
//! beyond them (the error of a chord), and `Δ²` itself is taken, which leaves room for what the
//! third derivative does between three looks.

use crate::{Crest, Section, Wall, WallShape};

/// The size of the finest cells, mm.
const CELL_MM: f64 = 0.25;
/// More cells than this are not kept: on a longer wall each is longer.
const MOST_CELLS: f64 = 65_536.0;
/// Looks inside a cell, its ends included.
const LOOKS: usize = 5;
/// A stretch is covered by at most so many cells and one.
const COVER: f64 = 3.0;

/// Least and greatest.
pub type LeastMost = (f64, f64);

/// What holds of every place of a stretch of the meridian.
///
/// # Units
/// mm; along and height as [`Crest`] has them, rates per mm of meridian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// The radius `r`.
    pub radius_mm: LeastMost,
    /// `dr/ds = sin φ`.
    pub widening: LeastMost,
    /// `d²r/ds²`.
    pub bend_per_mm: LeastMost,
    /// `dX/ds = cos(φ + τ)`.
    pub along_rate: LeastMost,
    /// `d²X/ds² = −sin(φ + τ) dφ/ds`.
    pub along_bend_per_mm: LeastMost,
    /// `dH/ds = sin(φ + τ)`.
    pub height_rate: LeastMost,
    /// `d²H/ds² = cos(φ + τ) dφ/ds`.
    pub height_bend_per_mm: LeastMost,
}

const FIELDS: usize = 7;

impl Bounds {
    fn of(fields: [LeastMost; FIELDS]) -> Bounds {
        let [
            radius_mm,
            widening,
            bend_per_mm,
            along_rate,
            along_bend_per_mm,
            height_rate,
            height_bend_per_mm,
        ] = fields;
        Bounds {
            radius_mm,
            widening,
            bend_per_mm,
            along_rate,
            along_bend_per_mm,
            height_rate,
            height_bend_per_mm,
        }
    }

    fn join(&mut self, other: &Bounds) {
        let join = |a: &mut LeastMost, b: LeastMost| {
            a.0 = if b.0 < a.0 { b.0 } else { a.0 };
            a.1 = if b.1 > a.1 { b.1 } else { a.1 };
        };
        join(&mut self.radius_mm, other.radius_mm);
        join(&mut self.widening, other.widening);
        join(&mut self.bend_per_mm, other.bend_per_mm);
        join(&mut self.along_rate, other.along_rate);
        join(&mut self.along_bend_per_mm, other.along_bend_per_mm);
        join(&mut self.height_rate, other.height_rate);
        join(&mut self.height_bend_per_mm, other.height_bend_per_mm);
    }

    /// Of a stretch of one straight run of the wall, by its two ends.
    #[must_use]
    #[inline]
    pub fn of_run(crest: &Crest, from: &Section, to: &Section) -> Bounds {
        let (r0, r1) = (from.radius_mm, to.radius_mm);
        let one = |value: f64| (value, value);
        Bounds {
            radius_mm: if r0 < r1 { (r0, r1) } else { (r1, r0) },
            widening: one(from.sin_slope),
            bend_per_mm: (0.0, 0.0),
            along_rate: one(crest.along_rate(from)),
            along_bend_per_mm: (0.0, 0.0),
            height_rate: one(crest.height_rate(from)),
            height_bend_per_mm: (0.0, 0.0),
        }
    }
}

/// The bounds of a smooth wall's cells under one tilt.
///
/// ```
/// use stave_wall::{Bends, Crest, ParametricPoint, Wall};
/// // A ball of radius 40: r = 40 cos(s/40) from its equator, so r″ = −r/40².
/// let ball = |t: f64| ParametricPoint {
///     at_mm: 40.0 * t.sin(), radius_mm: 40.0 * t.cos(), at_rate: 40.0 * t.cos(), radius_rate: -40.0 * t.sin(),
/// };
/// let wall = Wall::parametric(&ball, 0.0, 1.0)?;
/// let bends = Bends::new(&wall, &Crest::new(0.0)).unwrap();
/// let bounds = bends.over(10.0, 12.0);
/// let exact = |s: f64| 40.0 * (s / 40.0).cos();
/// assert!(bounds.radius_mm.0 <= exact(12.0) && bounds.radius_mm.1 >= exact(10.0));
/// assert!(bounds.radius_mm.1 - bounds.radius_mm.0 < 2.0 * (exact(10.0) - exact(12.0)));
/// assert!(bounds.bend_per_mm.0 <= -exact(10.0) / 1600.0 && bounds.bend_per_mm.1 >= -exact(12.0) / 1600.0);
/// # Ok::<(), stave_wall::WallError>(())
/// ```
#[derive(Debug, Clone)]
pub struct Bends {
    /// Cells of one, two, four … finest cells.
    levels: Vec<Vec<Bounds>>,
    per_cell: f64,
    cell_mm: f64,
}

impl Bends {
    /// Looks at a smooth wall under a tilt; `None` for a straight one, which needs no table.
    #[must_use]
    pub fn new(wall: &Wall, crest: &Crest) -> Option<Bends> {
        if wall.shape() == WallShape::Straight {
            return None;
        }
        let length_mm = wall.length_mm();
        let count = (length_mm / CELL_MM).ceil().clamp(1.0, MOST_CELLS);
        let cell_mm = length_mm / count;
        let mut finest = Vec::new();
        let mut joints = wall.joints_mm().iter().copied().peekable();
        let mut cell = 0.0;
        while cell < count {
            let (low, high) = (cell * cell_mm, (cell + 1.0) * cell_mm);
            while joints.next_if(|joint| *joint <= low).is_some() {}
            let mut from = low;
            let mut bounds: Option<Bounds> = None;
            loop {
                let to = joints.next_if(|joint| *joint < high).unwrap_or(high);
                let part = looked_at(wall, crest, from, to);
                match &mut bounds {
                    Some(bounds) => bounds.join(&part),
                    None => bounds = Some(part),
                }
                from = to;
                if to >= high {
                    break;
                }
            }
            finest.extend(bounds);
            cell += 1.0;
        }
        let mut levels = vec![finest];
        while let Some(level) = levels.last()
            && level.len() > 1
        {
            let joined = level.chunks(2).filter_map(|pair| {
                let mut bounds = *pair.first()?;
                pair[1..].iter().for_each(|other| bounds.join(other));
                Some(bounds)
            });
            levels.push(joined.collect());
        }
        Some(Bends { levels, per_cell: 1.0 / cell_mm, cell_mm })
    }

    /// What holds between two places, in either order, both on the wall.
    #[must_use]
    pub fn over(&self, s0_mm: f64, s1_mm: f64) -> Bounds {
        let (low, high) = if s0_mm < s1_mm { (s0_mm, s1_mm) } else { (s1_mm, s0_mm) };
        let (mut cells, mut per_cell) = (&self.levels[0], self.per_cell);
        let mut reach_mm = COVER * self.cell_mm;
        for level in &self.levels[1..] {
            if high - low <= reach_mm {
                break;
            }
            (cells, per_cell, reach_mm) = (level, 0.5 * per_cell, 2.0 * reach_mm);
        }
        let last = cells.len() - 1;
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "the cast saturates, and the cell is held within the wall"
        )]
        let cell = |s_mm: f64| ((s_mm * per_cell).max(0.0) as usize).min(last);
        let (first, end) = (cell(low), cell(high));
        let mut bounds = cells[first];
        for other in &cells[first + 1..=end.max(first)] {
            bounds.join(other);
        }
        bounds
    }
}

/// The bounds between two places of one polynomial.
fn looked_at(wall: &Wall, crest: &Crest, from: f64, to: f64) -> Bounds {
    let look = |k: usize| {
        // A hair inside, so that a jump at either end belongs to the neighbour alone.
        let share = 1e-9 + (1.0 - 2e-9) * k as f64 / (LOOKS - 1) as f64;
        let s_mm = from + (to - from) * share;
        let mut hint = 0;
        let section = wall.section(s_mm, &mut hint);
        let bend = wall.radius_bend(s_mm, hint);
        let turning = bend / section.cos_slope;
        let (along, height) = (crest.along_rate(&section), crest.height_rate(&section));
        [
            section.radius_mm,
            section.sin_slope,
            bend,
            along,
            -height * turning,
            height,
            along * turning,
        ]
    };
    let looks: [[f64; FIELDS]; LOOKS] = std::array::from_fn(look);
    let mut fields = [(0.0, 0.0); FIELDS];
    for (index, field) in fields.iter_mut().enumerate() {
        let at = |k: usize| looks[k][index];
        let (mut least, mut most) = (at(0), at(0));
        let mut second = 0.0_f64;
        for k in 0..LOOKS {
            // What is not a number bounds nothing, and must not be passed over.
            if !at(k).is_finite() {
                (least, most) = (f64::NEG_INFINITY, f64::INFINITY);
                break;
            }
            (least, most) = (least.min(at(k)), most.max(at(k)));
            if k >= 2 {
                second = second.max((at(k) - 2.0 * at(k - 1) + at(k - 2)).abs());
            }
        }
        *field = (least - second, most + second);
    }
    Bounds::of(fields)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Station;
    use proptest::prelude::*;

    impl Bounds {
        fn fields(&self) -> [LeastMost; FIELDS] {
            [
                self.radius_mm,
                self.widening,
                self.bend_per_mm,
                self.along_rate,
                self.along_bend_per_mm,
                self.height_rate,
                self.height_bend_per_mm,
            ]
        }
    }

    /// On a ball all that is bounded is known in closed form, so how close the bounds are can be
    /// told: no wider than what holds a cell farther on either side, and no cell is longer than two
    /// thirds of the stretch.
    #[test]
    fn bounds_are_close() {
        const BALL_MM: f64 = 40.0;
        let ball = |t: f64| crate::ParametricPoint {
            at_mm: BALL_MM * t.sin(),
            radius_mm: BALL_MM * t.cos(),
            at_rate: BALL_MM * t.cos(),
            radius_rate: -BALL_MM * t.sin(),
        };
        let wall = Wall::parametric(&ball, -1.1, 1.1).unwrap();
        let bends = Bends::new(&wall, &Crest::new(0.2)).unwrap();
        // The equator lies within a piece of the wall's table, at none of its ends.
        assert!((wall.largest_radius_mm() - BALL_MM).abs() < 1e-9);
        for low in [0.0, 3.3, 20.0, 44.0, 61.7, 80.0] {
            for way in [0.0, 0.1, 0.7, 2.0, 7.5] {
                let (low, high): (f64, f64) = (low, low + way);
                let more = (way * 2.0 / 3.0).max(0.26);
                let (from, to) = ((low - more).max(0.0), (high + more).min(wall.length_mm()));
                let within = |of: fn(f64, f64) -> f64| {
                    let at = |k: u32| from + (to - from) * f64::from(k) / 400.0;
                    let all = (0..=400).map(|k| of(at(k) / BALL_MM - 1.1, 0.2));
                    all.fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)))
                };
                // With `t` the angle from the equator: φ = −t, so dφ/ds = −1/40.
                let known = [
                    within(|t, _| BALL_MM * t.cos()),
                    within(|t, _| -t.sin()),
                    within(|t, _| -t.cos() / BALL_MM),
                    within(|t, tilt| (tilt - t).cos()),
                    within(|t, tilt| (tilt - t).sin() / BALL_MM),
                    within(|t, tilt| (tilt - t).sin()),
                    within(|t, tilt| -(tilt - t).cos() / BALL_MM),
                ];
                let found = bends.over(high, low).fields();
                for (index, (found, known)) in found.iter().zip(known).enumerate() {
                    let slack = 5e-3 * known.0.abs().max(known.1.abs()).max(0.01);
                    assert!(
                        found.0 >= known.0 - slack && found.1 <= known.1 + slack,
                        "{index} from {low} to {high}: {found:?}, not {known:?}"
                    );
                }
            }
        }
    }

    proptest! {
        #[test]
        fn every_place_of_a_stretch_lies_within_its_bounds(
            steps in proptest::collection::vec((1.5..30.0_f64, -1.7..1.7_f64), 1..6),
            first in 20.0..50.0_f64, tilt in -0.3..0.3_f64,
            ends in (0.0..1.0_f64, 0.0..1.0_f64), share in 0.0..1.0_f64,
        ) {
            let mut stations = vec![Station { at_mm: 0.0, radius_mm: first }];
            for (width, slope) in steps {
                let before = stations[stations.len() - 1];
                let radius_mm = (before.radius_mm + slope * width).clamp(8.0, 90.0);
                stations.push(Station { at_mm: before.at_mm + width, radius_mm });
            }
            let wall = Wall::from_stations(&stations, WallShape::Smooth).unwrap();
            let crest = Crest::new(tilt);
            let bends = Bends::new(&wall, &crest).unwrap();
            let (s0, s1) = (ends.0 * wall.length_mm(), ends.1 * wall.length_mm());
            let s = s0 + (s1 - s0) * share;
            let bounds = bends.over(s0, s1);
            let (mut hint, slack) = (0, 1e-9);
            let section = wall.section(s, &mut hint);
            let bend = wall.radius_bend(s, hint);
            let turning = bend / section.cos_slope;
            let (along, height) = (crest.along_rate(&section), crest.height_rate(&section));
            let values = [
                section.radius_mm, section.sin_slope, bend,
                along, -height * turning, height, along * turning,
            ];
            for (index, (value, (least, most))) in values.iter().zip(bounds.fields()).enumerate() {
                prop_assert!(
                    *value >= least - slack && *value <= most + slack,
                    "{index}: {value} not in {least}..{most} at {s}"
                );
            }
        }
    }
}
