//! Where to focus, and how far from it the crest strays.

use stave_wall::{Crest, Section, Wall};

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

/// The focus at the middle of the strip that holds the crest between two places of the meridian,
/// `s` in mm.
///
/// The crest passes through mid-strip somewhere, since it runs without a jump from the strip's one
/// line to the other; of several such places the one where it lies most nearly level is taken, for
/// there a hand that is a little off still focuses well.
#[must_use]
pub fn focus_at_mid_strip(wall: &Wall, from_s_mm: f64, to_s_mm: f64, tilt_rad: f64) -> Sharpness {
    let crest = Crest::new(tilt_rad);
    let sections = wall.sections_between(from_s_mm, to_s_mm);
    let heights = || sections.iter().map(|(_, section)| crest.height_mm(section));
    let low = heights().fold(f64::INFINITY, f64::min);
    let high = heights().fold(f64::NEG_INFINITY, f64::max);
    let middle = 0.5 * (low + high);
    let mut best: Option<(f64, f64)> = None;
    let mut consider = |at_mm: f64, slope: f64| {
        if best.is_none_or(|(_, least)| slope < least - 1e-12) {
            best = Some((at_mm, slope));
        }
    };
    for pair in sections.windows(2) {
        let (a, b) = (&pair[0].1, &pair[1].1);
        let (ha, hb) = (crest.height_mm(a) - middle, crest.height_mm(b) - middle);
        if ha * hb > 0.0 || pair[0].0 == pair[1].0 {
            continue;
        }
        let share = if ha == hb { 0.5 } else { ha / (ha - hb) };
        consider(
            a.at_mm + (b.at_mm - a.at_mm) * share,
            steepness(&crest, a).max(steepness(&crest, b)),
        );
    }
    let focus_at_mm = best.map_or_else(|| wall.at_of_s(from_s_mm), |(at_mm, _)| at_mm);
    Sharpness {
        tilt_rad,
        focus_at_mm,
        offset_mm: high - middle,
        height_mm: middle,
        defocus_mm: 0.5 * (high - low),
    }
}

fn steepness(crest: &Crest, section: &Section) -> f64 {
    crest.height_rate(section).abs()
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
