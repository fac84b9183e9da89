//! Geodesics over a stack of frusta: straight in each unrolled cone, the angle kept over each edge.

use super::{Arrival, Start};
use crate::Wall;
use crate::frustum::Frustum;

/// A geodesic that crosses a ridge to and fro in chords shorter than this, mm, runs along it: on a
/// wall 1 mm in radius such a chord strays from the ridge by 1e-7 mm at the most.
const SLIDE_MM: f64 = 1e-3;
/// After so many edges a geodesic is going round without end.
const MOST_EDGES: usize = 20_000;

/// Up to this tangent the angle comes from its series.
const SMALL_TANGENT: f64 = 0.1;

/// `arctan x / x` for a small `x`, by its series (J. Gregory, 1671) to the last digit: the term left
/// out is x¹⁴/15.
fn angle_over_tangent(x: f64) -> f64 {
    let square = x * x;
    (0..7_u8).rev().fold(0.0, |sum, k| {
        let term = 1.0 / f64::from(2 * k + 1);
        sum * square + if k % 2 == 0 { term } else { -term }
    })
}

/// A geodesic on a stack of frusta, with a cylinder past either end.
///
/// In an unrolled cone of slope `φ`, `k = sin φ`, the product `w = r cos α` grows evenly with the
/// way `t`: `w = w₀ + k t`, and `r² = w² + c²`. Everything else follows without the distance to the
/// apex, which would lose all digits near a cylinder.
#[derive(Debug, Clone)]
pub(crate) struct ConeWalk {
    /// −1 below the foot, the number of spans above the head.
    run: isize,
    s_mm: f64,
    radius_mm: f64,
    turn_rad: f64,
    /// `r cos α`.
    w_mm: f64,
    /// `r sin α`, constant.
    clairaut_mm: f64,
    jacobi_mm: f64,
    jacobi_rate: f64,
    folded: bool,
    sliding: bool,
}

/// One cone and where it ends.
struct Run {
    k: f64,
    low: Option<(f64, f64)>,
    high: Option<(f64, f64)>,
}

/// Which end a geodesic leaves a cone by.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    Up,
    Down,
}

impl ConeWalk {
    pub(crate) fn new(wall: &Wall, start: Start) -> ConeWalk {
        let (section, span) = wall.locate(start.s_mm, &mut 0);
        let radius_mm = section.radius_mm;
        let run = if start.s_mm < 0.0 {
            -1
        } else if start.s_mm > wall.length_mm() {
            as_run(wall.span_count())
        } else {
            as_run(span)
        };
        ConeWalk {
            run,
            s_mm: start.s_mm,
            radius_mm,
            turn_rad: 0.0,
            w_mm: radius_mm * start.heading.0,
            clairaut_mm: radius_mm * start.heading.1,
            jacobi_mm: 0.0,
            jacobi_rate: 1.0,
            folded: false,
            sliding: false,
        }
    }

    pub(crate) fn advance(&mut self, wall: &Wall, frusta: &[Frustum], distance_mm: f64) -> Arrival {
        let mut left = distance_mm;
        if !left.is_finite() {
            return Arrival::NOWHERE;
        }
        for _ in 0..MOST_EDGES {
            if self.sliding {
                self.turn_rad += left * self.clairaut_mm.signum() / self.radius_mm;
                return self.arrival();
            }
            let run = run(wall, frusta, self.run);
            match self.exit(&run) {
                Some((way, t, w_mm)) if t < left => {
                    self.go(run.k, t);
                    self.cross(wall, frusta, &run, way, w_mm);
                    left -= t;
                }
                _ => {
                    self.go(run.k, left);
                    return self.arrival();
                }
            }
        }
        Arrival::NOWHERE
    }

    fn arrival(&self) -> Arrival {
        Arrival {
            s_mm: self.s_mm,
            turn_rad: self.turn_rad,
            heading: (self.w_mm / self.radius_mm, self.clairaut_mm / self.radius_mm),
            jacobi_mm: self.jacobi_mm,
            folded: self.folded,
        }
    }

