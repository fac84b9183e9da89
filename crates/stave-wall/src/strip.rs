//! The narrowest strip that holds a stretch of the meridian: how level a wall can be made to lie.

use crate::{Section, Wall, WallShape};

/// Points of a curved meridian are taken no further apart than this, mm: on a curve of radius 10 mm
/// a chord then strays by 5e-6 mm.
const LOOK_MM: f64 = 0.02;
/// No span of a curved meridian is given more points than this.
const MOST_LOOKS: f64 = 4096.0;

/// A level strip that holds a stretch of the meridian when the rotary is tilted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// The tilt, rad, positive where the end with the larger `at` is raised.
    pub tilt_rad: f64,
    /// Height of its lower line, mm, as [`crate::Crest::height_mm`] has it.
    pub low_mm: f64,
    /// Height of its upper line, mm.
    pub high_mm: f64,
}

impl Strip {
    /// How wide it is, mm.
    pub fn width_mm(&self) -> f64 {
        self.high_mm - self.low_mm
    }

    /// The height of its middle, mm.
    pub fn middle_mm(&self) -> f64 {
        0.5 * (self.low_mm + self.high_mm)
    }

    /// The strip that holds points `(at, radius)` under a given tilt; `None` for no points.
    pub fn under_tilt(points: &[(f64, f64)], tilt_rad: f64) -> Option<Strip> {
        let (sin, cos) = tilt_rad.sin_cos();
        let heights = points.iter().map(|(at, radius)| at * sin + radius * cos);
        let (low_mm, high_mm) = heights
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), height| {
                (low.min(height), high.max(height))
            });
        (low_mm <= high_mm).then_some(Strip { tilt_rad, low_mm, high_mm })
    }

    /// The narrowest strip that holds points `(at, radius)`, mm, among the tilts from `tilts_rad.0`
    /// to `tilts_rad.1`.
    ///
    /// Between two tilts at which the strip lies along an edge of the points' convex hull, its
    /// width is that of one pair of points, which is a sine of the tilt and so least at an end: the
    /// narrowest lies along an edge, or at an end of the range. The edges are gone round with
    /// rotating calipers.
    ///
    /// `None` for no points, a value that is not finite, or a range that does not run upwards.
    ///
    /// # References
    /// M. E. Houle, G. T. Toussaint, *Computing the width of a set*, IEEE Trans. PAMI 10 (1988)
    /// 761–765.
    ///
    /// ```
    /// use stave_wall::Strip;
    /// // A wall that only tapers lies level when it is tilted by its own slope.
    /// let strip = Strip::narrowest(&[(0.0, 30.0), (100.0, 40.0)], (-0.3, 0.3)).unwrap();
    /// assert!((strip.tilt_rad + 0.1_f64.atan()).abs() < 1e-12 && strip.width_mm() < 1e-12);
    /// ```
    pub fn narrowest(points: &[(f64, f64)], tilts_rad: (f64, f64)) -> Option<Strip> {
        let (from, to) = tilts_rad;
        let finite = points.iter().all(|(at, radius)| at.is_finite() && radius.is_finite());
        if !(from <= to && to.is_finite() && from.is_finite() && finite) {
            return None;
        }
        let hull = convex_hull(points);
        let ends = [from, to].map(|tilt| Strip::under_tilt(&hull, tilt));
        // A tilt near the middle of the range is as good as any where all are alike.
        let level = Strip::under_tilt(&hull, 0.0_f64.clamp(from, to));
        let mut best = level?;
        let edges = edge_tilts(&hull).into_iter().flat_map(|tilt| {
            // A strip is the same the other way up.
            [tilt - std::f64::consts::PI, tilt, tilt + std::f64::consts::PI]
        });
        let along_edges = edges
            .filter(|tilt| (from..=to).contains(tilt))
            .map(|tilt| Strip::under_tilt_of_hull(&hull, tilt));
        let mut consider = |strip: Option<Strip>| {
            if let Some(strip) = strip
                && strip.width_mm() < best.width_mm() - 1e-12 * (1.0 + best.width_mm())
            {
                best = strip;
            }
        };
        along_edges.for_each(&mut consider);
        ends.into_iter().for_each(&mut consider);
        Some(best)
    }

    /// As [`Strip::under_tilt`], for the corners of a convex polygon in order: the height rises and
    /// falls once around it.
    fn under_tilt_of_hull(hull: &[(f64, f64)], tilt_rad: f64) -> Option<Strip> {
        const FEW: usize = 64;
        if hull.len() <= FEW {
            return Self::under_tilt(hull, tilt_rad);
        }
        let (sin, cos) = tilt_rad.sin_cos();
        let height = |i: usize| hull[i].0 * sin + hull[i].1 * cos;
        let high_mm = height(supporting(hull, (sin, cos)));
        let low_mm = height(supporting(hull, (-sin, -cos)));
        Some(Strip { tilt_rad, low_mm, high_mm })
    }
}

