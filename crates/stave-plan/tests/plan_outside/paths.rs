//! Curves written as chords, against closed forms and time-optimal motion.
//!
//! Sources of the tables: `fixtures/reference/README.md`.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use crate::table::{Table, axis, burn, plan, plan_by, seconds};
use stave_plan::{Asked, AxisLimit, Move};

type Point = [f64; 2];

fn moves(points: &[Point], asked: Asked) -> Vec<Move<2>> {
    points.windows(2).map(|p| burn([p[1][0] - p[0][0], p[1][1] - p[0][1]], asked)).collect()
}

/// Points on a curve whose chords have the sagitta `k`, and are at most 0.2 long.
fn chords(curve: &dyn Fn(f64) -> Point, end: f64, k: f64) -> Vec<Point> {
    let sagitta = |from: f64, to: f64| {
        let (a, m, b) = (curve(from), curve(0.5 * (from + to)), curve(to));
        let (x, y) = (b[0] - a[0], b[1] - a[1]);
        let length = x.hypot(y);
        (((m[0] - a[0]) * y - (m[1] - a[1]) * x).abs() / length, length)
    };
    let mut points = vec![curve(0.0)];
    let mut at = 0.0;
    while at < end {
        let (mut low, mut high) = (0.0, end * 0.05);
        for _ in 0..60 {
            let step = 0.5 * (low + high);
            let (s, length) = sagitta(at, at + step);
            if s > k || length > 0.2 { high = step } else { low = step }
        }
        at = if at + low * 1.001 >= end { end } else { at + low };
        points.push(curve(at));
    }
    points
}

fn arc(centre: Point, r: f64, from: f64, to: f64) -> impl Fn(f64) -> Point {
    move |t| {
        let (s, c) = (from + (to - from) * t).sin_cos();
        [centre[0] + r * c, centre[1] + r * s]
    }
}

/// Table path, and the planner's time over the time-optimal one with chords of sagitta 1e-5 mm and
/// `δ = k`. These are the figures of the module's documentation.
const MEASURED: [(&str, f64); 6] =
    [("P1", 1.0), ("P2", 0.9994), ("P4", 0.9913), ("P5", 1.0139), ("P7", 0.8599), ("P9", 0.9892)];

#[test]
fn time_optimal_paths_are_within_the_derived_bounds() {
    let k = 1e-5;
    for row in Table::read("E_paths_time_optimal").rows() {
        let (v, a) = (row.numbers("v_max"), row.numbers("a_max"));
        let name = &row.text("name")[..2];
        let found =
            plan([axis(v[0], a[0]), axis(v[1], a[1])], k, &moves(&path(name, k), Asked::Limits));
        let length: f64 = found.iter().map(|s| s.length).sum();
        assert!((length / row.number("path_length") - 1.0).abs() < 1e-6, "{name} {length}");
        let ratio = seconds(&found) / row.number("duration");
        let unequal = (a[0] / a[1]).max(a[1] / a[0]);
        let slower = (0.5 + 0.5 * 1.0_f64.hypot(unequal)).sqrt();
        assert!(ratio >= 0.5_f64.sqrt() && ratio <= slower, "{name}: {ratio} {slower}");
        if let Some((_, measured)) = MEASURED.iter().find(|(measured, _)| *measured == name) {
            assert!((ratio - measured).abs() < 5e-4, "{name}: {ratio}");
        }
    }
}

/// Path, and the planner's time over the time-optimal one where curves are held to the speed of
/// the curve, with chords of sagitta 1e-3 mm and a corner tolerance of 0.02 mm: chords so fine that
/// the corners alone would be taken four times as fast as the curve can be.
const MEASURED_CURVES: [(&str, f64, f64); 6] = [
    ("P1", 1.0, 1.0),
    ("P2", 1.0005, 1.0005),
    ("P4", 0.9917, 0.9869),
    ("P5", 1.0134, 0.9804),
    ("P7", 0.8569, 0.6065),
    ("P9", 0.9823, 0.6731),
];

#[test]
fn finer_chords_are_not_faster_where_curves_are_curves() {
    let mut off = Vec::new();
    for row in Table::read("E_paths_time_optimal").rows() {
        let (v, a) = (row.numbers("v_max"), row.numbers("a_max"));
        let name = &row.text("name")[..2];
        let axes = [axis(v[0], a[0]), axis(v[1], a[1])];
        let ratio = |curves: bool, k: f64| {
            let found = plan_by(axes, (0.02, curves), &moves(&path(name, k), Asked::Limits));
            seconds(&found) / row.number("duration")
        };
        let (curve, corners) = (ratio(true, 1e-3), ratio(false, 1e-3));
        let unequal = (a[0] / a[1]).max(a[1] / a[0]);
        let slower = (0.5 + 0.5 * 1.0_f64.hypot(unequal)).sqrt();
        assert!(curve >= 0.5_f64.sqrt() && curve <= slower, "{name}: {curve} {slower}");
        assert!(corners <= curve * (1.0 + 1e-12), "{name}: {corners} {curve}");
        // Ten times as fine, and hardly anything changes.
        let finer = ratio(true, 1e-4);
        assert!((finer / curve - 1.0).abs() < 1e-2, "{name}: {finer} {curve}");
        if let Some((_, by_curves, by_corners)) =
            MEASURED_CURVES.iter().find(|(measured, ..)| *measured == name)
            && ((curve - by_curves).abs() > 5e-4 || (corners - by_corners).abs() > 5e-4)
        {
            off.push((name.to_owned(), curve, corners));
        }
    }
    assert!(off.is_empty(), "{off:#?}");
}

