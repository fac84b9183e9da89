//! The outline of a side view, as radii along an axis.

use std::f64::consts::FRAC_PI_4;

/// The most corners an outline may have.
const MOST_POINTS: usize = 400_000;
/// How many levels are looked at besides those of the outline's own corners.
const EVEN_LEVELS: u32 = 600;
/// How many levels the axis is found from: their pairs are all looked at.
const AXIS_LEVELS: usize = 201;
/// A lean beyond which what was found is no axis, rad.
const MOST_LEAN_RAD: f64 = FRAC_PI_4;
/// How often the lean is found anew, and when it is found, rad: the corners of a leaning end pull
/// at the first.
const MOST_TURNS: u32 = 12;
const UPRIGHT_RAD: f64 = 1e-9;
/// Where the radius grows so many times faster than the place along the axis, over this share of
/// the greatest radius, the outline runs across an end. An end whose lean is off by a degree still
/// does, and the foot of a fillet of a tenth of the radius does not.
const FACE_SLOPE: f64 = 20.0;
const FACE_WINDOW: f64 = 1.0 / 200.0;
/// Less than that, but at least so much, is the last of a face if hardly anything follows: a
/// rounded foot goes on growing.
const LAST_OF_FACE: f64 = 5.0;
const FOLLOWS: f64 = 0.25;
/// A face that has begun goes on until the radius grows no faster than this.
const PAST_FACE: f64 = 2.0;
/// What is looked at for an end's face, as a share of the length.
const MOST_FACE: f64 = 0.02;

/// Which side of the outline the radius is taken from.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Side {
    /// Half of what lies between both.
    #[default]
    Both,
    /// From the axis to the side with the smaller `across`: where a handle is on the other.
    Less,
    /// From the axis to the side with the greater `across`.
    Greater,
}

/// Why no silhouette was found.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SilhouetteError {
    /// Nothing with an extent both along and across.
    #[error("the outline has no extent along the axis or across it")]
    Flat,
    /// More corners than are taken.
    #[error("the outline has more than {MOST_POINTS} corners")]
    TooMany,
    /// A coordinate that is not a number.
    #[error("the outline has a coordinate that is not finite")]
    NotFinite,
    /// Only one side over half of its length or more.
    #[error(
        "the outline must show both sides of the work: over half of its length there is only one"
    )]
    OneSide,
    /// An axis that lies across.
    #[error(
        "the middle of the outline leans by more than 45 degrees: is it drawn the way it is said \
         to stand?"
    )]
    Leans,
}

/// A side view, read: the radius along its axis. Lengths are those of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Silhouette {
    /// `(along, radius)`, strictly increasing, from the first edge of the outline at 0 to the last.
    pub profile: Vec<(f64, f64)>,
    /// From the first edge of the outline to the last, along the axis.
    pub length: f64,
    /// How far the axis leans in the drawing, rad; the profile stands along the axis, not along the
    /// page.
    pub lean_rad: f64,
    /// The greatest difference between the two sides' radii, and where along the axis.
    pub uneven: (f64, f64),
}

