//! The proof: what a program burns, as a picture.
//!
//! [`BurnMap`] and [`Track`] are filled from a program's moves brought back to the wall;
//! [`ProofParts`] holds them with figures and findings; [`ProofParts::sheet_svg`] and
//! [`ProofParts::sheet_png`] draw the sheet, [`ProofParts::page_html`] the page to turn the piece
//! in.
//!
//! Burned art is a picture of the map: darker where more energy went into each mm² of wall, by an
//! even ramp from straw to dark blue. It is bounded in size whatever the program's length. All else
//! is drawn as lines. The page draws lines and areas as triangles made from [`Burns`], sharp
//! however near; what is too fine for them, such as a photograph, from the map.

mod around;
mod burn_map;
mod close_up;
mod customer;
mod elevation;
mod energy;
mod facing;
mod head_data;
mod mesh;
mod on_ware;
mod order;
mod outline;
mod page;
mod pins;
mod planes;
mod png;
mod ramp;
#[cfg(test)]
mod sample;
mod shadow;
mod sheet;
pub(crate) mod side;
mod told;
mod track;
mod unrolled;
mod way;

pub use burn_map::{BurnMap, WallPlace};
pub use energy::EnergyUnit;
pub use mesh::Burns;
pub use on_ware::FlatPlace;
pub use order::{Card, Turned, order_html, order_page_png, order_pages};
pub use track::{LegKind, Track, TrackPoint};
pub(crate) use unrolled::true_across_mm;

use std::f64::consts::{PI, TAU};
use std::fmt;

pub use self::png::PngError;
use crate::draw::SheetSize;
use stave_setup::{Blank, ObstacleShape, Stands};

/// What the proof is drawn from.
#[derive(Clone, Debug)]
pub struct ProofParts<'a> {
    /// The ware.
    pub blank: &'a Blank,
    /// The flat place that is burned; `blank` is its plane then, once around, its middle at turn 0.
    pub plane: Option<FlatPlace<'a>>,
    /// How it stands in the pictures.
    pub stands: Stands,
    /// The name of the piece: the art's or the program's.
    pub name: String,
    /// When it was drawn; empty where that is not to be said.
    pub date: String,
    /// The paper that its sheet is for.
    pub sheet: SheetSize,
    /// What the program was made for, a sentence.
    pub wrapped_for: String,
    /// The files it was made from, as far as they are known.
    pub files: Vec<FileShown>,
    /// What is burned.
    pub map: &'a BurnMap,
    /// What is burned as lines, for the page.
    pub burns: &'a Burns,
    /// What was meant to be burned, where that is known: differences are shown.
    pub meant: Option<&'a BurnMap>,
    /// The way of the beam.
    pub track: &'a [TrackPoint],
    /// Names of the program's sections, by number: operations or pieces.
    pub sections: Vec<String>,
    /// What is kept clear around each zone, mm; in the order of the blank's zones.
    pub margins_mm: Vec<f64>,
    /// How the ware lies under the beam.
    pub lies: Lies,
    /// How it lies in the set-ups that come after that, where there are several.
    pub more_set_ups: &'a [Lies],
    /// The unit that energies are told in.
    pub energy: EnergyUnit,
    /// Figures for the machine's operator.
    pub figures: Vec<Figure>,
    /// What is wrong, or worth a look, errors first.
    pub findings: Vec<Remark>,
    /// The texts that will be engraved, as they will be, for the customer to read.
    pub texts: Vec<String>,
    /// Whether those are all: the words of a program cannot be listed.
    pub texts_are_listed: bool,
    /// What must be said wherever a job is planned.
    pub cautions: &'a str,
}

/// How the ware lies in the machine, for the view from the side.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lies {
    /// The tilt, rad; positive raises the end with the larger `at`.
    pub tilt_rad: f64,
    /// The height of the focus as [`stave_wall::Crest::height_mm`] has it, mm; `None` where Z
    /// follows the crest.
    pub focus_height_mm: Option<f64>,
    /// The half depth of focus, ±mm, where it is known.
    pub half_depth_mm: Option<f64>,
    /// The nozzle's radius and the gap from its tip to the focus, mm, where there is one.
    pub nozzle_mm: Option<(f64, f64)>,
    /// What of the head stands above the nozzle's tip, from below; the carriage last.
    pub head: Vec<HeadShape>,
    /// What of the rotary stands up beside the work.
    pub beside: Vec<BesideShape>,
    /// Where along the wall the nozzle is drawn: where it comes closest, mm of meridian.
    pub nozzle_s_mm: f64,
    /// What is burned, from and to, mm of meridian; `None` where nothing is.
    pub burned_s_mm: Option<(f64, f64)>,
    /// Where the beam goes in the dark, from and to, mm of meridian, where nothing burns.
    pub walked_s_mm: Option<(f64, f64)>,
    /// The stretches of it that burn as it lies, in its set-up where there are several, mm of
    /// meridian; none where it burns all along.
    pub stretches_s_mm: Vec<(f64, f64)>,
    /// The turns between which it is burned, rad; `None` where that is not known.
    pub burned_turn_rad: Option<(f64, f64)>,
    /// How wide that is on the wall, mm.
    pub burned_around_mm: Option<f64>,
    /// Whether the end with the larger `at` points to the left, seen from the front of the machine.
    pub mirrored: bool,
    /// Of a program in several set-ups the one that tilt and focus belong to; `None` for one.
    pub set_up: Option<SetUpShown>,
}

