//! What is found, in one form for all of it.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use stave_setup::Fault;

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, Deserialize, Eq, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "lowercase")]
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

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// What a finding is about.
#[derive(Clone, Copy, Debug, Deserialize, Eq, Hash, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Code {
    /// A burn past either end of the wall.
    OffWall,
    /// A burn where the wall stands too steep to the beam.
    Reach,
    /// A burn in a zone or its margin.
    Zone,
    /// Burned twice where it was drawn once: past a full turn, or pieces that come to meet.
    Overlap,
    /// A label past where it folds.
    Fold,
    /// The head strikes the work or the bed.
    Clearance,
    /// A word past what an axis can go to.
    TravelLimit,
    /// An S above full power.
    Power,
    /// The beam is on while the head travels.
    BeamOnTravel,
    /// The beam is on when the program ends.
    BeamOnEnd,
    /// A program without its end, cut off or broken off.
    Unfinished,
    /// A program made for another machine, blank or job than these.
    WrongRig,
    /// An operation that picks nothing.
    NoMatch,
    /// Something visible that is not burned.
    LeftOut,
    /// A font or a character that is not there.
    Font,
    /// A text past its box.
    TooLong,
    /// A burn so far out of focus that its spot is more than twice as wide, or that takes a flat
    /// place for round wall.
    DefocusFar,
    /// Art that no operation picks.
    Unpicked,
    /// Art past the page, cut off there.
    Cut,
    /// A burn out of focus.
    Defocus,
    /// A speed that an axis does not have.
    SpeedLimit,
    /// Scan lines farther apart than the spot is wide.
    SpacingSpot,
    /// Scan lines that the motor cannot space evenly, or not as asked.
    SpacingSteps,
    /// Art drawn out, pressed together or sheared.
    Distortion,
    /// A page whose size is not the blank's.
    Page,
    /// A setting that can hardly be meant.
    Plausible,
    /// Lines passed through or dropped that may move something.
    Passed,
    /// A shape or gap narrower than the spot.
    Thin,
    /// More lines a second than the controller takes.
    LineRate,
    /// No burn at all.
    NothingBurns,
    /// A program without M2, M30 or a closing percent sign.
    NoEnd,
    /// A speed that is sooner done at the same dose.
    Quicker,
    /// White art: bare ware.
    Bare,
    /// Grey fills that burn full.
    Grey,
}

