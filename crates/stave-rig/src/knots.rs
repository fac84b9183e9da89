//! The way from the rail back to the meridian.

use stave_wall::{Crest, Wall, WallShape};

/// How long a stretch of a smooth wall is at most, mm, and how many there are to a span.
const STRETCH_MM: f64 = 1.0;
const MOST_STRETCHES: usize = 64;

/// `X` and `s` at the ends of stretches along which X grows or falls.
#[derive(Clone, Debug)]
pub(crate) struct Knots {
    x_knots: Vec<f64>,
    s_knots: Vec<f64>,
    /// `X` grows throughout.
    rising: bool,
}

/// The wall under its tilt: what the knots were made from.
#[derive(Clone, Copy)]
struct Ground<'a> {
    wall: &'a Wall,
    crest: &'a Crest,
    /// dX/ds past the ends.
    end_rate: f64,
}

impl Knots {
    pub(crate) fn new(wall: &Wall, crest: &Crest) -> Self {
        let s_knots = stretches(wall);
        let x_at = |s_mm: f64| crest.along_mm(&wall.section(s_mm, &mut 0));
        let x_knots: Vec<f64> = s_knots.iter().map(|s_mm| x_at(*s_mm)).collect();
        Self { rising: x_knots.is_sorted_by(|a, b| a < b), x_knots, s_knots }
    }

    /// `s` at an X along the rail.
    #[inline]
    pub(crate) fn s_of_x(
        &self,
        wall: &Wall,
        crest: &Crest,
        end_rate: f64,
        x: f64,
        hint: &mut usize,
    ) -> f64 {
        Ground { wall, crest, end_rate }.s_of_x(self, x, hint)
    }

    /// The length on the wall of a straight move from X to X while the work turns, mm.
    #[inline]
    pub(crate) fn wall_mm(
        &self,
        wall: &Wall,
        crest: &Crest,
        end_rate: f64,
        ends: (f64, f64),
        turn_rad: f64,
        hint: &mut usize,
    ) -> f64 {
        Ground { wall, crest, end_rate }.wall_mm(self, ends, turn_rad, hint)
    }
}

