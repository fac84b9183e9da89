//! Where a person focuses on ware that is not round or does not run true: at a turn, too.

use stave_rig::FocusAt;

use super::Judge;
use super::optical::ROUNDING_MM;
use crate::focus::level_place;

/// In how many stretches a way on uneven ware is looked over, how often the one that has the height
/// is halved, and at how many turns of half the circle a place is looked at.
const LOOKS: u32 = 128;
const HALVINGS: u32 = 40;
const TURN_LOOKS: u32 = 720;

impl Judge<'_> {
    /// On ware that is not true, a place and a turn whose wall has a height: on the straight way
    /// from the lowest to the highest that burns, where it lies most nearly level. `None` on true
    /// ware, whose turns are alike.
    ///
    /// The heights at the ends lie either side of one between them, and run from one to the other
    /// without a jump, so that there is such a place.
    pub(super) fn place_between(&self, height_mm: f64) -> Option<FocusAt> {
        let blank = &self.setup.blank;
        let (least, most) = self.lifted.ends().filter(|_| !blank.running.is_true())?;
        let (from, to) = (least.stand.place?, most.stand.place?);
        let zero_rad = self.made_for.zero.1;
        let at = |share: f64| {
            let between = |a: f64, b: f64| a + share * (b - a);
            let at_mm = between(from.at_mm, to.at_mm);
            FocusAt::of(blank, at_mm, between(from.turn_rad, to.turn_rad))
        };
        let over = |share: f64| self.height_at(at(share)) - height_mm;
        let mut best: Option<(f64, f64)> = None;
        let mut nearest = (over(0.0).abs(), 0.0);
        for look in 0..LOOKS {
            let [mut low, mut high] = [look, look + 1].map(|k| f64::from(k) / f64::from(LOOKS));
            if over(high).abs() < nearest.0 {
                nearest = (over(high).abs(), high);
            }
            let rises = over(low) <= 0.0;
            if rises == (over(high) < 0.0) {
                continue;
            }
            let steep = (over(high) - over(low)).abs();
            for _ in 0..HALVINGS {
                let middle = 0.5 * (low + high);
                if (over(middle) <= 0.0) == rises { low = middle } else { high = middle }
            }
            if best.is_none_or(|(least, _)| steep < least) {
                best = Some((steep, 0.5 * (low + high)));
            }
        }
        let place = match best {
            Some((_, share)) => at(share),
            // All of it may be as high.
            None if nearest.0 <= ROUNDING_MM => at(nearest.1),
            // A head that is lifted is not focused where it burns.
            None => self.place_beside(height_mm, self.burned_at_mm()?)?,
        };
        Some(place.turned_near(zero_rad))
    }

    /// A place whose wall has a height, in a stretch of the axis or near it: on ware that is not
    /// true at the turn whose radius is what lacks there.
    pub(super) fn place_beside(&self, height_mm: f64, near_mm: (f64, f64)) -> Option<FocusAt> {
        let (wall, running) = (self.rig.wall, &self.setup.blank.running);
        let found = level_place(wall, &self.rig.crest, height_mm, near_mm);
        let at_mm = found.map(|(_, at_mm)| at_mm);
        if running.is_true() {
            return Some(FocusAt { at_mm: at_mm?, turn_rad: None });
        }
        let at_mm = at_mm.unwrap_or(near_mm.0);
        let place = |turn_rad: f64| FocusAt { at_mm, turn_rad: Some(turn_rad) };
        let off = |turn_rad: f64| (self.height_at(place(turn_rad)) - height_mm).abs();
        let zero_rad = self.made_for.zero.1;
        // The nearest to the turn of the zero, of those that are alike.
        let turns = (0..=TURN_LOOKS).flat_map(|k| {
            let by_rad = f64::from(k) * std::f64::consts::PI / f64::from(TURN_LOOKS);
            [zero_rad + by_rad, zero_rad - by_rad]
        });
        let (_, turn_rad) = turns
            .map(|turn| (off(turn), turn))
            .reduce(|best, one| if one.0 < best.0 - ROUNDING_MM { one } else { best })?;
        Some(place(turn_rad))
    }
}