    /// The way out of the cone, how long it takes, and `w` there.
    ///
    /// `r²` grows with the way as `w² + c²`. Going towards the apex, the line leaves by the narrow
    /// end if it reaches that radius, and else turns and leaves by the wide one.
    fn exit(&self, run: &Run) -> Option<(Way, f64, f64)> {
        let (k, w) = (run.k, self.w_mm);
        let up = |end: Option<(f64, f64)>| {
            let (s_mm, radius_mm) = end?;
            let reach = (s_mm - self.s_mm).max(0.0) * (self.radius_mm + radius_mm);
            let square = w * w + k * reach;
            (square > 0.0 || (k > 0.0 && square == 0.0)).then(|| {
                let w_end = square.sqrt();
                let t = if w < 0.0 {
                    (w_end - w) / k
                } else if w + w_end > 0.0 {
                    reach / (w + w_end)
                } else {
                    0.0
                };
                (Way::Up, t, w_end)
            })
        };
        let down = |end: Option<(f64, f64)>| {
            let (s_mm, radius_mm) = end?;
            let reach = (self.s_mm - s_mm).max(0.0) * (self.radius_mm + radius_mm);
            let square = w * w - k * reach;
            (square >= 0.0).then(|| {
                let w_end = square.sqrt();
                (Way::Down, if w < 0.0 { reach / (w_end - w) } else { (w_end + w) / -k }, -w_end)
            })
        };
        if k == 0.0 {
            return if w > 0.0 {
                up(run.high)
            } else if w < 0.0 {
                down(run.low)
            } else {
                None
            };
        }
        match (w >= 0.0, k > 0.0) {
            (true, true) => up(run.high),
            (false, false) => down(run.low),
            (true, false) => up(run.high).or_else(|| down(run.low)),
            (false, true) => {
                down(run.low).filter(|&(_, _, w_end)| w_end < 0.0).or_else(|| up(run.high))
            }
        }
    }

    /// Goes on inside the cone.
    fn go(&mut self, k: f64, t_mm: f64) {
        let (w, r, c) = (self.w_mm, self.radius_mm, self.clairaut_mm);
        let w_end = w + k * t_mm;
        // Some mm to some m: nothing overflows.
        let r_end = (w_end * w_end + c * c).sqrt();
        // The angle at the apex between both ends is ψ, tan ψ = k t sin α / (r + k t cos α), and
        // the turn is ψ/k.
        let (rise, run) = (t_mm * c, r * r + k * t_mm * w);
        self.turn_rad += if (k * rise).abs() <= SMALL_TANGENT * run {
            rise / run * angle_over_tangent(k * rise / run)
        } else {
            (k * rise).atan2(run) / k
        };
        self.s_mm += t_mm * (2.0 * w + k * t_mm) / (r + r_end);
        self.radius_mm = r_end;
        self.w_mm = w_end;
        let jacobi_mm = self.jacobi_mm + self.jacobi_rate * t_mm;
        self.folded |= jacobi_mm <= 0.0 && t_mm > 0.0;
        self.jacobi_mm = jacobi_mm;
    }

    /// Crosses an edge: place and radius are the station's own, the angle with the parallel is
    /// kept, and the Jacobi field is bent by the edge's curvature, `K = −(k_upper − k_lower)
    /// δ(s)/r`.
    fn cross(&mut self, wall: &Wall, frusta: &[Frustum], from: &Run, way: Way, w_mm: f64) {
        let (edge, step) = match way {
            Way::Up => (from.high, 1),
            Way::Down => (from.low, -1),
        };
        let Some((s_mm, radius_mm)) = edge else { return };
        (self.s_mm, self.radius_mm, self.w_mm) = (s_mm, radius_mm, w_mm);
        self.run += step;
        let to = run(wall, frusta, self.run);
        let (lower, upper) = if way == Way::Up { (from.k, to.k) } else { (to.k, from.k) };
        if self.jacobi_mm != 0.0 {
            self.jacobi_rate +=
                (upper - lower) * self.jacobi_mm / w_mm.abs().max(1e-12 * radius_mm);
        }
        // On a ridge a geodesic nearly along it comes back after a chord of 2w/k on either side,
        // time and again.
        let chord = |k: f64| 2.0 * w_mm.abs() / k.abs();
        if lower > 0.0 && upper < 0.0 && chord(lower) < SLIDE_MM && chord(upper) < SLIDE_MM {
            self.sliding = true;
            self.w_mm = 0.0;
            self.clairaut_mm = radius_mm * self.clairaut_mm.signum();
            self.folded |= self.jacobi_mm != 0.0 || self.jacobi_rate != 1.0;
            self.jacobi_mm = 0.0;
            self.jacobi_rate = 0.0;
        }
    }
}

fn as_run(span: usize) -> isize {
    isize::try_from(span).unwrap_or(isize::MAX)
}

fn run(wall: &Wall, frusta: &[Frustum], index: isize) -> Run {
    let end = |frustum: &Frustum| (frustum.s_mm, frustum.radius_mm);
    let head = (wall.length_mm(), wall.head_radius_mm());
    match usize::try_from(index) {
        Err(_) => Run { k: 0.0, low: None, high: frusta.first().map(end) },
        Ok(span) => match frusta.get(span) {
            None => Run { k: 0.0, low: Some(head), high: None },
            Some(frustum) => Run {
                k: frustum.sin_slope,
                low: Some(end(frustum)),
                high: Some(frusta.get(span + 1).map_or(head, end)),
            },
        },
    }
}
