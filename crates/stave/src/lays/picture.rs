//! The lays beside each other, drawn.

use stave_check::{ANGLE_WARNING_RAD, LayFigures, SIZE_WARNING};
use stave_picture::{LayBounds, LayPaint, LayPainted, LayPanel, LaysRow};
use stave_setup::Setup;
#[cfg(feature = "svg")]
use stave_toolpath::art::Rule;
use stave_toolpath::number::{change_percent, fixed};

#[cfg(feature = "svg")]
use super::subject::all_lines;
use super::{Compared, Subject};

pub(super) fn picture(
    setup: &Setup,
    date: &str,
    subjects: &[Subject],
    compared: &[Compared],
) -> String {
    let rows: Vec<LaysRow<'_>> = subjects
        .iter()
        .zip(compared)
        .map(|(subject, one)| LaysRow {
            name: &subject.id,
            outlines: &subject.lines,
            paints: paints(subject),
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
                        figures: match lay {
                            Err(why) => why.clone(),
                            Ok(_) => figures.map_or_else(String::new, words),
                        },
                        best: one.advice.as_ref().is_some_and(|advice| advice.best == *kind),
                    }
                })
                .collect(),
        })
        .collect();
    stave_picture::lays(
        &setup.blank,
        date,
        &rows,
        LayBounds { omega_rad: ANGLE_WARNING_RAD, size: SIZE_WARNING },
    )
}

fn words(figures: &LayFigures) -> String {
    format!(
        "angles {}° off, widths {}, heights {}",
        fixed(figures.omega_max_rad.to_degrees(), 1),
        change_percent(figures.width_max),
        change_percent(figures.height_max)
    )
}

/// How a piece is painted: the parts of a drawing, or all that a program burns as lines.
fn paints(subject: &Subject) -> Vec<LayPaint> {
    #[cfg(feature = "svg")]
    if !subject.paints.is_empty() {
        return subject.paints.iter().map(of_drawing).collect();
    }
    vec![LayPaint { lines: subject.lines.clone(), how: LayPainted::Line, clips: Vec::new() }]
}

#[cfg(feature = "svg")]
fn of_drawing(paint: &super::paint::Paint) -> LayPaint {
    use super::paint::Painted;
    let even_odd = |rule: Rule| rule == Rule::EvenOdd;
    LayPaint {
        lines: all_lines(&paint.flat),
        how: match paint.painted {
            Painted::Area(rule) => LayPainted::Area { even_odd: even_odd(rule) },
            Painted::Line => LayPainted::Line,
            Painted::Bare(rule) => LayPainted::Bare { even_odd: even_odd(rule) },
        },
        clips: paint
            .clips
            .iter()
            .map(|areas| {
                areas.iter().map(|(flat, rule)| (all_lines(flat), even_odd(*rule))).collect()
            })
            .collect(),
    }
}