/// On the chords of a circle `R` is its radius, so the speed at every vertex is `v² = a r`, however
/// fine the chords.
#[test]
fn every_vertex_of_a_circle_is_taken_at_the_centripetal_speed() {
    let (r, a) = (10.0_f64, 500.0_f64);
    for chords in [100_u32, 1000, 4000] {
        let points: Vec<Point> = (0..=3 * chords)
            .map(|i| {
                let (s, c) = (TAU * f64::from(i) / f64::from(chords)).sin_cos();
                [r * c, r * s]
            })
            .collect();
        let moves = moves(&points, Asked::Limits);
        let found = plan_by([axis(1e6, a); 2], (1.0, true), &moves);
        let lap = chords as usize..2 * chords as usize;
        for (i, s) in found.iter().enumerate().take(lap.end).skip(lap.start) {
            let (sine, cosine) = (TAU * i as f64 / f64::from(chords)).sin_cos();
            let bound = a / sine.abs().max(cosine.abs()) * r;
            assert!(s.entry_squared <= bound * (1.0 + 1e-9), "{chords} {i}");
            // Where the axes' acceleration can follow what it changes by, it is that exactly.
            if sine.abs().min(cosine.abs()) < 0.6 * sine.abs().max(cosine.abs()) {
                assert!((s.entry_squared / bound - 1.0).abs() < 1e-9, "{chords} {i}");
            }
        }
    }
}

/// Measured likewise, in the order of the table, `δ = k a_normal/a_tangential`.
const FILLETS: [(f64, f64); 4] = [(18.0, 0.9926), (5.0, 0.9809), (100.0, 0.9984), (12.0, 0.9893)];

#[test]
fn fillets_are_within_the_derived_bounds() {
    let k = 1e-5;
    for row in Table::read("E_fillet_scalar_limits").rows() {
        let n = |name: &str| row.number(name);
        let (a, r) = (n("a_tangential"), n("fillet_r"));
        let mut points = vec![[0.0, 0.0]];
        points.extend(chords(&arc([n("line1"), r], r, -FRAC_PI_2, 0.0), 1.0, k));
        points.push([n("line1") + r, r + n("line2")]);
        let moves = moves(&points, Asked::Speed(n("v_max")));
        let found = plan([axis(n("v_max"), a); 2], k * n("a_normal") / a, &moves);
        let ratio = seconds(&found) / n("duration");
        assert!(ratio <= 1.0 && ratio >= 0.5_f64.powf(0.25), "{ratio}");
        if let Some((_, measured)) = FILLETS.iter().find(|(line, _)| *line == n("line1")) {
            assert!((ratio - measured).abs() < 5e-4, "{}: {ratio}", n("line1"));
        }
        // Half way round the arc both axes share, so the corner is taken √2 of the way to a²
        // faster; at its ends it is exact.
        let slowest =
            found[1..found.len() - 1].iter().map(|s| s.entry_squared).fold(f64::INFINITY, f64::min);
        let exact = n("corner_speed").powi(2);
        assert!(slowest >= exact * 0.999 && slowest <= exact * 2.0_f64.sqrt(), "{slowest} {exact}");
    }
}

const CHORDS: usize = 2000;

fn circle(r: f64, laps: usize) -> Vec<Point> {
    (0..=CHORDS * laps)
        .map(|i| {
            let (s, c) = (TAU * i as f64 / CHORDS as f64).sin_cos();
            [r * c, r * s]
        })
        .collect()
}

/// A lap at the centripetal speed takes `2π √(r/a)`: with `δ = k`, the rule allows `√(a r)` and
/// more at every vertex.
#[test]
fn a_lap_of_2000_chords_at_the_centripetal_speed() {
    let (r, a) = (10.0_f64, 500.0_f64);
    let half = PI / CHORDS as f64;
    let k = r * (1.0 - half.cos());
    let v = (a * r).sqrt();
    let found = plan([axis(1e4, a); 2], k, &moves(&circle(r, 3), Asked::Speed(v)));
    let lap = seconds(&found[CHORDS..2 * CHORDS]);
    let closed = TAU * (r / a).sqrt();
    assert!((lap / closed - 1.0).abs() < 1e-5, "{lap} {closed}");
}