/// The corner of a convex polygon, counter-clockwise and without straight corners, that lies
/// furthest in a direction.
///
/// The edges' own directions turn steadily once around from the first, so the corner is found by
/// halving on their angles.
fn supporting(hull: &[(f64, f64)], direction: (f64, f64)) -> usize {
    let edge = |i: usize| {
        let (a, b) = (hull[i], hull[(i + 1) % hull.len()]);
        (b.0 - a.0, b.1 - a.1)
    };
    let first = edge(0);
    let turned = |d: (f64, f64)| {
        let angle = (first.0 * d.1 - first.1 * d.0).atan2(first.0 * d.0 + first.1 * d.1);
        angle.rem_euclid(std::f64::consts::TAU)
    };
    // The corner at which the edges turn past the direction's own perpendicular.
    let wanted = turned((-direction.1, direction.0));
    let (mut low, mut high) = (0, hull.len());
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if turned(edge(middle)) <= wanted { low = middle } else { high = middle }
    }
    // Rounding may be one corner off.
    let along = |i: usize| hull[i].0 * direction.0 + hull[i].1 * direction.1;
    let count = hull.len();
    [low, (low + 1) % count, (low + 2) % count, (low + count - 1) % count]
        .into_iter()
        .max_by(|a, b| along(*a).total_cmp(&along(*b)))
        .unwrap_or(low)
}

/// The tilts at which a strip lies along an edge, rad.
fn edge_tilts(hull: &[(f64, f64)]) -> Vec<f64> {
    (0..hull.len())
        .filter_map(|i| {
            let (a, b) = (hull[i], hull[(i + 1) % hull.len()]);
            let (dz, dr) = (b.0 - a.0, b.1 - a.1);
            (dz != 0.0 || dr != 0.0).then(|| -dr.atan2(dz))
        })
        .collect()
}

