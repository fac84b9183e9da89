//! Geodesics on a curved wall, integrated.

use super::{Arrival, Start};
use crate::Wall;

/// Error allowed to a step, over the radius at the start: some tens of steps then keep 1e-8 mm on a
/// bottle, a hundredth of the 1e-6 mm that is promised.
const STEP_ERROR: f64 = 2e-11;
/// The same for the Jacobi field, which only tells scales.
const JACOBI_ERROR: f64 = 3e-8;
/// Shortest step, over the radius at the start: across a jump of curvature at a station no step is
/// made shorter.
const SHORTEST_STEP: f64 = 1e-9;
/// After so many steps a geodesic is going round without end.
const MOST_STEPS: usize = 20_000;

/// A geodesic on a curved wall; `N` is 3, or 5 with the Jacobi field.
///
/// The state is `s`, `p = cos α`, the turn, `J`, `J′`. With Clairaut's `c = r sin α` the geodesic
/// equations are `s′ = p`, `p′ = c² r′/r³`, `θ′ = c/r²`, regular where the geodesic turns back.
#[derive(Debug, Clone)]
pub(crate) struct CurvedWalk<const N: usize> {
    state: [f64; N],
    rates: [f64; N],
    clairaut_mm: f64,
    scale_mm: f64,
    step_mm: f64,
    hint: usize,
    folded: bool,
}

impl<const N: usize> CurvedWalk<N> {
    pub(crate) fn new(wall: &Wall, start: Start) -> CurvedWalk<N> {
        let mut hint = 0;
        let radius_mm = wall.locate(start.s_mm, &mut hint).0.radius_mm;
        let mut state = [0.0; N];
        state[0] = start.s_mm;
        state[1] = start.heading.0;
        if N == 5 {
            state[4] = 1.0;
        }
        let clairaut_mm = radius_mm * start.heading.1;
        let mut walk = CurvedWalk {
            state,
            rates: [0.0; N],
            clairaut_mm,
            scale_mm: radius_mm,
            step_mm: 0.05 * radius_mm,
            hint,
            folded: false,
        };
        walk.rates = walk.rates_at(wall, &state);
        walk
    }

    pub(crate) fn advance(&mut self, wall: &Wall, distance_mm: f64) -> Arrival {
        let mut left = distance_mm;
        if !left.is_finite() {
            return Arrival::NOWHERE;
        }
        for _ in 0..MOST_STEPS {
            if left <= 0.0 {
                return self.arrival(wall);
            }
            let step = self.step_mm.min(left);
            let (state, rates, error) = self.step(wall, step);
            if error.is_nan() {
                return Arrival::NOWHERE;
            }
            // Fifth-order steps: the error of one goes with the sixth power, held back a little.
            #[allow(clippy::cast_possible_truncation, reason = "some digits will do")]
            let growth = 0.9 * f64::from((error as f32).powf(-0.2));
            let growth = if error > 0.0 { growth.clamp(0.2, 5.0) } else { 5.0 };
            if error <= 1.0 || step <= SHORTEST_STEP * self.scale_mm {
                self.state = state;
                self.rates = rates;
                left -= step;
                self.folded |= N == 5 && state[3] <= 0.0;
                // A last step cut short says nothing against the next one.
                self.step_mm = if step < self.step_mm {
                    self.step_mm.max(step * growth)
                } else {
                    step * growth
                };
            } else {
                self.step_mm = (step * growth).max(SHORTEST_STEP * self.scale_mm);
            }
        }
        Arrival::NOWHERE
    }

    fn arrival(&mut self, wall: &Wall) -> Arrival {
        let radius_mm = wall.locate(self.state[0], &mut self.hint).0.radius_mm;
        let (cos, sin) = (self.state[1], self.clairaut_mm / radius_mm);
        let length = cos.hypot(sin);
        Arrival {
            s_mm: self.state[0],
            turn_rad: self.state[2],
            heading: (cos / length, sin / length),
            jacobi_mm: if N == 5 { self.state[3] } else { f64::NAN },
            folded: self.folded,
        }
    }

    fn rates_at(&mut self, wall: &Wall, state: &[f64; N]) -> [f64; N] {
        let (r, slope) = wall.radius_and_slope(state[0], &mut self.hint);
        let turn_rate = self.clairaut_mm / (r * r);
        let mut rates = [0.0; N];
        rates[0] = state[1];
        rates[1] = turn_rate * self.clairaut_mm / r * slope;
        rates[2] = turn_rate;
        if N == 5 {
            rates[3] = state[4];
            rates[4] = wall.radius_bend(state[0], self.hint) / r * state[3];
        }
        rates
    }

    /// One step of the pair of J. R. Dormand and P. J. Prince, *A family of embedded Runge–Kutta
    /// formulae*, J. Comput. Appl. Math. 6 (1980) 19–26: the state, its rates, and the error over
    /// what is allowed.
    fn step(&mut self, wall: &Wall, h: f64) -> ([f64; N], [f64; N], f64) {
        let y = self.state;
        let k1 = self.rates;
        let k2 = self.rates_at(wall, &ahead(&y, h, &[(0.2, &k1)]));
        let k3 = self.rates_at(wall, &ahead(&y, h, &[(3.0 / 40.0, &k1), (9.0 / 40.0, &k2)]));
        let k4 = self.rates_at(
            wall,
            &ahead(&y, h, &[(44.0 / 45.0, &k1), (-56.0 / 15.0, &k2), (32.0 / 9.0, &k3)]),
        );
        let fifth = [
            (19372.0 / 6561.0, &k1),
            (-25360.0 / 2187.0, &k2),
            (64448.0 / 6561.0, &k3),
            (-212.0 / 729.0, &k4),
        ];
        let k5 = self.rates_at(wall, &ahead(&y, h, &fifth));
        let sixth = [
            (9017.0 / 3168.0, &k1),
            (-355.0 / 33.0, &k2),
            (46732.0 / 5247.0, &k3),
            (49.0 / 176.0, &k4),
            (-5103.0 / 18656.0, &k5),
        ];
        let k6 = self.rates_at(wall, &ahead(&y, h, &sixth));
        let last = [
            (35.0 / 384.0, &k1),
            (500.0 / 1113.0, &k3),
            (125.0 / 192.0, &k4),
            (-2187.0 / 6784.0, &k5),
            (11.0 / 84.0, &k6),
        ];
        let end = ahead(&y, h, &last);
        let k7 = self.rates_at(wall, &end);
        let mut worst = 0.0_f64;
        for i in 0..N {
            let error = h
                * (71.0 / 57600.0 * k1[i] - 71.0 / 16695.0 * k3[i] + 71.0 / 1920.0 * k4[i]
                    - 17253.0 / 339_200.0 * k5[i]
                    + 22.0 / 525.0 * k6[i]
                    - 1.0 / 40.0 * k7[i]);
            let allowed = match i {
                0 => STEP_ERROR * self.scale_mm,
                1 | 2 => STEP_ERROR,
                3 => JACOBI_ERROR * self.scale_mm,
                _ => JACOBI_ERROR,
            };
            let ratio = (error / allowed).abs();
            if ratio.is_nan() {
                return (end, k7, f64::NAN);
            }
            worst = worst.max(ratio);
        }
        (end, k7, worst)
    }
}

fn ahead<const N: usize>(y: &[f64; N], h: f64, terms: &[(f64, &[f64; N])]) -> [f64; N] {
    std::array::from_fn(|i| {
        y[i] + h * terms.iter().map(|(weight, rates)| weight * rates[i]).sum::<f64>()
    })
}
