//! Tabulating a curved outline: arc length by quadrature, then polynomials in arc length, halved
//! until they fit.

use crate::curve::ParametricPoint;
use crate::piece::{Interval, Piece, Polynomial, TERMS};
use crate::quadrature::Gauss;
use crate::{Section, WallError};

/// Largest error of place and radius in a piece, over the size of the wall: 1e-11 mm on a 100 mm
/// blank, a hundredth of what the design asks.
const PLACE_ERROR: f64 = 1e-13;
/// Largest error of the slope's sine and cosine where rounding allows it.
const SLOPE_ERROR: f64 = 1e-11;
/// A piece this short, over the size of the wall, is taken as it is: nothing on it is farther off
/// than its length.
const SHORTEST: f64 = 1e-12;
/// More pieces than this in one span mean a curve that is noise.
const MOST_PIECES: usize = 4096;
/// Points at which a piece is checked against the curve.
const CHECKS: usize = 2 * TERMS + 1;

/// The pieces of a wall so far, and their ends.
#[derive(Debug, Clone)]
pub(crate) struct Tabulated {
    pub(crate) pieces: Vec<Piece>,
    pub(crate) s_knots_mm: Vec<f64>,
    pub(crate) q_knots: Vec<f64>,
    pub(crate) at_knots_mm: Vec<f64>,
}

/// Tabulates outlines of a given size.
pub(crate) struct Fitter {
    gauss: Gauss,
    size_mm: f64,
    nodes: [f64; TERMS],
    to_powers: [[f64; TERMS]; TERMS],
}

/// A stretch of parameter with its arc length and conformal length.
struct Stretch<'a, F> {
    curve: &'a F,
    from: f64,
    to: f64,
    length_mm: f64,
    conformal: f64,
}

impl Fitter {
    /// `size_mm`: the greatest coordinate on the wall, against which errors are weighed.
    pub(crate) fn new(size_mm: f64) -> Fitter {
        let angle = |k: usize| std::f64::consts::PI * (k as f64 + 0.5) / TERMS as f64;
        let mut to_powers = [[0.0; TERMS]; TERMS];
        to_powers[0][0] = 1.0;
        to_powers[1][1] = 1.0;
        for j in 2..TERMS {
            // T_j = 2 t T_{j−1} − T_{j−2}.
            for i in 0..TERMS {
                let raised = if i > 0 { 2.0 * to_powers[j - 1][i - 1] } else { 0.0 };
                to_powers[j][i] = raised - to_powers[j - 2][i];
            }
        }
        Fitter {
            gauss: Gauss::new(),
            size_mm,
            nodes: std::array::from_fn(|k| angle(k).cos()),
            to_powers,
        }
    }

    /// Adds the pieces of one span of the outline.
    pub(crate) fn add_span<F: Fn(f64) -> ParametricPoint>(
        &self,
        curve: &F,
        range: (f64, f64),
        span: usize,
        table: &mut Tabulated,
    ) -> Result<(), WallError> {
        let before = table.pieces.len();
        let mut waiting = vec![range];
        while let Some((from, to)) = waiting.pop() {
            let start = (table.s_knots_mm.last().copied(), table.q_knots.last().copied());
            let start = (start.0.unwrap_or(0.0), start.1.unwrap_or(0.0));
            let stretch = self.stretch(curve, from, to)?;
            if let Some(piece) = self.piece(&stretch, span, start) {
                table.s_knots_mm.push(start.0 + stretch.length_mm);
                table.q_knots.push(start.1 + stretch.conformal);
                table.at_knots_mm.push(curve(to).at_mm);
                table.pieces.push(piece);
            } else {
                let middle = 0.5 * (from + to);
                let too_many = table.pieces.len() - before + waiting.len() >= MOST_PIECES;
                if too_many || middle <= from || middle >= to {
                    return Err(WallError::Unresolved { parameter: middle });
                }
                waiting.push((middle, to));
                waiting.push((from, middle));
            }
        }
        Ok(())
    }