impl Code {
    /// Every code, errors first.
    pub const ALL: [Self; 34] = [
        Self::OffWall,
        Self::Reach,
        Self::Zone,
        Self::Overlap,
        Self::Fold,
        Self::Clearance,
        Self::TravelLimit,
        Self::Power,
        Self::BeamOnTravel,
        Self::BeamOnEnd,
        Self::Unfinished,
        Self::WrongRig,
        Self::NoMatch,
        Self::LeftOut,
        Self::Font,
        Self::TooLong,
        Self::DefocusFar,
        Self::Unpicked,
        Self::Cut,
        Self::Defocus,
        Self::SpeedLimit,
        Self::SpacingSpot,
        Self::SpacingSteps,
        Self::Distortion,
        Self::Page,
        Self::Plausible,
        Self::Passed,
        Self::Thin,
        Self::LineRate,
        Self::NothingBurns,
        Self::NoEnd,
        Self::Quicker,
        Self::Bare,
        Self::Grey,
    ];

    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        self.row().0
    }

    /// How much it weighs. [`Code::NothingBurns`] is a warning for a program; a drawing that burns
    /// nothing is an error.
    #[must_use]
    pub fn severity(self) -> Severity {
        self.row().1
    }

    /// What it means, a sentence.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        self.row().2
    }

    /// What to do, in few words.
    #[must_use]
    pub fn remedy(self) -> &'static str {
        self.row().3
    }

    fn row(self) -> (&'static str, Severity, &'static str, &'static str) {
        use Severity::{Error, Note, Warning};
        match self {
            Self::OffWall => (
                "off-wall",
                Error,
                "A burn past either end of the wall.",
                "move the art, or measure a station further out",
            ),
            Self::Reach => (
                "reach",
                Error,
                "A burn where the wall stands too steep to the beam.",
                "keep the art off it, or change the tilt",
            ),
            Self::Zone => (
                "zone",
                Error,
                "A burn in a zone or its margin.",
                "move the art, or leave the zone out with `zones = \"mask\"`",
            ),
            Self::Overlap => (
                "overlap",
                Error,
                "Burned twice where it was drawn once: past a full turn, or pieces that come to meet.",
                "make the art narrower, or lay it so that it closes",
            ),
            Self::Fold => (
                "fold",
                Error,
                "A label past where it folds.",
                "make it smaller, anchor it elsewhere, or take another lay",
            ),
            Self::Clearance => (
                "clearance",
                Error,
                "The head strikes the work or the bed.",
                "turn or move the art, fit another nozzle, raise the rotary",
            ),
            Self::TravelLimit => (
                "travel-limit",
                Error,
                "A word past what an axis can go to.",
                "move the art or the zero",
            ),
            Self::Power => {
                ("power", Error, "An S above full power.", "give less, or correct `full_power`")
            }
            Self::BeamOnTravel => (
                "beam-on-travel",
                Error,
                "The beam is on while the head travels.",
                "write S0 or M5 before the travel",
            ),
            Self::BeamOnEnd => (
                "beam-on-end",
                Error,
                "The beam is on when the program ends.",
                "end it with M5 and M2",
            ),
            Self::Unfinished => (
                "unfinished",
                Error,
                "A program without its end, cut off or broken off.",
                "make it anew",
            ),
            Self::WrongRig => (
                "wrong-rig",
                Error,
                "A program made for another machine, blank or job than these.",
                "take the files it was made for, or make it anew",
            ),
            Self::NoMatch => (
                "no-match",
                Error,
                "An operation that picks nothing.",
                "correct its `pick`, or say `optional = true`",
            ),
            Self::LeftOut => (
                "left-out",
                Error,
                "Something visible that is not burned.",
                "draw it as outlines or fills, or give it an operation",
            ),
            Self::Font => (
                "font",
                Error,
                "A font or a character that is not there.",
                "give the font with --font, or turn the text into outlines",
            ),
            Self::TooLong => {
                ("too-long", Error, "A text past its box.", "shorten it, or give it more room")
            }
            Self::DefocusFar => (
                "defocus-far",
                Error,
                "A burn so far out of focus that its spot is more than twice as wide, or that takes \
                 a flat place for round wall.",
                "tilt and focus as `stave level` says",
            ),
            Self::Unpicked => (
                "unpicked",
                Warning,
                "Art that no operation picks, left out.",
                "give it the colour that is picked, or an operation of its own",
            ),
            Self::Cut => {
                ("cut", Warning, "Art past the page, cut off there.", "draw it on the page")
            }
            Self::Defocus => {
                ("defocus", Warning, "A burn out of focus.", "tilt and focus as `stave level` says")
            }
            Self::SpeedLimit => (
                "speed-limit",
                Warning,
                "A speed that an axis does not have.",
                "ask for less speed",
            ),
            Self::SpacingSpot => (
                "spacing-spot",
                Warning,
                "Scan lines farther apart than the spot is wide.",
                "set them closer",
            ),
            Self::SpacingSteps => (
                "spacing-steps",
                Warning,
                "Scan lines that the motor cannot space evenly, or not as asked.",
                "take a spacing of whole motor steps",
            ),
            Self::Distortion => (
                "distortion",
                Warning,
                "Art drawn out, pressed together or sheared.",
                "see `stave lays`",
            ),
            Self::Page => (
                "page",
                Warning,
                "A page whose size is not the blank's.",
                "draw on the page of `stave template`",
            ),
            Self::Plausible => {
                ("plausible", Warning, "A setting that can hardly be meant.", "look at it again")
            }
            Self::Passed => (
                "passed",
                Warning,
                "Lines passed through or dropped that may move something.",
                "see --pass",
            ),
            Self::Thin => {
                ("thin", Warning, "A shape or gap narrower than the spot.", "draw it wider")
            }
            Self::LineRate => (
                "line-rate",
                Warning,
                "More lines a second than the controller takes.",
                "ask for less speed, or a wider tolerance",
            ),
            Self::NothingBurns => (
                "nothing-burns",
                Warning,
                "No burn at all.",
                "switch the beam on with M3 or M4 and an S above 0",
            ),
            Self::NoEnd => (
                "no-end",
                Warning,
                "A program without M2, M30 or a closing percent sign.",
                "see that all of it was exported",
            ),
            Self::Quicker => (
                "quicker",
                Note,
                "A speed that is sooner done at the same dose.",
                "take it if time counts",
            ),
            Self::Bare => ("bare", Note, "White art: bare ware.", "nothing"),
            Self::Grey => (
                "grey",
                Note,
                "Grey fills that burn full.",
                "give them an operation with `work = \"picture\"`",
            ),
        }
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// A word that is no code.
#[derive(Clone, Debug, Eq, PartialEq, thiserror::Error)]
#[error("there is no finding `{0}`")]
pub struct NoCode(pub String);

impl FromStr for Code {
    type Err = NoCode;

    fn from_str(word: &str) -> Result<Self, NoCode> {
        let found = Self::ALL.into_iter().find(|code| code.as_str() == word);
        found.ok_or_else(|| NoCode(word.to_owned()))
    }
}

/// One thing that was found: what, where, how much against what is allowed, and what to do.
///
/// Places are mm along the axis and degrees around; what a finding does not have is null.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Finding {
    /// What it is about.
    pub code: Code,
    /// How much it weighs.
    pub severity: Severity,
    /// Whether it is an error that somebody knows of and means, so that it refuses nothing.
    #[serde(default)]
    pub accepted: bool,
    /// Where along the axis, mm.
    pub at: Option<f64>,
    /// Where around, degrees.
    pub turn: Option<f64>,
    /// The line of the program.
    pub line: Option<u64>,
    /// The piece of the art.
    pub piece: Option<String>,
    /// The element of the drawing: its id, or its kind and line.
    pub element: Option<String>,
    /// What was found, in the unit that the message has.
    pub value: Option<f64>,
    /// What is allowed, in the same.
    pub limit: Option<f64>,
    /// What it is, and what to do.
    pub message: String,
    /// The section of the run it came up in, for whoever knows what that holds.
    #[serde(skip)]
    pub section: Option<u32>,
}

