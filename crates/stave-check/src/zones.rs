//! Burns in zones.

use std::f64::consts::{PI, TAU};

use stave_setup::Zone;
use stave_wall::Wall;

/// A place on the wall: along the meridian, around, and the radius there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnWall {
    /// Length along the meridian, mm.
    pub s_mm: f64,
    /// Turn, rad, never folded.
    pub turn_rad: f64,
    /// Radius of the wall, mm.
    pub radius_mm: f64,
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

/// A zone with the wall kept clear around it, against which straight moves are held.
///
/// ```
/// use stave_check::{OnWall, ZoneWatch};
/// let blank = stave_setup::read_blank(
///     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n\
///      [[zone]]\nname = \"mark\"\nat = [40, 60]\nturn = [350, 370]\n",
///     "can.toml",
/// )?;
/// let zone = ZoneWatch::new(&blank.wall, &blank.zones[0], 0.5);
/// let place = |s_mm, turn_rad| OnWall { s_mm, turn_rad, radius_mm: 40.0 };
/// // Across the zone along the wall: it is entered, and at its deepest by the half of its width around and its margin.
/// let inside = zone.deepest(&place(10.0, 0.0), &place(90.0, 0.0)).unwrap();
/// assert!((inside.depth_mm - (40.0 * 10_f64.to_radians() + 0.5)).abs() < 1e-9);
/// assert!(zone.deepest(&place(10.0, 0.3), &place(90.0, 0.3)).is_none());
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[derive(Clone, Debug)]
pub struct ZoneWatch {
    from_s_mm: f64,
    to_s_mm: f64,
    middle_rad: f64,
    half_rad: f64,
    margin_mm: f64,
}

impl ZoneWatch {
    /// A zone of a wall with `margin_mm` kept clear around it.
    #[must_use]
    pub fn new(wall: &Wall, zone: &Zone, margin_mm: f64) -> Self {
        Self {
            from_s_mm: wall.s_of_at(zone.at_mm.0) - margin_mm,
            to_s_mm: wall.s_of_at(zone.at_mm.1) + margin_mm,
            middle_rad: 0.5 * (zone.turn_rad.0 + zone.turn_rad.1),
            half_rad: 0.5 * (zone.turn_rad.1 - zone.turn_rad.0),
            margin_mm,
        }
    }

    /// Where a straight move, whose place along the meridian and turn change evenly, is deepest
    /// inside; `None` where it stays outside.
    ///
    /// The radius is taken to change evenly too.
    #[must_use]
    pub fn deepest(&self, from: &OnWall, to: &OnWall) -> Option<InZone> {
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
            let around = |place: &OnWall, sign: f64| {
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

/// The greatest of the least of some straight functions of a move, each given by its values at
/// start and end, if it is above 0.
fn deepest_of(from: &OnWall, to: &OnWall, bounds: &[(f64, f64)]) -> Option<InZone> {
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