impl Ground<'_> {
    /// The length on the wall of a straight move of the machine, mm: `∫ √(ds² + r² dθ²)` along its
    /// way.
    fn wall_mm(&self, knots: &Knots, (x0, x1): (f64, f64), turn_rad: f64, hint: &mut usize) -> f64 {
        let s0 = self.s_of_x(knots, x0, hint);
        let first = *hint;
        let s1 = self.s_of_x(knots, x1, hint);
        let inner = |x: &f64| (*x - x0) * (*x - x1) < 0.0;
        if first == *hint && knots.rising && !knots.x_knots[first..].iter().take(2).any(inner) {
            return self.short_mm(s0, s1, turn_rad);
        }
        // The move in parts, each of one stretch; where X does not grow throughout, in a fixed
        // number.
        let share = |x: f64| (x - x0) / (x1 - x0);
        let mut cuts: Vec<(f64, f64)> = if knots.rising {
            let knots = knots.x_knots.iter().zip(&knots.s_knots).filter(|(x, _)| inner(x));
            knots.map(|(x, s)| (share(*x), *s)).collect()
        } else {
            let parts = (1..64_u32).map(|k| f64::from(k) / 64.0);
            parts.map(|t| (t, self.s_of_x(knots, x0 + (x1 - x0) * t, &mut 0))).collect()
        };
        if x1 < x0 && knots.rising {
            cuts.reverse();
        }
        let (mut length_mm, mut before) = (0.0, (0.0, s0));
        for cut in cuts.into_iter().chain([(1.0, s1)]) {
            length_mm += self.short_mm(before.1, cut.1, turn_rad * (cut.0 - before.0));
            before = cut;
        }
        length_mm
    }

    /// A move within one stretch: Gauss's rule of three points in `s` (two would do: the radius is
    /// near straight in it).
    #[inline]
    fn short_mm(&self, s0: f64, s1: f64, turn_rad: f64) -> f64 {
        let ds = s1 - s0;
        if turn_rad == 0.0 {
            return ds.abs();
        }
        let (middle, half) = (0.5 * (s0 + s1), 0.5 * ds);
        let part = |s_mm: f64| {
            let around = self.wall.section(s_mm, &mut 0).radius_mm * turn_rad;
            (ds * ds + around * around).sqrt()
        };
        if ds.abs() < 1e-9 {
            return part(middle);
        }
        let node = 0.6_f64.sqrt() * half;
        (5.0 * (part(middle - node) + part(middle + node)) + 8.0 * part(middle)) / 18.0
    }

    #[inline]
    fn s_of_x(&self, knots: &Knots, x: f64, hint: &mut usize) -> f64 {
        if !knots.rising {
            return self.uppermost(knots, x);
        }
        let last = knots.x_knots.len() - 1;
        let held = |k: usize| knots.x_knots[k] <= x && x <= knots.x_knots[k + 1];
        let stretch = if *hint < last && held(*hint) {
            *hint
        } else {
            knots.x_knots.partition_point(|knot| *knot <= x).saturating_sub(1).min(last - 1)
        };
        *hint = stretch;
        if x < knots.x_knots[0] {
            return (x - knots.x_knots[0]) / self.end_rate;
        } else if x > knots.x_knots[last] {
            return self.wall.length_mm() + (x - knots.x_knots[last]) / self.end_rate;
        }
        self.s_in(knots, stretch, x)
    }

    /// The `s` within a stretch: straight over, or on a smooth wall by Newton's rule kept within
    /// the stretch.
    #[inline]
    fn s_in(&self, knots: &Knots, stretch: usize, x: f64) -> f64 {
        let (x0, x1) = (knots.x_knots[stretch], knots.x_knots[stretch + 1]);
        let (s0, s1) = (knots.s_knots[stretch], knots.s_knots[stretch + 1]);
        let mut s_mm = if x1 == x0 { s0 } else { s0 + (x - x0) / (x1 - x0) * (s1 - s0) };
        if self.wall.shape() == WallShape::Straight {
            return s_mm;
        }
        for _ in 0..8 {
            let section = self.wall.section(s_mm, &mut 0);
            let step = (self.crest.along_mm(&section) - x) / self.crest.along_rate(&section);
            if !step.is_finite() || step.abs() < 1e-10 {
                break;
            }
            s_mm = (s_mm - step).clamp(s0, s1);
        }
        s_mm
    }

    /// Of all places at X the one that lies highest.
    fn uppermost(&self, knots: &Knots, x: f64) -> f64 {
        let last = knots.x_knots.len() - 1;
        let before = (x - knots.x_knots[0]) / self.end_rate;
        let after = (x - knots.x_knots[last]) / self.end_rate;
        let stretches = (0..last).filter(|k| {
            let (a, b) = (knots.x_knots[*k], knots.x_knots[*k + 1]);
            a.min(b) <= x && x <= a.max(b)
        });
        let height = |s_mm: &f64| self.crest.height_mm(&self.wall.section(*s_mm, &mut 0));
        stretches
            .map(|k| self.s_in(knots, k, x))
            .chain((before <= 0.0).then_some(before))
            .chain((after >= 0.0).then_some(self.wall.length_mm() + after))
            .max_by(|a, b| height(a).total_cmp(&height(b)))
            .unwrap_or(0.0)
    }
}

/// `s` at the ends of the stretches of a wall: its stations, and between them so close on a smooth
/// wall that it is near straight.
fn stretches(wall: &Wall) -> Vec<f64> {
    let stations = wall.span_ends_mm();
    if wall.shape() == WallShape::Straight {
        return stations.to_vec();
    }
    let mut knots = vec![stations[0]];
    for ends in stations.windows(2) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let parts = (((ends[1] - ends[0]) / STRETCH_MM).ceil() as usize).clamp(4, MOST_STRETCHES);
        #[expect(clippy::cast_precision_loss, reason = "parts are few")]
        knots
            .extend((1..=parts).map(|k| ends[0] + (ends[1] - ends[0]) * (k as f64 / parts as f64)));
    }
    knots
}
