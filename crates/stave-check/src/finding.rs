//! What is found, in one form for all of it.

use std::fmt;

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum Severity {
    /// The job is not fit.
    Error,
    /// It can be run, and the result is likely not what is wanted.
    Warning,
    /// Worth knowing.
    Note,
}

impl Severity {
    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Note => "note",
        }
    }
}

/// What a finding is about.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum Code {
    /// A burn past either end of the wall.
    OffWall,
    /// A burn where the wall stands too steep to the beam.
    Reach,
    /// A burn in a zone.
    Zone,
    /// Art that goes round more than once.
    Overlap,
    /// A burn out of focus.
    Defocus,
    /// Something that strikes, or comes near.
    Clearance,
    /// A word past what an axis can go to.
    TravelLimit,
    /// A speed or an acceleration that an axis does not have.
    SpeedLimit,
    /// Scan lines too far apart or too close for the spot.
    SpacingSpot,
    /// Scan lines that the motor cannot space evenly.
    SpacingSteps,
    /// Power above what there is, or below what marks.
    Power,
    /// The beam is on while the head travels.
    BeamOnTravel,
    /// The beam is on when the program ends.
    BeamOnEnd,
    /// Art drawn out, pressed together or sheared.
    Distortion,
    /// No burn at all.
    NothingBurns,
}

impl Code {
    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::OffWall => "off-wall",
            Self::Reach => "reach",
            Self::Zone => "zone",
            Self::Overlap => "overlap",
            Self::Defocus => "defocus",
            Self::Clearance => "clearance",
            Self::TravelLimit => "travel-limit",
            Self::SpeedLimit => "speed-limit",
            Self::SpacingSpot => "spacing-spot",
            Self::SpacingSteps => "spacing-steps",
            Self::Power => "power",
            Self::BeamOnTravel => "beam-on-travel",
            Self::BeamOnEnd => "beam-on-end",
            Self::Distortion => "distortion",
            Self::NothingBurns => "nothing-burns",
        }
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// One thing that was found: what, where, how much against what is allowed, and what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What it is about.
    pub code: Code,
    /// How much it weighs.
    pub severity: Severity,
    /// Where along the axis, mm.
    pub at_mm: Option<f64>,
    /// Where around, rad.
    pub turn_rad: Option<f64>,
    /// The line of the program.
    pub line: Option<u64>,
    /// The piece of the art.
    pub piece: Option<String>,
    /// What was found, in the unit that the message has.
    pub value: Option<f64>,
    /// What is allowed, in the same.
    pub limit: Option<f64>,
    /// What it is, and what to do.
    pub message: String,
}

impl Finding {
    /// A finding without a place.
    #[must_use]
    pub fn new(code: Code, severity: Severity, message: String) -> Self {
        Self {
            code,
            severity,
            at_mm: None,
            turn_rad: None,
            line: None,
            piece: None,
            value: None,
            limit: None,
            message,
        }
    }

    /// With where on the wall: mm along the axis and turn, rad.
    #[must_use]
    pub fn at(self, at_mm: f64, turn_rad: f64) -> Self {
        Self { at_mm: Some(at_mm), turn_rad: Some(turn_rad), ..self }
    }

    /// With the line of the program.
    #[must_use]
    pub fn on_line(self, line: u64) -> Self {
        Self { line: Some(line), ..self }
    }

    /// With the piece of the art.
    #[must_use]
    pub fn of_piece(self, piece: &str) -> Self {
        Self { piece: Some(piece.to_owned()), ..self }
    }

    /// With what was found and what is allowed.
    #[must_use]
    pub fn figures(self, value: f64, limit: f64) -> Self {
        Self { value: Some(value), limit: Some(limit), ..self }
    }
}
