//! Lines around the work, and how those that go all the way around close.

use stave_setup::Setup;

use super::scan::{Grid, Line, Run, Way};
use super::seam::Fold;
use super::{
    Extent, Hatch, LEAST_SHARE, Laying, NoImage, Seam, apart, largest_radius_mm, scanned, seen,
};
use crate::narrow::Narrow;
use crate::shade::Stretch;

/// A fade is made of no more parts than this.
const MOST_PARTS: f64 = 400.0;

/// Lays lines around, `asked_mm` apart along the meridian.
///
/// The first lies half the spacing inside the art, so that a band as high as so many lines has so
/// many.
///
/// # Errors
/// Where a shape has no image.
pub(super) fn hatch(
    layings: &mut [(usize, Option<Laying>)],
    make: &dyn Fn(usize) -> Result<Option<Laying>, NoImage>,
    (asked_mm, way, fold): (f64, Way, Fold),
    extent: Extent,
    narrow: Vec<Narrow>,
    setup: &Setup,
) -> Result<Option<Hatch>, NoImage> {
    let least_mm = LEAST_SHARE * setup.job.tolerance_mm;
    let grid = Grid { way, origin: extent.0.0 + 0.5 * asked_mm, step: asked_mm, snap: None };
    let lines = scanned(layings, make, &grid, least_mm)?;
    let turn_mm = way.turn_mm().unwrap_or(f64::INFINITY);
    let full_wrap = extent.1.1 - extent.1.0 > turn_mm - 1.5 * asked_mm;
    let from_mm = extent.1.0;
    let folded = if full_wrap { fold.around(&lines, (from_mm, turn_mm), asked_mm) } else { None };
    let seam = folded.is_some().then_some(Seam::Within { from_mm, turn_mm });
    let lines = folded.unwrap_or(lines);
    let Some(seen) = seen(&lines, &grid) else { return Ok(None) };
    let radius_mm = largest_radius_mm(&setup.blank.wall, seen.0);
    Ok(Some(Hatch {
        grid,
        motor_steps: None,
        coarse: false,
        lines,
        radius_mm,
        full_wrap,
        closes: true,
        seam,
        narrow,
        strayed_mm: 0.0,
    }))
}

/// Brings a line that is longer than a turn into the turn that begins at `from_mm`.
pub(super) fn once_around(line: &mut Line, from_mm: f64, turn_mm: f64) {
    let (Some(first), Some(last)) = (line.runs.first(), line.runs.last()) else { return };
    if last.to_mm - first.from_mm <= turn_mm {
        return;
    }
    let mut parts = Vec::with_capacity(line.runs.len() + 1);
    for run in &line.runs {
        let laps = ((run.from_mm - from_mm) / turn_mm).floor();
        let (mut from, mut left) = (run.from_mm - laps * turn_mm, run.to_mm - run.from_mm);
        while left > 0.0 {
            let to_mm = (from + left).min(from_mm + turn_mm);
            parts.push(Run { from_mm: from, to_mm, piece: run.piece });
            left -= to_mm - from;
            if to_mm <= from {
                break;
            }
            from = from_mm;
        }
    }
    line.runs = apart(parts);
}

/// Lines that go all the way around run on past their seam: their power grows over the first of it
/// and falls over what is burned again, so that both together are the whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Overlap {
    /// Where a turn begins, and how long it is, mm along the line.
    pub(crate) from_mm: f64,
    pub(crate) turn_mm: f64,
    /// How far the line runs on.
    pub(crate) fade_mm: f64,
    /// How long the parts of one power are.
    pub(crate) part_mm: f64,
}

