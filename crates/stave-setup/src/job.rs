//! `job.toml` as types: what a file or the options said ([`JobFile`]), and what is meant ([`Job`]).

use stave_wall::LayKind;

use crate::{
    AirLevel, Colour, Dose, Fault, FocusMode, Given, Lens, Nozzle, PlaceOf, Scan, Shading, Stands,
    Toward, Values, Work, ZoneRule,
};

/// The point a lay is reckoned from.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum JobAnchor {
    /// The flat origin.
    Drawing,
    /// The centre of the piece's bounding box.
    Piece,
    /// A point of the flat plane.
    Point {
        /// Along the axis, mm.
        u_mm: f64,
        /// Around, mm.
        v_mm: f64,
    },
}

/// The settings that were given, in a file or as options; whatever was not is `None`.
///
/// # Units
/// As in [`Job`]: mm and radians, whatever the file's `units`.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct JobFile {
    /// `blank`: the file of the blank, as seen from the job file.
    pub blank: Option<Given<String>>,
    /// `machine`: likewise.
    pub machine: Option<Given<String>>,
    /// `input`: the drawing or program, likewise.
    pub input: Option<Given<String>>,
    /// `lay`
    pub lay: Option<Given<LayKind>>,
    /// `anchor`
    pub anchor: Option<Given<JobAnchor>>,
    /// `reference_diameter`, mm.
    pub reference_diameter_mm: Option<Given<f64>>,
    /// `tolerance`, mm on the wall.
    pub tolerance_mm: Option<Given<f64>>,
    /// `tilt`, rad.
    pub tilt_rad: Option<Given<f64>>,
    /// `dose`
    pub dose: Option<Given<Dose>>,
    /// `zones`
    pub zones: Option<Given<ZoneRule>>,
    /// `focus`
    pub focus: Option<Given<FocusMode>>,
    /// `focus_at`, mm along the axis.
    pub focus_at_mm: Option<Given<f64>>,
    /// `stands`
    pub stands: Option<Given<Stands>>,
    /// `toward`
    pub toward: Option<Given<Toward>>,
    /// The file, where it has lengths and does not say in what unit.
    pub(crate) bare_lengths_of: Option<String>,
    /// Whether the file's lengths are in inches.
    pub(crate) in_inches: bool,
    /// Options that were given as lengths in inches.
    pub(crate) inch_options: Vec<String>,
    /// Options that were given as lengths without a unit, with what was typed.
    pub(crate) bare_options: Vec<(String, String)>,
    /// `lens`: the name of the one fitted.
    pub lens: Option<Given<String>>,
    /// `nozzle`: the name of the one fitted.
    pub nozzle: Option<Given<String>>,
    /// `set_diameter`, mm.
    pub set_diameter_mm: Option<Given<f64>>,
    /// `place.at`, mm along the axis.
    pub place_at_mm: Option<Given<f64>>,
    /// `place.turn`, rad.
    pub place_turn_rad: Option<Given<f64>>,
    /// `place.of`
    pub place_of: Option<Given<PlaceOf>>,
    /// `place.facet`: the name of the flat place that is burned.
    pub place_facet: Option<Given<String>>,
    /// `place.contact_at` (or `contact_at`), mm along the axis.
    pub contact_at_mm: Option<Given<f64>>,
    /// `place.held_at`, mm along the axis.
    pub held_at_mm: Option<Given<f64>>,
    /// `zero.at`, mm along the axis.
    pub zero_at_mm: Option<Given<f64>>,
    /// `zero.turn`, rad.
    pub zero_turn_rad: Option<Given<f64>>,
    /// `allow`: findings that are errors and are accepted, by code.
    pub allow: Vec<Given<String>>,
    /// `fonts`: font files for texts of drawings, used before those installed; relative paths are
    /// beside the job file.
    pub fonts: Vec<Given<String>>,
    /// The `[[piece]]` entries.
    pub pieces: Vec<PieceRule>,
    /// The `[[operation]]` entries, in order.
    pub operations: Vec<OperationRule>,
    pub(crate) warnings: Vec<Fault>,
}

