//! The wall once more: stations to an outline, in plain f64, by quadrature and bisection.

/// Nodes and weights of the five-point Gauss-Legendre rule on -1..1 (Abramowitz and Stegun, table
/// 25.4).
const GAUSS: [(f64, f64); 5] = [
    (0.0, 0.568_888_888_888_888_9),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
    (-0.906_179_845_938_664, 0.236_926_885_056_189_08),
    (0.906_179_845_938_664, 0.236_926_885_056_189_08),
];

/// Pieces per span, for the running sums of a smooth wall.
const PIECES: usize = 48;

#[derive(Debug)]
pub struct Meridian {
    z: Vec<f64>,
    r: Vec<f64>,
    /// dr/dz at both ends of each span.
    slopes: Vec<(f64, f64)>,
    pub straight: bool,
    /// Running sums at every node: z, s and the integral of ds/r.
    nodes: Vec<(f64, f64, f64)>,
}

/// A point of the outline.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    pub z: f64,
    pub r: f64,
    /// dr/dz.
    pub slope: f64,
}

impl Meridian {
    /// `stations`: distance along the axis and radius, mm.
    pub fn new(stations: &[(f64, f64)], straight: bool) -> Self {
        let (z, r): (Vec<f64>, Vec<f64>) = stations.iter().copied().unzip();
        let slopes = if straight { secant_slopes(&z, &r) } else { fritsch_carlson(&z, &r) };
        let mut wall = Self { z, r, slopes, straight, nodes: Vec::new() };
        let pieces = if straight { 1 } else { PIECES };
        let (mut s, mut q) = (0.0, 0.0);
        wall.nodes.push((wall.z[0], s, q));
        for span in 0..wall.z.len() - 1 {
            for piece in 0..pieces {
                let at = |k: usize| {
                    wall.z[span] + (wall.z[span + 1] - wall.z[span]) * k as f64 / pieces as f64
                };
                let (a, b) =
                    (at(piece), if piece + 1 == pieces { wall.z[span + 1] } else { at(piece + 1) });
                let (ds, dq) = wall.sums(span, a, b);
                s += ds;
                q += dq;
                wall.nodes.push((b, s, q));
            }
        }
        wall
    }

    /// `s` of every station.
    pub fn station_s(&self) -> Vec<f64> {
        self.nodes.iter().step_by(if self.straight { 1 } else { PIECES }).map(|n| n.1).collect()
    }

    pub fn length(&self) -> f64 {
        self.nodes[self.nodes.len() - 1].1
    }

    pub fn largest_radius(&self) -> f64 {
        self.r.iter().copied().fold(0.0, f64::max)
    }

    fn ends(&self) -> (f64, f64) {
        (self.z[0], self.z[self.z.len() - 1])
    }

    fn span_of_z(&self, z: f64) -> usize {
        self.z.partition_point(|k| *k <= z).clamp(1, self.z.len() - 1) - 1
    }

    fn outline(&self, span: usize, z: f64) -> Section {
        let (z0, z1) = (self.z[span], self.z[span + 1]);
        let (r0, r1) = (self.r[span], self.r[span + 1]);
        let (m0, m1) = self.slopes[span];
        let h = z1 - z0;
        if self.straight {
            return Section { z, r: r0 + m0 * (z - z0), slope: m0 };
        }
        let t = (z - z0) / h;
        let r = r0 * (1.0 + 2.0 * t) * (1.0 - t).powi(2)
            + r1 * t * t * (3.0 - 2.0 * t)
            + h * m0 * t * (1.0 - t).powi(2)
            + h * m1 * t * t * (t - 1.0);
        let slope = (r1 - r0) / h * 6.0 * t * (1.0 - t)
            + m0 * (1.0 - t) * (1.0 - 3.0 * t)
            + m1 * t * (3.0 * t - 2.0);
        Section { z, r, slope }
    }

