//! Cutting a burn into straight machine moves.
//!
//! The machine moves straight in its words; the exact image of a flat move is seldom straight
//! there. A move is as long as it can be while every point of it stays within the tolerance of the
//! image and the speed on the wall strays from the asked by at most one per cent. Both are judged
//! on the wall, in the metric of the place looked at: by bounds in closed form ([`bound`]), and by
//! looks at the exact image where those tell too little.

mod bound;
mod label;

use stave_wall::{Bends, Laid, Lay, LayKind, Wall, WallShape};

use crate::curve::FlatPoint;
use crate::dose::{self, POWER_STEP};
use crate::range::Range;
use crate::track::Track;
use stave_rig::{FOLLOW_TOLERANCE_MM, Focus, Rig, SAME_PLACE_MM};

/// The speed on the wall may stray by this share within a move. A little is kept back for what lies
/// between the looks.
pub(crate) const STRAY: f64 = 0.0099;
/// Looks inside a move on a straight wall, besides its ends.
const LOOKS: u32 = 7;
/// The same where the curvature of a smooth wall may jump at a station under the move.
const LOOKS_SMOOTH: u32 = 31;
/// Looks along a burn for where a label turns back along the meridian: so far apart, mm in the flat
/// plane, but so few and so many.
const LABEL_LOOK_MM: f64 = 0.25;
const LABEL_LOOKS: (f64, f64) = (4.0, 32.0);
/// What lies between two looks at a parabola of deviation can be this much more than the looks
/// show.
const BETWEEN_LOOKS: f64 = 1.02;
/// A move so near to as long as it can be is taken: ten per cent more moves than the fewest are
/// allowed.
const LONG_ENOUGH: f64 = 0.985;
/// A bound on a deviation that passes the greatest one known by this factor is looked at: what is
/// told at the end is right to that.
pub(crate) const KNOWN: f64 = 1.05;
/// No move is made shorter than this to please a rule, mm in the flat plane.
const SHORTEST_MM: f64 = 1e-4;

/// A cut point: the flat point and its exact image.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Point {
    pub(crate) t: f64,
    pub(crate) flat: FlatPoint,
    pub(crate) laid: Laid,
}

/// All that a cut is judged by.
pub(crate) struct Ground<'a> {
    pub(crate) wall: &'a Wall,
    pub(crate) lay: &'a Lay,
    pub(crate) rig: &'a Rig<'a>,
    pub(crate) focus: &'a Focus,
    /// What is left of the tolerance after rounding, mm on the wall.
    pub(crate) tolerance_mm: f64,
    pub(crate) even_dose: bool,
    /// What a smooth wall does between any two places; `None` for a straight one.
    pub(crate) bends: Option<&'a Bends>,
}

/// The move that was chosen.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cut {
    pub(crate) to: Point,
    /// How far it strays from the exact image at the most, mm on the wall.
    pub(crate) deviation_mm: f64,
    /// Whether that was looked at; else it is a bound.
    pub(crate) measured: bool,
    /// Its length on the wall over what the middle of its two ends would give: 1 but where the
    /// slope changes unevenly under it.
    pub(crate) length_ratio: f64,
    /// The share by which its speed on the wall strays from its mean, at the most.
    pub(crate) stray: f64,
}

/// How far a move uses up each rule: 1 is just allowed.
#[derive(Clone, Copy, Debug, Default)]
struct Use {
    /// As [`Cut::length_ratio`].
    length_ratio: f64,
    /// Grows with the square of the length.
    deviation: f64,
    /// Grows with the length.
    stray: f64,
}

impl Use {
    fn worst(self) -> f64 {
        self.deviation.max(self.stray)
    }

    /// By how much the length may be multiplied to just use up the rules.
    fn room(self) -> f64 {
        1.0 / self.deviation.sqrt().max(self.stray).max(1e-3)
    }
}

