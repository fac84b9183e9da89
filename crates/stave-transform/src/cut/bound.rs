//! Cutting by bounds: how long a move may be, from what the wall and the curve do between two
//! places, without looking at the places between.
//!
//! # Derivation
//!
//! A burn `(u(t), v(t))` has the image `s(t)`, `θ(t)`; the machine's words for it are `X(s)` and
//! `θ`. A move goes straight in `(X, θ)` from the image of `t₀` to that of `t₁ = t₀ + h`. Let `Δ`
//! be its way and `L(t)` its place at the share of `t`.
//!
//! **Deviation.** At a place of radius `r` and along rate `ξ = dX/ds` the wall's metric is
//! `(dX/ξ)² + (r dθ)²`. In it the distance of a point `p` from the line through the move is the
//! area of `p − L` and `Δ` over the move's length, that is
//!
//! ```text
//! |ΔX δθ − Δθ δX| / √((ΔX/r)² + (ξ Δθ)²),   (δX, δθ) = p − L
//! ```
//!
//! The numerator does not depend on the place: it is a function of `t` alone that is 0 at both
//! ends, and its second derivative is `g = ΔX θ″ − Δθ X″`. So it is at most `h²/8 · max |g|`, and
//! the deviation at most that over the root for the greatest `r` and the least `ξ`. With `ξ′ =
//! dξ/ds`, `k = dr/ds`, `b = d²r/ds²`, `q = k/r`, `w` the `v` from the anchor, `r_a` the radius at
//! which the lay is true:
//!
//! | lay | `s″` | `θ″` |
//! | --- | --- | --- |
//! | even-angle | `u″` | `v″/r_a` |
//! | true-width | `u″` | `(v″ − w q u″ − 2 q u′ η − w (b/r) u′²)/r`, `η = rθ′ = v′ − w q u′` |
//! | true-shape | `a u″ + a (k/r_a) u′²`, `a = r/r_a` | `v″/r_a` |
//!
//! and `X″ = ξ s″ + ξ′ s′²`. `g` is linear in the curve's second derivative, which for an arc has
//! one size and turns with the angle, and else made of the first; every factor is taken as the
//! range of what it can be between the two places ([`Range`]), with its sign.
//!
//! A straight burn on a straight run (`b = ξ′ = 0`) is simpler. True-width: `K = r²θ′ = v′r − w k
//! u′` does not change, so `θ″ = −2 k u′ K/r³`; true-shape: `s″ = k r (u′/r_a)²`. Both keep their
//! sign and are convex in `t`, so `g` lies below the straight line between its ends. What that
//! straight line would give is at most `h²/8` of its mean `ḡ` times `1 + ρ²/30`, `ρ = (g₁ − g₀)/(g₁
//! + g₀)`: integrate `1 + ρx` twice over −1..1 and take the summit.
//!
//! **Speed.** A whole move in the metric of one of its places is `m = √((ΔX/ξ)² + (rΔθ)²)` long,
//! and the wall speed there is to that at which it is asked as `m` to its mean over the move. With
//! `β` the way the move goes against the meridian, `d ln m/ds = μ = q sin² β − (ξ′/ξ) cos² β`. At
//! the ends `ln m` differs by `D`; between them it leaves the straight line by at most `E`: a
//! quarter of the range of `μ` times the way along the meridian, and `μ` times what `s` itself
//! leaves its straight line by. So the stray from the mean is at most `D/2 + D²/12 + 2E`, and at
//! least `D/2 − 2E`.
//!
//! **Z.** Where Z is driven or the program's own Z changes, `Z″ = Z_s s″ + Z_ss s′²` bounds it in
//! the same way; the judge looks at the point of the move that is nearest, which lies `h²/8 ·
//! |γ″|/m` of the move aside at most.

use stave_rig::FOLLOW_TOLERANCE_MM;
use stave_wall::{Bounds, LayKind};

