//! `machine.toml` as types. Reading it is in `machine_file`.

use stave_toolpath::{BeamWord, FeedMode};

use crate::source_list::Sources;
use crate::{
    Along, Curves, Drive, Fault, FeedCounts, FocusUp, PowerRule, RotaryWord, Shading, Values,
};

/// The machine: its controller, axes and optics.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Machine {
    /// Its name; the file's name without folder and ending where the file gives none.
    pub name: String,
    /// What the controller understands.
    pub controller: Controller,
    /// The X axis, mm.
    pub x: AxisLimits,
    /// The Y axis, mm. Where the rotary replaces it and the file says nothing, the rotary's own
    /// limits.
    pub y: AxisLimits,
    /// The Z axis, where the program may drive focus.
    pub z: Option<FocusAxis>,
    /// The rotary.
    pub rotary: Rotary,
    /// The beam before the lens, where it is known.
    pub beam: Option<Beam>,
    /// The lenses there are; the first is fitted unless the job says otherwise.
    pub lenses: Vec<Lens>,
    /// The nozzles there are; likewise.
    pub nozzles: Vec<Nozzle>,
    /// What the nozzle hangs on, where that is known.
    pub carriage: Option<Carriage>,
    /// What of the rotary stands up beside the work: jaws, wheels, a tailstock.
    pub obstacles: Vec<Obstacle>,
    /// How areas are burned where the job names no operation.
    pub area: Option<AreaDefaults>,
    /// How lines are burned where the job names no operation.
    pub line: Option<LineDefaults>,
    /// How pictures are burned where the job names no operation for them.
    pub picture: Option<PictureDefaults>,
    /// The time between a word and the light it asks for.
    pub lag: Lag,
    /// What burns well on which coating.
    pub coatings: Vec<Coating>,
    pub(crate) in_inches: bool,
    pub(crate) sources: Sources,
    pub(crate) warnings: Vec<Fault>,
    pub(crate) values: Values,
}

impl Machine {
    /// What its file says, key by key.
    #[must_use]
    pub fn values(&self) -> &Values {
        &self.values
    }

    /// Whether the lengths of its file are in inches.
    #[must_use]
    pub fn is_in_inches(&self) -> bool {
        self.in_inches
    }

    /// What is worth a second look but can be meant.
    #[must_use]
    pub fn warnings(&self) -> &[Fault] {
        &self.warnings
    }
}

/// What the controller understands.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Controller {
    /// The word that switches the beam on for art; a program's own word is kept.
    pub beam_on: BeamWord,
    /// The S word for 100 %.
    pub full_power_s: f64,
    /// Percent below which nothing marks.
    pub least_power_percent: f64,
    /// G94 or G93.
    pub feed: FeedMode,
    /// What `F` counts under G94.
    pub feed_counts: FeedCounts,
    /// How far the controller may round a corner: the sagitta of the inscribed arc, mm (rotary
    /// units alike).
    pub corner_tolerance: f64,
    /// How curves written as chords are taken.
    pub curves: Curves,
    /// Whether S follows the planned speed under M3.
    pub power: PowerRule,
    /// The lines it takes in a second, where that is known.
    pub lines_per_second: Option<f64>,
    /// The bytes it takes in a second, where that is known.
    pub bytes_per_second: Option<f64>,
    /// Decimals of lengths and rotary words, 0–9.
    pub decimals: u32,
    /// The greatest slope of the wall under the beam, rad.
    pub steepest_rad: f64,
    /// How far the rotary can be tilted, either way, rad.
    pub most_tilt_rad: f64,
    /// The words of the air assist, where there is one.
    pub air: Option<Air>,
}

impl Controller {
    /// The least step of a word, mm or rotary units: the last of its decimals.
    #[must_use]
    pub fn count(&self) -> f64 {
        10_f64.powi(-i32::try_from(self.decimals).unwrap_or(0))
    }
}

/// The words of the air assist, each a line of its own.
#[derive(Clone, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Air {
    /// A little air.
    pub low: Option<String>,
    /// Much air.
    pub high: Option<String>,
    /// No air.
    pub off: String,
}