    /// The wall at `z`; past its ends a cylinder.
    pub fn at_z(&self, z: f64) -> Section {
        let (low, high) = self.ends();
        if z < low {
            return Section { z, r: self.r[0], slope: 0.0 };
        }
        if z > high {
            return Section { z, r: self.r[self.r.len() - 1], slope: 0.0 };
        }
        self.outline(self.span_of_z(z), z)
    }

    /// Length and integral of ds/r between two places of one span.
    fn sums(&self, span: usize, a: f64, b: f64) -> (f64, f64) {
        if self.straight {
            let (ra, rb) = (self.outline(span, a).r, self.outline(span, b).r);
            let length = (b - a).hypot(rb - ra);
            // ∫ds/r on a cone is (length/Δr) ln(rb/ra); ln_1p keeps it exact as Δr goes to nothing.
            let x = (rb - ra) / ra;
            let mean = if x.abs() < 1e-12 { 1.0 } else { x.ln_1p() / x };
            return (length, length / ra * mean);
        }
        let (half, middle) = ((b - a) / 2.0, f64::midpoint(a, b));
        GAUSS.iter().fold((0.0, 0.0), |(s, q), (node, weight)| {
            let p = self.outline(span, middle + half * node);
            let ds = weight * half * p.slope.hypot(1.0);
            (s + ds, q + ds / p.r)
        })
    }

    fn sums_to(&self, z: f64) -> (f64, f64) {
        let (low, high) = self.ends();
        let node = if z < low {
            return (z - low, (z - low) / self.r[0]);
        } else if z > high {
            let last = self.nodes[self.nodes.len() - 1];
            return (last.1 + z - high, last.2 + (z - high) / self.r[self.r.len() - 1]);
        } else {
            self.nodes[self.nodes.partition_point(|n| n.0 <= z).max(1) - 1]
        };
        let (ds, dq) = self.sums(self.span_of_z(node.0.midpoint(z)), node.0, z);
        (node.1 + ds, node.2 + dq)
    }

    pub fn s_of_z(&self, z: f64) -> f64 {
        self.sums_to(z).0
    }

    /// The integral of ds/r from the first station.
    pub fn q_of_s(&self, s: f64) -> f64 {
        self.sums_to(self.at_s(s).z).1
    }

    /// The wall at `s`.
    pub fn at_s(&self, s: f64) -> Section {
        let value = |n: &(f64, f64, f64)| n.1;
        self.at_z(self.inverse(s, value, |z| self.sums_to(z).0, |p| p.slope.hypot(1.0), 1.0, 1.0))
    }

    pub fn s_of_q(&self, q: f64) -> f64 {
        let (r0, r1) = (self.r[0], self.r[self.r.len() - 1]);
        let z =
            self.inverse(q, |n| n.2, |z| self.sums_to(z).1, |p| p.slope.hypot(1.0) / p.r, r0, r1);
        self.s_of_z(z)
    }

    /// The `z` at which a growing sum reaches `target`: found among the nodes, then by Newton's
    /// rule with its bracket kept.
    fn inverse(
        &self,
        target: f64,
        of_node: impl Fn(&(f64, f64, f64)) -> f64,
        sum: impl Fn(f64) -> f64,
        rate: impl Fn(Section) -> f64,
        before: f64,
        after: f64,
    ) -> f64 {
        let (low, high) = self.ends();
        let total = of_node(&self.nodes[self.nodes.len() - 1]);
        if target <= 0.0 {
            return low + target * before;
        }
        if target >= total {
            return high + (target - total) * after;
        }
        let k = self.nodes.partition_point(|n| of_node(n) <= target).clamp(1, self.nodes.len() - 1);
        let (mut a, mut b) = (self.nodes[k - 1].0, self.nodes[k].0);
        let (va, vb) = (of_node(&self.nodes[k - 1]), of_node(&self.nodes[k]));
        let mut z = a + (b - a) * (target - va) / (vb - va);
        for _ in 0..60 {
            let miss = sum(z) - target;
            if miss > 0.0 {
                b = z;
            } else {
                a = z;
            }
            let step = miss / rate(self.at_z(z));
            let next = z - step;
            z = if next >= a && next <= b { next } else { f64::midpoint(a, b) };
            if step.abs() < 1e-13 * (1.0 + z.abs()) {
                break;
            }
        }
        z
    }
}

