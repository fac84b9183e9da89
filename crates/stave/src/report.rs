//! What a wrap did, as figures for people and as JSON.

use serde::{Deserialize, Serialize};
use stave_check::Finding;
use stave_rig::FocusAt;
use stave_setup::Scan;
use stave_toolpath::art::Work;
use stave_transform::Stats;
#[cfg(feature = "svg")]
use stave_wall::Distortion;
use stave_wall::LayKind;

use crate::estimate::Estimate;
use crate::lays::LayRow;
use crate::run::OwnNames;

/// The figures of one wrap. Keys carry their units; what was never burned is null.
#[derive(Clone, Debug, Default, Deserialize, Serialize)]
pub struct WrapReport {
    /// Flat moves read, burns and travels.
    pub moves_in: u64,
    /// Machine moves written.
    pub moves_out: u64,
    /// Least place along the axis burned, mm.
    pub at_min: Option<f64>,
    /// Greatest place along the axis burned, mm.
    pub at_max: Option<f64>,
    /// Least turn burned, degrees.
    pub turn_min_deg: Option<f64>,
    /// Greatest turn burned, degrees.
    pub turn_max_deg: Option<f64>,
    /// How far the art goes beyond one whole turn, degrees.
    pub overlap_deg: f64,
    /// Moves slowed, by what held them back.
    pub slowed: Slowed,
    /// The rotary's greatest speed, its own units per second.
    pub rotary_speed_max: f64,
    /// The farthest a burn strays from the exact image, mm on the wall.
    pub chord_error_max_mm: f64,
    /// Seconds at the asked speeds alone: no travels, no dwells.
    pub nominal_s: f64,
    /// The same as slowed to what the axes and the dose allow: at the feeds as written.
    pub at_feeds_s: f64,
    /// Length burned on the wall, mm.
    pub burn_mm: f64,
    /// Length left dark inside zones, mm.
    pub masked_mm: f64,
    /// The pieces of the art; a program has none.
    pub pieces: Vec<PieceReport>,
    /// The operations of the art; a program has none.
    pub operations: Vec<OperationReport>,
    /// What the lays do to each piece, as in `stave lays`; of a program, to the box that it burns
    /// in.
    pub as_laid: Vec<PieceAsLaid>,
    /// Where along the axis the run is focused, mm.
    pub focus_at: Option<f64>,
    /// At which turn, degrees; null on ware that is round and runs true, where it does not matter.
    pub focus_turn_deg: Option<f64>,
    /// What the judge found.
    pub findings: Vec<Finding>,
    /// How long the program takes; `None` for a drawing written as SVG.
    pub estimate: Option<Estimate>,
    /// What a person should know besides, a sentence each.
    pub warnings: Vec<String>,
    /// What the sections of the program are called in the drawing.
    #[serde(skip)]
    #[cfg_attr(not(feature = "pictures"), allow(dead_code))]
    pub(crate) own_names: OwnNames,
    /// The words that are read on the ware, for a sheet of them.
    #[cfg(feature = "svg")]
    #[serde(skip)]
    pub(crate) words: Vec<String>,
}

/// What its lay does to a piece.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct PieceAsLaid {
    /// The piece's id; "program" for a program.
    pub id: String,
    /// Its lay.
    pub lay: LayKind,
    /// The figures.
    #[serde(flatten)]
    pub figures: LayRow,
}

/// How many moves each limit slowed.
#[derive(Clone, Copy, Debug, Default, Deserialize, Serialize)]
pub struct Slowed {
    /// The axis along the work.
    pub along: u64,
    /// The rotary.
    pub rotary: u64,
    /// The focus axis.
    pub z: u64,
    /// Full power, under an even dose.
    pub power: u64,
}

/// One piece of the art. What does not burn has no place.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct PieceReport {
    /// Its id.
    pub id: String,
    /// Its lay, where no operation says otherwise.
    pub lay: LayKind,
    /// Least place along the axis burned, mm.
    pub at_min: Option<f64>,
    /// Greatest place along the axis burned, mm.
    pub at_max: Option<f64>,
    /// Least turn burned, degrees.
    pub turn_min_deg: Option<f64>,
    /// Greatest turn burned, degrees.
    pub turn_max_deg: Option<f64>,
    /// The smallest its outlines come out anywhere in any direction, wall over flat.
    pub scale_min: Option<f64>,
    /// The largest.
    pub scale_max: Option<f64>,
    /// How lopsided it is: its largest area scale along its outlines over its smallest, as lengths.
    /// 1 where both ends come out alike.
    pub lopsided: Option<f64>,
    /// The greatest error of any angle, degrees.
    pub omega_max_deg: Option<f64>,
    #[cfg(feature = "svg")]
    #[serde(skip)]
    pub(crate) areas: Option<(f64, f64)>,
}

#[cfg(feature = "svg")]
impl PieceReport {
    /// A piece that does not burn.
    pub(crate) fn new(id: &str, lay: LayKind) -> Self {
        Self {
            id: id.to_owned(),
            lay,
            at_min: None,
            at_max: None,
            turn_min_deg: None,
            turn_max_deg: None,
            scale_min: None,
            scale_max: None,
            lopsided: None,
            omega_max_deg: None,
            areas: None,
        }
    }