impl JobFile {
    /// These settings where `options` says nothing, else those of `options`; lists are taken whole.
    ///
    /// ```
    /// use stave_setup::{JobFile, read_job};
    /// let file = read_job("tilt = 3\nlay = \"true-shape\"", "job.toml")?;
    /// let mut options = JobFile::default();
    /// options.set_option("tilt", "-4")?;
    /// let both = file.overridden_by(options);
    /// assert_eq!(both.tilt_rad.map(|tilt| tilt.value), Some((-4_f64).to_radians()));
    /// assert!(both.lay.is_some());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn overridden_by(self, options: JobFile) -> JobFile {
        let mut warnings = self.warnings;
        warnings.extend(options.warnings);
        JobFile {
            blank: options.blank.or(self.blank),
            machine: options.machine.or(self.machine),
            input: options.input.or(self.input),
            lay: options.lay.or(self.lay),
            anchor: options.anchor.or(self.anchor),
            reference_diameter_mm: options.reference_diameter_mm.or(self.reference_diameter_mm),
            tolerance_mm: options.tolerance_mm.or(self.tolerance_mm),
            tilt_rad: options.tilt_rad.or(self.tilt_rad),
            dose: options.dose.or(self.dose),
            zones: options.zones.or(self.zones),
            focus: options.focus.or(self.focus),
            focus_at_mm: options.focus_at_mm.or(self.focus_at_mm),
            stands: options.stands.or(self.stands),
            toward: options.toward.or(self.toward),
            bare_lengths_of: self.bare_lengths_of.or(options.bare_lengths_of),
            in_inches: self.in_inches || options.in_inches,
            inch_options: [self.inch_options, options.inch_options].concat(),
            bare_options: self.bare_options.into_iter().chain(options.bare_options).collect(),
            lens: options.lens.or(self.lens),
            nozzle: options.nozzle.or(self.nozzle),
            set_diameter_mm: options.set_diameter_mm.or(self.set_diameter_mm),
            place_at_mm: options.place_at_mm.or(self.place_at_mm),
            place_turn_rad: options.place_turn_rad.or(self.place_turn_rad),
            place_of: options.place_of.or(self.place_of),
            place_facet: options.place_facet.or(self.place_facet),
            contact_at_mm: options.contact_at_mm.or(self.contact_at_mm),
            held_at_mm: options.held_at_mm.or(self.held_at_mm),
            zero_at_mm: options.zero_at_mm.or(self.zero_at_mm),
            zero_turn_rad: options.zero_turn_rad.or(self.zero_turn_rad),
            allow: self.allow.into_iter().chain(options.allow).collect(),
            fonts: if options.fonts.is_empty() { self.fonts } else { options.fonts },
            pieces: if options.pieces.is_empty() { self.pieces } else { options.pieces },
            operations: if options.operations.is_empty() {
                self.operations
            } else {
                options.operations
            },
            warnings,
        }
    }

    /// What is worth a second look but can be meant.
    #[must_use]
    pub fn warnings(&self) -> &[Fault] {
        &self.warnings
    }

    /// What was given, key by key, in a file or as an option.
    #[must_use]
    pub fn values(&self) -> Values {
        Values::of_job(self)
    }
}

/// A `[[piece]]`: elements of the drawing that are one piece.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct PieceRule {
    /// Their ids, at least one.
    pub ids: Vec<Given<String>>,
    /// Its own lay.
    pub lay: Option<LayKind>,
    /// Its own anchor.
    pub anchor: Option<JobAnchor>,
}

/// An `[[operation]]` as it was given: what is burned in one way.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OperationRule {
    /// Its name.
    pub name: String,
    /// Which elements of the drawing are burned so.
    pub pick: Given<Pick>,
    /// Areas or lines.
    pub work: Work,
    /// The coating that gives what the operation does not say itself.
    pub coating: Option<Given<String>>,
    /// Its own speed on the wall, mm/s; there where no coating is named.
    pub speed_mm_per_s: Option<f64>,
    /// Its own power, percent, more than 0; likewise.
    pub power_percent: Option<f64>,
    /// Its own spacing of the scan lines on the wall, mm; likewise for areas and pictures.
    pub line_spacing_mm: Option<f64>,
    /// How often it is burned, at least 1.
    pub passes: u32,
    /// Its air assist.
    pub air: Option<Given<AirLevel>>,
    /// Its own lay.
    pub lay: Option<LayKind>,
    /// Its own anchor.
    pub anchor: Option<JobAnchor>,
    /// Its own dose.
    pub dose: Option<Dose>,
    /// Whether it may pick nothing.
    pub optional: bool,
    /// How greys become burns.
    pub shading: Shading,
    /// Which way its scan lines run.
    pub scan: Scan,
    /// Whether each pass is burned once more by scan lines that run across.
    pub cross: bool,
    /// Whether every scan line goes the same way.
    pub one_way: bool,
    /// Over how much of the wall the seam of a full wrap fades, mm; 0 for not at all.
    pub fade_mm: f64,
    /// How much farther the head is from the work than in focus, mm.
    pub defocus_mm: f64,
}

