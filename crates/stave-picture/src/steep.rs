//! Where the wall is steep: what is drawn there looks drawn out or pressed together.

use std::f64::consts::PI;

use stave_wall::Wall;

/// Steeper than this against the axis, rad.
const STEEP_RAD: f64 = 30.0 * PI / 180.0;

/// The stretches of the meridian where a wall is steep, mm from the first station, each in one
/// piece: many thin bands side by side would show their seams, and tint what they shade.
pub(crate) fn steep_s_mm(wall: &Wall) -> Vec<(f64, f64)> {
    let sections = wall.sections_between(0.0, wall.length_mm());
    let mut found: Vec<(f64, f64)> = Vec::new();
    for pair in sections.windows(2) {
        let [(from, a), (to, b)] = pair else { continue };
        if to <= from || a.slope_rad().abs().max(b.slope_rad().abs()) <= STEEP_RAD {
            continue;
        }
        match found.last_mut().filter(|last| last.1 >= *from) {
            Some(last) => last.1 = *to,
            None => found.push((*from, *to)),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_wall::{Station, WallShape};

    #[test]
    fn a_ball_is_steep_in_one_piece_at_either_end() {
        // A sphere of 40 mm is steeper than 30° beyond 20 mm from its middle.
        let stations: Vec<Station> = (-8..=8)
            .map(|k| f64::from(k) * 4.0)
            .map(|at_mm| Station { at_mm, radius_mm: (1600.0 - at_mm * at_mm).sqrt() })
            .collect();
        let wall = Wall::from_stations(&stations, WallShape::Smooth).unwrap();
        let found: Vec<(f64, f64)> = steep_s_mm(&wall)
            .into_iter()
            .map(|(from, to)| (wall.at_of_s(from), wall.at_of_s(to)))
            .collect();
        let expected = [(-32.0, -20.0), (20.0, 32.0)];
        assert_eq!(found.len(), 2, "{found:?}");
        for (found, expected) in found.iter().zip(expected) {
            let off = (found.0 - expected.0).abs().max((found.1 - expected.1).abs());
            assert!(off < 1.0, "{found:?} {expected:?}");
        }
    }
}
