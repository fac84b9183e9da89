//! Zones as places on the wall where nothing may burn.

use std::f64::consts::{PI, TAU};

use stave_setup::{Setup, ZoneRule};
use stave_toolpath::Place;
use stave_wall::{Laid, Wall};

/// A burn deeper inside a zone than this is a hit, mm; rounding at an edge is not.
const GRAZE_MM: f64 = 1e-6;

/// What becomes of a burn in a zone.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Keeps {
    /// The job is refused.
    Refused,
    /// It stays dark, since the job masks zones.
    Masked,
    /// It stays dark, since another set-up burns it: see [`stave_setup::Job::part_at_mm`].
    ForAnotherPart,
}

/// One zone with its margin. The margin is kept along the meridian and around, so corners are a
/// little wider than need be.
#[derive(Clone, Debug)]
pub struct WallZone {
    /// Its name.
    pub name: String,
    /// What becomes of what would burn in it.
    pub keeps: Keeps,
    from_s_mm: f64,
    to_s_mm: f64,
    middle_rad: f64,
    half_rad: f64,
    margin_mm: f64,
    /// Half of its turn with the margin where the wall is narrowest in it.
    reach_rad: f64,
}

impl WallZone {
    /// How deep inside the zone a place lies, mm; negative outside.
    fn depth_mm(&self, place: &Laid) -> f64 {
        let along = (place.s_mm - self.from_s_mm).min(self.to_s_mm - place.s_mm);
        if self.half_rad >= PI {
            return along;
        }
        let away = (place.turn_rad - self.middle_rad + PI).rem_euclid(TAU) - PI;
        let around = (self.half_rad - away.abs()) * place.section.radius_mm + self.margin_mm;
        along.min(around)
    }

    fn near_box(&self, s_mm: (f64, f64), turn_rad: (f64, f64)) -> bool {
        if s_mm.0.max(s_mm.1) < self.from_s_mm || s_mm.0.min(s_mm.1) > self.to_s_mm {
            return false;
        }
        let low = turn_rad.0.min(turn_rad.1) - self.reach_rad;
        let high = turn_rad.0.max(turn_rad.1) + self.reach_rad;
        // Whether an image of its middle, a whole turn apart, lies within reach.
        let first = ((low - self.middle_rad) / TAU).ceil();
        let image = self.middle_rad + first * TAU;
        // What is no number cannot be said to be far.
        image <= high || image.is_nan()
    }

    /// Where a straight move, whose place along the meridian and turn change evenly, is deepest
    /// inside; `None` where it stays outside.
    ///
    /// The radius is taken to change evenly too.
    #[must_use]
    pub fn deepest(&self, from: &Place, to: &Place) -> Option<InZone> {
        if from.s_mm.max(to.s_mm) <= self.from_s_mm || from.s_mm.min(to.s_mm) >= self.to_s_mm {
            return None;
        }
        let along = |s: f64| (s - self.from_s_mm, self.to_s_mm - s);
        let (a, b) = (along(from.s_mm), along(to.s_mm));
        if self.half_rad >= PI {
            return deepest_of(from, to, &[(a.0, b.0), (a.1, b.1)]);
        }
        // Every image of the zone, a whole turn apart, that the move comes near.
        let (low, high) = (from.turn_rad.min(to.turn_rad), from.turn_rad.max(to.turn_rad));
        let reach = self.half_rad + self.margin_mm / from.radius_mm.min(to.radius_mm);
        let first = ((low - reach - self.middle_rad) / TAU).ceil();
        let last = ((high + reach - self.middle_rad) / TAU).floor();
        let mut image = first;
        let mut best: Option<InZone> = None;
        while image <= last {
            let middle = self.middle_rad + image * TAU;
            let around = |place: &Place, sign: f64| {
                (self.half_rad - sign * (place.turn_rad - middle)) * place.radius_mm
                    + self.margin_mm
            };
            let bounds = [
                (a.0, b.0),
                (a.1, b.1),
                (around(from, 1.0), around(to, 1.0)),
                (around(from, -1.0), around(to, -1.0)),
            ];
            if let Some(found) = deepest_of(from, to, &bounds)
                && best.is_none_or(|best| found.depth_mm > best.depth_mm)
            {
                best = Some(found);
            }
            image += 1.0;
        }
        best
    }
}

/// A place inside a zone or its margin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InZone {
    /// How deep, mm on the wall.
    pub depth_mm: f64,
    /// Where along the meridian, mm.
    pub s_mm: f64,
    /// Where around, rad.
    pub turn_rad: f64,
}