/// Reads the outermost outline of `lines`, each a run of points `(along, across)`, closed or not.
///
/// The axis is the line in the middle of both sides: its lean the median of the leans of all pairs
/// of levels (Theil and Sen), its place the median, so that a handle over less than half of the
/// length does not shift it. `edge` is how near to either end and to either side of a ledge the
/// outline is looked at. The faces of both ends, which are never drawn quite square to what is
/// found for the axis, are no wall: the wall is carried on from beside them to the end.
///
/// # Errors
/// Where no side view with an axis is to be seen.
///
/// ```
/// use stave_wall::{Side, silhouette};
/// // A cone frustum from the side, 40 high, 20 wide at the foot, 30 at the rim.
/// let view = [vec![(0.0, -10.0), (0.0, 10.0), (40.0, 15.0), (40.0, -15.0), (0.0, -10.0)]];
/// let found = silhouette(&view, Side::Both, 0.001)?;
/// assert!((found.profile[0].1 - 10.0).abs() < 1e-3);
/// assert!((found.profile.last().unwrap().1 - 15.0).abs() < 1e-3);
/// # Ok::<(), stave_wall::SilhouetteError>(())
/// ```
pub fn silhouette(
    lines: &[Vec<(f64, f64)>],
    side: Side,
    edge: f64,
) -> Result<Silhouette, SilhouetteError> {
    if lines.iter().map(Vec::len).sum::<usize>() > MOST_POINTS {
        return Err(SilhouetteError::TooMany);
    }
    if lines.iter().flatten().any(|p| !(p.0.is_finite() && p.1.is_finite())) {
        return Err(SilhouetteError::NotFinite);
    }
    let mut view = View::new(lines, edge)?;
    let (mut middle, mut slope) = axis(&view)?;
    let mut lean_rad = 0.0;
    for _ in 0..MOST_TURNS {
        lean_rad += slope.atan();
        if lean_rad.abs() > MOST_LEAN_RAD {
            return Err(SilhouetteError::Leans);
        }
        let (cos, sin) = (lean_rad.cos(), lean_rad.sin());
        // Turned so that the axis runs along.
        let upright = |p: &(f64, f64)| (p.0 * cos + p.1 * sin, p.1 * cos - p.0 * sin);
        let turned: Vec<Vec<(f64, f64)>> =
            lines.iter().map(|line| line.iter().map(upright).collect()).collect();
        view = View::new(&turned, edge)?;
        (middle, slope) = axis(&view)?;
        if slope.abs() < UPRIGHT_RAD {
            break;
        }
    }
    let (from, to) = view.without_faces();
    let mut uneven = (0.0, 0.0);
    let mut profile: Vec<(f64, f64)> = Vec::with_capacity(view.levels.len());
    for &(along, less, greater) in view.levels.iter().filter(|l| (from..=to).contains(&l.0)) {
        let at = middle + slope * along;
        let (below, above) = (at - less, greater - at);
        if (above - below).abs() > uneven.0 {
            uneven = ((above - below).abs(), along - view.range.0);
        }
        let radius = match side {
            Side::Both => 0.5 * (greater - less),
            Side::Less => below,
            Side::Greater => above,
        };
        if radius > 0.0 {
            profile.push((along - view.range.0, radius));
        }
    }
    if profile.len() < 2 {
        return Err(SilhouetteError::Flat);
    }
    let length = view.range.1 - view.range.0;
    // Beside a face the wall runs on to the end.
    let run_on = |beside: &[(f64, f64)], at: f64| -> Option<(f64, f64)> {
        let window = FACE_WINDOW * view.widest();
        let a = *beside.first()?;
        let b = *beside.iter().find(|b| (b.0 - a.0).abs() >= window)?;
        let radius = a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0);
        (radius > 0.0).then_some((at, radius))
    };
    if from > view.range.0
        && let Some(first) = run_on(&profile, 0.0)
    {
        profile.insert(0, first);
    }
    if to < view.range.1 {
        let back: Vec<(f64, f64)> = profile.iter().rev().copied().collect();
        profile.extend(run_on(&back, length));
    }
    // What was looked at a hair inside the ends is the ends.
    if let Some(first) = profile.first_mut().filter(|first| first.0 < 1.5 * edge) {
        first.0 = 0.0;
    }
    if let Some(last) = profile.last_mut().filter(|last| last.0 > length - 1.5 * edge) {
        last.0 = length;
    }
    Ok(Silhouette { profile, length, lean_rad, uneven })
}

/// The outermost outline, level by level.
struct View {
    /// `(along, least across, greatest across)`, strictly increasing.
    levels: Vec<(f64, f64, f64)>,
    range: (f64, f64),
}

