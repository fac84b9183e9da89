//! Where on the wall the beam cannot burn.

use stave_wall::{Crest, Wall, WallShape};

use crate::misfit::Misfit;

/// How finely a smooth wall's slope is looked at, steps a span.
const STEPS_A_SPAN: u32 = 256;
/// Two lengths along the meridian closer than this are the same place, mm.
pub const SAME_PLACE_MM: f64 = 1e-7;

/// The stretches of the wall that stand steeper to the beam than the machine's `steepest`.
#[derive(Clone, Debug)]
pub struct Reach {
    /// From and to along the meridian, mm, in order and apart.
    stretches: Vec<(f64, f64)>,
    steepest_rad: f64,
    length_mm: f64,
}

impl Reach {
    /// The stretches of a wall that a beam upright over the tilted work cannot burn.
    #[must_use]
    pub fn new(wall: &Wall, crest: &Crest, steepest_rad: f64) -> Self {
        let mut reach = Self { stretches: Vec::new(), steepest_rad, length_mm: wall.length_mm() };
        let steps = if wall.shape() == WallShape::Straight { 1 } else { STEPS_A_SPAN };
        for (span, ends) in wall.span_ends_mm().windows(2).enumerate() {
            let step = (ends[1] - ends[0]) / f64::from(steps);
            for k in 0..steps {
                let from = ends[0] + step * f64::from(k);
                let middle = wall.section_in(span, from + 0.5 * step);
                if crest.along_rate(&middle) < steepest_rad.cos() {
                    reach.add(from, from + step);
                }
            }
        }
        reach
    }

    fn add(&mut self, from: f64, to: f64) {
        match self.stretches.last_mut() {
            Some(last) if from - last.1 < SAME_PLACE_MM => last.1 = to,
            _ => self.stretches.push((from, to)),
        }
    }

    /// Whether a burn between `s0` and `s1` (either order) stays on the wall and in reach.
    ///
    /// # Errors
    /// The first place where it does not.
    pub fn allows(&self, wall: &Wall, crest: &Crest, s0: f64, s1: f64) -> Result<(), Misfit> {
        if self.surely(s0, s1) {
            return Ok(());
        }
        let (low, high) = if s0 < s1 { (s0, s1) } else { (s1, s0) };
        self.look(wall, crest, low, high)
    }

    /// True where a burn between `s0` and `s1` (either order) stays on the wall, and no part of the
    /// wall is out of reach.
    #[must_use]
    #[inline]
    pub fn surely(&self, s0: f64, s1: f64) -> bool {
        let (low, high) = if s0 < s1 { (s0, s1) } else { (s1, s0) };
        low >= -SAME_PLACE_MM && high <= self.length_mm + SAME_PLACE_MM && self.stretches.is_empty()
    }

    #[cold]
    fn look(&self, wall: &Wall, crest: &Crest, low: f64, high: f64) -> Result<(), Misfit> {
        if !(low >= -SAME_PLACE_MM && high <= self.length_mm + SAME_PLACE_MM) {
            let s = if low < -SAME_PLACE_MM { low } else { high };
            return Err(Misfit::OffWall { at_mm: wall.at_of_s(s), wall_mm: wall.at_range_mm() });
        }
        let first = self.stretches.partition_point(|stretch| stretch.1 <= low + SAME_PLACE_MM);
        match self.stretches.get(first) {
            Some(&(from, to)) if from < high - SAME_PLACE_MM => {
                let s = 0.5 * (from.max(low) + to.min(high));
                let mut hint = 0;
                let section = wall.section(s, &mut hint);
                let slope = crest.height_rate(&section).atan2(crest.along_rate(&section));
                Err(Misfit::Reach {
                    at_mm: section.at_mm,
                    slope_deg: slope.to_degrees(),
                    steepest_deg: self.steepest_rad.to_degrees(),
                })
            }
            _ => Ok(()),
        }
    }
}
