//! The modes a program sets and that stay until it sets them otherwise.

use stave_toolpath::{BeamWord, FeedMode, PathControl, Plane};

/// The motion mode (modal group 1).
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Motion {
    /// G0.
    Travel,
    /// G1.
    #[default]
    Straight,
    /// G2.
    Clockwise,
    /// G3.
    CounterClockwise,
    /// G80: none.
    None,
}

/// The units of length (modal group 6).
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Units {
    /// G21.
    #[default]
    Millimetre,
    /// G20.
    Inch,
}

impl Units {
    /// Millimetres to the unit.
    #[must_use]
    pub fn millimetres(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => 25.4,
        }
    }
}

/// The distance mode (modal group 3).
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Distance {
    /// G90.
    #[default]
    Absolute,
    /// G91.
    Incremental,
}

/// Which coolant flows: for lasers these words commonly switch air assist.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Coolant {
    /// M7.
    pub mist: bool,
    /// M8.
    pub flood: bool,
}

/// Every mode. The default is the state in which a program starts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Modes {
    /// G0 to G3, G80.
    pub motion: Motion,
    /// G17 to G19.
    pub plane: Plane,
    /// G20, G21.
    pub units: Units,
    /// G90, G91.
    pub distance: Distance,
    /// G93, G94.
    pub feed_mode: FeedMode,
    /// G54 to G59.3 as 1 to 9.
    pub coordinate_system: u8,
    /// G61, G61.1, G64.
    pub path: PathControl,
    /// M3, M4, M5.
    pub beam: Option<BeamWord>,
    /// The S word, zero before there is one.
    pub power_s: f64,
    /// M7, M8, M9.
    pub coolant: Coolant,
    /// M48, M49: whether the overrides work.
    pub overrides: bool,
    /// Whether the offsets of G92 are in effect.
    pub origin_offsets: bool,
}

impl Default for Modes {
    fn default() -> Self {
        Self {
            motion: Motion::default(),
            plane: Plane::default(),
            units: Units::default(),
            distance: Distance::default(),
            feed_mode: FeedMode::default(),
            coordinate_system: 1,
            path: PathControl::default(),
            beam: None,
            power_s: 0.0,
            coolant: Coolant::default(),
            overrides: true,
            origin_offsets: false,
        }
    }
}

impl Modes {
    /// True where the beam (the report's spindle) is on and its S above zero: M3 at S0 arms, a
    /// later S starts it (3.6.2).
    #[must_use]
    pub fn spindle_turns(&self) -> bool {
        self.beam.is_some() && self.power_s > 0.0
    }
}