impl Overlap {
    /// Makes a line that goes all the way around run on; others stay as they are.
    pub(super) fn run_on(&self, burns: &mut Vec<Stretch>, least_mm: f64) {
        let end_mm = self.from_mm + self.turn_mm;
        let closes = burns.first().zip(burns.last()).is_some_and(|(first, last)| {
            first.from_mm - self.from_mm < least_mm && end_mm - last.to_mm < least_mm
        });
        if !closes {
            return;
        }
        let parts = (self.fade_mm / self.part_mm).round().clamp(1.0, MOST_PARTS);
        let (mut again, mut all) = (Vec::new(), Vec::with_capacity(burns.len() + 2));
        let mut k = 0.0;
        while k < parts {
            let [from, to] = [k, k + 1.0].map(|k| self.from_mm + self.fade_mm * k / parts);
            let share = (k + 0.5) / parts;
            for burn in burns.iter() {
                let (from_mm, to_mm) = (burn.from_mm.max(from), burn.to_mm.min(to));
                if to_mm > from_mm {
                    all.push(Stretch { from_mm, to_mm, share: burn.share * share });
                    again.push(Stretch {
                        from_mm: from_mm + self.turn_mm,
                        to_mm: to_mm + self.turn_mm,
                        share: burn.share * (1.0 - share),
                    });
                }
            }
            k += 1.0;
        }
        let whole_mm = self.from_mm + self.fade_mm;
        all.extend(
            burns
                .iter()
                .filter(|burn| burn.to_mm > whole_mm)
                .map(|burn| Stretch { from_mm: burn.from_mm.max(whole_mm), ..*burn }),
        );
        all.append(&mut again);
        *burns = all;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn both_together_are_the_whole() {
        let overlap = Overlap { from_mm: 3.0, turn_mm: 20.0, fade_mm: 4.0, part_mm: 0.1 };
        let whole = [(3.0, 9.0, 0.5), (9.0, 23.0, 1.0)];
        let of = |(from_mm, to_mm, share)| Stretch { from_mm, to_mm, share };
        let mut burns: Vec<Stretch> = whole.map(of).into();
        overlap.run_on(&mut burns, 0.001);
        assert!(burns.windows(2).all(|pair| (pair[0].to_mm - pair[1].from_mm).abs() < 1e-9));
        assert!((burns[burns.len() - 1].to_mm - 27.0).abs() < 1e-9);
        let at = |at: f64| {
            let holds = |b: &&Stretch| b.from_mm <= at && at < b.to_mm;
            burns.iter().filter(holds).map(|burn| burn.share).sum::<f64>()
        };
        for k in 0..500 {
            let place = 3.0 + 20.0 * (f64::from(k) + 0.5) / 500.0;
            let wanted = if place < 9.0 { 0.5 } else { 1.0 };
            assert!((at(place) + at(place + 20.0) - wanted).abs() < 1e-12, "{place}");
        }
        // What does not go all the way around does not run on.
        let mut short: Vec<Stretch> = vec![of((3.0, 22.0, 1.0))];
        overlap.run_on(&mut short, 0.001);
        assert_eq!(short, [of((3.0, 22.0, 1.0))]);
    }

    proptest! {
        #[test]
        fn what_burns_of_a_turn_is_what_any_lap_has_of_it(
            raw in prop::collection::vec((0.0..30.0_f64, 0.1..12.0_f64), 1..8),
        ) {
            const TURN_MM: f64 = 10.0;
            let runs = raw.iter().map(|&(from_mm, long_mm)| {
                Run { from_mm, to_mm: from_mm + long_mm, piece: 0 }
            });
            let runs = apart(runs.collect());
            let (first, last) = (runs[0], runs[runs.len() - 1]);
            let before = runs.clone();
            let mut line = Line { runs, ..Line::default() };
            once_around(&mut line, first.from_mm, TURN_MM);
            if last.to_mm - first.from_mm <= TURN_MM {
                prop_assert_eq!(line.runs, before);
                return Ok(());
            }
            for pair in line.runs.windows(2) {
                prop_assert!(pair[0].to_mm <= pair[1].from_mm + 1e-9);
            }
            let holds = |runs: &[Run], at: f64| {
                runs.iter().any(|run| run.from_mm <= at && at < run.to_mm)
            };
            for k in 0..400 {
                let at = first.from_mm + TURN_MM * (f64::from(k) + 0.371) / 400.0;
                let any = (0..6).any(|lap| holds(&before, at + f64::from(lap) * TURN_MM));
                prop_assert_eq!(holds(&line.runs, at), any, "{}", at);
            }
            prop_assert!(line.runs.iter().all(|run| run.to_mm <= first.from_mm + TURN_MM + 1e-9));
        }
    }
}