    fn stretch<'a, F: Fn(f64) -> ParametricPoint>(
        &self,
        curve: &'a F,
        from: f64,
        to: f64,
    ) -> Result<Stretch<'a, F>, WallError> {
        for parameter in [from, 0.5 * (from + to), to] {
            check_point(&curve(parameter), parameter)?;
        }
        let (length_mm, conformal) = self.gauss.pair(from, to, |p| rates(&curve(p)));
        Ok(Stretch { curve, from, to, length_mm, conformal })
    }

    /// The piece over a stretch, or nothing if it does not fit well enough.
    fn piece<F: Fn(f64) -> ParametricPoint>(
        &self,
        stretch: &Stretch<'_, F>,
        span: usize,
        start: (f64, f64),
    ) -> Option<Piece> {
        let short = stretch.length_mm <= SHORTEST * self.size_mm;
        if !(short || self.quadrature_holds(stretch)) {
            return None;
        }
        let half = 0.5 * stretch.length_mm;
        let half_q = 0.5 * stretch.conformal;
        let by_length = self.nodes.map(|x| self.parameter_at(stretch, half * (1.0 + x)));
        let by_conformal =
            self.nodes.map(|x| self.parameter_at_conformal(stretch, half_q * (1.0 + x)));
        let sample = |f: &dyn Fn(f64) -> f64, at: &[f64; TERMS]| self.interpolate(at.map(f));
        let piece = Piece {
            span,
            s_mm: Interval::new(start.0, start.0 + stretch.length_mm),
            q: Interval::new(start.1, start.1 + stretch.conformal),
            at_mm: sample(&|p| (stretch.curve)(p).at_mm, &by_length),
            radius_mm: sample(&|p| (stretch.curve)(p).radius_mm, &by_length),
            q_of_s: sample(&|p| start.1 + self.measure(stretch, p).1, &by_length),
            s_of_q_mm: sample(&|p| self.measure(stretch, p).0 - half, &by_conformal),
        };
        (short || self.fits(stretch, &piece, start)).then_some(piece)
    }

    fn quadrature_holds<F: Fn(f64) -> ParametricPoint>(&self, stretch: &Stretch<'_, F>) -> bool {
        let middle = 0.5 * (stretch.from + stretch.to);
        let integrand = |p: f64| rates(&(stretch.curve)(p));
        let low = self.gauss.pair(stretch.from, middle, integrand);
        let high = self.gauss.pair(middle, stretch.to, integrand);
        // Relative for long pieces; for short ones rounding of the coordinates themselves is the
        // bound.
        (stretch.length_mm - low.0 - high.0).abs()
            <= 2e-14 * stretch.length_mm + 4e-16 * self.size_mm
            && (stretch.conformal - low.1 - high.1).abs() <= self.conformal_slack(stretch)
    }

    /// What rounding does to `∫ ds/r`: near a pole the last digit of a coordinate is worth many of
    /// the radius.
    fn conformal_slack<F: Fn(f64) -> ParametricPoint>(&self, stretch: &Stretch<'_, F>) -> f64 {
        let radius = |p: f64| (stretch.curve)(p).radius_mm;
        let narrowest = radius(stretch.from).min(radius(stretch.to));
        stretch.conformal * (2e-14 + 4e-15 * self.size_mm / narrowest) + 4e-16
    }

    /// Whether the piece follows the curve at points other than those it was made from.
    fn fits<F: Fn(f64) -> ParametricPoint>(
        &self,
        stretch: &Stretch<'_, F>,
        piece: &Piece,
        start: (f64, f64),
    ) -> bool {
        let place = PLACE_ERROR * self.size_mm;
        let slope = SLOPE_ERROR + place / stretch.length_mm;
        (0..CHECKS).all(|i| {
            // Even steps of the parameter: places that need no solving, and not the nodes.
            let share = i as f64 / (CHECKS - 1) as f64;
            let parameter = stretch.from + share * (stretch.to - stretch.from);
            let point = (stretch.curve)(parameter);
            let (along, conformal) = self.measure(stretch, parameter);
            let Section { at_mm, radius_mm, cos_slope, sin_slope } = piece.section(start.0 + along);
            let speed = point.speed();
            let slopes_fit = speed <= 0.0
                || ((cos_slope - point.at_rate / speed).abs() <= slope
                    && (sin_slope - point.radius_rate / speed).abs() <= slope);
            (at_mm - point.at_mm).abs() <= place
                && (radius_mm - point.radius_mm).abs() <= place
                && slopes_fit
                && (piece.q_of_s(start.0 + along) - start.1 - conformal).abs()
                    <= PLACE_ERROR * (1.0 + start.1 + stretch.conformal)
                        + self.conformal_slack(stretch)
                && (piece.s_of_q(start.1 + conformal) - start.0 - along).abs() <= place
        })
    }

    /// Arc length and conformal length from the start of a stretch to a parameter in it.
    fn measure<F: Fn(f64) -> ParametricPoint>(
        &self,
        stretch: &Stretch<'_, F>,
        parameter: f64,
    ) -> (f64, f64) {
        self.gauss.pair(stretch.from, parameter, |p| rates(&(stretch.curve)(p)))
    }

    fn parameter_at<F: Fn(f64) -> ParametricPoint>(
        &self,
        stretch: &Stretch<'_, F>,
        along_mm: f64,
    ) -> f64 {
        let rate = |p: f64| rates(&(stretch.curve)(p)).0;
        self.solve(stretch, along_mm, stretch.length_mm, |p| self.measure(stretch, p).0, rate)
    }

    fn parameter_at_conformal<F: Fn(f64) -> ParametricPoint>(
        &self,
        stretch: &Stretch<'_, F>,
        q: f64,
    ) -> f64 {
        let rate = |p: f64| rates(&(stretch.curve)(p)).1;
        self.solve(stretch, q, stretch.conformal, |p| self.measure(stretch, p).1, rate)
    }

    /// The parameter at which a measure that grows from 0 to `whole` reaches `target`: Newton in a
    /// bracket.
    fn solve<F>(
        &self,
        stretch: &Stretch<'_, F>,
        target: f64,
        whole: f64,
        measure: impl Fn(f64) -> f64,
        rate: impl Fn(f64) -> f64,
    ) -> f64 {
        let (mut low, mut high) = (stretch.from, stretch.to);
        if target <= 0.0 {
            return low;
        } else if target >= whole {
            return high;
        }
        let mut p = low + (high - low) * (target / whole);
        // Each round halves the bracket at the least, so 60 rounds exhaust the digits.
        for _ in 0..60 {
            let error = measure(p) - target;
            if error.abs() <= 2.0 * f64::EPSILON * whole {
                break;
            } else if error > 0.0 {
                high = p;
            } else {
                low = p;
            }
            let newton = p - error / rate(p);
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            if next == p {
                break;
            }
            p = next;
        }
        p
    }

    /// The polynomial through values at the Chebyshev nodes.
    fn interpolate(&self, values: [f64; TERMS]) -> Polynomial {
        let base = values[TERMS / 2];
        let mut powers = [0.0; TERMS];
        for j in 0..TERMS {
            let mut sum = 0.0;
            for (k, &value) in values.iter().enumerate() {
                // T_j at node k, from the angle and not from the node, to keep the digits.
                let angle = std::f64::consts::PI * (k as f64 + 0.5) / TERMS as f64;
                sum += (value - base) * (j as f64 * angle).cos();
            }
            let weight = if j == 0 { 1.0 } else { 2.0 };
            let coefficient = weight * sum / TERMS as f64;
            for (power, &of_chebyshev) in powers.iter_mut().zip(&self.to_powers[j]) {
                *power += coefficient * of_chebyshev;
            }
        }
        powers[0] += base;
        Polynomial(powers)
    }
}

/// `ds/dp` and `(1/r) ds/dp`.
fn rates(point: &ParametricPoint) -> (f64, f64) {
    let speed = point.speed();
    (speed, speed / point.radius_mm)
}

/// Whether a point of a curve can lie on a wall's outline.
pub(crate) fn check_point(point: &ParametricPoint, parameter: f64) -> Result<(), WallError> {
    let values = [point.at_mm, point.radius_mm, point.at_rate, point.radius_rate];
    let what = if values.iter().any(|value| !value.is_finite()) {
        "a value is not a finite number"
    } else if point.radius_mm <= 0.0 {
        "the radius is not above 0"
    } else if point.at_rate < -1e-12 * point.radius_rate.abs() {
        "it turns back along the axis"
    } else {
        return Ok(());
    };
    Err(WallError::NotAnOutline { parameter, what })
}