use super::{Cut, Ground, Point, STRAY};
use crate::dose::{self, POWER_STEP};
use crate::range::Range;
use crate::track::Track;

/// An arc that turns by more than this within one move is looked at exactly, rad.
const MOST_TURN_RAD: f64 = 1.0;
/// Where the crest stands steeper than this the bounds are of no use.
const LEAST_ALONG_RATE: f64 = 0.05;
/// The radius grows by less than this share within a move that bounds are good for.
const MOST_GROWTH: f64 = 1.05;
/// A move that could be longer by no more than this is taken.
const LONG_ENOUGH: f64 = 1.04;
/// Bounds between which a move's greatest length lies closer than this tell enough.
const CLOSE: f64 = 1.09;
/// The stretch between two places leaves what its ends give by more than this: its middle is looked
/// at for its length.
const UNEVEN: f64 = 2e-4;
/// Tries at one move.
const TRIES: u32 = 6;

/// How far a move uses up each rule, at least and at most: 1 is just allowed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounded {
    /// Grows with the square of the length.
    pub(crate) deviation: Range,
    /// Grows with the length.
    pub(crate) stray: Range,
    /// As [`Cut::length_ratio`].
    pub(crate) length_ratio: f64,
}

impl Bounded {
    /// Whether the move keeps every rule.
    #[inline]
    pub(crate) fn fits(&self) -> bool {
        self.deviation.high <= 1.0 && self.stray.high <= 1.0
    }

    /// By how much the length may be multiplied, surely and at best.
    fn room(&self) -> (f64, f64) {
        let room = |deviation: f64, stray: f64| 1.0 / deviation.sqrt().max(stray).max(1e-3);
        (room(self.deviation.high, self.stray.high), room(self.deviation.low, self.stray.low))
    }
}

/// What the wall does between two places, as ranges.
struct Around {
    r: Range,
    per_r: Range,
    k: Range,
    b: Range,
    q: Range,
    xi: Range,
    xi_bend: Range,
}

impl Around {
    fn of(bounds: &Bounds) -> Self {
        let r = Range::from(bounds.radius_mm);
        let (k, per_r) = (Range::from(bounds.widening), r.inverse());
        Self {
            r,
            per_r,
            k,
            b: bounds.bend_per_mm.into(),
            q: k * per_r,
            xi: bounds.along_rate.into(),
            xi_bend: bounds.along_bend_per_mm.into(),
        }
    }
}