/// `v² = a r (δ/k) cos(α/2)` at every vertex, `a` being what the axes give along the radius there.
#[test]
fn every_vertex_of_a_circle_has_the_derived_speed() {
    let (r, a) = (10.0_f64, 500.0_f64);
    let half = PI / CHORDS as f64;
    let k = r * (1.0 - half.cos());
    for share in [0.25, 1.0, 1.9, 4.0] {
        let found = plan([axis(1e6, a); 2], k * share, &moves(&circle(r, 3), Asked::Limits));
        for (i, s) in found.iter().enumerate().take(2 * CHORDS).skip(CHORDS) {
            let (sine, cosine) = (2.0 * half * i as f64).sin_cos();
            let along = a / sine.abs().max(cosine.abs());
            let expected = along * r * share * half.cos();
            // Towards the diagonals it changes by tan φ · δ/k of what the axes' acceleration can
            // follow, halved.
            let (least, most) = (sine.abs().min(cosine.abs()), sine.abs().max(cosine.abs()));
            if share * least / most > 1.95 {
                assert!(s.entry_squared <= expected * (1.0 + 1e-6));
                continue;
            }
            assert!(
                (s.entry_squared / expected - 1.0).abs() < 1e-6,
                "{share} {i}: {} {expected}",
                s.entry_squared
            );
        }
    }
}

/// The lap with both axes sharing is `√(r/a) ∮ √max(|cos|, |sin|) dθ`, less what is gained between
/// the vertices, where each chord speeds up and slows down again. A chord could change `v² = a r`
/// by `g = 2 a r α`, a share `tan φ / 2` of which the vertices ask for (`φ` from the nearer axis);
/// the rest lifts `v²` by `g (1 − (tan φ / 2)²)/4` on average.
#[test]
fn a_lap_with_both_axes_sharing() {
    let (r, a) = (10.0_f64, 500.0_f64);
    let half = PI / CHORDS as f64;
    let k = r * (1.0 - half.cos());
    let steps = 100_000;
    let integral: f64 = (0..steps)
        .map(|i| {
            let (s, c) = (TAU * (f64::from(i) + 0.5) / f64::from(steps)).sin_cos();
            let (least, most) = (s.abs().min(c.abs()), s.abs().max(c.abs()));
            let gained = 0.5 * half * (1.0 - 0.25 * (least / most).powi(2));
            most.sqrt() * (1.0 - gained) * TAU / f64::from(steps)
        })
        .sum();
    let closed = integral * (r / a).sqrt();
    let found = plan([axis(1e6, a); 2], k, &moves(&circle(r, 3), Asked::Limits));
    let lap = seconds(&found[CHORDS..2 * CHORDS]);
    assert!((lap / closed - 1.0).abs() < 5e-6, "{lap} {closed}");
}

/// A jerk limit so high that it hardly matters changes hardly anything on a curve: the runs do
/// their work.
#[test]
fn a_high_jerk_limit_approaches_none() {
    let points = path("P5", 1e-3);
    let time = |jerk: Option<f64>| {
        let axes = [AxisLimit { jerk_per_s3: jerk, ..axis(200.0, 2000.0) }; 2];
        seconds(&plan(axes, 0.02, &moves(&points, Asked::Speed(60.0))))
    };
    let without = time(None);
    assert!((time(Some(1e9)) / without - 1.0).abs() < 1e-4);
    // With a reached, each of the two ramps takes a/j longer and half of that is gone at full
    // speed.
    let with = time(Some(1e5));
    assert!((with - without - 2000.0 / 1e5).abs() < 0.3 * 2000.0 / 1e5, "{with} {without}");
}

fn path(name: &str, k: f64) -> Vec<Point> {
    let join = |parts: &[&dyn Fn(f64) -> Point]| {
        let mut points: Vec<Point> = Vec::new();
        for part in parts {
            let chords = chords(*part, 1.0, k);
            points.extend(&chords[usize::from(!points.is_empty())..]);
        }
        points
    };
    let line =
        |a: Point, b: Point| move |t: f64| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
    match &name[..2] {
        "P1" => vec![[0.0, 0.0], [30.0, 40.0]],
        "P2" => join(&[&arc([0.0, 0.0], 10.0, 0.0, TAU)]),
        "P4" => join(&[
            &arc([0.0, 15.0], 15.0, -FRAC_PI_2, 0.0),
            &arc([30.0, 15.0], 15.0, PI, FRAC_PI_2),
        ]),
        "P5" => join(&[&|t: f64| [30.0 * (TAU * t).cos(), 10.0 * (TAU * t).sin()]]),
        "P7" => join(&[&|t: f64| [60.0 * t, 5.0 * (3.0 * TAU * t).sin()]]),
        "P9" => join(&[
            &line([20.0, 0.0], [35.0, 0.0]),
            &arc([35.0, 5.0], 5.0, -FRAC_PI_2, 0.0),
            &line([40.0, 5.0], [40.0, 15.0]),
            &arc([35.0, 15.0], 5.0, 0.0, FRAC_PI_2),
            &line([35.0, 20.0], [5.0, 20.0]),
            &arc([5.0, 15.0], 5.0, FRAC_PI_2, PI),
            &line([0.0, 15.0], [0.0, 5.0]),
            &arc([5.0, 5.0], 5.0, PI, 1.5 * PI),
            &line([5.0, 0.0], [20.0, 0.0]),
        ]),
        other => panic!("the table has a path the test does not draw: {other}"),
    }
}
