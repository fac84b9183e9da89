//! Levels of a picture to burns: graded power, or what a halftone is made of.

use std::sync::Arc;

use stave_setup::{Shading, Tone};

/// How many levels there are.
const LEVELS: usize = 1 << 16;
const FULL: f64 = u16::MAX as f64;

/// What every level of a picture burns with.
#[derive(Clone, Debug, PartialEq)]
pub struct Tones {
    tone: Tone,
    /// For each level its power over that of the operation; for a halftone its darkness.
    values: Arc<[f32]>,
    /// The greatest power over that of the operation.
    most: f64,
    /// Whether every level has so much more power where the operation has: not so where a floor or
    /// a curve gives powers of their own.
    scales: bool,
}

impl Tones {
    /// What a job asks: the power of darkness `d` is `floor + (full − floor)·d^gamma`, or what a
    /// measured curve says, and 0 where `d` is 0. `power_percent` is that of the operation.
    #[must_use]
    pub fn of_shading(shading: &Shading, power_percent: f64) -> Self {
        let darkness = |level: usize| {
            #[allow(clippy::cast_precision_loss)]
            let d = level as f64 / FULL;
            if shading.gamma == 1.0 { d } else { d.powf(shading.gamma) }
        };
        let floor = shading.power_floor_percent.min(power_percent);
        let curve = Inverse::of(&shading.tone_curve);
        let percent = |level: usize| match &curve {
            #[allow(clippy::cast_precision_loss)]
            Some(curve) => curve.power_percent(level as f64 / FULL),
            None => floor + (power_percent - floor) * darkness(level),
        };
        #[allow(clippy::cast_possible_truncation)]
        let values: Arc<[f32]> = (0..LEVELS)
            .map(|level| match shading.tone {
                _ if level == 0 => 0.0,
                Tone::Power => (percent(level) / power_percent) as f32,
                Tone::Ordered | Tone::Diffused => darkness(level) as f32,
                Tone::Threshold => {
                    f32::from(u8::from(darkness(level) * 100.0 >= shading.threshold_percent))
                }
            })
            .collect();
        let most = match shading.tone {
            Tone::Power => f64::from(values.iter().copied().fold(0.0, f32::max)),
            _ => 1.0,
        };
        let scales = shading.tone != Tone::Power || (curve.is_none() && floor == 0.0);
        Self { tone: shading.tone, values, most, scales }
    }

    /// Power for each level as it is given, over that of the operation; levels past the list burn
    /// nothing.
    #[must_use]
    pub fn of_powers(powers: &[f64]) -> Self {
        #[allow(clippy::cast_possible_truncation)]
        let mut values: Vec<f32> = powers.iter().map(|power| *power as f32).collect();
        values.resize(LEVELS, 0.0);
        let most = powers.iter().copied().fold(0.0, f64::max);
        Self { tone: Tone::Power, values: values.into(), most, scales: true }
    }

    /// Graded, or which halftone.
    #[must_use]
    pub fn tone(&self) -> Tone {
        self.tone
    }

    /// The greatest power over that of the operation.
    #[must_use]
    pub fn most(&self) -> f64 {
        self.most
    }

    /// Whether twice the operation's power is twice that of every level.
    #[must_use]
    pub fn scales(&self) -> bool {
        self.scales
    }

    /// The power of a level over that of the operation.
    #[must_use]
    #[inline]
    pub fn share(&self, level: u16) -> f64 {
        f64::from(self.values[usize::from(level)])
    }

    /// The darkness of a level for a halftone.
    #[must_use]
    #[inline]
    pub fn darkness(&self, level: u16) -> f64 {
        self.share(level)
    }
}

/// Power as a function of darkness, through measured pairs: the monotone cubic of Fritsch and
/// Carlson (SIAM J. Numer. Anal. 17, 1980), so that what grew on the wedge grows here.
struct Inverse {
    /// Darkness and power.
    points: Vec<(f64, f64)>,
    slopes: Vec<f64>,
}

