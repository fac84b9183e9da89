//! The lays beside each other, drawn.

use stave_check::{ANGLE_WARNING_RAD, SIZE_WARNING};
use stave_picture::{LayBounds, LayPanel, LaysRow};
use stave_setup::Setup;
use stave_toolpath::number::{change_percent, fixed};

use super::{Compared, Subject};

pub(super) fn picture(setup: &Setup, subjects: &[Subject], compared: &[Compared]) -> String {
    let rows: Vec<LaysRow<'_>> = subjects
        .iter()
        .zip(compared)
        .map(|(subject, one)| LaysRow {
            name: &subject.id,
            outlines: &subject.lines,
            bounds: (subject.from, subject.to),
            panels: one
                .lays
                .iter()
                .map(|(kind, lay)| {
                    let figures = one
                        .figures
                        .iter()
                        .find(|(known, _)| known == kind)
                        .map(|(_, figures)| figures);
                    LayPanel {
                        lay: lay.as_ref().ok(),
                        name: kind.name(),
                        figures: figures.map_or("does not fit here".to_owned(), |f| {
                            format!(
                                "angles {}° off, widths {}, heights {}",
                                fixed(f.omega_max_rad.to_degrees(), 1),
                                change_percent(f.width_max),
                                change_percent(f.height_max)
                            )
                        }),
                        best: one.advice.as_ref().is_some_and(|advice| advice.best == *kind),
                    }
                })
                .collect(),
        })
        .collect();
    stave_picture::lays(
        &setup.blank,
        &rows,
        LayBounds { omega_rad: ANGLE_WARNING_RAD, size: SIZE_WARNING },
    )
}
