//! The comparison as JSON and as a table.

use serde::{Deserialize, Serialize};
use stave_check::{LayFigures, Wants};
use stave_setup::Setup;
use stave_wall::{Anchor, LayKind};

use super::{Compared, Subject};

/// What every lay makes of every piece. Keys carry their units; what a lay has no place for is
/// null.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct LaysReport {
    /// The pieces.
    pub pieces: Vec<PieceLays>,
    /// The one lay that serves all pieces best; null where none has a place for all.
    pub best: Option<LayKind>,
    /// What a person should know of the art.
    pub notes: Vec<String>,
    #[cfg(feature = "pictures")]
    #[serde(skip)]
    pub(super) picture: String,
}

/// One piece.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct PieceLays {
    /// Its id.
    pub id: String,
    /// Its width as drawn, mm.
    pub drawn_width_mm: f64,
    /// Its height as drawn, mm.
    pub drawn_height_mm: f64,
    /// Where its middle lands along the axis, mm.
    pub at: f64,
    /// Where its middle lands around, degrees.
    pub turn_deg: f64,
    /// What it wants most.
    pub wants: Wants,
    /// The lays.
    pub lays: Lays,
    /// The one that suits it best; null where none has a place for it.
    pub best: Option<LayKind>,
    /// Why, in a sentence.
    pub why: Option<String>,
}

/// A row for every lay.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Lays {
    /// Equidistant cylindrical.
    pub even_angle: LayRow,
    /// Sinusoidal.
    pub true_width: LayRow,
    /// Mercator.
    pub true_shape: LayRow,
    /// Azimuthal equidistant.
    pub label: LayRow,
}

/// What one lay makes of a piece: wall over flat, where it strays most.
#[derive(Clone, Debug, Default, Deserialize, Serialize)]
pub struct LayRow {
    /// The greatest angle error, degrees.
    pub omega_max_deg: Option<f64>,
    /// Its mean over the area, or along the lines.
    pub omega_mean_deg: Option<f64>,
    /// Widths.
    pub width_max: Option<f64>,
    /// Heights.
    pub height_max: Option<f64>,
    /// Areas.
    pub area_max: Option<f64>,
    /// The largest area scale over the smallest, as lengths.
    pub lopsided: Option<f64>,
    /// The width on the wall through the middle, mm.
    pub width_mm: Option<f64>,
    /// The height on the wall through the middle, mm.
    pub height_mm: Option<f64>,
    /// The width on the wall where it is widest, mm.
    pub widest_mm: Option<f64>,
    /// Whether its end meets its beginning; null for a piece that does not go all the way around.
    pub closes: Option<bool>,
    /// How far they lie apart at worst, mm; negative where they overlap.
    pub seam_mm: Option<f64>,
    /// The zones that it touches.
    pub zones: Vec<String>,
    /// Why it has no place for the piece.
    pub problem: Option<String>,
}

impl From<&LayFigures> for LayRow {
    fn from(f: &LayFigures) -> LayRow {
        LayRow {
            omega_max_deg: Some(f.omega_max_rad.to_degrees()),
            omega_mean_deg: Some(f.omega_mean_rad.to_degrees()),
            width_max: Some(f.width_max),
            height_max: Some(f.height_max),
            area_max: Some(f.area_max),
            lopsided: Some(f.lopsided),
            width_mm: Some(f.width_mm),
            height_mm: Some(f.height_mm),
            widest_mm: Some(f.widest_mm),
            closes: f.closes(),
            seam_mm: f.seam_mm,
            ..LayRow::default()
        }
    }
}

impl Compared {
    pub(super) fn report(&self, subject: &Subject, setup: &Setup) -> PieceLays {
        let wall = &setup.blank.wall;
        let middle = (0.5 * (subject.from.0 + subject.to.0), 0.5 * (subject.from.1 + subject.to.1));
        let centre = self.lays.iter().find_map(|(_, lay)| {
            let lay = lay.as_ref().ok()?;
            Some(lay.map(wall, middle.0, middle.1, &mut 0))
        });
        // Where no lay has a place for it, its middle still has one on the meridian.
        let at = centre.map_or_else(
            || wall.at_of_s(wall.s_of_at(setup.job.place.at_mm) + middle.0),
            |centre| centre.section.at_mm,
        );
        let turn_rad = centre.map_or(
            setup.job.place.turn_rad + middle.1 / setup.job.reference_radius_mm,
            |centre| centre.turn_rad,
        );
        PieceLays {
            id: subject.id.clone(),
            drawn_width_mm: subject.to.1 - subject.from.1,
            drawn_height_mm: subject.to.0 - subject.from.0,
            at,
            turn_deg: turn_rad.to_degrees(),
            wants: self.wants,
            lays: Lays {
                even_angle: self.row(LayKind::EvenAngle),
                true_width: self.row(LayKind::TrueWidth),
                true_shape: self.row(LayKind::TrueShape),
                label: self.row(LayKind::Label),
            },
            best: self.advice.as_ref().map(|advice| advice.best),
            why: self.advice.as_ref().map(|advice| self.sentence(&advice.why)),
        }
    }

    /// The reason, and what to do where a wrap does not close though it could.
    fn sentence(&self, why: &str) -> String {
        let gapes = |(_, figures): &(LayKind, LayFigures)| figures.closes() == Some(false);
        let from_drawing = self
            .lays
            .iter()
            .filter_map(|(_, lay)| lay.as_ref().ok())
            .all(|lay| lay.setting().anchor == Anchor::Drawing);
        if self.wants == Wants::Closure && self.figures.iter().all(gapes) && !from_drawing {
            return format!(
                "{why}; laid with anchor \"drawing\" it closes under even-angle and true-shape"
            );
        }
        why.to_owned()
    }

    fn row(&self, kind: LayKind) -> LayRow {
        let find = |(known, _): &&(LayKind, LayFigures)| *known == kind;
        let figures = self.figures.iter().find(find);
        let mut row = figures.map_or_else(LayRow::default, |(_, figures)| LayRow::from(figures));
        if let Some((_, zones)) = self.zones.iter().find(|(known, _)| *known == kind) {
            row.zones.clone_from(zones);
        }
        if let Some((_, Err(problem))) = self.lays.iter().find(|(known, _)| *known == kind) {
            row.problem = Some(problem.clone());
        }
        row
    }
}

impl LaysReport {
    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self)
    }

    /// The lays beside each other, as an SVG document.
    #[cfg(feature = "pictures")]
    #[must_use]
    pub fn picture_svg(&self) -> &str {
        &self.picture
    }
}