/// The least radius of a stretch of wall, mm: looked for finely, less a little.
fn narrowest_mm(wall: &Wall, from_s_mm: f64, to_s_mm: f64) -> f64 {
    const LOOKS: u32 = 256;
    let mut hint = 0;
    let step = (to_s_mm - from_s_mm) / f64::from(LOOKS);
    let mut radius = |s: f64| wall.section(s, &mut hint).radius_mm;
    let looks = (0..=LOOKS).map(|k| from_s_mm + step * f64::from(k));
    let stations = wall.span_ends_mm().iter().copied();
    let inside = stations.filter(|s| *s > from_s_mm && *s < to_s_mm);
    0.98 * looks.chain(inside).map(&mut radius).fold(f64::INFINITY, f64::min)
}

fn zones_of(setup: &Setup, keeps: Keeps) -> Vec<WallZone> {
    let wall = &setup.blank.wall;
    let zones = setup.blank.zones.iter().map(|zone| {
        let margin_mm = setup.zone_margin_mm(zone);
        let half_rad = 0.5 * (zone.turn_rad.1 - zone.turn_rad.0);
        let from_s_mm = wall.s_of_at(zone.at_mm.0) - margin_mm;
        let to_s_mm = wall.s_of_at(zone.at_mm.1) + margin_mm;
        WallZone {
            name: zone.name.clone(),
            keeps,
            from_s_mm,
            to_s_mm,
            middle_rad: 0.5 * (zone.turn_rad.0 + zone.turn_rad.1),
            half_rad,
            margin_mm,
            reach_rad: half_rad + margin_mm / narrowest_mm(wall, from_s_mm, to_s_mm),
        }
    });
    zones.collect()
}

/// What of the wall other set-ups burn, all the way around.
fn beside_the_part(setup: &Setup) -> Vec<WallZone> {
    let [from_mm, to_mm] = setup.job.part_at_mm;
    let wall = &setup.blank.wall;
    let ring = |from_s_mm: f64, to_s_mm: f64| WallZone {
        name: "another set-up".to_owned(),
        keeps: Keeps::ForAnotherPart,
        from_s_mm,
        to_s_mm,
        middle_rad: 0.0,
        half_rad: PI,
        margin_mm: 0.0,
        reach_rad: PI,
    };
    // What burns on the level line between two set-ups belongs to the second alone.
    let below = from_mm.map(|at_mm| ring(-BEYOND_MM, wall.s_of_at(at_mm)));
    let above = to_mm.map(|at_mm| ring(wall.s_of_at(at_mm) - 3.0 * GRAZE_MM, BEYOND_MM));
    below.into_iter().chain(above).collect()
}

/// Past any wall, mm.
const BEYOND_MM: f64 = 1e6;

/// All zones of a blank.
#[derive(Clone, Debug, Default)]
pub struct Zones {
    list: Vec<WallZone>,
    from_s_mm: f64,
    to_s_mm: f64,
}

impl Zones {
    /// Where a setup burns nothing: in the zones, each with its margin, unless the job ignores
    /// them, and past both ends of the set-up, where it burns only one.
    #[must_use]
    pub fn new(setup: &Setup) -> Self {
        let mut list = match setup.job.zones {
            ZoneRule::Ignore => Vec::new(),
            ZoneRule::Refuse => zones_of(setup, Keeps::Refused),
            ZoneRule::Mask => zones_of(setup, Keeps::Masked),
        };
        list.extend(beside_the_part(setup));
        Self::of(list)
    }

    /// All zones of a setup, whatever the job says of them.
    #[must_use]
    pub fn all(setup: &Setup) -> Self {
        Self::of(zones_of(setup, Keeps::Refused))
    }

    fn of(list: Vec<WallZone>) -> Self {
        Self {
            from_s_mm: list.iter().map(|z| z.from_s_mm).fold(f64::INFINITY, f64::min),
            to_s_mm: list.iter().map(|z| z.to_s_mm).fold(f64::NEG_INFINITY, f64::max),
            list,
        }
    }

    /// True where there is none.
    #[must_use]
    #[inline]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Each zone, in the blank's order.
    pub fn iter(&self) -> impl Iterator<Item = &WallZone> {
        self.list.iter()
    }

    /// False where nothing between `s0` and `s1` (either order) can be near a zone.
    #[must_use]
    #[inline]
    pub fn near(&self, s0: f64, s1: f64) -> bool {
        s0.max(s1) > self.from_s_mm && s0.min(s1) < self.to_s_mm
    }

    /// False where nothing between two places of the meridian and two turns (each pair in either
    /// order) can be near a zone.
    #[must_use]
    pub fn near_box(&self, s_mm: (f64, f64), turn_rad: (f64, f64)) -> bool {
        self.near(s_mm.0, s_mm.1) && self.list.iter().any(|zone| zone.near_box(s_mm, turn_rad))
    }

    /// The zone a place lies in; one that the job refuses before another.
    #[must_use]
    pub fn holds(&self, place: &Laid) -> Option<&WallZone> {
        self.list.iter().find(|zone| zone.depth_mm(place) > GRAZE_MM)
    }