impl View {
    fn new(lines: &[Vec<(f64, f64)>], edge: f64) -> Result<Self, SilhouetteError> {
        let points = || lines.iter().flatten();
        let from = points().map(|p| p.0).fold(f64::INFINITY, f64::min);
        let to = points().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
        if !(to - from > 4.0 * edge && edge > 0.0) {
            return Err(SilhouetteError::Flat);
        }
        let (first, last) = (from + edge, to - edge);
        let step = (last - first) / f64::from(EVEN_LEVELS);
        let mut alongs: Vec<f64> = points().flat_map(|p| [p.0 - edge, p.0, p.0 + edge]).collect();
        alongs.extend((0..=EVEN_LEVELS).map(|k| first + step * f64::from(k)));
        alongs.retain(|along| *along >= first && *along <= last);
        alongs.sort_by(f64::total_cmp);
        alongs.dedup_by(|b, a| *b - *a < 0.5 * edge);
        let mut runs: Vec<((f64, f64), (f64, f64))> = lines
            .iter()
            .flat_map(|line| line.windows(2))
            .map(
                |pair| if pair[0].0 <= pair[1].0 { (pair[0], pair[1]) } else { (pair[1], pair[0]) },
            )
            .filter(|(a, b)| b.0 > a.0)
            .collect();
        runs.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
        let mut waiting = runs.into_iter().peekable();
        let mut active: Vec<((f64, f64), (f64, f64))> = Vec::new();
        let mut levels = Vec::with_capacity(alongs.len());
        for along in alongs {
            while let Some(run) = waiting.next_if(|run| run.0.0 <= along) {
                active.push(run);
            }
            active.retain(|run| run.1.0 >= along);
            let across =
                |((a, x), (b, y)): &((f64, f64), (f64, f64))| x + (y - x) * (along - a) / (b - a);
            let least = active.iter().map(across).fold(f64::INFINITY, f64::min);
            let most = active.iter().map(across).fold(f64::NEG_INFINITY, f64::max);
            if most >= least {
                levels.push((along, least, most));
            }
        }
        Ok(Self { levels, range: (from, to) })
    }
}

impl View {
    /// Half of the greatest width.
    fn widest(&self) -> f64 {
        self.levels.iter().map(|level| 0.5 * (level.2 - level.1)).fold(0.0, f64::max)
    }

    /// From where to where along there is wall: the outline without the faces of its ends.
    fn without_faces(&self) -> (f64, f64) {
        let radii = || self.levels.iter().map(|level| (level.0, 0.5 * (level.2 - level.1)));
        let up: Vec<(f64, f64)> = radii().map(|(at, r)| (at - self.range.0, r)).collect();
        let down: Vec<(f64, f64)> = radii().rev().map(|(at, r)| (self.range.1 - at, r)).collect();
        let (window, length) = (FACE_WINDOW * self.widest(), self.range.1 - self.range.0);
        let face = |levels: &[(f64, f64)]| {
            let mut depth = 0.0;
            while depth < MOST_FACE * length {
                let radius = |along: f64| {
                    let next = levels.partition_point(|level| level.0 < along);
                    levels.get(next).or(levels.last()).map_or(0.0, |level| level.1)
                };
                let grows = |from: f64| (radius(from + window) - radius(from)) / window;
                let (here, next) = (grows(depth), grows(depth + window));
                let last = here >= LAST_OF_FACE && next < FOLLOWS * here;
                let face = here >= FACE_SLOPE || last || depth > 0.0 && here >= PAST_FACE;
                if !face {
                    break;
                }
                depth += window;
            }
            depth
        };
        (self.range.0 + face(&up), self.range.1 - face(&down))
    }
}

/// The middle line of both sides: `across = .0 + .1 * along`.
fn axis(view: &View) -> Result<(f64, f64), SilhouetteError> {
    let (from, to) = view.range;
    let widest = view.levels.iter().map(|level| level.2 - level.1).fold(0.0, f64::max);
    if widest <= 0.0 {
        return Err(SilhouetteError::Flat);
    }
    // Levels even in length, whatever the outline's corners.
    let mut middles = Vec::with_capacity(AXIS_LEVELS);
    let mut one_sided = 0;
    #[allow(clippy::cast_precision_loss)]
    for k in 0..AXIS_LEVELS {
        let along = from + (to - from) * (k as f64 + 0.5) / AXIS_LEVELS as f64;
        let next = view.levels.partition_point(|level| level.0 < along).min(view.levels.len() - 1);
        let level = view.levels[next];
        if level.2 - level.1 < 1e-6 * widest {
            one_sided += 1;
        } else {
            middles.push((level.0, 0.5 * (level.1 + level.2)));
        }
    }
    if 2 * one_sided >= AXIS_LEVELS {
        return Err(SilhouetteError::OneSide);
    }
    let mut slopes: Vec<f64> = Vec::with_capacity(middles.len() * middles.len() / 2);
    for (k, a) in middles.iter().enumerate() {
        slopes.extend(
            middles[k + 1..].iter().filter(|b| b.0 > a.0).map(|b| (b.1 - a.1) / (b.0 - a.0)),
        );
    }
    let slope = median(&mut slopes).unwrap_or(0.0);
    let mut starts: Vec<f64> = middles.iter().map(|m| m.1 - slope * m.0).collect();
    Ok((median(&mut starts).ok_or(SilhouetteError::Flat)?, slope))
}

