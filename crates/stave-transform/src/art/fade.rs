//! The seam of a full wrap, so that no line shows.

use crate::area::{Hatch, Line, Seam};

/// The seam of a full wrap that closes, faded: the first lines after it burn again a turn later,
/// their power growing along them the first time and falling the second, so that both together are
/// the whole.
pub(super) struct Fade {
    first: i64,
    count: i64,
    over: i64,
}

impl Fade {
    pub(super) fn of(hatch: &Hatch, fade_mm: f64) -> Option<Self> {
        let seam = hatch.seam.filter(|_| hatch.full_wrap && fade_mm > 0.0)?;
        let Seam::Between { first, count } = seam else { return None };
        let lines = (fade_mm / hatch.grid.spacing_mm(hatch.radius_mm)).round();
        #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
        let over = (lines as i64).clamp(1, (count / 2).max(1));
        Some(Self { first, count, over })
    }

    /// All lines, those that burn again at the end.
    pub(super) fn lines(&self, hatch: &Hatch) -> Vec<Line> {
        let fades = |line: &&Line| line.line < self.first + self.over;
        let again = hatch.lines.iter().filter(fades);
        let again = again.map(|line| Line { line: line.line + self.count, ..line.clone() });
        hatch.lines.iter().cloned().chain(again).collect()
    }

    /// With what share of its power a line burns.
    #[allow(clippy::cast_precision_loss, reason = "lines are few")]
    pub(super) fn set(&self, line: &mut Line) {
        line.after = if line.line >= self.first + self.count { self.count } else { 0 };
        let share = ((line.line - line.after - self.first) as f64 + 0.5) / self.over as f64;
        line.share = if line.after > 0 { 1.0 - share } else { share.min(1.0) };
    }

    /// From which turn to which.
    pub(super) fn turns_rad(&self, hatch: &Hatch) -> (f64, f64) {
        let turn = |line: i64| hatch.grid.across(line);
        (turn(self.first), turn(self.first + self.over - 1))
    }
}