impl Inverse {
    fn of(curve: &[(f64, f64)]) -> Option<Self> {
        let points: Vec<(f64, f64)> =
            curve.iter().map(|(power, darkness)| (*darkness, *power)).collect();
        if points.len() < 2 {
            return None;
        }
        let secants: Vec<f64> =
            points.windows(2).map(|w| (w[1].1 - w[0].1) / (w[1].0 - w[0].0)).collect();
        let widths: Vec<f64> = points.windows(2).map(|w| w[1].0 - w[0].0).collect();
        let last = points.len() - 1;
        let mut slopes: Vec<f64> = (0..=last)
            .map(|k| match k {
                0 => secants[0],
                k if k == last => secants[last - 1],
                k => {
                    let (h0, h1) = (widths[k - 1], widths[k]);
                    (secants[k - 1] * h1 + secants[k] * h0) / (h0 + h1)
                }
            })
            .collect();
        for (k, secant) in secants.iter().enumerate() {
            let (a, b) = (slopes[k] / secant, slopes[k + 1] / secant);
            let size = a.hypot(b);
            if size > 3.0 {
                slopes[k] *= 3.0 / size;
                slopes[k + 1] *= 3.0 / size;
            }
        }
        Some(Self { points, slopes })
    }

    fn power_percent(&self, darkness: f64) -> f64 {
        let above = self.points.partition_point(|point| point.0 <= darkness);
        let (Some(k), Some(high)) = (above.checked_sub(1), self.points.get(above)) else {
            // Before the first and past the last point its power holds.
            return if above == 0 { self.points[0].1 } else { self.points[above - 1].1 };
        };
        let low = self.points[k];
        let width = high.0 - low.0;
        let t = (darkness - low.0) / width;
        let (t2, t3) = (t * t, t * t * t);
        (2.0 * t3 - 3.0 * t2 + 1.0) * low.1
            + (t3 - 2.0 * t2 + t) * width * self.slopes[k]
            + (3.0 * t2 - 2.0 * t3) * high.1
            + (t3 - t2) * width * self.slopes[k + 1]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn power_goes_from_the_floor_to_the_full() {
        let shading = Shading { power_floor_percent: 12.0, ..Shading::default() };
        let tones = Tones::of_shading(&shading, 60.0);
        let percent = |d: f64| 60.0 * tones.share((d * FULL).round() as u16);
        assert_eq!(tones.share(0), 0.0);
        assert!((percent(1.0) - 60.0).abs() < 1e-4 && (percent(0.5) - 36.0).abs() < 1e-2);
        let dark = Shading { gamma: 2.0, ..Shading::default() };
        assert!((Tones::of_shading(&dark, 60.0).share(u16::MAX / 2) - 0.25).abs() < 1e-4);
    }

    #[test]
    fn levels_with_powers_of_their_own_do_not_follow_the_operations() {
        let follows = |shading: Shading| {
            let [once, twice] = [30.0, 60.0].map(|power| Tones::of_shading(&shading, power));
            let doubled = |level: u16| {
                let [once, twice] = [30.0 * once.share(level), 60.0 * twice.share(level)];
                (twice - 2.0 * once).abs() < 1e-3
            };
            assert_eq!(once.scales(), (1..u16::MAX).step_by(999).all(doubled), "{shading:?}");
            once.scales()
        };
        assert!(follows(Shading::default()));
        assert!(follows(Shading { gamma: 2.0, ..Shading::default() }));
        assert!(!follows(Shading { power_floor_percent: 12.0, ..Shading::default() }));
        let tone_curve = vec![(5.0, 0.0), (20.0, 0.5), (28.0, 1.0)];
        assert!(!follows(Shading { tone_curve, ..Shading::default() }));
    }

    proptest! {
        #[test]
        fn a_measured_curve_is_inverted(
            steps in prop::collection::vec((1.0..15.0_f64, 0.02..0.2_f64), 2..6),
        ) {
            let (mut power, mut darkness) = (5.0, 0.0);
            let curve: Vec<(f64, f64)> = steps.iter().map(|(p, d)| {
                let point = (power, darkness);
                power += p; darkness += d;
                point
            }).collect();
            let shading = Shading { tone_curve: curve.clone(), ..Shading::default() };
            let tones = Tones::of_shading(&shading, 80.0);
            for (power, darkness) in &curve[1..] {
                let found = 80.0 * tones.share((darkness * FULL).round() as u16);
                prop_assert!((found - power).abs() < 0.05, "{found} {power}");
            }
            let last = curve.last().unwrap().0;
            prop_assert!((80.0 * tones.share(u16::MAX) - last).abs() < 1e-4);
            prop_assert!((1..u16::MAX).all(|k| tones.share(k) <= tones.share(k + 1) + 1e-7));
        }
    }
}