/// The convex hull, counter-clockwise, without points on its edges (Andrew's monotone chain).
pub(crate) fn convex_hull(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let chain = |points: &mut dyn Iterator<Item = (f64, f64)>| {
        let mut chain: Vec<(f64, f64)> = Vec::new();
        for p in points {
            while let [.., a, b] = chain[..]
                && (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut hull = chain(&mut sorted.iter().copied());
    hull.extend(chain(&mut sorted.iter().rev().copied()));
    hull
}

impl Wall {
    /// Points `(at, radius)`, mm, of the meridian from `from_s_mm` to `to_s_mm`, both clamped to
    /// the wall: the ends, the stations between, and on a curved wall enough in between that a
    /// chord strays from it by no more than about 1e-5 mm.
    pub fn outline(&self, from_s_mm: f64, to_s_mm: f64) -> Vec<(f64, f64)> {
        self.sections_between(from_s_mm, to_s_mm)
            .iter()
            .map(|(_, s)| (s.at_mm, s.radius_mm))
            .collect()
    }

    /// The sections at the points of [`Wall::outline`] with their `s`, mm. A station between the
    /// ends comes twice, as the end of one span and the start of the next, since the slope may jump
    /// there.
    pub fn sections_between(&self, from_s_mm: f64, to_s_mm: f64) -> Vec<(f64, Section)> {
        let clamp = |s: f64| s.max(0.0).min(self.length_mm());
        let (from, to) = (clamp(from_s_mm.min(to_s_mm)), clamp(from_s_mm.max(to_s_mm)));
        let mut sections = Vec::new();
        for (span, ends) in self.span_ends_mm().windows(2).enumerate() {
            let (low, high) = (ends[0].max(from), ends[1].min(to));
            let touches = low < high || (low == high && sections.is_empty());
            if !touches {
                continue;
            }
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps = match self.shape() {
                WallShape::Straight => 1,
                WallShape::Smooth => ((high - low) / LOOK_MM).ceil().clamp(16.0, MOST_LOOKS) as u32,
            };
            for k in 0..=steps {
                let s = if k == steps {
                    high
                } else {
                    low + (high - low) * f64::from(k) / f64::from(steps)
                };
                sections.push((s, self.section_in(span, s)));
            }
        }
        sections
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Station;
    use std::f64::consts::FRAC_PI_2;

    /// Minimum widths and strip directions, mm and degrees. Computed: a dense scan of angles, and
    /// linear programming with scipy; the method is Houle and Toussaint's (1988).
    #[test]
    fn widths_of_point_sets() {
        let check = |points: &[(f64, f64)], width: f64, direction_deg: Option<f64>| {
            let strip = Strip::narrowest(points, (-FRAC_PI_2, FRAC_PI_2)).unwrap();
            assert!((strip.width_mm() - width).abs() < 1e-9, "{points:?}: {}", strip.width_mm());
            if let Some(direction) = direction_deg {
                let off = (-strip.tilt_rad.to_degrees() - direction).rem_euclid(180.0);
                assert!(off.min(180.0 - off) < 1e-7, "{points:?}: {}", strip.tilt_rad.to_degrees());
            }
        };
        check(&[(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)], 1.0, Some(0.0));
        check(&[(0.0, 0.0), (1.0, 1.0), (2.0, 0.0)], 1.0, Some(0.0));
        check(&[(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)], 2.4, Some(143.130_102_354));
        check(
            &[(0.0, 0.0), (1.0, 1.0), (2.0, 4.0), (3.0, 9.0), (4.0, 16.0)],
            0.970_142_500_145,
            Some(75.963_756_532_1),
        );
        check(
            &[(0.0, 30.0), (20.0, 32.6), (40.0, 35.1), (60.0, 37.4), (80.0, 39.9), (100.0, 42.5)],
            0.165_413_354_292,
            Some(7.030_973_299_15),
        );
        check(
            &[
                (0.0, 40.0),
                (15.0, 43.1),
                (30.0, 45.2),
                (45.0, 46.0),
                (60.0, 45.3),
                (75.0, 43.0),
                (90.0, 39.8),
            ],
            6.099_984_938_33,
            Some(179.872_676_255),
        );
        check(
            &[
                (3.815, 38.996),
                (21.92, 36.173),
                (48.899, 26.925),
                (25.056, 3.603),
                (13.422, 24.994),
                (33.961, 40.187),
                (19.047, 3.297),
                (14.407, 45.48),
                (10.669, 22.606),
                (46.56, 1.245),
                (30.027, 47.506),
                (11.515, 27.424),
            ],
            36.790_139_640_7,
            Some(113.455_584_651),
        );
    }

    #[test]
    fn a_narrow_range_of_tilts_gives_its_best_end() {
        let points = [(0.0, 30.0), (100.0, 45.0)];
        let strip = Strip::narrowest(&points, (-0.1, 0.2)).unwrap();
        assert_eq!(strip.tilt_rad, -0.1);
        assert_eq!(Strip::narrowest(&points, (0.2, 0.1)), None);
        assert_eq!(Strip::narrowest(&[], (-0.1, 0.1)), None);
        assert_eq!(Strip::narrowest(&[(f64::NAN, 1.0)], (-0.1, 0.1)), None);
        let one = Strip::narrowest(&[(3.0, 4.0)], (-0.1, 0.1)).unwrap();
        assert_eq!((one.tilt_rad, one.width_mm()), (0.0, 0.0));
    }

    /// A ball of 40 mm over a chord of 40 mm: half the sagitta, `r − √(r² − c²/4)`, each way.
    #[test]
    fn an_arc_is_as_wide_as_its_sagitta() {
        let stations: Vec<Station> = (0..=2000)
            .map(|k| {
                let at_mm = -20.0 + 0.02 * f64::from(k);
                Station { at_mm, radius_mm: (1600.0 - at_mm * at_mm).sqrt() }
            })
            .collect();
        let wall = Wall::from_stations(&stations, WallShape::Straight).unwrap();
        let strip = Strip::narrowest(&wall.outline(0.0, wall.length_mm()), (-0.3, 0.3)).unwrap();
        assert!((strip.width_mm() - 2.0 * 2.679_491_924_31).abs() < 1e-9, "{}", strip.width_mm());
        assert!(strip.tilt_rad.abs() < 1e-9);
        assert!((strip.middle_mm() - 37.320_508_075_7).abs() < 1e-9);
    }

    #[test]
    fn calipers_agree_with_a_scan_of_all_points() {
        // A quarter of an ellipse: hundreds of hull corners, so that the corners are found by
        // halving.
        let points: Vec<(f64, f64)> = (0..=500)
            .map(|k| {
                let t = f64::from(k) / 500.0 * FRAC_PI_2;
                (70.0 * t.cos(), 30.0 * t.sin())
            })
            .collect();
        let hull = convex_hull(&points);
        assert!(hull.len() > 400);
        for k in -80..=80 {
            let tilt = f64::from(k) / 80.0 * FRAC_PI_2;
            let (fast, slow) = (
                Strip::under_tilt_of_hull(&hull, tilt).unwrap(),
                Strip::under_tilt(&points, tilt).unwrap(),
            );
            assert!(
                (fast.low_mm - slow.low_mm).abs() < 1e-9
                    && (fast.high_mm - slow.high_mm).abs() < 1e-9
            );
        }
    }

    #[test]
    fn outlines_stay_between_their_ends() {
        let stations = [(0.0, 30.0), (10.0, 34.0), (30.0, 34.0)]
            .map(|(at_mm, radius_mm)| Station { at_mm, radius_mm });
        for shape in [WallShape::Straight, WallShape::Smooth] {
            let wall = Wall::from_stations(&stations, shape).unwrap();
            let (from, to) = (wall.s_of_at(5.0), wall.s_of_at(20.0));
            let outline = wall.outline(to, from);
            assert!(
                (outline[0].0 - 5.0).abs() < 1e-9
                    && (outline[outline.len() - 1].0 - 20.0).abs() < 1e-9
            );
            assert!(outline.iter().any(|point| (point.0 - 10.0).abs() < 1e-12));
            assert_eq!(
                wall.outline(from, from).len(),
                if shape == WallShape::Straight { 2 } else { 17 }
            );
            assert!(!wall.outline(-5.0, -9.0).is_empty());
        }
    }
}
