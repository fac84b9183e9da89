//! Stations of a wall that are likely measured or typed otherwise than those beside them.

use std::f64::consts::PI;

use stave_wall::Station;

use super::Typed;
use crate::Fault;

/// Stations beside one agree where they differ by no more than this share.
const AGREE: f64 = 0.15;
/// How near a ratio comes to that of a slip.
const NEAR: f64 = 0.03;
/// What a diameter is over what it should be, and what was likely given instead. Between two that
/// agree any of them is told.
const SLIPS: [(f64, &str); 8] = [
    (0.5, "a radius stands for a diameter"),
    (2.0, "it is twice what it should be"),
    (PI, "a circumference stands for a diameter"),
    (1.0 / PI, "a diameter stands for a circumference"),
    (10.0, FACTOR_TEN),
    (0.1, FACTOR_TEN),
    (25.4, OTHER_UNIT),
    (1.0 / 25.4, OTHER_UNIT),
];
const FACTOR_TEN: &str = "a decimal point is wrong, or it is in centimetres";
const OTHER_UNIT: &str = "it is in another unit";

/// A doubt of each station that stands out by a slip's ratio. At an end, where ware may well be
/// half or twice as wide, only by one that no ware has.
pub(super) fn standing_out(stations: &[Station], typed: Typed) -> Vec<Fault> {
    let mut doubts = Vec::new();
    for (index, station) in stations.iter().enumerate() {
        let radius = |index: usize| stations.get(index).map(|station| station.radius_mm);
        let (before, after) = (index.checked_sub(1).and_then(radius), radius(index + 1));
        let (beside, slips) = match (before, after) {
            (Some(a), Some(b)) if (a - b).abs() <= AGREE * a.max(b) => ((a + b) / 2.0, &SLIPS[..]),
            (Some(one), None) | (None, Some(one)) => (one, &SLIPS[4..]),
            _ => continue,
        };
        let ratio = station.radius_mm / beside;
        let near = |slip: &&(f64, &str)| (ratio / slip.0 - 1.0).abs() <= NEAR;
        let Some((times, cause)) = slips.iter().find(near) else { continue };
        // Of two stations alone nobody can say which is wrong.
        if stations.len() == 2 && index == 1 {
            continue;
        }
        let diameter_mm = 2.0 * station.radius_mm;
        let round = |mm: f64| (mm * 100.0).round() / 100.0;
        let message = format!(
            "the wall is {} across at {}, and about {} beside it: likely {cause}; if so, write {}",
            typed.told(diameter_mm, ""),
            typed.told(station.at_mm, ""),
            typed.told(round(2.0 * beside), ""),
            typed.figure(round(diameter_mm / times))
        );
        doubts.push(Fault::new(None, message));
    }
    doubts
}
