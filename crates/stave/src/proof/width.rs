//! How wide the burned part is.

use stave_wall::Wall;

/// Rows of the wall are no lower than this, mm, and no more than so many.
const ROW_MM: f64 = 0.1;
const MOST_ROWS: f64 = 4096.0;
/// Rounds of the search for the narrowest strip; each leaves two thirds.
const ROUNDS: u32 = 100;

/// Between which turns each height of the wall is burned.
pub(super) struct Widths {
    row_mm: f64,
    rows: Vec<Row>,
}

struct Row {
    radius_mm: f64,
    /// From, to, rad, unfolded.
    turn_rad: Option<(f64, f64)>,
}

impl Widths {
    pub(super) fn new(wall: &Wall) -> Self {
        let length_mm = wall.length_mm();
        let count = (length_mm / ROW_MM).ceil().clamp(1.0, MOST_ROWS);
        let row_mm = length_mm / count;
        let mut hint = 0;
        let mut rows = Vec::new();
        let mut s_mm = 0.5 * row_mm;
        while s_mm < length_mm {
            let radius_mm = wall.section(s_mm, &mut hint).radius_mm;
            rows.push(Row { radius_mm, turn_rad: None });
            s_mm += row_mm;
        }
        Self { row_mm, rows }
    }

    /// Takes a burn that is straight in (mm of meridian, turn).
    #[expect(clippy::cast_precision_loss, reason = "rows are far fewer than 2^52")]
    pub(super) fn burn(&mut self, from: (f64, f64), to: (f64, f64)) {
        let (low, high) = if from.0 <= to.0 { (from, to) } else { (to, from) };
        let (first, last) = (self.row(low.0), self.row(high.0));
        let at = |s_mm: f64| {
            let share = ((s_mm - low.0) / (high.0 - low.0)).clamp(0.0, 1.0);
            if share.is_finite() { low.1 + share * (high.1 - low.1) } else { low.1 }
        };
        let mut begun = low.1;
        for (k, row) in self.rows.iter_mut().enumerate().take(last + 1).skip(first) {
            let end = if k == last { high.1 } else { at((k + 1) as f64 * self.row_mm) };
            let (least, most) = row.turn_rad.unwrap_or((begun, begun));
            row.turn_rad = Some((least.min(begun).min(end), most.max(begun).max(end)));
            begun = end;
        }
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    fn row(&self, s_mm: f64) -> usize {
        let most = self.rows.len().saturating_sub(1);
        ((s_mm / self.row_mm).floor().max(0.0) as usize).min(most)
    }

    /// The width on the wall, mm: that of the narrowest strip, as wide at every height, that holds
    /// all that is burned. What is level is held at its widest height, what slants from end to end.
    /// `None` where nothing is burned.
    pub(super) fn around_mm(&self) -> Option<f64> {
        let burned = || self.rows.iter().filter_map(|row| Some((row.radius_mm, row.turn_rad?)));
        let (mut low, mut high) = burned()
            .map(|(_, turns)| turns)
            .reduce(|all, turns| (all.0.min(turns.0), all.1.max(turns.1)))?;
        let width = |middle_rad: f64| {
            let sides =
                burned().fold((f64::INFINITY, f64::NEG_INFINITY), |all, (radius, turns)| {
                    let side = |turn_rad: f64| radius * (turn_rad - middle_rad);
                    (all.0.min(side(turns.0)), all.1.max(side(turns.1)))
                });
            sides.1 - sides.0
        };
        // The width is convex in the turn of the strip's middle.
        for _ in 0..ROUNDS {
            let third = (high - low) / 3.0;
            if width(low + third) <= width(high - third) { high -= third } else { low += third }
        }
        Some(width(0.5 * (low + high)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_wall::{Station, WallShape};

    fn width(radii_mm: (f64, f64), ways: &[[(f64, f64); 2]]) -> f64 {
        let stations = [(0.0, radii_mm.0), (100.0, radii_mm.1)]
            .map(|(at_mm, radius_mm)| Station { at_mm, radius_mm });
        let wall = Wall::from_stations(&stations, WallShape::Straight).unwrap();
        let mut widths = Widths::new(&wall);
        ways.iter().for_each(|[from, to]| widths.burn(*from, *to));
        widths.around_mm().unwrap_or(f64::NAN)
    }

    /// A level line of so many mm at a height, from so many mm beside turn 1.
    fn level(radii_mm: (f64, f64), s_mm: f64, from_mm: f64, to_mm: f64) -> [(f64, f64); 2] {
        let slant_mm = 100_f64.hypot(radii_mm.1 - radii_mm.0);
        let radius_mm = radii_mm.0 + (radii_mm.1 - radii_mm.0) * s_mm / slant_mm;
        [from_mm, to_mm].map(|mm| (s_mm, 1.0 + mm / radius_mm))
    }

    #[test]
    fn by_hand() {
        let near = |found: f64, wanted: f64| assert!((found - wanted).abs() < 0.02, "{found}");
        let cone = (30.0, 45.0);
        // As wide at every height, about a turn of its middle or beside it.
        for from_mm in [-30.0, 0.0] {
            let ways = [10.0, 55.0, 90.0].map(|s| level(cone, s, from_mm, from_mm + 60.0));
            near(width(cone, &ways), 60.0);
        }
        // Between the same turns at every height: its widest is where the wall is.
        near(width(cone, &[[(1.0, 0.0), (90.0, 0.0)], [(1.0, 1.0), (90.0, 1.0)]]), 43.35);
        // A slanting line of a can goes from end to end though it is narrow at every height, and
        // two level ones of which one lies beside and above the other count together.
        let can = (20.0, 20.0);
        near(width(can, &[[(0.0, 0.0), (80.0, 1.5)]]), 30.0);
        near(width(can, &[level(can, 10.0, 0.0, 10.0), level(can, 50.0, 25.0, 30.0)]), 30.0);
        assert!(width(cone, &[]).is_nan());
    }
}