fn median(values: &mut [f64]) -> Option<f64> {
    let middle = values.len().checked_sub(1)? / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// The fewest points of a profile, found by splitting where the straight run strays most, such that
/// no point left out lies farther than `within` from the run that passes it (Ramer, Computer
/// Graphics and Image Processing 1, 1972; Douglas and Peucker, The Canadian Cartographer 10, 1973;
/// from memory). Returns their indices, the first and the last included.
///
/// ```
/// use stave_wall::thin_out;
/// let bend = [(0.0, 10.0), (10.0, 10.01), (20.0, 10.0), (30.0, 15.0), (40.0, 20.0)];
/// assert_eq!(thin_out(&bend, 0.05), [0, 2, 4]);
/// ```
#[must_use]
pub fn thin_out(profile: &[(f64, f64)], within: f64) -> Vec<usize> {
    let Some(last) = profile.len().checked_sub(1) else { return Vec::new() };
    let mut kept = vec![0, last];
    let mut open = vec![(0, last)];
    while let Some((from, to)) = open.pop() {
        let (a, b) = (profile[from], profile[to]);
        let (du, dv) = (b.0 - a.0, b.1 - a.1);
        let length = du.hypot(dv);
        let off = |p: (f64, f64)| {
            if length > 0.0 {
                ((p.1 - a.1) * du - (p.0 - a.0) * dv).abs() / length
            } else {
                (p.0 - a.0).hypot(p.1 - a.1)
            }
        };
        let farthest =
            (from + 1..to).map(|k| (k, off(profile[k]))).max_by(|x, y| x.1.total_cmp(&y.1));
        if let Some((k, _)) = farthest.filter(|found| found.1 > within) {
            kept.push(k);
            open.extend([(from, k), (k, to)]);
        }
    }
    kept.sort_unstable();
    kept.dedup();
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const BOTTLE: [(f64, f64); 6] =
        [(0.0, 33.0), (40.0, 33.75), (95.0, 35.0), (101.0, 43.0), (140.0, 44.0), (175.0, 44.25)];

    /// Both sides of a profile, closed, about an axis that leans.
    fn drawn(profile: &[(f64, f64)], lean: f64) -> Vec<(f64, f64)> {
        let up = profile.iter().copied();
        let down = profile.iter().rev().map(|&(at, r)| (at, -r));
        let first = profile[0];
        let turn = |(a, x): (f64, f64)| {
            (a * lean.cos() - x * lean.sin() + 7.0, a * lean.sin() + x * lean.cos() - 3.0)
        };
        up.chain(down).chain([first]).map(turn).collect()
    }

    fn radius_at(profile: &[(f64, f64)], along: f64) -> f64 {
        let k = profile.partition_point(|p| p.0 < along).clamp(1, profile.len() - 1);
        let (a, b) = (profile[k - 1], profile[k]);
        a.1 + (b.1 - a.1) * (along - a.0) / (b.0 - a.0)
    }

    #[test]
    fn the_stepped_bottle_comes_back() {
        for lean in [0.0, 0.02, -0.1] {
            let found = silhouette(&[drawn(&BOTTLE, lean)], Side::Both, 0.001).unwrap();
            assert!((found.lean_rad - lean).abs() < 2e-3, "{} for {lean}", found.lean_rad);
            for (at, r) in BOTTLE {
                let tolerance = if lean == 0.0 { 0.01 } else { 0.05 };
                assert!(
                    (radius_at(&found.profile, at.clamp(0.01, 174.99)) - r).abs() < tolerance,
                    "{lean}: {at}"
                );
            }
        }
    }

    #[test]
    fn thinned_out_it_is_its_stations() {
        let found = silhouette(&[drawn(&BOTTLE, 0.0)], Side::Both, 0.001).unwrap();
        let kept = thin_out(&found.profile, 0.02);
        assert_eq!(kept.len(), BOTTLE.len());
        for (k, station) in kept.iter().zip(BOTTLE) {
            assert!(
                (found.profile[*k].0 - station.0).abs() < 1e-9,
                "{:?} {station:?}",
                found.profile[*k]
            );
        }
    }

    /// The face of an end, drawn true or by an unsteady hand, is no wall and not uneven.
    #[test]
    fn a_leaning_flat_end_makes_no_stations() {
        let walls = [
            vec![(0.0, 35.0), (100.0, 35.0)],
            vec![(0.0, 35.0), (100.0, 40.0)],
            vec![(0.0, 40.0), (60.0, 40.0), (100.0, 25.0)],
        ];
        for wall in &walls {
            for lean in [-8.0, -5.0, -1.0, 0.3, 2.0, 3.5, 4.0, 4.5, 6.0, 8.0_f64] {
                for shake in [0.0, 0.05] {
                    // Corners every 5 mm, and across the ends too, off by what no pattern has.
                    let corners = drawn(wall, lean.to_radians());
                    let mut steps = Vec::new();
                    for pair in corners.windows(2) {
                        let (dx, dy) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
                        let count = (dx.hypot(dy) / 5.0).ceil().max(1.0);
                        let mut k = 0.0;
                        while k < count {
                            let n = 12.9898 * (steps.len() as f64 + 1.0);
                            let off = |n: f64| shake * ((n.sin() * 43_758.545).fract());
                            let (x, y) = (pair[0].0 + dx * k / count, pair[0].1 + dy * k / count);
                            steps.push((x + off(n), y + off(n + 4.1)));
                            k += 1.0;
                        }
                    }
                    steps.push(steps[0]);
                    let found = silhouette(&[steps], Side::Both, 0.01).unwrap();
                    for &(along, r) in &found.profile {
                        // Within the lean's own error, and 0.3 mm of the step of a corner.
                        let off = (r - radius_at(wall, along)).abs();
                        assert!(off < 0.06 + 4.0 * shake, "{lean} {shake}: {r} at {along}");
                    }
                    assert!(found.uneven.0 < 0.2 + 8.0 * shake, "{lean}: {:?}", found.uneven);
                    assert_eq!(found.profile[0].0, 0.0);
                }
            }
        }
    }

    #[test]
    fn a_handle_on_one_side_leaves_the_other() {
        let body = drawn(&BOTTLE, 0.0);
        let handle = vec![
            (110.0 + 7.0, 40.0 - 3.0),
            (115.0 + 7.0, 75.0),
            (158.0 + 7.0, 75.0),
            (160.0 + 7.0, 40.0 - 3.0),
        ];
        let found = silhouette(&[body, handle], Side::Less, 0.001).unwrap();
        assert!((radius_at(&found.profile, 130.0) - radius_at(&BOTTLE, 130.0)).abs() < 0.01);
        assert!(
            found.uneven.0 > 20.0 && (110.0..161.0).contains(&found.uneven.1),
            "{:?}",
            found.uneven
        );
    }

    #[test]
    fn what_is_no_side_view() {
        let error = |line: Vec<(f64, f64)>| silhouette(&[line], Side::Both, 0.001).unwrap_err();
        assert_eq!(error(vec![]), SilhouetteError::Flat);
        assert_eq!(error(vec![(0.0, 1.0), (0.0, 5.0)]), SilhouetteError::Flat);
        assert_eq!(error(vec![(0.0, 1.0), (f64::NAN, 5.0)]), SilhouetteError::NotFinite);
        assert_eq!(
            error(vec![(0.0, 1.0), (10.0, 1.0), (12.0, 1.0), (12.0, 3.0), (11.5, 3.0)]),
            SilhouetteError::OneSide
        );
    }

    proptest! {
        #[test]
        fn no_point_left_out_strays(radii in prop::collection::vec(1.0..50.0_f64, 2..60), within in 0.01..2.0_f64) {
            let profile: Vec<(f64, f64)> = radii.iter().enumerate().map(|(k, r)| (k as f64, *r)).collect();
            let kept = thin_out(&profile, within);
            prop_assert_eq!((kept[0], *kept.last().unwrap()), (0, profile.len() - 1));
            for pair in kept.windows(2) {
                let (a, b) = (profile[pair[0]], profile[pair[1]]);
                for p in &profile[pair[0]..=pair[1]] {
                    let off = ((p.1 - a.1) * (b.0 - a.0) - (p.0 - a.0) * (b.1 - a.1)).abs() / (b.0 - a.0).hypot(b.1 - a.1);
                    prop_assert!(off <= within + 1e-9);
                }
            }
        }
    }
}
