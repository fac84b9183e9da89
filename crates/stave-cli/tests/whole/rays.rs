//! Geodesics from a point of the wall, traced step by step: where a paper label lies.

use crate::meridian::Meridian;
use std::f64::consts::TAU;

const RAYS: usize = 240;
const STEP_MM: f64 = 0.25;

/// Where geodesics from one point have come to, by azimuth from the meridian and by length.
pub struct Rays {
    /// For each azimuth, `s` and turn at every step.
    rays: Vec<Vec<[f64; 2]>>,
}

impl Rays {
    /// All of them as far as `reach_mm`, from turn 0 at a length along the meridian.
    pub fn from_the(wall: &Meridian, s: f64, reach_mm: f64) -> Self {
        let steps = (reach_mm / STEP_MM).ceil() as usize + 1;
        let ray = |k: usize| {
            let mut at = [s, 0.0, TAU * k as f64 / RAYS as f64];
            let mut all = vec![[at[0], at[1]]];
            for _ in 0..steps {
                at = step(wall, at);
                all.push([at[0], at[1]]);
            }
            all
        };
        Self { rays: (0..RAYS).map(ray).collect() }
    }

    /// Where a flat point lands, mm along and around from the middle: straight between what was
    /// traced.
    pub fn end(&self, along: f64, around: f64) -> [f64; 2] {
        let length = along.hypot(around) / STEP_MM;
        let azimuth = around.atan2(along).rem_euclid(TAU) / TAU * RAYS as f64;
        let (k, n) = (azimuth.floor() as usize, length.floor() as usize);
        let (by_azimuth, by_length) = (azimuth - azimuth.floor(), length - length.floor());
        let ray = |k: usize| {
            let ray = &self.rays[k % RAYS];
            [0, 1].map(|i| ray[n][i] + (ray[n + 1][i] - ray[n][i]) * by_length)
        };
        let (a, b) = (ray(k), ray(k + 1));
        [0, 1].map(|i| a[i] + (b[i] - a[i]) * by_azimuth)
    }
}

/// One step of the fourth order along a geodesic: `s`, turn, and its angle with the meridian, by
/// `ds = cos a`, `dt = sin a / r`, `da = -r' sin a / r` (from Clairaut's `r sin a` = constant).
fn step(wall: &Meridian, at: [f64; 3]) -> [f64; 3] {
    let rate = |at: [f64; 3]| {
        let here = wall.at_s(at[0]);
        let widens = here.slope / (1.0 + here.slope * here.slope).sqrt();
        let (sin, cos) = at[2].sin_cos();
        [cos, sin / here.r, -widens * sin / here.r]
    };
    let from = |by: [f64; 3], h: f64| [0, 1, 2].map(|i| at[i] + h * by[i]);
    let a = rate(at);
    let b = rate(from(a, STEP_MM / 2.0));
    let c = rate(from(b, STEP_MM / 2.0));
    let d = rate(from(c, STEP_MM));
    [0, 1, 2].map(|i| at[i] + STEP_MM / 6.0 * (a[i] + 2.0 * b[i] + 2.0 * c[i] + d[i]))
}