/// What an axis can do, in mm, or for the rotary in its own units.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AxisLimits {
    /// The greatest speed, per second.
    pub speed: f64,
    /// The greatest acceleration, per second squared.
    pub acceleration: f64,
    /// The greatest jerk, per second cubed, for controllers with S-shaped ramps.
    pub jerk: Option<f64>,
    /// The least word the axis can go to.
    pub min: Option<f64>,
    /// The greatest word the axis can go to.
    pub max: Option<f64>,
}

/// The Z axis.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FocusAxis {
    /// What it can do, mm.
    pub limits: AxisLimits,
    /// Which way a growing Z word takes the head.
    pub up: FocusUp,
}

/// The rotary.
///
/// # Units
/// Everything here is in the units of the rotary's word, which are the controller's own and are
/// never converted, whatever the `units` of the file. Stave always writes G21, so where the word is
/// taken for a length (`word = "Y"`, or a roller, whose units are mm of surface) those units are mm
/// also in a file in inches.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Rotary {
    /// The letter of its word.
    pub word: RotaryWord,
    /// Units of the word for one turn of the work. Without meaning for a roller: use
    /// [`Setup::rotary_units_per_turn`](crate::Setup::rotary_units_per_turn).
    pub units_per_turn: f64,
    /// Motor steps for one turn of the work (chuck).
    pub steps_per_turn: Option<f64>,
    /// Motor steps for 1 mm of surface (roller).
    pub steps_per_mm: Option<f64>,
    /// Words of a roller for 1 mm of surface: 1 unless a test has shown otherwise.
    pub scale: f64,
    /// The play of its word where it turns back, rotary units.
    pub backlash: f64,
    /// What it can do, rotary units.
    pub limits: AxisLimits,
    /// False: a growing word turns the work so that its top moves to −Y.
    pub reverse: bool,
    /// Along which axis the work lies.
    pub along: Along,
    /// How it takes hold of the work.
    pub drive: Drive,
    /// Height of its axis above the bed, mm.
    pub axis_height_mm: Option<f64>,
    /// Between its feet along the axis, mm: what a tilt is set by.
    pub support_span_mm: Option<f64>,
}

impl Rotary {
    /// Motor steps for one turn of work that takes so many units of its word, where the machine
    /// file tells.
    #[must_use]
    pub fn steps_for(&self, units_per_turn: f64) -> Option<f64> {
        match self.drive {
            Drive::Chuck => self.steps_per_turn,
            // Steps are to the mm of surface, units by the scale.
            Drive::Roller => self.steps_per_mm.map(|steps| steps * units_per_turn / self.scale),
        }
    }
}

/// The beam before the lens.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Beam {
    /// Wavelength, µm.
    pub wavelength_um: f64,
    /// Its diameter where it meets the lens, mm.
    pub diameter_at_lens_mm: f64,
    /// The beam quality M², 1 for a perfect beam.
    pub m2: f64,
}

/// A lens.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Lens {
    /// Its name.
    pub name: String,
    /// Focal length, mm.
    pub focal_length_mm: f64,
    /// The spot's diameter as measured, mm.
    pub spot_mm: Option<f64>,
    /// The half depth of focus, ±, as measured, mm.
    pub depth_of_focus_mm: Option<f64>,
}

/// A nozzle: an upright cylinder with a flat tip, or a stack of them.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Nozzle {
    /// Its name.
    pub name: String,
    /// Its outer radius, mm.
    pub radius_mm: f64,
    /// From its tip to the work when in focus, mm.
    pub gap_mm: f64,
    /// Where it widens or narrows: the height above the tip from which it has another radius, and
    /// that radius, mm; heights growing.
    pub steps_mm: Vec<(f64, f64)>,
}

/// What the nozzle hangs on: an upright box over the work.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Carriage {
    /// From, to along the machine's X, mm from the beam.
    pub x_mm: (f64, f64),
    /// From, to along the machine's Y, likewise.
    pub y_mm: (f64, f64),
    /// Its underside above the tip of the nozzle, mm.
    pub above_mm: f64,
}