/// Adding nothing turns a minus zero into zero; what is not finite is null.
fn number(value: f64) -> Option<f64> {
    value.is_finite().then_some(value + 0.0)
}

impl Finding {
    /// A setting that can hardly be meant; of its message the first line, without the excerpt from
    /// the file.
    #[must_use]
    pub fn of_doubt(doubt: &Fault) -> Self {
        let message = doubt.to_string();
        Self::new(Code::Plausible, message.lines().next().unwrap_or_default().to_owned())
    }

    /// A finding without a place.
    #[must_use]
    pub fn new(code: Code, message: String) -> Self {
        Self {
            code,
            severity: code.severity(),
            accepted: false,
            at: None,
            turn: None,
            line: None,
            piece: None,
            element: None,
            value: None,
            limit: None,
            message,
            section: None,
        }
    }

    /// With where on the wall: mm along the axis and turn, rad.
    #[must_use]
    pub fn at(self, at_mm: f64, turn_rad: f64) -> Self {
        Self { at: number(at_mm), turn: number(turn_rad.to_degrees()), ..self }
    }

    /// With where along the axis, mm, whatever the turn.
    #[must_use]
    pub fn along(self, at_mm: f64) -> Self {
        Self { at: number(at_mm), ..self }
    }

    /// With the line of the program; what happens before the first line has none.
    #[must_use]
    pub fn on_line(self, line: u64) -> Self {
        Self { line: (line > 0).then_some(line), ..self }
    }

    /// With the piece of the art.
    #[must_use]
    pub fn of_piece(self, piece: &str) -> Self {
        Self { piece: Some(piece.to_owned()), ..self }
    }

    /// With the element of the drawing.
    #[must_use]
    pub fn of_element(self, element: &str) -> Self {
        Self { element: Some(element.to_owned()), ..self }
    }

    /// With what was found and what is allowed.
    #[must_use]
    pub fn figures(self, value: f64, limit: f64) -> Self {
        Self { value: number(value), limit: number(limit), ..self }
    }
}