/// An operation as it is meant: what its coating gives, filled in.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Operation {
    /// As it was given.
    pub rule: OperationRule,
    /// Speed on the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// Power, percent, more than 0.
    pub power_percent: f64,
    /// Spacing of the scan lines on the wall, mm; always there for areas and pictures.
    pub line_spacing_mm: Option<f64>,
}

/// Which elements of the drawing an operation takes.
#[derive(Clone, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum Pick {
    /// Those filled with a colour.
    Fill(Colour),
    /// Those outlined with a colour.
    Stroke(Colour),
    /// Those with an id, their own or that of a group around them.
    Id(String),
    /// The picture that the input is: an operation for pictures that picks nothing.
    Input,
}

/// The job as it is meant: every default filled in.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Job {
    /// The lay.
    pub lay: LayKind,
    /// The anchor; `None` leaves it to the input: the piece for SVG, the drawing for G-code.
    pub anchor: Option<JobAnchor>,
    /// The radius at which a drawing is true, mm.
    pub reference_radius_mm: f64,
    /// How far what is burned may lie from its exact image, mm on the wall.
    pub tolerance_mm: f64,
    /// The rotary's tilt, rad; positive raises the end with the larger `at`.
    pub tilt_rad: f64,
    /// The dose; `None` leaves it to the input: even for art, as given for G-code.
    pub dose: Option<Dose>,
    /// What to do with burns in a zone.
    pub zones: ZoneRule,
    /// Who keeps the focus.
    pub focus: FocusMode,
    /// Where the user focuses, mm along the axis; `None` is the middle of the narrowest strip.
    pub focus_at_mm: Option<f64>,
    /// At which turn that is, rad, which matters on ware that is not true; `None` is the zero's.
    pub focus_turn_rad: Option<f64>,
    /// How the drawing stands on the page.
    pub stands: Stands,
    /// Where the end of the work with the larger `at` points.
    pub toward: Toward,
    /// The lens fitted, if the machine lists any.
    pub lens: Option<Lens>,
    /// The nozzle fitted, if the machine lists any.
    pub nozzle: Option<Nozzle>,
    /// Half the diameter that a controller which reads drawings is told, mm.
    pub set_radius_mm: f64,
    /// Where the flat origin, or the art, lands.
    pub place: ArtPlace,
    /// True if `place.at` or `place.turn` was given.
    pub place_given: bool,
    /// Where the X and rotary words are zero.
    pub zero: Zero,
    /// Where a roller touches the work, mm along the axis.
    pub contact_at_mm: f64,
    /// Where the chuck's face is, mm along the axis; where it is nearer to the last station than to
    /// the first, the ware reaches from it towards the smaller `at`.
    pub held_at_mm: f64,
    /// Findings that are errors and are accepted, by code.
    pub allow: Vec<Given<String>>,
    /// Font files for texts of drawings, used before those installed.
    pub fonts: Vec<Given<String>>,
    /// The pieces that the job names.
    pub pieces: Vec<PieceRule>,
    /// The operations, in order.
    pub operations: Vec<Operation>,
    /// From and to along the axis what this set-up burns, mm; `None` where no other goes on from
    /// there. No file says it: it comes of what burns.
    pub part_at_mm: [Option<f64>; 2],
    /// Where one program holds several set-ups, and this is the first of them: how many.
    pub set_ups: Option<u32>,
}

impl Job {
    /// Whether this is one set-up of several, and the others burn the rest.
    #[must_use]
    pub fn is_part(&self) -> bool {
        self.part_at_mm.iter().any(Option::is_some)
    }
}

/// Where the art lands on the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ArtPlace {
    /// Along the axis, mm.
    pub at_mm: f64,
    /// About the axis, rad.
    pub turn_rad: f64,
    /// What of the art lands there.
    pub of: PlaceOf,
}

/// Where the program's words are zero.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Zero {
    /// Along the axis, mm.
    pub at_mm: f64,
    /// About the axis, rad.
    pub turn_rad: f64,
}
