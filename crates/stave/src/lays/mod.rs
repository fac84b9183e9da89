//! `lays`: what each lay makes of the art on this wall, and which suits.

mod program;
mod report;
mod subject;

pub use report::{LayRow, Lays, LaysReport, PieceLays};
pub(crate) use subject::{Subject, subjects};

use stave_check::{
    ANGLE_WARNING_RAD, Advice, Code, Finding, LaidPiece, LayFigures, SIZE_WARNING, Sampled, Wants,
    advise, goes_all_round, lay_cost, lay_figures, overlaps,
};
use stave_picture::{LayBounds, LayPanel, LaysRow};
use stave_setup::Setup;
use stave_toolpath::number::{change_percent, fixed};
use stave_transform::Redraw;
use stave_wall::{Lay, LayKind};

use crate::error::Error;
use crate::layout::{Layout, Purpose};
use crate::report::PieceAsLaid;
use crate::run::Footprint;
use crate::source::{Options, Source};

/// Compares the lays for each piece of a drawing, or for a flat program as one piece: figures for every lay, the one that suits best
/// and why, and a picture of them all. Each is laid from the anchor that the job names: by default
/// the piece's centre, for a program the drawing's origin.
///
/// # Errors
/// Art or a program that cannot be read (exit status 2).
pub fn lays(source: Source<'_>, setup: &Setup, options: &Options) -> Result<LaysReport, Error> {
    let (subjects, mut notes) = match source {
        Source::Program { input, name } => program::subject(input, setup, &options.read, &name)?,
        drawn => {
            let layout = Layout::read(&drawn, setup, options, Purpose::Show)?;
            let found = layout.findings.iter().map(|finding| finding.message.clone());
            (subjects(&layout, setup), found.chain(layout.warnings.iter().cloned()).collect())
        }
    };
    if subjects.is_empty() {
        notes.push("there is nothing to lay: no piece has a size".into());
    }
    let redraw = Redraw::new(setup);
    let compared: Vec<Compared> =
        subjects.iter().map(|subject| compare(setup, &redraw, subject)).collect();
    let picture = picture(setup, &subjects, &compared);
    for (subject, one) in subjects.iter().zip(&compared) {
        if one.figures.is_empty() {
            notes.push(format!("no lay has a place for \"{}\"", subject.id));
        }
    }
    Ok(LaysReport {
        best: best_of_all(&compared),
        pieces: subjects
            .iter()
            .zip(&compared)
            .map(|(subject, one)| one.report(subject, setup))
            .collect(),
        notes,
        picture,
    })
}

/// A piece under all lays.
struct Compared {
    wants: Wants,
    lays: Vec<(LayKind, Result<Lay, String>)>,
    figures: Vec<(LayKind, LayFigures)>,
    zones: Vec<(LayKind, Vec<String>)>,
    advice: Option<Advice>,
}

fn compare(setup: &Setup, redraw: &Redraw<'_>, subject: &Subject) -> Compared {
    let wall = &setup.blank.wall;
    let reference_mm = setup.job.reference_radius_mm;
    let all_round = goes_all_round(subject.from, subject.to, reference_mm);
    let wants = Wants::of(subject.to.0 - subject.from.0, subject.to.1 - subject.from.1, all_round);
    let mut compared =
        Compared { wants, lays: Vec::new(), figures: Vec::new(), zones: Vec::new(), advice: None };
    for kind in LayKind::ALL {
        let lay = subject.lay(setup, kind).and_then(|lay| {
            if let Some(room) = lay.label_room(wall) {
                lay.check_label_lines_in(&room, subject.straight_lines())
                    .map_err(|error| error.to_string())?;
            }
            subject.reaches(redraw, &lay)?;
            Ok(lay)
        });
        if let Ok(lay) = &lay {
            if let Some(figures) = lay_figures(wall, lay, &subject.sampled()) {
                compared.figures.push((kind, figures));
            }
            compared.zones.push((kind, subject.zones(redraw, lay)));
        }
        compared.lays.push((kind, lay));
    }
    compared.advice = advise(wants, &compared.figures);
    compared
}

/// The one lay that costs least for the piece that it suits worst.
fn best_of_all(compared: &[Compared]) -> Option<LayKind> {
    if let [one] = compared {
        return one.advice.as_ref().map(|advice| advice.best);
    }
    let order = [LayKind::TrueWidth, LayKind::EvenAngle, LayKind::TrueShape, LayKind::Label];
    let mut best: Option<(LayKind, f64)> = None;
    for kind in order {
        let costs = compared.iter().map(|one| {
            let figures = one.figures.iter().find(|(known, _)| *known == kind);
            figures.map_or(f64::INFINITY, |(_, figures)| lay_cost(one.wants, kind, figures))
        });
        let cost = costs.fold(0.0, f64::max);
        if cost.is_finite()
            && !compared.is_empty()
            && best.is_none_or(|(_, least)| cost < 0.98 * least - 0.1)
        {
            best = Some((kind, cost));
        }
    }
    best.map(|(kind, _)| kind)
}

