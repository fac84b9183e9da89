//! Where what a program burns differs from what was meant.

use stave_picture::proof::{BurnMap, Remark, Weight};
use stave_toolpath::number::fixed;

/// Differences smaller than this are a spot's edge here and there, mm².
const DIFFERENCE_MM2: f64 = 0.5;

/// Where two maps differ.
pub(super) fn differences(burned: &BurnMap, meant: &BurnMap) -> Vec<Remark> {
    let (stray, missing) = (burned.beyond(meant), meant.beyond(burned));
    let told = [(stray, "burned that were not meant"), (missing, "not burned that were meant")];
    told.into_iter()
        .filter_map(|(found, words)| {
            let (place, area) = found.filter(|(_, area)| *area > DIFFERENCE_MM2)?;
            Some(Remark {
                severity: Weight::Error,
                message: format!("difference: {} mm² are {words}", fixed(area, 1)),
                place: Some(place),
            })
        })
        .collect()
}