/// One of several set-ups of a program.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SetUpShown {
    /// Which, from 1.
    pub number: u32,
    /// Of how many.
    pub of: u32,
    /// What burns in it, from and to, mm of meridian; `None` where nothing does.
    pub burned_s_mm: Option<(f64, f64)>,
}

impl fmt::Display for SetUpShown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "set-up {} of {}", self.number, self.of)
    }
}

impl Lies {
    /// What burns as it lies, from and to, mm of meridian: in its set-up, where there are several.
    pub(crate) fn burned_here_s_mm(&self) -> Option<(f64, f64)> {
        self.set_up.map_or(self.burned_s_mm, |set_up| set_up.burned_s_mm)
    }

    /// The stretches of that.
    pub(crate) fn stretches_here_s_mm(&self) -> Vec<(f64, f64)> {
        match self.stretches_s_mm.as_slice() {
            [] => self.burned_here_s_mm().into_iter().collect(),
            apart => apart.to_vec(),
        }
    }

    /// How high the burned part is, mm along the wall, as its width is around it. How far it
    /// stands from rim and foot is told along the axis.
    pub(crate) fn burned_along_mm(&self) -> Option<f64> {
        self.burned_s_mm.map(|(from, to)| to - from)
    }

    /// How far the middle of what is burned lies from the front, around at its middle height, mm,
    /// as turns grow; `None` where nothing is, or it goes all around.
    pub(crate) fn burned_middle_mm(&self, blank: &Blank) -> Option<f64> {
        let (from, to) = self.burned_s_mm?;
        let (low, high) = self.burned_turn_rad.filter(|(low, high)| high - low < TAU - 1e-6)?;
        let middle = 0.5 * (low + high);
        let folded = middle - TAU * ((middle + PI) / TAU).floor();
        Some(folded * blank.wall.section(0.5 * (from + to), &mut 0).radius_mm)
    }

    /// What is burned, from and to along the axis of a blank, mm, as its stations count.
    pub(crate) fn burned_at_mm(&self, blank: &Blank) -> Option<(f64, f64)> {
        let (from, to) = self.burned_s_mm?;
        Some((blank.wall.at_of_s(from), blank.wall.at_of_s(to)))
    }
}

/// A part of the head above the nozzle's tip, seen from the front; mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeadShape {
    /// True for the carriage, else it is a step of the nozzle.
    pub carriage: bool,
    /// From, to along the rail from the beam, as the end of the work with the larger `at` lies to
    /// the right.
    pub along_mm: (f64, f64),
    /// From, to across it, growing to the side on which larger turns lie.
    pub across_mm: (f64, f64),
    /// Its underside above the tip.
    pub above_mm: f64,
}

/// Something of the rotary beside the work; mm.
#[derive(Clone, Debug, PartialEq)]
pub struct BesideShape {
    /// Its name.
    pub name: String,
    /// From, to along the axis, as `at` counts.
    pub at_mm: (f64, f64),
    /// Its form; `across_mm` of what stands still grows to the side on which larger turns lie.
    pub form: ObstacleShape,
}

/// A line of the table of figures.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Figure {
    /// What it is.
    pub name: String,
    /// Its value with its unit.
    pub value: String,
}

/// A file that a program was made from.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct FileShown {
    /// What it is: `blank`, `machine`, `job`, `program`, `input`.
    pub what: &'static str,
    /// Its name; empty where it is not known.
    pub name: String,
    /// Its short digest; empty where it is not known.
    pub digest: String,
}

impl fmt::Display for FileShown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = crate::svg::isolated(&self.name);
        let words = [self.what, &name, self.digest.as_str()];
        let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
        f.write_str(&words.join(" "))
    }
}

/// How bad a finding is.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Weight {
    /// The job is not fit.
    Error,
    /// It would not be fit, had not somebody said that it is meant.
    Accepted,
    /// Worth a look.
    Warning,
    /// Good to know.
    Note,
}

impl Weight {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Accepted => "accepted error",
            Self::Warning => "warning",
            Self::Note => "note",
        }
    }
}

/// Something found.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// How bad it is.
    pub severity: Weight,
    /// What is wrong, a sentence.
    pub message: String,
    /// Where, if it is a place on the wall.
    pub place: Option<WallPlace>,
}

impl Remark {
    /// The first of what was found that keeps the piece from being made: an error that nobody
    /// accepts.
    #[must_use]
    pub fn refusing(found: &[Self]) -> Option<&Self> {
        found.iter().find(|one| one.severity == Weight::Error)
    }
}