fn picture(setup: &Setup, subjects: &[Subject], compared: &[Compared]) -> String {
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
                                "angles {}°, widths {}, heights {}",
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

/// What the lays of a layout do to its pieces.
pub(crate) struct AsLaid {
    /// The figures, piece by piece.
    pub(crate) pieces: Vec<PieceAsLaid>,
    /// Pieces that come out changed, and those that come to lie over each other.
    pub(crate) findings: Vec<Finding>,
}

/// What the lays of a layout do to its pieces, and what a person should know of that: angles off by
/// 5 degrees or sizes by 5 per cent, and pieces that come to lie over each other. A piece without a
/// size, or that has no place, is left out.
pub(crate) fn as_laid(layout: &Layout, setup: &Setup) -> AsLaid {
    let subjects = subjects(layout, setup);
    let (mut pieces, mut findings) = (Vec::new(), Vec::new());
    for subject in &subjects {
        let Some(lay) = layout.lays.get(subject.lay) else { continue };
        let Some(figures) = lay_figures(&setup.blank.wall, lay, &subject.sampled()) else {
            continue;
        };
        let piece = PieceAsLaid {
            id: subject.id.clone(),
            lay: lay.setting().kind,
            figures: LayRow::from(&figures),
        };
        findings.extend(distortion(&piece, &figures).map(|f| f.of_piece(&piece.id)));
        pieces.push(piece);
    }
    findings.extend(overlaps_as_laid(layout, &subjects, setup));
    AsLaid { pieces, findings }
}

/// What the lay does to where a program burns, and what a person should know of that.
pub(crate) fn distortion_as_laid(
    setup: &Setup,
    lay: &Lay,
    footprint: &Footprint,
) -> Option<(PieceAsLaid, Option<Finding>)> {
    let figures = footprint.figures(&setup.blank.wall, lay)?;
    let piece = PieceAsLaid {
        id: "program".into(),
        lay: lay.setting().kind,
        figures: LayRow::from(&figures),
    };
    let finding = distortion(&piece, &figures);
    Some((piece, finding))
}

/// What a lay makes of a piece, where it is more than a person should let pass.
fn distortion(piece: &PieceAsLaid, figures: &LayFigures) -> Option<Finding> {
    if !figures.is_worth_a_warning() {
        return None;
    }
    let sizes = [figures.width_max, figures.height_max];
    let size = sizes.into_iter().map(|scale| (scale - 1.0).abs()).fold(0.0, f64::max);
    let (value, limit) = if figures.omega_max_rad >= ANGLE_WARNING_RAD {
        (figures.omega_max_rad.to_degrees(), ANGLE_WARNING_RAD.to_degrees())
    } else {
        (100.0 * size, 100.0 * SIZE_WARNING)
    };
    let message = format!(
        "\"{}\" comes out changed under {}: angles off by up to {}°, widths {}, heights {} at \
         worst; `stave lays` says which lay suits it",
        piece.id,
        piece.lay,
        fixed(figures.omega_max_rad.to_degrees(), 1),
        change_percent(figures.width_max),
        change_percent(figures.height_max)
    );
    Some(Finding::new(Code::Distortion, message).figures(value, limit))
}

fn overlaps_as_laid(layout: &Layout, subjects: &[Subject], setup: &Setup) -> Vec<Finding> {
    let wall = &setup.blank.wall;
    let laid: Vec<LaidPiece> = subjects
        .iter()
        .map(|subject| {
            let lay = layout.lays.get(subject.lay);
            let mut hint = 0;
            let mut place = |lay: &Lay, &(u, v): &(f64, f64)| {
                let at = lay.map(wall, u, v, &mut hint);
                (at.s_mm, at.turn_rad)
            };
            let outlines = lay.map_or_else(Vec::new, |lay| {
                subject
                    .lines
                    .iter()
                    .map(|line| line.iter().map(|p| place(lay, p)).collect())
                    .collect()
            });
            LaidPiece { outlines, drawn: (subject.from, subject.to) }
        })
        .collect();
    let finding = |found: &stave_check::Overlap| {
        let name = |index: usize| subjects.get(index).map_or("", |subject| subject.id.as_str());
        let at_mm = wall.at_of_s(found.s_mm);
        let message = format!(
            "pieces \"{}\" and \"{}\" were drawn apart and come to lie over each other; set them \
             farther apart, or lay them as one piece",
            name(found.pieces.0),
            name(found.pieces.1)
        );
        Finding::new(Code::Overlap, message)
            .at(at_mm, found.turn_rad)
            .of_piece(name(found.pieces.0))
    };
    overlaps(&laid).iter().map(finding).collect()
}

impl Subject {
    fn sampled(&self) -> Sampled<'_> {
        Sampled { outline: &self.outline, inside: &self.inside, from: self.from, to: self.to }
    }
}
