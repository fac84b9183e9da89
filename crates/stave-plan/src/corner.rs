//! How fast a corner may be taken.
//!
//! # Derivation
//!
//! Two straight moves meet at an inside angle `β` (`π` for no corner at all). An arc of radius `ρ`
//! that touches both has its centre on the bisector, at the distance `ρ / sin(β/2)` from the
//! corner; the arc's nearest point is `ρ` closer. That distance from corner to arc is its sagitta
//!
//! ```text
//! δ = ρ / sin(β/2) − ρ     so     ρ = δ · sin(β/2) / (1 − sin(β/2))
//! ```
//!
//! and a point that runs round the arc at speed `v` is accelerated towards the centre by `v²/ρ`.
//! Letting the machine cut the corner by `δ` with the centripetal acceleration `a` therefore allows
//!
//! ```text
//! v² = a · δ · sin(β/2) / (1 − sin(β/2))
//! ```
//!
//! The acceleration points along the bisector, which is the direction `n` of `t_out − t_in`, `t`
//! being the unit directions of the two moves. Axis `i` gives the share `a·|n_i|` of it, so `a =
//! min_i a_i/|n_i|`. The units are those of the axes, mm and rotary units alike, as for
//! `corner_tolerance`.
//!
//! # As it is computed
//!
//! `1 − sin(β/2)` cancels where the corner is slight, which is everywhere on a curve. With `d =
//! t_out − t_in` and `c = cos(β/2) = |d|/2`, `s = sin(β/2) = √(1 − c²)`:
//!
//! ```text
//! 1 − s = c² / (1 + s),   a = |d| · min_i a_i/|d_i| = 2c / M  with  M = max_i |d_i|/a_i
//! v² = 2 δ s (1 + s) / (c M)
//! ```
//!
//! Moves whose directions differ by less than [`COLLINEAR_RAD`] are one straight line: no limit.
//! Where `s` is below 1e-7 it is a reversal: a stop.
//!
//! # A circle written as chords
//!
//! A circle of radius `r` in `N` chords turns by `α = 2π/N` at every vertex, so `β = π − α` and
//! `sin(β/2) = cos(α/2)`. Each chord's own sagitta is `k = r (1 − cos(α/2))`. Put into the rule:
//!
//! ```text
//! v² = a δ cos(α/2) / (1 − cos(α/2)) = a r (δ/k) cos(α/2)  →  a r δ/k
//! ```
//!
//! So the rule is the centripetal `v² = a r` only where the chords were cut with a sagitta equal to
//! the corner tolerance. Finer chords are taken faster, by `√(δ/k)`: the vertices are so blunt that
//! the arc of sagitta `δ` inscribed in one of them is larger than the circle itself. Coarser chords
//! are taken slower. The same holds along any curve, with `r` its radius of curvature in axis units
//! there.
//!
//! # Curves as curves
//!
//! A controller that bounds each axis cannot run round finer chords faster than round the curve. So
//! where the path turns by less than 60°, the speed is held also to `v² ≤ a R`, `R` being the
//! radius of the circle through three successive points, `a` as at the corner. Points on a straight
//! line count as one move, however it is split, so the three are the ends of two runs of collinear
//! moves, of the lengths `p` and `q`. With `φ` the turn, `|d| = 2 sin(φ/2)`:
//!
//! ```text
//! R = √(p² + q² + 2 p q cos φ) / (2 sin φ),   a = |d| / M
//! v² ≤ a R = √(p² + q² + 2 p q cos φ) / (2 M cos(φ/2))
//! ```
//!
//! It grows with `q`, so a run is waited for only while the bend still binds.

/// Directions that differ by less than this, radians, are the same direction. Pieces of a straight
/// line of `f64` coordinates up to a metre, 0.1 µm long or longer, differ by less.
pub const COLLINEAR_RAD: f64 = 1e-9;

/// `s²` below which a corner is a reversal: the rounding of `1 − c²`.
const REVERSAL: f64 = 1e-14;

/// Turns of less than this, a sixth of a turn, are taken for a curve: the square of the difference
/// of the two directions.
const CURVE_ACROSS: f64 = 1.0;