impl Ground<'_> {
    /// Whether moves along a track can be judged by bounds.
    fn has_bounds(&self, track: &Track<'_>) -> bool {
        track.is_plain()
            && self.lay.setting().kind != LayKind::Label
            && (!self.even_dose || (track.is_straight() && self.bends.is_none()))
    }

    /// The bounds of the move from one point to another; `None` where nothing is known.
    pub(crate) fn bounded(&self, track: &Track<'_>, from: &Point, to: &Point) -> Option<Bounded> {
        let kind = self.lay.setting().kind;
        let crest = &self.rig.crest;
        let (a, b) = (&from.laid.section, &to.laid.section);
        let eighth = 0.125 * (to.t - from.t) * (to.t - from.t);
        let reaches = track.reaches((&from.flat, from.t), (&to.flat, to.t));
        if reaches.turned_rad > MOST_TURN_RAD {
            return None;
        }
        let true_mm = self.lay.true_radius_mm();
        let widest = if a.radius_mm > b.radius_mm { a.radius_mm } else { b.radius_mm };
        let conformal = kind == LayKind::TrueShape;
        let scale = if conformal { MOST_GROWTH * widest / true_mm } else { 1.0 };
        // How far an arc may come out beyond its ends.
        let bulge_mm = eighth * scale * reaches.bend;
        let (s0, s1) = (from.laid.s_mm, to.laid.s_mm);
        let (low, high) = if s0 < s1 { (s0, s1) } else { (s1, s0) };
        let bounds = match self.bends {
            Some(bends) => bends.over(low - bulge_mm, high + bulge_mm),
            None => {
                let mut bounds = Bounds::of_run(crest, a, b);
                let wider = bounds.widening.0.abs() * bulge_mm;
                bounds.radius_mm = (bounds.radius_mm.0 - wider, bounds.radius_mm.1 + wider);
                bounds
            }
        };
        let wall = Around::of(&bounds);
        if !(wall.r.low > 0.0
            && wall.xi.low > LEAST_ALONG_RATE
            && (!conformal || wall.r.high <= MOST_GROWTH * widest))
        {
            return None;
        }
        let dx = self.rig.along_mm(b) - self.rig.along_mm(a);
        let dturn = to.laid.turn_rad - from.laid.turn_rad;
        // Over the least and the greatest root: the most and the least deviation.
        let root = |r: f64, xi: f64| ((dx / r) * (dx / r) + (xi * dturn) * (xi * dturn)).sqrt();
        let roots = (root(wall.r.high, wall.xi.low), root(wall.r.low, wall.xi.high));
        if roots.0.is_nan() || roots.0 <= 0.0 {
            return None;
        }
        let per_tolerance = eighth / self.tolerance_mm;
        let mut deviation = if self.bends.is_none() && track.is_straight() {
            let most = self.straight_summit(from, to, reaches.ends.0.first, (dx, dturn));
            let high = per_tolerance * most / roots.0;
            Range { low: 0.95 * high, high }
        } else {
            let cross = self.cross(&wall, &reaches, from, to, (dx, dturn));
            Range {
                low: per_tolerance * cross.least() / roots.1,
                high: per_tolerance * cross.most() / roots.0,
            }
        };
        // The speed.
        let across = |r: f64| (r * dturn) * (r * dturn);
        let along = |xi: f64| (dx / xi) * (dx / xi);
        let size = |r: f64, xi: f64| (across(r) + along(xi)).sqrt();
        let rates = (crest.along_rate(a), crest.along_rate(b));
        let (m0, m1) = (size(a.radius_mm, rates.0), size(b.radius_mm, rates.1));
        let share = |r: f64, xi: f64| across(r) / (across(r) + along(xi));
        let sine =
            Range { low: share(wall.r.low, wall.xi.low), high: share(wall.r.high, wall.xi.high) };
        let cosine = Range { low: 1.0 - sine.high, high: 1.0 - sine.low };
        let mu = sine * wall.q - cosine * (wall.xi_bend * wall.xi.inverse());
        let stretch_mm = if conformal {
            let per = 1.0 / true_mm;
            eighth * (wall.k * wall.r).most() * per * per * reaches.first.0.squared().high
        } else {
            0.0
        };
        let differ = 2.0 * (m1 - m0).abs() / (m0 + m1);
        let strays = mu.half() * 0.5 * (high - low) + mu.most() * (bulge_mm + stretch_mm);
        let mut stray = Range {
            low: (0.5 * differ - 2.0 * strays).max(0.0) / STRAY,
            high: (0.5 * differ + differ * differ / 12.0 + 2.0 * strays) / STRAY,
        };
        if self.even_dose {
            stray = self.with_spacing(track, from, to, stray)?;
        }
        if self.focus.follows() || from.flat.z != to.flat.z {
            let away = self.z_away(&bounds, &wall, &reaches, (from, to), eighth, 0.5 * (m0 + m1));
            deviation.high = deviation.high.max(away);
        }
        let mut mean = 0.5 * (m0 + m1);
        if strays > UNEVEN {
            // By Simpson's rule.
            let middle = self.point(track, 0.5 * (from.t + to.t), None).laid.section;
            let m = size(middle.radius_mm, crest.along_rate(&middle));
            mean = (m0 + 4.0 * m + m1) / 6.0;
        }
        let ends = size(0.5 * (a.radius_mm + b.radius_mm), 0.5 * (rates.0 + rates.1));
        let known = deviation.high.is_finite() && stray.high.is_finite() && ends > 0.0;
        known.then_some(Bounded { deviation, stray, length_ratio: mean / ends })
    }

    /// `max |g|`, as good as, for a straight burn on a straight run.
    fn straight_summit(
        &self,
        from: &Point,
        to: &Point,
        (du, dv): (f64, f64),
        (dx, dturn): (f64, f64),
    ) -> f64 {
        let (a, b) = (&from.laid.section, &to.laid.section);
        let k = a.sin_slope;
        let (g0, g1) = match self.lay.setting().kind {
            LayKind::TrueWidth => {
                let w = from.flat.v - self.lay.anchor_mm().1;
                let g = 2.0 * dx * k * du * (dv * a.radius_mm - w * k * du);
                (g / a.radius_mm.powi(3), g / b.radius_mm.powi(3))
            }
            LayKind::TrueShape => {
                let per = du / self.lay.true_radius_mm();
                let g = dturn * self.rig.crest.along_rate(a) * k * per * per;
                (g * a.radius_mm, g * b.radius_mm)
            }
            // Straight stays straight.
            LayKind::EvenAngle | LayKind::Label => (0.0, 0.0),
        };
        let (g0, g1) = (g0.abs(), g1.abs());
        let sum = g0 + g1;
        let uneven = if sum > 0.0 { (g1 - g0) / sum } else { 0.0 };
        0.5 * sum * (1.0 + uneven * uneven / 30.0)
    }

    /// `g` between two points, as a range.
    fn cross(
        &self,
        wall: &Around,
        reaches: &crate::track::Reaches,
        from: &Point,
        to: &Point,
        (dx, dturn): (f64, f64),
    ) -> Range {
        let per_true = 1.0 / self.lay.true_radius_mm();
        let (u1, _) = reaches.first;
        let squared = u1.squared();
        // Of u″, of v″, and the rest.
        let (of_u, of_v, rest) = match self.lay.setting().kind {
            LayKind::TrueWidth => {
                let w = reaches.v - Range::one(self.lay.anchor_mm().1);
                let eta = self.eta(wall, reaches, from, to, w);
                let turned =
                    (wall.q * u1 * eta * 2.0 + w * (wall.b * wall.per_r) * squared) * wall.per_r;
                (
                    -(wall.xi * dturn) - (w * wall.q * wall.per_r) * dx,
                    wall.per_r * dx,
                    -(turned * dx) - wall.xi_bend * squared * dturn,
                )
            }
            LayKind::TrueShape => {
                let a = wall.r * per_true;
                let bent = wall.xi * wall.k * a * per_true + wall.xi_bend * a.squared();
                (-(wall.xi * a * dturn), Range::one(dx * per_true), -(bent * squared * dturn))
            }
            LayKind::EvenAngle | LayKind::Label => {
                (-(wall.xi * dturn), Range::one(dx * per_true), -(wall.xi_bend * squared * dturn))
            }
        };
        if reaches.bend == 0.0 {
            return rest;
        }
        // A wave of the arc's angle for the middle of both factors, and what they may be off by.
        let (u, v) = (of_u.middle(), of_v.middle());
        let at = |jet: &crate::track::Jet| u * jet.second.0 + v * jet.second.1;
        let wave = Range::between(at(&reaches.ends.0), at(&reaches.ends.1));
        let wider = u.hypot(v) * reaches.bulge + of_u.half() + of_v.half();
        wave.wider(reaches.bend * wider) + rest
    }

    /// `η = rθ′` of true-width.
    ///
    /// Of a straight burn `K = rη` changes by `K′ = −w b u′²` only, which spares the difference of
    /// two ranges that nearly cancel.
    fn eta(
        &self,
        wall: &Around,
        reaches: &crate::track::Reaches,
        from: &Point,
        to: &Point,
        w: Range,
    ) -> Range {
        let (u1, v1) = reaches.first;
        if reaches.bend > 0.0 {
            return v1 - w * wall.q * u1;
        }
        let section = &from.laid.section;
        let (du, dv) = reaches.ends.0.first;
        let start = from.flat.v - self.lay.anchor_mm().1;
        let k = dv * section.radius_mm - start * section.sin_slope * du;
        let change = w * wall.b * (-du * du * (to.t - from.t));
        (Range::one(k) + change.with(0.0)) * wall.per_r
    }

    /// With the spacing of neighbouring lines, which on a straight run goes one way with the radius
    /// along a straight burn, so that its ends say all.
    fn with_spacing(
        &self,
        track: &Track<'_>,
        from: &Point,
        to: &Point,
        stray: Range,
    ) -> Option<Range> {
        if !track.is_straight() || self.bends.is_some() {
            return None;
        }
        let at = |point: &Point| {
            dose::spacing_ratio(self.lay, self.wall, track.curve, point.flat, point.t)
        };
        let spacing = Range::between(at(from), at(to));
        let share = 2.0 * spacing.half() / (spacing.high.max(1e-12) * POWER_STEP);
        Some(Range { low: stray.low.max(share), high: stray.high.max(share) })
    }

    /// By how much Z may stray at the most, in shares of what it may.
    fn z_away(
        &self,
        bounds: &Bounds,
        wall: &Around,
        reaches: &crate::track::Reaches,
        (from, to): (&Point, &Point),
        eighth: f64,
        length_mm: f64,
    ) -> f64 {
        let kind = self.lay.setting().kind;
        let per_true = 1.0 / self.lay.true_radius_mm();
        let scale = if kind == LayKind::TrueShape { wall.r.high * per_true } else { 1.0 };
        let first = scale * reaches.first.0.most();
        let mut second = scale * reaches.bend;
        let turn2 = if kind == LayKind::TrueWidth {
            let w = reaches.v - Range::one(self.lay.anchor_mm().1);
            let eta = self.eta(wall, reaches, from, to, w);
            let squared = reaches.first.0.squared();
            let turned =
                (wall.q * reaches.first.0 * eta * 2.0 + w * (wall.b * wall.per_r) * squared).most();
            ((1.0 + (w * wall.q).most()) * reaches.bend + turned) * wall.per_r.high
        } else {
            second += wall.k.most() * per_true * first * reaches.first.0.most();
            reaches.bend * per_true
        };
        let x2 = wall.xi.high * second + wall.xi_bend.most() * first * first;
        let aside = eighth * (x2 / wall.xi.low + wall.r.high * turn2) / length_mm;
        let crest = &self.rig.crest;
        let z = |point: &Point| self.focus.z_mm(crest, &point.laid.section, point.flat.z);
        if self.focus.follows() {
            let rate = Range::from(bounds.height_rate).most();
            let bend = Range::from(bounds.height_bend_per_mm).most();
            let z2 = rate * second + bend * first * first;
            (eighth * z2 + aside * (z(to) - z(from)).abs()) / FOLLOW_TOLERANCE_MM
        } else {
            aside * (to.flat.z - from.flat.z).abs() / self.tolerance_mm
        }
    }

    /// About how far a move from here may go, in the track's parameter: the formulas above with no
    /// ranges, at one place.
    fn reach(&self, track: &Track<'_>, from: &Point) -> f64 {
        let section = &from.laid.section;
        let crest = &self.rig.crest;
        let (r, k) = (section.radius_mm, section.sin_slope);
        let (b, xi_bend) = self.bends.map_or((0.0, 0.0), |bends| {
            let bounds = bends.over(from.laid.s_mm, from.laid.s_mm);
            let middle = |range: (f64, f64)| 0.5 * (range.0 + range.1);
            (middle(bounds.bend_per_mm), middle(bounds.along_bend_per_mm))
        });
        let (xi, q) = (crest.along_rate(section), k / r);
        let jet = track.jet(&from.flat, from.t);
        let ((u1, v1), (u2, v2)) = (jet.first, jet.second);
        let per_true = 1.0 / self.lay.true_radius_mm();
        let (s1, s2, turn1, turn2) = match self.lay.setting().kind {
            LayKind::TrueWidth => {
                let w = from.flat.v - self.lay.anchor_mm().1;
                let eta = v1 - w * q * u1;
                let bent = v2 - w * q * u2 - 2.0 * q * u1 * eta - w * b / r * u1 * u1;
                (u1, u2, eta / r, bent / r)
            }
            LayKind::TrueShape => {
                let a = r * per_true;
                (a * u1, a * u2 + a * k * per_true * u1 * u1, v1 * per_true, v2 * per_true)
            }
            LayKind::EvenAngle | LayKind::Label => (u1, u2, v1 * per_true, v2 * per_true),
        };
        let (x1, x2) = (xi * s1, xi * s2 + xi_bend * s1 * s1);
        let cross = (x1 * turn2 - turn1 * x2).abs();
        let root = (x1 / r).hypot(xi * turn1);
        let by_deviation = (8.0 * self.tolerance_mm * root / cross).sqrt();
        let (across, along) = ((r * turn1) * (r * turn1), s1 * s1);
        let mu = (q * across - xi_bend / xi * along) / (across + along);
        let by_stray = 2.0 * STRAY / (mu * s1).abs();
        by_deviation.min(by_stray)
    }

    /// The longest move that bounds allow, at most to `last`; `None` where they tell too little.
    pub(super) fn longest_by_bound(
        &self,
        track: &Track<'_>,
        from: &Point,
        last: &Point,
        span: Option<usize>,
    ) -> Option<Cut> {
        if !self.has_bounds(track) {
            return None;
        }
        let left = last.t - from.t;
        let cut = |to: &Point, bounded: &Bounded| {
            Some(Cut {
                to: *to,
                deviation_mm: bounded.deviation.high * self.tolerance_mm,
                length_ratio: bounded.length_ratio,
                stray: bounded.stray.high * STRAY,
                measured: false,
            })
        };
        // A little less than it would be with nothing changing on the way.
        let mut reach = 0.985 * self.reach(track, from);
        let mut shut = f64::INFINITY;
        let mut good: Option<(Point, Bounded)> = None;
        for _ in 0..TRIES {
            // What leaves next to nothing is all of it.
            let whole = reach >= 0.98 * left && shut > left;
            let to = if whole {
                *last
            } else {
                let at = reach.min(0.98 * left);
                if at.is_nan() || at <= 0.0 {
                    return None;
                }
                self.point(track, from.t + at, span)
            };
            let at = to.t - from.t;
            let bounded = self.bounded(track, from, &to)?;
            let (sure, best) = bounded.room();
            if bounded.fits() {
                if whole || best <= LONG_ENOUGH {
                    return cut(&to, &bounded);
                }
                good = Some((to, bounded));
                // What a bound does not let pass may be all right.
                if sure <= LONG_ENOUGH || at * LONG_ENOUGH >= shut {
                    // It may be longer, but not as far as bounds can tell.
                    return if best <= CLOSE { cut(&to, &bounded) } else { None };
                }
                reach = at * (0.995 * sure).min(3.0);
                if reach >= shut {
                    reach = 0.5 * (at + shut);
                }
            } else {
                shut = at;
                let floor = good.as_ref().map_or(0.0, |(point, _)| point.t - from.t);
                reach = (at * 0.99 * sure).max(0.5 * floor + 0.5 * at.min(2.0 * floor));
                if reach >= at {
                    reach = 0.5 * (floor + at);
                }
                if good.is_none() && sure > 0.8 && best > CLOSE * sure {
                    return None;
                }
            }
        }
        None
    }
}
