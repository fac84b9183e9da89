//! Powers of scan lines, numbered as a picture has its levels.

use std::collections::HashMap;

/// Powers of a whole S below this have their levels at hand.
const MOST_WHOLE: usize = 1 << 14;
/// Levels are numbers of 16 bits; the first is bare.
const MOST_LEVELS: usize = 1 << 16;

/// The level of every power.
#[derive(Debug)]
pub(super) struct Levels {
    levels: HashMap<u64, u16>,
    /// For each power that is a whole number of S below a bound its level; 0 where it has none yet.
    whole: Vec<u16>,
    powers_s: Vec<f64>,
}

impl Default for Levels {
    fn default() -> Self {
        Self { levels: HashMap::new(), whole: Vec::new(), powers_s: vec![0.0] }
    }
}

impl Levels {
    /// Whether one power more has a level.
    pub(super) fn has_room(&self) -> bool {
        self.powers_s.len() < MOST_LEVELS
    }

    /// The level that stands for a power; more powers than there are levels are none that a
    /// controller tells apart.
    pub(super) fn of(&mut self, power_s: f64) -> Option<u16> {
        // Nearly every program has whole numbers.
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "it saturates")]
        let whole = power_s as usize;
        #[expect(clippy::cast_precision_loss, reason = "it was a number of S")]
        let is_whole = whole as f64 == power_s;
        let known = self.whole.get(whole).copied().filter(|level| is_whole && *level > 0);
        if known.is_some() {
            return known;
        }
        if let Some(level) = self.levels.get(&power_s.to_bits()) {
            return Some(*level);
        }
        let level = u16::try_from(self.powers_s.len()).ok()?;
        self.levels.insert(power_s.to_bits(), level);
        self.powers_s.push(power_s);
        if is_whole && whole < MOST_WHOLE {
            self.whole.resize(self.whole.len().max(whole + 1), 0);
            if let Some(known) = self.whole.get_mut(whole) {
                *known = level;
            }
        }
        Some(level)
    }

    /// For each level its share of a power, that of the greatest burn of a stretch: powers of
    /// others may be greater, and stand for none of its burns.
    pub(super) fn shares(&self, most_s: f64) -> Vec<f64> {
        self.powers_s.iter().map(|s| (s / most_s).min(1.0)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_have_levels_until_there_are_no_more() {
        let mut levels = Levels::default();
        assert_eq!(
            (levels.of(300.0), levels.of(0.5), levels.of(300.0)),
            (Some(1), Some(2), Some(1))
        );
        assert_eq!(levels.shares(300.0), [0.0, 1.0, 0.5 / 300.0]);
        assert_eq!(levels.shares(0.5), [0.0, 1.0, 1.0]);
        for k in 3..MOST_LEVELS {
            assert!(levels.has_room(), "{k}");
            #[expect(clippy::cast_precision_loss, reason = "few")]
            let power_s = k as f64 + 0.25;
            assert!(levels.of(power_s).is_some());
        }
        assert!(!levels.has_room());
        assert_eq!((levels.of(9.75), levels.of(0.5)), (None, Some(2)));
    }
}
