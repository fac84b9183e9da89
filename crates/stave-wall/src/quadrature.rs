//! Gauss–Legendre quadrature.

/// Points per interval: exact for polynomials of degree 31.
const POINTS: usize = 16;

/// The 16-point Gauss–Legendre rule on −1..1.
#[derive(Debug, Clone)]
pub(crate) struct Gauss {
    nodes: [(f64, f64); POINTS],
}

impl Gauss {
    /// Finds the roots of the Legendre polynomial by Newton's method from Tricomi's estimate (Press
    /// et al., *Numerical Recipes*, 3rd ed., 4.6.1); four rounds square the error past `f64`.
    pub(crate) fn new() -> Gauss {
        let n = POINTS as f64;
        let nodes = std::array::from_fn(|i| {
            let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..6 {
                let (mut before, mut here) = (1.0, x);
                for k in 2..=POINTS {
                    let k = k as f64;
                    (before, here) = (here, ((2.0 * k - 1.0) * x * here - (k - 1.0) * before) / k);
                }
                slope = n * (x * here - before) / (x * x - 1.0);
                x -= here / slope;
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        });
        Gauss { nodes }
    }

    /// The integrals over `from..to` of the two values that `f` gives.
    pub(crate) fn pair(&self, from: f64, to: f64, f: impl Fn(f64) -> (f64, f64)) -> (f64, f64) {
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        let mut sum = (0.0, 0.0);
        for &(x, weight) in &self.nodes {
            let value = f(middle + half * x);
            sum.0 += weight * value.0;
            sum.1 += weight * value.1;
        }
        (sum.0 * half, sum.1 * half)
    }
}

#[cfg(test)]
mod tests {
    use super::Gauss;

    #[test]
    fn integrates_what_has_a_closed_form() {
        let gauss = Gauss::new();
        let (exponential, power) = gauss.pair(0.0, 2.0, |x| (x.exp(), x.powi(31)));
        assert!((exponential - (2.0_f64.exp() - 1.0)).abs() < 1e-14);
        assert!((power / (2.0_f64.powi(32) / 32.0) - 1.0).abs() < 1e-13);
    }
}
