//! `lays`: what each lay makes of the art on this wall, and which suits.

#[cfg(feature = "svg")]
mod drawn;
#[cfg(all(feature = "svg", feature = "pictures"))]
mod paint;
#[cfg(feature = "pictures")]
mod picture;
mod program;
mod report;
mod subject;

#[cfg(feature = "svg")]
pub(crate) use drawn::as_laid;
pub use report::{LayRow, Lays, LaysReport, PieceLays};
use subject::Subject;

use kurbo::Point;
use stave_check::{
    ANGLE_WARNING_RAD, Advice, Code, Finding, LayCost, LayFigures, SIZE_WARNING, Sampled, Wants,
    advise, goes_all_round, lay_cost, lay_figures, least_cost,
};
use stave_setup::{JobAnchor, Setup};
use stave_toolpath::number::{change_percent, fixed};
use stave_transform::Redraw;
use stave_wall::{Anchor, Lay, LayKind, LaySetting};

use crate::error::Error;
use crate::report::PieceAsLaid;
use crate::run::Footprint;
use crate::source::{Options, Source};

/// Compares the lays for each piece of a drawing, or for a flat program as one piece: figures for
/// every lay, the one that suits best and why, and a picture of them all. Each is laid from the
/// anchor that the job names: by default the piece's centre, for a program the drawing's origin.
///
/// # Errors
/// Art or a program that cannot be read (exit status 2).
pub fn lays(source: Source<'_>, setup: &Setup, options: &Options) -> Result<LaysReport, Error> {
    let (subjects, mut notes) = match source {
        Source::Program { input, name } => program::subject(input, setup, &options.read, &name)?,
        #[cfg(feature = "svg")]
        drawn => drawn::of_drawing(&drawn, setup, options)?,
    };
    if subjects.is_empty() {
        notes.push("there is nothing to lay: no piece has a size".into());
    }
    let redraw = Redraw::new(setup);
    let compared: Vec<Compared> =
        subjects.iter().map(|subject| compare(setup, &redraw, subject)).collect();
    #[cfg(feature = "pictures")]
    let picture = picture::picture(setup, &options.date, &subjects, &compared);
    for (subject, one) in subjects.iter().zip(&compared) {
        if one.figures.is_empty() {
            notes.push(format!("no lay has a place for \"{}\"", subject.id));
        }
        notes.extend(one.lies_on_itself(&subject.id));
    }
    Ok(LaysReport {
        best: best_of_all(&compared),
        pieces: subjects
            .iter()
            .zip(&compared)
            .map(|(subject, one)| one.report(subject, setup))
            .collect(),
        notes,
        #[cfg(feature = "pictures")]
        picture,
    })
}

/// What fixes a lay for a piece with this centre.
pub(crate) fn lay_setting(
    setup: &Setup,
    kind: LayKind,
    anchor: JobAnchor,
    centre: Point,
) -> LaySetting {
    LaySetting {
        kind,
        origin_s_mm: setup.blank.wall.s_of_at(setup.job.place.at_mm),
        origin_turn_rad: setup.job.place.turn_rad,
        reference_radius_mm: setup.job.reference_radius_mm,
        anchor: match anchor {
            JobAnchor::Drawing => Anchor::Drawing,
            JobAnchor::Point { u_mm, v_mm } => Anchor::Point { u_mm, v_mm },
            JobAnchor::Piece => Anchor::Point { u_mm: centre.x, v_mm: centre.y },
        },
    }
}

/// A piece under all lays.
struct Compared {
    wants: Wants,
    lays: Vec<(LayKind, Result<Lay, String>)>,
    figures: Vec<(LayKind, LayFigures)>,
    zones: Vec<(LayKind, Vec<String>)>,
    advice: Option<Advice>,
}

impl Compared {
    /// How far a piece that is longer than a turn under every lay lies on itself.
    fn lies_on_itself(&self, id: &str) -> Option<String> {
        let seam = |(kind, figures): &(LayKind, LayFigures)| {
            let by_mm = -figures.seam_mm.filter(|_| figures.closes() == Some(false))?;
            (by_mm > 0.0).then(|| format!("{} mm under {kind}", fixed(by_mm, 2)))
        };
        let by: Vec<String> = self.figures.iter().filter_map(seam).collect();
        let under_all = !by.is_empty() && by.len() == self.figures.len();
        under_all.then(|| {
            format!("\"{id}\" comes to lie on itself, by {}: make it narrower", by.join(", "))
        })
    }
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
    if compared.is_empty() {
        return None;
    }
    let cost_of = |kind: LayKind| {
        compared.iter().try_fold(LayCost::default(), |worst, one| {
            let (_, figures) = one.figures.iter().find(|(known, _)| *known == kind)?;
            Some(worst.worse(lay_cost(one.wants, kind, figures)))
        })
    };
    least_cost(cost_of).map(|(kind, _)| kind)
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

impl Subject {
    fn sampled(&self) -> Sampled<'_> {
        Sampled { outline: &self.outline, inside: &self.inside, from: self.from, to: self.to }
    }
}
