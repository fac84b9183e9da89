//! The fewest moves that cutting greedily gives: each as long as the rules let it be.

use crate::case::Bench;
use crate::cutting::compare;
use crate::program::Move;

/// The most that the wall speed may stray within a move.
pub const SPEED_STRAY: f64 = 0.01;

/// Greedy cuts of one flat burn: the fraction at which each machine move ends.
pub fn cuts(bench: &Bench, flat: &Move) -> Vec<f64> {
    let mut cuts = Vec::new();
    for stretch in station_crossings(bench, flat).windows(2) {
        let (mut t, end) = (stretch[0], stretch[1]);
        let mut last = 0.0;
        while t < end {
            let next = farthest(bench, flat, t, end, last);
            (last, t) = (next - t, next);
            cuts.push(t);
        }
    }
    cuts
}

/// The farthest end of a move that begins at `t` and keeps the rules; the one before was `last`
/// long.
fn farthest(bench: &Bench, flat: &Move, t: f64, end: f64, last: f64) -> f64 {
    // Grown from a short move, each half as long again: a long one may hide from the looks along it
    // what a shorter one shows.
    let (mut good, mut reach) = (t, (end - t).min(0.002).max(0.3 * last));
    let mut bad = (t + reach).min(end);
    while keeps_the_rules(bench, flat, t, bad) {
        if bad >= end {
            return end;
        }
        good = bad;
        reach *= 1.5;
        bad = (t + reach).min(end);
    }
    for _ in 0..40 {
        let middle = f64::midpoint(good, bad);
        if keeps_the_rules(bench, flat, t, middle) {
            good = middle;
        } else {
            bad = middle;
        }
        if good > t && bad - good < 0.002 * (good - t) {
            break;
        }
    }
    assert!(good > t, "no move however short keeps the rules: line {}", flat.line);
    good
}

fn keeps_the_rules(bench: &Bench, flat: &Move, t0: f64, t1: f64) -> bool {
    let words = |t| bench.rotary.words(&bench.wall, bench.image(flat.point(t)));
    let cut = compare(bench, flat, (t0, t1), words(t0), words(t1));
    cut.stray <= bench.tolerance
        && cut.slowest >= 1.0 - SPEED_STRAY
        && cut.fastest <= 1.0 + SPEED_STRAY
}

/// Where the image of a burn crosses a station of a straight wall, its two ends included.
fn station_crossings(bench: &Bench, flat: &Move) -> Vec<f64> {
    let mut ends = vec![0.0, 1.0];
    if bench.wall.straight {
        let s = |t: f64| bench.image(flat.point(t))[0];
        let steps = if flat.circle.is_some() { 64 } else { 4 };
        for station in bench.wall.station_s() {
            for k in 0..steps {
                let (mut a, mut b) =
                    (f64::from(k) / f64::from(steps), f64::from(k + 1) / f64::from(steps));
                let (fa, fb) = (s(a) - station, s(b) - station);
                if fa * fb >= 0.0 || fa.abs() < 1e-9 || fb.abs() < 1e-9 {
                    continue;
                }
                for _ in 0..60 {
                    let m = f64::midpoint(a, b);
                    if (s(m) - station) * fa > 0.0 {
                        a = m;
                    } else {
                        b = m;
                    }
                }
                ends.push(b);
            }
        }
    }
    ends.sort_by(f64::total_cmp);
    ends
}