/// A bend of a curve: two runs of collinear moves, and how the path turns between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bend {
    /// The length of the run before it.
    before: f64,
    /// The cosine of the turn.
    cosine: f64,
    /// `cos²` of half the turn.
    half_squared: f64,
    /// `max |d_i|/a_i` of the difference of the directions.
    slowest: f64,
    /// The square of the speed that the corner and both moves allow.
    pub(super) bound: f64,
}

/// How the path turns from one direction to another.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turn {
    /// `|d|²` of the difference of the directions.
    across: f64,
    /// `max |d_i|/a_i` of it.
    slowest: f64,
}

impl Turn {
    #[inline]
    pub(super) fn between<const N: usize>(
        before: &[f64; N],
        after: &[f64; N],
        inverse_acceleration: &[f64; N],
    ) -> Self {
        let mut across = 0.0;
        let mut slowest = 0.0_f64;
        for axis in 0..N {
            let difference = after[axis] - before[axis];
            across += difference * difference;
            let needed = difference.abs() * inverse_acceleration[axis];
            slowest = if needed > slowest { needed } else { slowest };
        }
        Self { across, slowest }
    }
}

impl Bend {
    /// The bend at a turn; `None` where the path turns too far to be one of a curve.
    #[inline]
    pub(super) fn of(turn: Turn, before: f64, bound: f64) -> Option<Self> {
        let Turn { across, slowest } = turn;
        (across < CURVE_ACROSS).then_some(Self {
            before,
            cosine: 1.0 - 0.5 * across,
            half_squared: 1.0 - 0.25 * across,
            slowest,
            bound,
        })
    }

    /// The square of `2 M √(1 − |d|²/4)` times the speed squared that it allows where the run after
    /// it has this length: the chord of both.
    #[inline]
    fn chord_squared(&self, after: f64) -> f64 {
        self.before * self.before + after * after + 2.0 * self.before * after * self.cosine
    }

    /// Whether it holds the speed below what the corner allows.
    #[inline]
    pub(super) fn binds(&self, after: f64) -> bool {
        let needed = 2.0 * self.bound * self.slowest;
        self.chord_squared(after) < needed * needed * self.half_squared
    }

    /// The square of the speed that it allows, at most what the corner does.
    pub(super) fn squared(&self, after: f64) -> f64 {
        let free = 2.0 * self.slowest * self.half_squared.sqrt();
        (self.chord_squared(after).sqrt() / free).min(self.bound)
    }
}

/// What a corner allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Corner {
    /// The square of the speed, at most the bound given.
    pub(super) squared: f64,
    /// There is no corner.
    pub(super) straight_on: bool,
}