    /// The depth inside the zone that is nearest or holds the place, mm; negative outside all.
    fn depth_mm(&self, place: &Laid) -> f64 {
        self.list.iter().map(|zone| zone.depth_mm(place)).fold(f64::NEG_INFINITY, f64::max)
    }

    /// The parameters between `from` and `to` at which a path goes into or out of a zone, in order.
    ///
    /// `steps` looks are taken along the path. Between them a zone's corner could be cut unseen, so
    /// wherever a look is nearer to the zone than both its neighbours the nearest point is sought;
    /// the path's own ends have no neighbour on one side, nor has what just came out of a zone.
    pub fn crossings(
        &self,
        place: &mut dyn FnMut(f64) -> Laid,
        from: f64,
        to: f64,
        steps: usize,
        into: &mut Vec<f64>,
    ) {
        let steps = steps.max(8);
        #[expect(clippy::cast_precision_loss, reason = "steps are few")]
        let at =
            |k: usize| if k == steps { to } else { from + (to - from) * k as f64 / steps as f64 };
        let mut depth = |t: f64| self.depth_mm(&place(t)) - GRAZE_MM;
        let mut before = (from, depth(from));
        let mut here = (at(1), depth(at(1)));
        if outside(before) && outside(here) && before.1 >= here.1 {
            clip(&mut depth, before, here, into);
        } else {
            bisect(&mut depth, before, here, into);
        }
        for k in 2..=steps {
            let after = (at(k), depth(at(k)));
            if !outside(here) || !outside(after) {
                bisect(&mut depth, here, after, into);
            } else if here.1 >= after.1 && !outside(before) {
                clip(&mut depth, here, after, into);
            } else if here.1 >= after.1 && here.1 >= before.1 {
                clip(&mut depth, before, after, into);
            } else if here.1 <= after.1 && k == steps {
                clip(&mut depth, here, after, into);
            }
            before = here;
            here = after;
        }
        into.sort_by(f64::total_cmp);
    }
}

/// Whether a look, a parameter and the depth there, lies outside all zones.
fn outside(look: (f64, f64)) -> bool {
    look.1 <= 0.0
}

/// Adds where a path that is outside at both looks goes in and comes out between them, if it does.
fn clip(depth: &mut impl FnMut(f64) -> f64, a: (f64, f64), b: (f64, f64), into: &mut Vec<f64>) {
    let peak = deepest(depth, a.0, b.0);
    if !outside(peak) {
        bisect(depth, a, peak, into);
        bisect(depth, peak, b, into);
    }
}

/// Adds the place between two looks where the depth changes its sign, if it does.
fn bisect(depth: &mut impl FnMut(f64) -> f64, a: (f64, f64), b: (f64, f64), into: &mut Vec<f64>) {
    if (a.1 > 0.0) == (b.1 > 0.0) {
        return;
    }
    let (mut low, mut high) = (a.0, b.0);
    // Forty halvings bring a metre below 1e-9 mm.
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if (depth(middle) > 0.0) == (a.1 > 0.0) {
            low = middle;
        } else {
            high = middle;
        }
    }
    // The side outside the zone, so that nothing burns inside.
    into.push(if a.1 > 0.0 { high } else { low });
}

/// The deepest point between `low` and `high`, by golden section.
fn deepest(depth: &mut impl FnMut(f64) -> f64, mut low: f64, mut high: f64) -> (f64, f64) {
    const RATIO: f64 = 0.618_033_988_749_894_9;
    for _ in 0..32 {
        let span = high - low;
        let (a, b) = (high - RATIO * span, low + RATIO * span);
        if depth(a) > depth(b) { high = b } else { low = a }
    }
    let middle = 0.5 * (low + high);
    (middle, depth(middle))
}

/// The greatest of the least of some straight functions of a move, each given by its values at
/// start and end, if it is above 0.
fn deepest_of(from: &Place, to: &Place, bounds: &[(f64, f64)]) -> Option<InZone> {
    let depth = |t: f64| bounds.iter().map(|(a, b)| a + (b - a) * t).fold(f64::INFINITY, f64::min);
    let mut best = (0.0, depth(0.0));
    let mut consider = |t: f64| {
        let found = depth(t);
        if (0.0..=1.0).contains(&t) && found > best.1 {
            best = (t, found);
        }
    };
    consider(1.0);
    for (i, one) in bounds.iter().enumerate() {
        for other in &bounds[..i] {
            // Where the two are equal.
            consider((other.0 - one.0) / ((one.1 - one.0) - (other.1 - other.0)));
        }
    }
    let (t, depth_mm) = best;
    (depth_mm > 0.0).then_some(InZone {
        depth_mm,
        s_mm: from.s_mm + (to.s_mm - from.s_mm) * t,
        turn_rad: from.turn_rad + (to.turn_rad - from.turn_rad) * t,
    })
}
