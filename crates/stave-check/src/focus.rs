//! Where to focus, and how far from it the crest strays.

use stave_wall::{Crest, Wall};

/// How a stretch of wall lies to the focus under one tilt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sharpness {
    /// The tilt, rad.
    pub tilt_rad: f64,
    /// A place along the axis whose crest lies in the middle of the strip, mm: where a person
    /// focuses.
    pub focus_at_mm: f64,
    /// How far the focus lies below the highest crest of the stretch, mm.
    pub offset_mm: f64,
    /// The height of the focus, mm, as [`Crest::height_mm`] has it.
    pub height_mm: f64,
    /// How far the crest strays from the focus at worst, mm.
    pub defocus_mm: f64,
}

/// So far along the axis a person goes for a place that is level, mm, for each mm of height that
/// the wall rises in a mm where it is not: a place that is missed by a little there is out of
/// focus. Common practice, no source.
pub(crate) const FAR_FOR_LEVEL_MM: f64 = 30.0;
/// Heights of a crest that differ by less are the same: line 1 tells them to so much, mm.
const LEVEL_MM: f64 = 1e-6;

/// A place along the axis, mm, whose crest has a height, where a person finds the focus: of several
/// one that lies level and in a stretch of the axis or near it. With what it costs by
/// [`FAR_FOR_LEVEL_MM`], mm.
pub(crate) fn level_place(
    wall: &Wall,
    crest: &Crest,
    height_mm: f64,
    (low_mm, high_mm): (f64, f64),
) -> Option<(f64, f64)> {
    let mut best: Option<(f64, f64)> = None;
    for pair in wall.sections_between(0.0, wall.length_mm()).windows(2) {
        let [(s0, from), (s1, to)] = pair else { continue };
        let off = [from, to].map(|section| crest.height_mm(section) - height_mm);
        let at_mm = if off.iter().all(|off| off.abs() <= LEVEL_MM) {
            let (first, last) = (from.at_mm, from.at_mm.max(to.at_mm));
            (0.5 * (low_mm.max(first) + high_mm.min(last))).clamp(first, last)
        } else if off[0] * off[1] <= 0.0 {
            wall.at_of_s(s0 + (s1 - s0) * off[0] / (off[0] - off[1]))
        } else {
            continue;
        };
        let steep = (off[1] - off[0]).abs() / (to.at_mm - from.at_mm).abs().max(f64::MIN_POSITIVE);
        let beside_mm = (low_mm - at_mm).max(at_mm - high_mm).max(0.0);
        let cost = beside_mm + FAR_FOR_LEVEL_MM * steep;
        if best.is_none_or(|(least, _)| cost < least - 1e-9) {
            best = Some((cost, at_mm));
        }
    }
    best
}

/// The focus at the middle of the strip that holds the crest between two places of the meridian,
/// `s` in mm.
///
/// The crest passes through mid-strip somewhere, since it runs without a jump from the strip's one
/// line to the other; of several such places the one where it lies most nearly level is taken, for
/// there a hand that is a little off still focuses well. Where it passes on a step alone, a level
/// place beside the stretch is.
#[must_use]
pub fn focus_at_mid_strip(wall: &Wall, from_s_mm: f64, to_s_mm: f64, tilt_rad: f64) -> Sharpness {
    let crest = Crest::new(tilt_rad);
    let sections = wall.sections_between(from_s_mm, to_s_mm);
    let heights = || sections.iter().map(|(_, section)| crest.height_mm(section));
    let low = heights().fold(f64::INFINITY, f64::min);
    let high = heights().fold(f64::NEG_INFINITY, f64::max);
    let middle = 0.5 * (low + high);
    let stretch = [from_s_mm, to_s_mm].map(|s_mm| wall.at_of_s(s_mm));
    let place = level_place(wall, &crest, middle, (stretch[0], stretch[1]));
    Sharpness {
        tilt_rad,
        focus_at_mm: place.map_or(stretch[0], |(_, at_mm)| at_mm),
        offset_mm: high - middle,
        height_mm: middle,
        defocus_mm: 0.5 * (high - low),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_wall::{Station, WallShape};

    fn wall(stations: &[(f64, f64)], shape: WallShape) -> Wall {
        let stations: Vec<Station> =
            stations.iter().map(|&(at_mm, radius_mm)| Station { at_mm, radius_mm }).collect();
        Wall::from_stations(&stations, shape).unwrap()
    }

    #[test]
    fn a_taper_without_tilt_is_focused_half_way_up() {
        let wall = wall(&[(0.0, 30.0), (100.0, 34.0)], WallShape::Straight);
        let focus = focus_at_mid_strip(&wall, 0.0, wall.length_mm(), 0.0);
        assert!((focus.focus_at_mm - 50.0).abs() < 1e-9);
        assert!((focus.defocus_mm - 2.0).abs() < 1e-12 && (focus.offset_mm - 2.0).abs() < 1e-12);
    }

    #[test]
    fn of_several_places_at_mid_strip_the_levellest_is_taken() {
        // Mid-strip, radius 32, is met on the steep rise and again on the long gentle fall.
        let wall = wall(&[(0.0, 30.0), (5.0, 34.0), (105.0, 30.0)], WallShape::Straight);
        let focus = focus_at_mid_strip(&wall, 0.0, wall.length_mm(), 0.0);
        assert!((focus.focus_at_mm - 55.0).abs() < 1e-9, "{focus:?}");
    }

    #[test]
    fn on_a_step_alone_a_level_place_beside_is_taken() {
        // Two cylinders and a step between: its middle, radius 32, is met on the step, and far off
        // on a gentle fall.
        let stations = [(0.0, 30.0), (40.0, 30.0), (41.0, 34.0), (60.0, 34.0), (100.0, 30.0)];
        let wall = wall(&stations, WallShape::Straight);
        let (from, to) = (wall.s_of_at(20.0), wall.s_of_at(55.0));
        let focus = focus_at_mid_strip(&wall, from, to, 0.0);
        assert!((focus.focus_at_mm - 80.0).abs() < 1e-9, "{focus:?}");
        assert_eq!((focus.height_mm, focus.defocus_mm), (32.0, 2.0));
    }

    #[test]
    fn the_crest_at_the_place_to_focus_lies_at_mid_strip_on_curves_too() {
        let wall =
            wall(&[(0.0, 30.0), (20.0, 36.0), (50.0, 38.0), (90.0, 33.0)], WallShape::Smooth);
        for tilt in [-0.1_f64, 0.0, 0.07] {
            let focus = focus_at_mid_strip(&wall, 3.0, 80.0, tilt);
            let section = wall.section(wall.s_of_at(focus.focus_at_mm), &mut 0);
            assert!((Crest::new(tilt).height_mm(&section) - focus.height_mm).abs() < 1e-4);
        }
    }
}