fn secant_slopes(z: &[f64], r: &[f64]) -> Vec<(f64, f64)> {
    (1..z.len())
        .map(|i| {
            let m = (r[i] - r[i - 1]) / (z[i] - z[i - 1]);
            (m, m)
        })
        .collect()
}

/// Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246: slopes that keep a cubic monotone
/// where the data are.
fn fritsch_carlson(z: &[f64], r: &[f64]) -> Vec<(f64, f64)> {
    let n = z.len();
    let h: Vec<f64> = (1..n).map(|i| z[i] - z[i - 1]).collect();
    let d: Vec<f64> = (1..n).map(|i| (r[i] - r[i - 1]) / h[i - 1]).collect();
    if n == 2 {
        return vec![(d[0], d[0])];
    }
    let mut m = vec![0.0; n];
    for i in 1..n - 1 {
        if d[i - 1] * d[i] > 0.0 {
            m[i] = (h[i] * d[i - 1] + h[i - 1] * d[i]) / (h[i] + h[i - 1]);
        }
    }
    let end = |d0: f64, d1: f64, h0: f64, h1: f64| {
        let m = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
        if m * d0 > 0.0 { m } else { 0.0 }
    };
    m[0] = end(d[0], d[1], h[0], h[1]);
    m[n - 1] = end(d[n - 2], d[n - 3], h[n - 2], h[n - 3]);
    for i in 0..n - 1 {
        if d[i] == 0.0 {
            m[i] = 0.0;
            m[i + 1] = 0.0;
            continue;
        }
        let (a, b) = (m[i] / d[i], m[i + 1] / d[i]);
        if a * a + b * b > 9.0 {
            let scale = 3.0 / a.hypot(b);
            m[i] *= scale;
            m[i + 1] *= scale;
        }
    }
    (0..n - 1).map(|i| (m[i], m[i + 1])).collect()
}

#[test]
fn a_cone_is_as_long_as_its_slant() {
    // Tumbler 60/85: slant computed by Pythagoras, ∫ds/r = ln(r1/r0)/sin φ.
    let cone = Meridian::new(&[(0.0, 30.0), (100.0, 42.5)], true);
    let slant = 100.778_221_853_732;
    assert!((cone.length() - slant).abs() < 1e-9);
    assert!((cone.q_of_s(slant) - (42.5_f64 / 30.0).ln() * slant / 12.5).abs() < 1e-12);
    let q = cone.q_of_s(40.0);
    assert!((cone.s_of_q(q) - 40.0).abs() < 1e-9);
    assert!((cone.at_s(slant + 5.0).z - 105.0).abs() < 1e-9);
}

#[test]
fn a_smooth_ball_is_nearly_a_ball() {
    let stations: Vec<_> =
        (-64..=64).map(|k| f64::from(k) * 0.5).map(|z| (z, (1600.0 - z * z).sqrt())).collect();
    let ball = Meridian::new(&stations, false);
    assert!((ball.length() - 80.0 * 0.8_f64.asin()).abs() < 1e-3);
    let s = ball.s_of_z(12.3);
    assert!((ball.at_s(s).z - 12.3).abs() < 1e-10);
    let equator = ball.s_of_z(0.0);
    // ∫ds/r on a sphere from the equator: the inverse Gudermannian of the latitude.
    let q = ball.q_of_s(s) - ball.q_of_s(equator);
    let latitude = (12.3_f64 / 40.0).asin();
    assert!((q - latitude.tan().asinh()).abs() < 1e-5, "{q}");
    assert!((ball.s_of_q(ball.q_of_s(s)) - s).abs() < 1e-9);
}