    /// Takes in how its lay stretches a point of its outlines.
    pub(crate) fn stretch(&mut self, at: &Distortion) {
        if !at.is_finite() {
            return;
        }
        let size = at.area.abs().sqrt();
        let areas = self.areas.map_or((size, size), |(low, high)| (low.min(size), high.max(size)));
        self.areas = Some(areas);
        self.lopsided = Some(areas.1 / areas.0);
        self.scale_min = Some(self.scale_min.map_or(at.b, |least| least.min(at.b)));
        self.scale_max = Some(self.scale_max.map_or(at.a, |most| most.max(at.a)));
        let omega = at.omega_rad.to_degrees();
        self.omega_max_deg = Some(self.omega_max_deg.map_or(omega, |most| most.max(omega)));
    }
}

/// One operation. What only areas have is null for lines.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct OperationReport {
    /// Its name.
    pub name: String,
    /// Areas or lines.
    pub work: Work,
    /// The speed it burns at, mm/s on the wall: lower than asked where full power would not do.
    pub speed_mm_per_s: f64,
    /// The power asked, percent.
    pub power_percent: f64,
    /// How often it burns.
    pub passes: u32,
    /// Which way its scan lines run: "along" or "around".
    pub scan: Option<Scan>,
    /// The width of the spot it burns with, mm, out of focus as asked; null where no lens is known.
    pub spot_mm: Option<f64>,
    /// The spacing of scan lines asked, mm.
    pub spacing_asked_mm: Option<f64>,
    /// The spacing got, mm on the wall at the largest diameter it burns.
    pub spacing_mm: Option<f64>,
    /// The same as lines to the inch.
    pub lines_per_inch: Option<f64>,
    /// The same in motor steps, where the machine file tells them.
    pub motor_steps: Option<f64>,
    /// How many scan lines burn.
    pub lines: Option<u64>,
    /// The turn of the seam, degrees, where the art goes all the way around and the lines do not
    /// close.
    pub seam_turn_deg: Option<f64>,
    /// How far the lines lie apart across that seam, mm.
    pub seam_mm: Option<f64>,
    /// The area of wall the lines cover, mm².
    pub area_mm2: Option<f64>,
    /// How many lines are burned without a break.
    pub paths: u64,
    /// Length burned on the wall, all passes, mm.
    pub burn_mm: f64,
    /// Length left dark inside zones, mm, one pass.
    pub masked_mm: f64,
    /// Travel between lines (or blocks of scan lines) in the order of the drawing, mm, one pass.
    pub travel_drawn_mm: f64,
    /// The same in the order burned.
    pub travel_ordered_mm: f64,
}

#[cfg(feature = "svg")]
impl OperationReport {
    /// An operation that nothing is known of but what it burns.
    pub(crate) fn unburned(name: &str, work: Work) -> Self {
        Self {
            name: name.to_owned(),
            work,
            speed_mm_per_s: 0.0,
            power_percent: 0.0,
            passes: 0,
            scan: None,
            spot_mm: None,
            spacing_asked_mm: None,
            spacing_mm: None,
            lines_per_inch: None,
            motor_steps: None,
            lines: None,
            seam_turn_deg: None,
            seam_mm: None,
            area_mm2: None,
            paths: 0,
            burn_mm: 0.0,
            masked_mm: 0.0,
            travel_drawn_mm: 0.0,
            travel_ordered_mm: 0.0,
        }
    }
}

impl WrapReport {
    /// Where the run is focused.
    #[must_use]
    pub fn focused(&self) -> Option<FocusAt> {
        let turn_rad = self.focus_turn_deg.map(f64::to_radians);
        self.focus_at.map(|at_mm| FocusAt { at_mm, turn_rad })
    }

    pub(crate) fn of(stats: &Stats, rotary_count: f64, warnings: Vec<String>) -> Self {
        let burned = |value: f64| Some(value).filter(|_| stats.burned());
        Self {
            moves_in: stats.moves_in,
            moves_out: stats.moves_out,
            at_min: burned(stats.at_min_mm),
            at_max: burned(stats.at_max_mm),
            turn_min_deg: burned(stats.turn_min_rad.to_degrees()),
            turn_max_deg: burned(stats.turn_max_rad.to_degrees()),
            overlap_deg: if stats.burned() { stats.overlap_rad().to_degrees() } else { 0.0 },
            slowed: Slowed {
                along: stats.slowed_along,
                rotary: stats.slowed_rotary,
                z: stats.slowed_z,
                power: stats.slowed_power,
            },
            rotary_speed_max: stats.rotary_speed_max * rotary_count,
            chord_error_max_mm: stats.chord_error_max_mm,
            nominal_s: stats.nominal_s,
            at_feeds_s: stats.at_feeds_s,
            burn_mm: stats.burn_mm,
            masked_mm: stats.masked_mm,
            pieces: Vec::new(),
            operations: Vec::new(),
            as_laid: Vec::new(),
            focus_at: None,
            focus_turn_deg: None,
            findings: Vec::new(),
            estimate: None,
            warnings,
            own_names: OwnNames::default(),
            #[cfg(feature = "svg")]
            words: Vec::new(),
        }
    }

    /// The report as one JSON object.
    ///
    /// # Errors
    /// Never for a report of ours; serialising is fallible in general.
    pub fn to_json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self)
    }
}
