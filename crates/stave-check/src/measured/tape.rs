//! Where a tape cannot lie flat.

use super::MeasuredStation;
use stave_setup::Gauge;

/// A station by tape over a wall that changes under the tape.
///
/// A tape reads an average of all that lies under its width, and bears on the widest of it: on a
/// step or a strong taper that is not the diameter at its middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnderTape {
    /// The station's index.
    pub index: usize,
    /// From the least to the greatest diameter under the tape, mm, by the straight wall through the
    /// stations.
    pub change_mm: f64,
    /// The mean diameter under the tape less that at its middle, mm.
    pub mean_off_mm: f64,
    /// The greatest diameter under the tape less that at its middle, mm.
    pub widest_off_mm: f64,
}

/// How many times its own ± the widest place under a tape may differ from its middle.
const ALLOWED: f64 = 2.0;

pub(super) fn under_tape(stations: &[MeasuredStation], width_mm: f64) -> Vec<UnderTape> {
    let wall = Outline(stations);
    let taped =
        stations.iter().enumerate().filter(|(_, station)| station.gauge == Some(Gauge::Tape));
    taped
        .filter_map(|(index, station)| {
            let (from, to) = (station.at_mm - 0.5 * width_mm, station.at_mm + 0.5 * width_mm);
            let inside = stations.iter().map(|s| s.at_mm).filter(|at| *at > from && *at < to);
            let ats: Vec<f64> = std::iter::once(from).chain(inside).chain([to]).collect();
            let sizes: Vec<f64> = ats.iter().map(|at| wall.diameter_mm(*at)).collect();
            let least = sizes.iter().copied().fold(f64::INFINITY, f64::min);
            let most = sizes.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let runs = ats.windows(2).zip(sizes.windows(2));
            let mean =
                runs.map(|(at, size)| 0.5 * (size[0] + size[1]) * (at[1] - at[0])).sum::<f64>()
                    / width_mm;
            let widest_off_mm = most - station.diameter_mm;
            (widest_off_mm > ALLOWED * station.size_mm).then_some(UnderTape {
                index,
                change_mm: most - least,
                mean_off_mm: mean - station.diameter_mm,
                widest_off_mm,
            })
        })
        .collect()
}

/// The straight wall through stations, running on past its ends as it runs to them.
struct Outline<'a>(&'a [MeasuredStation]);

impl Outline<'_> {
    fn diameter_mm(&self, at_mm: f64) -> f64 {
        let last = self.0.len().saturating_sub(1);
        let after = self.0.partition_point(|station| station.at_mm < at_mm).clamp(1, last.max(1));
        match (self.0.get(after - 1), self.0.get(after)) {
            (Some(a), Some(b)) => {
                a.diameter_mm
                    + (b.diameter_mm - a.diameter_mm) * (at_mm - a.at_mm) / (b.at_mm - a.at_mm)
            }
            (Some(only), None) => only.diameter_mm,
            _ => f64::NAN,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::measured::{Gauges, measured};
    use stave_setup::{LengthUnit, read_readings};

    #[test]
    fn on_a_step_but_not_on_a_body() {
        let text = "0 diameter 66\n95 diameter 70\n98 circumference 245\n101 diameter 86\n140 \
                    circumference 276.5\n175 diameter 88.5";
        let readings = read_readings(text, "r", LengthUnit::Mm).unwrap();
        let found = measured(&readings, &Gauges::default()).under_tape;
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].index, 2);
        // The tape lies from 93 to 103 mm: from 69.9 to 86.1 mm across.
        assert!((found[0].change_mm - 16.2).abs() < 0.1, "{found:?}");
    }

    #[test]
    fn the_mean_under_a_tape_on_a_cone_is_its_middle() {
        let text = "0 diameter 60\n50 circumference 251.327412\n100 diameter 100";
        let found =
            measured(&read_readings(text, "r", LengthUnit::Mm).unwrap(), &Gauges::default())
                .under_tape;
        assert!(
            found[0].mean_off_mm.abs() < 1e-6 && (found[0].widest_off_mm - 2.0).abs() < 1e-6,
            "{found:?}"
        );
    }
}