/// Something of the rotary that stands up beside the work.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Obstacle {
    /// Its name.
    pub name: String,
    /// From, to along the axis, mm from the chuck's face, growing towards the ware; from < to.
    pub along_mm: (f64, f64),
    /// Its form.
    pub shape: ObstacleShape,
}

/// The form of an [`Obstacle`].
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum ObstacleShape {
    /// It turns with the work.
    Turning {
        /// From the axis to its outside, mm.
        radius_mm: f64,
        /// From, to about the axis, rad, as the turns of the work count; from < to, at most one
        /// turn apart. `None` is all around.
        turn_rad: Option<(f64, f64)>,
    },
    /// It stands still, and reaches down from its top.
    Still {
        /// From, to across the axis, mm; growing to Y+ where the ware points from the chuck to X+.
        across_mm: (f64, f64),
        /// Its top above the axis, mm.
        height_mm: f64,
    },
}

/// How areas are burned where the job names no operation.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AreaDefaults {
    /// Speed on the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// Power, percent.
    pub power_percent: f64,
    /// Spacing of the scan lines on the wall, mm.
    pub line_spacing_mm: f64,
}

/// How pictures are burned where the job names no operation for them.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct PictureDefaults {
    /// Speed on the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// Power at full darkness, percent.
    pub power_percent: f64,
    /// Spacing of the scan lines on the wall, mm.
    pub line_spacing_mm: f64,
    /// How greys become burns.
    pub shading: Shading,
    /// Whether every line goes the same way.
    pub one_way: bool,
}

/// The time between a word and the light it asks for: positive where the light comes late.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Lag {
    /// Speed on the wall, mm/s, growing, and the lag there, s. Empty for none.
    pub pairs: Vec<(f64, f64)>,
}

impl Lag {
    /// Whether light comes when its word does, at any speed.
    ///
    /// ```
    /// let of = |pairs: &[(f64, f64)]| stave_setup::Lag { pairs: pairs.to_vec() };
    /// assert!(of(&[]).is_none() && of(&[(0.0, 0.0)]).is_none());
    /// assert!(!of(&[(100.0, 0.0), (300.0, 0.001)]).is_none());
    /// ```
    #[must_use]
    #[inline]
    pub fn is_none(&self) -> bool {
        self.pairs.iter().all(|pair| pair.1 == 0.0)
    }

    /// The lag at a speed on the wall, s: linear between the speeds it is known at, held beyond.
    ///
    /// ```
    /// let lag = stave_setup::Lag { pairs: vec![(100.0, 0.001), (300.0, 0.002)] };
    /// assert_eq!([50.0, 200.0, 400.0].map(|v| lag.at_s(v)), [0.001, 0.0015, 0.002]);
    /// ```
    #[must_use]
    pub fn at_s(&self, speed_mm_per_s: f64) -> f64 {
        let above = self.pairs.partition_point(|pair| pair.0 <= speed_mm_per_s);
        match (above.checked_sub(1).and_then(|k| self.pairs.get(k)), self.pairs.get(above)) {
            (Some(low), Some(high)) => {
                low.1 + (high.1 - low.1) * (speed_mm_per_s - low.0) / (high.0 - low.0)
            }
            (Some(one), None) | (None, Some(one)) => one.1,
            (None, None) => 0.0,
        }
    }
}

/// What a swatch has shown of a coating.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Coating {
    /// What a job's operation calls it.
    pub name: String,
    /// Speed on the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// Power, percent.
    pub power_percent: f64,
    /// Spacing of the scan lines on the wall, mm, where areas were tried.
    pub line_spacing_mm: Option<f64>,
}

/// How lines are burned where the job names no operation.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LineDefaults {
    /// Speed on the wall, mm/s.
    pub speed_mm_per_s: f64,
    /// Power, percent.
    pub power_percent: f64,
}
