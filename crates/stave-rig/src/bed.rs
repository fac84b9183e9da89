//! What sticks out against the bed.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use stave_setup::Zone;
use stave_wall::Wall;

/// What of the work reaches furthest down while it turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lowest {
    /// How far below its axis, mm.
    pub depth_mm: f64,
    /// Where along the axis, mm.
    pub at_mm: f64,
    /// The zone that does, by its place in the list; `None` where it is the wall.
    pub zone: Option<usize>,
}

/// How far the work reaches below its axis while the turn that is uppermost goes from one to
/// another, rad.
///
/// The tilt raises the axis, the end that stays low apart, and so is left out: there is never less
/// room than this says.
///
/// ```
/// // A boss opposite the front sticks out below when the front is burned, and not when the side is.
/// let blank = stave_setup::read_blank(
///     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n\
///      [[zone]]\nname = \"boss\"\nat = [40, 60]\nturn = [170, 190]\nrise = 9\n",
///     "can.toml",
/// )?;
/// let lowest = |from: f64, to: f64| stave_rig::lowest(&blank.wall, &blank.zones, (from, to));
/// assert_eq!(lowest(-0.5, 0.5).depth_mm, 49.0);
/// assert_eq!(lowest(1.4, 1.7).depth_mm, 40.0);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn lowest(wall: &Wall, zones: &[Zone], uppermost_rad: (f64, f64)) -> Lowest {
    let widest = |from_s: f64, to_s: f64| {
        wall.sections_between(from_s, to_s).into_iter().fold(
            (0.0, f64::NEG_INFINITY),
            |best, (_, section)| {
                if section.radius_mm > best.1 { (section.at_mm, section.radius_mm) } else { best }
            },
        )
    };
    let (at_mm, depth_mm) = widest(0.0, wall.length_mm());
    let mut lowest = Lowest { depth_mm, at_mm, zone: None };
    for (index, zone) in zones.iter().enumerate().filter(|(_, zone)| zone.rise_mm > 0.0) {
        let middle = 0.5 * (zone.turn_rad.0 + zone.turn_rad.1);
        let half = 0.5 * (zone.turn_rad.1 - zone.turn_rad.0);
        let down = 0.5 * (uppermost_rad.0 + uppermost_rad.1) + PI;
        let around = 0.5 * (uppermost_rad.1 - uppermost_rad.0).abs();
        let away = ((down - middle + PI).rem_euclid(TAU) - PI).abs();
        let edge = (away - half - around).max(0.0);
        if edge >= FRAC_PI_2 {
            continue;
        }
        let (at_mm, radius_mm) = widest(wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
        let depth_mm = (radius_mm + zone.rise_mm) * edge.cos();
        if depth_mm > lowest.depth_mm {
            lowest = Lowest { depth_mm, at_mm, zone: Some(index) };
        }
    }
    lowest
}
