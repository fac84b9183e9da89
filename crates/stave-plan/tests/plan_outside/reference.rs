//! A planner as plain as can be: all moves at once, angles by `acos`, speeds lowered until nothing
//! changes, times by the textbook. Slow, and different from the crate's in every step.

use stave_plan::{Asked, AxisLimit, Move};

/// What it says of a move.
#[derive(Debug)]
pub(crate) struct Reference {
    pub(crate) duration_s: f64,
    pub(crate) ramp_s: f64,
    pub(crate) entry: f64,
    pub(crate) peak: f64,
}

struct Line<const N: usize> {
    unit: [f64; N],
    length: f64,
    limit: f64,
    acceleration: f64,
}

/// Plans `moves`, which start and end at rest.
pub(crate) fn brute_force<const N: usize>(
    axes: &[AxisLimit; N],
    (tolerance, curves): (f64, bool),
    moves: &[Move<N>],
) -> Vec<Reference> {
    let lines: Vec<Line<N>> = moves.iter().filter_map(|one| line(axes, one)).collect();
    let n = lines.len();
    let mut speed = vec![0.0; n + 1];
    for i in 1..n {
        let corner = corner(axes, tolerance, &lines[i - 1].unit, &lines[i].unit);
        speed[i] = corner.min(lines[i - 1].limit).min(lines[i].limit);
        if curves {
            speed[i] = speed[i].min(curve(axes, &lines, i));
        }
    }
    loop {
        let mut changed = false;
        for (i, line) in lines.iter().enumerate() {
            let gain = 2.0 * line.acceleration * line.length;
            for (low, high) in [(i, i + 1), (i + 1, i)] {
                let most = (speed[low] * speed[low] + gain).sqrt();
                if speed[high] > most * (1.0 + 1e-14) {
                    speed[high] = most;
                    changed = true;
                }
            }
        }
        if !changed {
            break;
        }
    }
    lines.iter().enumerate().map(|(i, line)| textbook(line, speed[i], speed[i + 1])).collect()
}

fn line<const N: usize>(axes: &[AxisLimit; N], one: &Move<N>) -> Option<Line<N>> {
    let length = one.delta.iter().map(|d| d * d).sum::<f64>().sqrt();
    if length == 0.0 {
        return None;
    }
    let unit = one.delta.map(|d| d / length);
    let per = |get: fn(&AxisLimit) -> f64| {
        unit.iter()
            .zip(axes)
            .filter(|(t, _)| **t != 0.0)
            .map(|(t, axis)| get(axis) / t.abs())
            .fold(f64::INFINITY, f64::min)
    };
    let limit = per(|axis| axis.speed_per_s);
    let limit = match one.asked {
        Asked::Limits => limit,
        Asked::Speed(speed) => limit.min(speed),
        Asked::Duration(seconds) => limit.min(length / seconds),
    };
    Some(Line { unit, length, limit, acceleration: per(|axis| axis.acceleration_per_s2) })
}

fn corner<const N: usize>(
    axes: &[AxisLimit; N],
    tolerance: f64,
    before: &[f64; N],
    after: &[f64; N],
) -> f64 {
    let difference: [f64; N] = std::array::from_fn(|i| after[i] - before[i]);
    let size = difference.iter().map(|d| d * d).sum::<f64>().sqrt();
    if size < 1e-9 {
        return f64::INFINITY;
    }
    let acceleration = difference
        .iter()
        .zip(axes)
        .filter(|(d, _)| **d != 0.0)
        .map(|(d, axis)| axis.acceleration_per_s2 * size / d.abs())
        .fold(f64::INFINITY, f64::min);
    let sum = (0..N).map(|i| (after[i] + before[i]).powi(2)).sum::<f64>().sqrt();
    if sum < 2e-7 {
        return 0.0;
    }
    // The angle between the directions from its sine and cosine halves, the inside angle from that.
    let inside = std::f64::consts::PI - 2.0 * size.atan2(sum);
    let half = (inside / 2.0).sin();
    // 1 − sin x = 2 sin²(π/4 − x/2).
    let versine = 2.0 * (std::f64::consts::FRAC_PI_4 - inside / 4.0).sin().powi(2);
    (acceleration * tolerance * half / versine).sqrt()
}

/// The two sums by which the angle between two directions is known: of their difference, `2 sin
/// φ/2`, and of their sum, `2 cos φ/2`.
fn halves<const N: usize>(before: &[f64; N], after: &[f64; N]) -> (f64, f64) {
    let norm =
        |sign: f64| (0..N).map(|i| (after[i] + sign * before[i]).powi(2)).sum::<f64>().sqrt();
    (norm(-1.0), norm(1.0))
}

/// `√(a R)` at the start of line `i`, with the circle through the ends of the straight runs that
/// meet there; no limit where they meet at 60° or more.
fn curve<const N: usize>(axes: &[AxisLimit; N], lines: &[Line<N>], i: usize) -> f64 {
    let straight = |k: usize| halves(&lines[k - 1].unit, &lines[k].unit).0 < 1e-9;
    let (difference, sum) = halves(&lines[i - 1].unit, &lines[i].unit);
    if difference < 1e-9 || 2.0 * difference.atan2(sum) >= std::f64::consts::FRAC_PI_3 {
        return f64::INFINITY;
    }
    let first = (1..i).rev().find(|k| !straight(*k)).unwrap_or(0);
    let last = (i + 1..lines.len()).find(|k| !straight(*k)).unwrap_or(lines.len());
    let before: f64 = lines[first..i].iter().map(|line| line.length).sum();
    let after: f64 = lines[i..last].iter().map(|line| line.length).sum();
    let chord = (0..N)
        .map(|k| (before * lines[i - 1].unit[k] + after * lines[i].unit[k]).powi(2))
        .sum::<f64>()
        .sqrt();
    // The extended law of sines.
    let radius = chord / (2.0 * (0.5 * difference * sum));
    let acceleration = (0..N)
        .map(|k| (lines[i].unit[k] - lines[i - 1].unit[k], axes[k].acceleration_per_s2))
        .filter(|(d, _)| *d != 0.0)
        .map(|(d, a)| a * difference / d.abs())
        .fold(f64::INFINITY, f64::min);
    (acceleration * radius).sqrt()
}

fn textbook<const N: usize>(line: &Line<N>, v0: f64, v1: f64) -> Reference {
    let Line { length, limit, acceleration: a, .. } = *line;
    let peak = (0.5 * (v0 * v0 + v1 * v1) + a * length).sqrt();
    let (peak, along) = if peak > limit {
        let ramps = (2.0 * limit * limit - v0 * v0 - v1 * v1) / (2.0 * a);
        (limit, (length - ramps) / limit)
    } else {
        (peak.max(v0).max(v1), 0.0)
    };
    let ramp_s = (peak - v0) / a + (peak - v1) / a;
    Reference { duration_s: ramp_s + along, ramp_s, entry: v0, peak }
}