/// The square of the corner speed, axis units squared per second squared, but at most `bound`.
///
/// Most corners of a curve do not bind, and then the roots and the division are not needed: as `s ≤
/// 1`, the speed is at least what the rule gives with `s²` in the place of `s`, and that can be
/// compared with the bound in squares.
#[inline]
pub(super) fn bounded(turn: Turn, tolerance: f64, bound: f64) -> Corner {
    let Turn { across, slowest } = turn;
    if across <= COLLINEAR_RAD * COLLINEAR_RAD {
        return Corner { squared: bound, straight_on: true };
    }
    // s² + c² = 1.
    let sine_squared = 1.0 - 0.25 * across;
    let least = 4.0 * tolerance * sine_squared * (1.0 + sine_squared);
    let needed = bound * slowest;
    if least * least >= needed * needed * across {
        return Corner { squared: bound, straight_on: false };
    }
    if sine_squared <= REVERSAL {
        return Corner { squared: 0.0, straight_on: false };
    }
    let sine = sine_squared.sqrt();
    // 2 δ s (1+s) / (c M), with c = |d|/2.
    let squared = 4.0 * tolerance * sine * (1.0 + sine) / (across.sqrt() * slowest);
    Corner { squared: if squared < bound { squared } else { bound }, straight_on: false }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounded<const N: usize>(
        before: &[f64; N],
        after: &[f64; N],
        inverse_acceleration: &[f64; N],
        tolerance: f64,
        bound: f64,
    ) -> Corner {
        super::bounded(Turn::between(before, after, inverse_acceleration), tolerance, bound)
    }

    /// The rule as DESIGN states it, by way of the angle.
    fn by_angle(before: [f64; 2], after: [f64; 2], a: [f64; 2], delta: f64) -> f64 {
        let cosine = -(before[0] * after[0] + before[1] * after[1]);
        let half = 0.5 * cosine.clamp(-1.0, 1.0).acos();
        let d = [after[0] - before[0], after[1] - before[1]];
        let size = d[0].hypot(d[1]);
        let acceleration = (a[0] * size / d[0].abs()).min(a[1] * size / d[1].abs());
        acceleration * delta * half.sin() / (1.0 - half.sin())
    }

    #[test]
    fn agrees_with_the_rule_by_angle() {
        for degrees in 1..179 {
            let turn = f64::from(degrees).to_radians();
            let (before, after) = ([0.6, 0.8], {
                let (s, c) = turn.sin_cos();
                [0.6 * c - 0.8 * s, 0.6 * s + 0.8 * c]
            });
            let a = [500.0, 3000.0];
            let rule = bounded(&before, &after, &[1.0 / a[0], 1.0 / a[1]], 0.02, 1e9).squared;
            let expected = by_angle(before, after, a, 0.02);
            assert!((rule - expected).abs() < 1e-9 * expected, "{degrees}: {rule} {expected}");
        }
    }

    #[test]
    fn a_right_angle_by_hand() {
        // β = 90°, s = 1/√2, s/(1−s) = 1 + √2; n = (−1, 1)/√2, a = 1000 √2.
        let v2 = bounded(&[1.0, 0.0], &[0.0, 1.0], &[1e-3, 1e-3], 0.02, 1e9).squared;
        let expected = 1000.0 * 2.0_f64.sqrt() * 0.02 * (1.0 + 2.0_f64.sqrt());
        assert!((v2 - expected).abs() < 1e-9);
    }

    #[test]
    fn the_bound_is_kept_and_the_short_way_agrees() {
        for step in 1..2000 {
            let (sine, cosine) = (f64::from(step) * 1.5e-3).sin_cos();
            let corner = |bound: f64| {
                bounded(&[1.0, 0.0], &[cosine, sine], &[1e-3, 2e-3], 0.02, bound).squared
            };
            let free = corner(1e18);
            for bound in [1.0, 30.0, 1e3, 1e5] {
                assert!((corner(bound) - free.min(bound)).abs() <= 1e-12 * bound);
            }
        }
    }

    /// A bend binds where the speed that it allows is less than the corner's, and only there; and
    /// that speed is `a R`, `R` the circle's through three points of it.
    #[test]
    fn a_bend_binds_where_its_circle_is_slower() {
        for (chord, radius) in [(0.5_f64, 2.0_f64), (1.0, 3.0), (2.0, 4.0)] {
            let turn = 2.0 * (0.5 * chord / radius).asin();
            let (sine, cosine) = turn.sin_cos();
            let ends = (&[1.0, 0.0], &[cosine, sine]);
            // `n` lies half a turn off Y, so the acceleration is Y's over its cosine.
            let allowed = 1000.0 / (0.5 * turn).cos() * radius;
            for share in [0.5, 0.95, 0.999, 1.001, 1.05, 2.0] {
                let bound = allowed * share;
                let turn = Turn::between(ends.0, ends.1, &[1e-3, 1e-3]);
                let bend = Bend::of(turn, chord, bound).unwrap();
                assert_eq!(bend.binds(chord), share > 1.0, "{chord} {radius} {share}");
                let squared = bend.squared(chord);
                assert!((squared - allowed.min(bound)).abs() < 1e-9 * allowed, "{squared}");
            }
        }
    }

    #[test]
    fn straight_on_is_free_and_back_is_a_stop() {
        let corner =
            |before, after, tolerance| bounded(&before, &after, &[1.0, 1.0], tolerance, 9.0);
        assert_eq!(corner([1.0, 0.0], [1.0, 0.0], 0.0), Corner { squared: 9.0, straight_on: true });
        assert_eq!(corner([1.0, 0.0], [-1.0, 0.0], 0.02).squared, 0.0);
        assert_eq!(corner([1.0, 0.0], [0.6, 0.8], 0.0).squared, 0.0);
    }
}