/// The parameter between two others at which a function that has one summit there is highest, by
/// golden section.
fn highest(mut f: impl FnMut(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const RATIO: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - RATIO * (high - low), low + RATIO * (high - low));
    let (mut f_a, mut f_b) = (f(a), f(b));
    for _ in 0..40 {
        if f_a > f_b {
            (high, b, f_b) = (b, a, f_a);
            a = high - RATIO * (high - low);
            f_a = f(a);
        } else {
            (low, a, f_a) = (a, b, f_b);
            b = low + RATIO * (high - low);
            f_b = f(b);
        }
    }
    0.5 * (low + high)
}

impl Ground<'_> {
    /// The image of a curve's point, its section taken from the span the piece at hand lies in.
    pub(crate) fn point(&self, track: &Track<'_>, t: f64, span: Option<usize>) -> Point {
        let flat = track.point(t);
        let mut hint = span.unwrap_or(0);
        let mut laid = self.lay.map(self.wall, flat.u, flat.v, &mut hint);
        if let Some(span) = span {
            laid.span = span;
            laid.section = self.wall.section_in(span, laid.s_mm);
        }
        Point { t, flat, laid }
    }

    /// As [`Ground::point`], to within 5e-5 mm: what a move is judged by, not what is written.
    fn look(&self, track: &Track<'_>, t: f64, span: Option<usize>) -> Point {
        let flat = track.point(t);
        let laid = self.looked(flat, span);
        Point { t, flat, laid }
    }

    fn looked(&self, flat: FlatPoint, span: Option<usize>) -> Laid {
        let mut laid = self.lay.look(self.wall, flat.u, flat.v, &mut span.unwrap_or(0));
        if let Some(span) = span {
            laid.span = span;
            laid.section = self.wall.section_in(span, laid.s_mm);
        }
        laid
    }

    /// Where a curve's point lies, to within 5e-5 mm.
    pub(crate) fn place(&self, track: &Track<'_>, t: f64) -> Laid {
        self.looked(track.point(t), None)
    }

    /// Fills `breaks` with the parameters at which a burn must be cut whatever its shape: its ends
    /// and, on a straight wall, the stations.
    pub(crate) fn breaks(&self, track: &Track<'_>, breaks: &mut Vec<f64>) {
        breaks.clear();
        breaks.push(0.0);
        if self.wall.shape() == WallShape::Straight && self.wall.span_count() > 1 {
            if !self.plain_crossings(track, breaks) {
                breaks.truncate(1);
                self.turning_points(track, breaks);
                breaks.push(1.0);
                let monotone = breaks.len();
                for k in 1..monotone {
                    self.station_crossings(track, breaks[k - 1], breaks[k], breaks);
                }
                // The turning points have served their turn: only stations cut.
                breaks.drain(1..monotone);
            }
            breaks.push(1.0);
            breaks.sort_by(f64::total_cmp);
        } else {
            breaks.push(1.0);
        }
    }

    /// Adds the parameters at which a plain track meets a station, in closed form; false where
    /// there is none.
    fn plain_crossings(&self, track: &Track<'_>, into: &mut Vec<f64>) -> bool {
        let Some((low, high)) = self.stretch(track) else { return false };
        let stations = self.wall.span_ends_mm();
        let first = stations.partition_point(|s| *s <= low + SAME_PLACE_MM);
        let inside = stations[first..].iter().take_while(|s| **s < high - SAME_PLACE_MM);
        let before = into.len();
        for &s in inside {
            let Some(u) = self.lay.u_of_s(self.wall, s) else { return false };
            if !track.crossings(u, into) {
                return false;
            }
        }
        if into.len() > before {
            // A start or an end on a station is no crossing.
            let near = SAME_PLACE_MM / track.curve.length_mm().max(SAME_PLACE_MM);
            let mut kept = before;
            for k in before..into.len() {
                if into[k] > near && into[k] < 1.0 - near {
                    into[kept] = into[k];
                    kept += 1;
                }
            }
            into.truncate(kept);
        }
        true
    }

    /// A stretch of meridian that a track does not leave, mm: the very one for lays that keep level
    /// lines level. `None` where it is not known without looking along the track.
    pub(crate) fn stretch(&self, track: &Track<'_>) -> Option<(f64, f64)> {
        if self.lay.setting().kind == LayKind::Label {
            return self.label_stretch(track);
        }
        let (u, _) = track.extent()?;
        Some((self.lay.s_of_u(self.wall, u.low)?, self.lay.s_of_u(self.wall, u.high)?))
    }

    /// The turns that a plain track comes to within that stretch, rad.
    pub(crate) fn turns(&self, track: &Track<'_>, stretch: (f64, f64)) -> Option<(f64, f64)> {
        if self.lay.setting().kind == LayKind::Label {
            return self.label_turns(track, stretch);
        }
        let (_, v) = track.extent()?;
        let w = v - Range::one(self.lay.anchor_mm().1);
        let turns = match self.lay.setting().kind {
            LayKind::Label => return None,
            LayKind::EvenAngle | LayKind::TrueShape => w * (1.0 / self.lay.true_radius_mm()),
            LayKind::TrueWidth => w * self.radii(stretch).inverse(),
        };
        let anchor = self.lay.anchor_turn_rad();
        Some((anchor + turns.low, anchor + turns.high))
    }

    /// The radii between two places of the meridian, mm.
    fn radii(&self, (low, high): (f64, f64)) -> Range {
        if let Some(bends) = self.bends {
            return bends.over(low, high).radius_mm.into();
        }
        let mut hint = 0;
        let mut radius = |s: f64| self.wall.section(s, &mut hint).radius_mm;
        let mut radii = Range::between(radius(low), radius(high));
        let stations = self.wall.span_ends_mm();
        let first = stations.partition_point(|s| *s <= low);
        for &s in stations[first..].iter().take_while(|s| **s < high) {
            radii = radii.with(radius(s));
        }
        radii
    }

    /// Adds the parameters, in order and inside (0, 1), between which the place along the meridian
    /// only grows or only falls.
    pub(crate) fn turning_points(&self, track: &Track<'_>, into: &mut Vec<f64>) {
        if self.lay.setting().kind != LayKind::Label {
            // Level lines are level: the place goes as `u` does.
            return track.curve.turning_points(into);
        }
        let s_at = |t: f64| self.place(track, t).s_mm;
        let looks = (track.curve.length_mm() / LABEL_LOOK_MM).ceil();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "few")]
        let looks = looks.clamp(LABEL_LOOKS.0, LABEL_LOOKS.1) as u32;
        let at = |k: u32| f64::from(k) / f64::from(looks);
        let (mut before, mut here) = (s_at(0.0), s_at(at(1)));
        for k in 2..=looks {
            let after = s_at(at(k));
            if (here > before) != (after > here) {
                let sign = if here > before { 1.0 } else { -1.0 };
                into.push(highest(|t| sign * s_at(t), at(k - 2), at(k)));
            }
            (before, here) = (here, after);
        }
    }

    /// Adds the parameters between `from` and `to`, where the place along the meridian is monotone,
    /// at which it meets a station.
    fn station_crossings(&self, track: &Track<'_>, from: f64, to: f64, into: &mut Vec<f64>) {
        let mut hint = 0;
        let mut s_at = |t: f64| {
            let flat = track.point(t);
            self.lay.map(self.wall, flat.u, flat.v, &mut hint).s_mm
        };
        let (s0, s1) = (s_at(from), s_at(to));
        let (low, high) = (s0.min(s1), s0.max(s1));
        let stations = self.wall.span_ends_mm();
        let first = stations.partition_point(|s| *s <= low + SAME_PLACE_MM);
        for &s in stations[first..].iter().take_while(|s| **s < high - SAME_PLACE_MM) {
            let (mut a, mut b) = (from, to);
            // Sixty halvings exhaust the digits of a parameter in 0..1.
            for _ in 0..60 {
                let middle = 0.5 * (a + b);
                if (s_at(middle) < s) == (s0 < s1) { a = middle } else { b = middle }
            }
            into.push(0.5 * (a + b));
        }
    }

    /// The longest move from `from` that the rules allow, at most to `last`.
    pub(crate) fn longest(
        &self,
        track: &Track<'_>,
        from: &Point,
        last: &Point,
        span: Option<usize>,
        length_mm: f64,
    ) -> Cut {
        if let Some(cut) = self.longest_by_bound(track, from, last, span) {
            return cut;
        }
        let cut = |to: Point, used: Use| Cut {
            // What is written is exact.
            to: if to.t >= last.t { *last } else { self.point(track, to.t, span) },
            deviation_mm: used.deviation * self.tolerance_mm,
            length_ratio: used.length_ratio,
            stray: used.stray * STRAY,
            measured: true,
        };
        let whole = self.used(track, from, last, span);
        if whole.worst() <= 1.0 {
            return cut(*last, whole);
        }
        let shortest = SHORTEST_MM / length_mm.max(SHORTEST_MM);
        let mut good: Option<(Point, Use)> = None;
        let mut bad_t = last.t;
        let mut guess = from.t + (last.t - from.t) * (0.98 * whole.room()).min(0.98);
        let mut bad_in_a_row = 0;
        // The rules' own growth makes good guesses, and two bad ones in a row halve the bracket:
        // sixty rounds exhaust a parameter's digits.
        for _ in 0..60 {
            let floor = good.as_ref().map_or(from.t, |(point, _)| point.t);
            if bad_in_a_row >= 2 {
                // A rule need not grow with the length: where the speed jumps and then is steady,
                // only halving gets there.
                guess = guess.min(floor + 0.5 * (bad_t - floor));
            }
            if bad_t - from.t <= shortest {
                break;
            }
            let room = bad_t - floor;
            guess = guess.clamp(floor + 0.1 * room, bad_t - 0.02 * room);
            let point = self.look(track, guess, span);
            let used = self.used(track, from, &point, span);
            if used.worst() <= 1.0 {
                good = Some((point, used));
                bad_in_a_row = 0;
                if point.t - from.t >= LONG_ENOUGH * (bad_t - from.t)
                    || used.room() * LONG_ENOUGH < 1.0
                {
                    break;
                }
            } else {
                bad_t = point.t;
                bad_in_a_row += 1;
            }
            guess = from.t + (point.t - from.t) * used.room() * 0.99;
        }
        match good {
            Some((point, used)) => cut(point, used),
            // No rule can ask for less than the shortest move.
            None => {
                let t = (from.t + shortest).min(last.t);
                let point = if t >= last.t { *last } else { self.look(track, t, span) };
                cut(point, self.used(track, from, &point, span))
            }
        }
    }

    /// The deviation of a cut as looks along it find it, mm.
    pub(crate) fn measured_mm(
        &self,
        track: &Track<'_>,
        from: &Point,
        cut: &Cut,
        span: Option<usize>,
    ) -> f64 {
        if cut.measured {
            return cut.deviation_mm;
        }
        self.used(track, from, &cut.to, span).deviation * self.tolerance_mm
    }

    /// How far the straight machine move between two points strays from a curve beside the move
    /// that was cut, which is at `drawn` where the move is at a parameter, mm.
    pub(crate) fn strayed_mm(
        &self,
        from: &Point,
        to: &Point,
        span: Option<usize>,
        drawn: impl Fn(f64) -> FlatPoint,
    ) -> f64 {
        let crest = &self.rig.crest;
        let words = |point: &Point| (self.rig.along_mm(&point.laid.section), point.laid.turn_rad);
        let (start, end) = (words(from), words(to));
        let aside_mm = |k: u32| {
            let t = from.t + (to.t - from.t) * f64::from(k) / f64::from(LOOKS + 1);
            let laid = self.looked(drawn(t), span);
            let there = (self.rig.along_mm(&laid.section), laid.turn_rad);
            let rate = crest.along_rate(&laid.section);
            let on_wall = |to: (f64, f64)| {
                kurbo::Vec2::new((to.0 - start.0) / rate, (to.1 - start.1) * laid.section.radius_mm)
            };
            let (chord, there) = (on_wall(end), on_wall(there));
            let share = (chord.dot(there) / chord.hypot2()).clamp(0.0, 1.0);
            (there - chord * share).hypot()
        };
        (1..=LOOKS).map(aside_mm).filter(|mm| mm.is_finite()).fold(0.0, f64::max)
    }

    /// How far the straight machine move from `from` to `to` uses up the rules.
    fn used(&self, track: &Track<'_>, from: &Point, to: &Point, span: Option<usize>) -> Use {
        let crest = &self.rig.crest;
        let (x0, x1) = (self.rig.along_mm(&from.laid.section), self.rig.along_mm(&to.laid.section));
        let (turn0, dx, dturn) =
            (from.laid.turn_rad, x1 - x0, to.laid.turn_rad - from.laid.turn_rad);
        let z = |point: &Point| {
            if self.focus.follows() {
                self.focus.z_mm(crest, &point.laid.section, point.flat.z)
            } else {
                point.flat.z
            }
        };
        let (z0, z1) = (z(from), z(to));
        let z_tolerance =
            if self.focus.follows() { FOLLOW_TOLERANCE_MM } else { self.tolerance_mm };
        let rate =
            0.5 * (crest.along_rate(&from.laid.section) + crest.along_rate(&to.laid.section));
        let radius = 0.5 * (from.laid.section.radius_mm + to.laid.section.radius_mm);
        let length = (dx / rate).hypot(dturn * radius);
        let spacing = |point: &Point| {
            dose::spacing_ratio(self.lay, self.wall, track.curve, point.flat, point.t)
        };
        let (mut spacing_low, mut spacing_high) = (f64::INFINITY, 0.0_f64);
        let mut used = Use { length_ratio: 1.0, ..Use::default() };
        // The length a whole chord would have in the metric of each look, by trapezoids over the
        // move.
        let (mut least, mut most, mut sum) = (f64::INFINITY, 0.0_f64, 0.0);
        let mut look = |point: &Point, inside: bool, used: &mut Use| {
            let section = &point.laid.section;
            let rate = crest.along_rate(section);
            let chord = (dx / rate, dturn * section.radius_mm);
            let there = (
                (self.rig.along_mm(section) - x0) / rate,
                (point.laid.turn_rad - turn0) * section.radius_mm,
            );
            let squared = chord.0 * chord.0 + chord.1 * chord.1;
            let chord_mm = squared.sqrt();
            least = least.min(chord_mm);
            most = most.max(chord_mm);
            sum += if inside { chord_mm } else { 0.5 * chord_mm };
            if self.even_dose {
                let here = spacing(point);
                spacing_low = spacing_low.min(here);
                spacing_high = spacing_high.max(here);
            }
            if !inside {
                return;
            }
            let share =
                if squared > 0.0 { (chord.0 * there.0 + chord.1 * there.1) / squared } else { 0.0 };
            let near = share.clamp(0.0, 1.0);
            let aside = (there.0 - near * chord.0, there.1 - near * chord.1);
            let away = (aside.0 * aside.0 + aside.1 * aside.1).sqrt();
            let z_away = (z(point) - (z0 + (z1 - z0) * near)).abs();
            used.deviation = used
                .deviation
                .max(away * BETWEEN_LOOKS / self.tolerance_mm)
                .max(z_away * BETWEEN_LOOKS / z_tolerance);
        };
        look(from, false, &mut used);
        look(to, false, &mut used);
        let looks = self.looks(track, from, to, span);
        for k in 1..=looks {
            let t = from.t + (to.t - from.t) * f64::from(k) / f64::from(looks + 1);
            look(&self.look(track, t, span), true, &mut used);
        }
        let mean = sum / f64::from(looks + 1);
        if mean > 0.0 && length > 0.0 {
            used.stray = (most / mean - 1.0).max(1.0 - least / mean) / STRAY;
            used.length_ratio = mean / length;
        }
        if self.even_dose {
            used.stray = used
                .stray
                .max((spacing_high - spacing_low) / (spacing_high.max(1e-12) * POWER_STEP));
        }
        used
    }

    /// How many looks between its ends tell what a move is like: more of them where the curvature
    /// may jump under it.
    fn looks(&self, track: &Track<'_>, from: &Point, to: &Point, span: Option<usize>) -> u32 {
        if self.wall.shape() == WallShape::Straight {
            return LOOKS;
        }
        let middle = self.look(track, 0.5 * (from.t + to.t), span).laid.s_mm;
        let places = [from.laid.s_mm, middle, to.laid.s_mm];
        let low = places.into_iter().fold(f64::INFINITY, f64::min);
        let high = places.into_iter().fold(f64::NEG_INFINITY, f64::max);
        // Between looks a label may turn back: by no more than it goes from one to the next, nor
        // than its length.
        let reach = (high - low).max(0.1 * (to.t - from.t) * track.curve.length_mm());
        let stations = self.wall.span_ends_mm();
        let first = stations.partition_point(|s| *s < low - reach);
        let is_even = stations.get(first).is_none_or(|s| *s > high + reach);
        if is_even { LOOKS } else { LOOKS_SMOOTH }
    }

    /// A bound on the deviation of a straight burn inside one span of a straight wall, mm, and on
    /// the stray of its speed, cheaper still than [`Ground::bounded`] and coarser.
    ///
    /// With `r` linear in `s`: even-angle images are straight. True-width has `θ″ = −2θ′r′/r`; a
    /// chord strays by at most an eighth of `r θ″` in the share of its way that goes along.
    /// True-shape has `s″ = s′r′/r`, which counts in the share of the way that goes around.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub(crate) fn straight_bound(&self, from: &Laid, to: &Laid) -> (f64, f64) {
        let (r0, r1) = (from.section.radius_mm, to.section.radius_mm);
        let dr = (r1 - r0).abs();
        let least = if r0 < r1 { r0 } else { r1 };
        if !(least > 0.0 && dr < 0.25 * least) {
            return (f64::INFINITY, f64::INFINITY);
        }
        // One division serves all; the comparisons instead of `max` spare the care for what is not
        // a number.
        let per_least = 1.0 / least;
        let spread = 1.0 + dr * per_least;
        let (ds, dturn) = ((to.s_mm - from.s_mm).abs(), (to.turn_rad - from.turn_rad).abs());
        let along = 0.5 * ds * per_least;
        let around = least * dturn;
        let bent = match self.lay.setting().kind {
            LayKind::EvenAngle => 0.0,
            LayKind::TrueShape if around < ds => along * (around / ds),
            LayKind::TrueShape => along,
            LayKind::TrueWidth if ds < around => dturn * (ds / around),
            LayKind::TrueWidth => dturn,
            LayKind::Label if dturn > along => dturn,
            LayKind::Label => along,
        };
        let deviation = 0.25 * dr * bent * spread * spread;
        // Over the least radius, not the mean: a little more than it is.
        let stray = 0.5 * dr * per_least;
        (deviation, stray)
    }

    #[inline]
    pub(crate) fn within_bound(&self, bound: (f64, f64)) -> bool {
        bound.0 <= self.tolerance_mm && bound.1 <= STRAY
    }
}
