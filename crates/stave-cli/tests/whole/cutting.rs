//! How far a straight machine move strays from the curve it stands for, and how evenly it runs over
//! the wall.

use crate::case::Bench;
use crate::program::{Move, lerp};

/// Steps in which a move is looked at. A move of 0.01 mm sagitta strays from its own 10 chords by
/// 0.0001 mm.
pub const STEPS: usize = 10;

/// The share of a move over which the speed at its very end is found.
const END: f64 = 1e-3;

/// What one machine move does to the wall, beside the stretch of flat move it stands for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Cut {
    /// Farthest that the curve burned lies from the exact image, and the image from it, mm on the
    /// wall.
    pub stray: f64,
    /// Length on the wall, mm.
    pub length: f64,
    /// The slowest and fastest speed within the move over its mean.
    pub slowest: f64,
    pub fastest: f64,
}

/// Compares the straight move between two pairs of words with the image of `flat` from `t0` to
/// `t1`.
pub fn compare(
    bench: &Bench,
    flat: &Move,
    (t0, t1): (f64, f64),
    from: [f64; 2],
    to: [f64; 2],
) -> Cut {
    let mut burned = [[0.0; 2]; STEPS + 1];
    let mut image = [[0.0; 2]; STEPS + 1];
    for k in 0..=STEPS {
        let f = k as f64 / STEPS as f64;
        burned[k] =
            bench.rotary.place(&bench.wall, [lerp(from[0], to[0], f), lerp(from[1], to[1], f)]);
        image[k] = bench.image(flat.point(lerp(t0, t1, f)));
    }
    let mut cut = Cut { slowest: f64::INFINITY, ..Cut::default() };
    // Distances are small, so one radius serves for turning angle into arc over one tenth of the
    // move.
    let mut steps = [0.0; STEPS + 2];
    for (k, pair) in burned.windows(2).enumerate() {
        let r = bench.wall.at_s(f64::midpoint(pair[0][0], pair[1][0])).r;
        steps[k + 1] = (pair[1][0] - pair[0][0]).hypot(r * (pair[1][1] - pair[0][1]));
        cut.length += steps[k + 1];
    }
    if bench.wall.straight {
        // A tenth tells the speed at its middle; that at either end of the move follows by a
        // straight line.
        steps[0] = 1.5 * steps[1] - 0.5 * steps[2];
        steps[STEPS + 1] = 1.5 * steps[STEPS] - 0.5 * steps[STEPS - 1];
    } else {
        // The slope may turn anywhere within a tenth, so the ends are looked at closely.
        let place = |f: f64| {
            bench.rotary.place(&bench.wall, [lerp(from[0], to[0], f), lerp(from[1], to[1], f)])
        };
        let pace = |a: [f64; 2], b: [f64; 2]| apart(bench, a, b) / END / STEPS as f64;
        steps[0] = pace(burned[0], place(END));
        steps[STEPS + 1] = pace(place(1.0 - END), burned[STEPS]);
    }
    for step in steps {
        cut.slowest = cut.slowest.min(step);
        cut.fastest = cut.fastest.max(step);
    }
    let mean = cut.length / STEPS as f64;
    cut.slowest /= mean;
    cut.fastest /= mean;
    for k in 0..=STEPS {
        cut.stray = cut
            .stray
            .max(distance(bench, burned[k], &image, k))
            .max(distance(bench, image[k], &burned, k));
    }
    cut
}

/// From a place to a chain of places, looked for near its `near`th.
fn distance(bench: &Bench, place: [f64; 2], chain: &[[f64; 2]; STEPS + 1], near: usize) -> f64 {
    let r = bench.wall.at_s(place[0]).r;
    let flat = |p: [f64; 2]| [p[0] - place[0], r * (p[1] - place[1])];
    let (first, last) = (near.saturating_sub(3), (near + 3).min(STEPS));
    (first..last)
        .map(|k| {
            let (a, b) = (flat(chain[k]), flat(chain[k + 1]));
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let square = dx * dx + dy * dy;
            let t = if square > 0.0 {
                (-(a[0] * dx + a[1] * dy) / square).clamp(0.0, 1.0)
            } else {
                0.0
            };
            (a[0] + t * dx).hypot(a[1] + t * dy)
        })
        .fold(f64::INFINITY, f64::min)
}

/// Distance of two neighbouring places on the wall, mm.
pub fn apart(bench: &Bench, a: [f64; 2], b: [f64; 2]) -> f64 {
    let r = bench.wall.at_s(f64::midpoint(a[0], b[0])).r;
    (a[0] - b[0]).hypot(r * (a[1] - b[1]))
}
