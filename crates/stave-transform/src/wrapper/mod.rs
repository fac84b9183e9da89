//! The wrapper: flat moves in, machine moves out, one at a time.

mod burn;
mod give;
mod plain;
mod speed;
mod travel;

use stave_setup::{Dose, Setup, ZoneRule};
use stave_toolpath::{Feed, MachineMove};
use stave_wall::{Anchor, LabelRoom, Laid, Lay, LayError, LayKind, LaySetting, Wall, WallShape};

use crate::curve::FlatPoint;
use crate::cut::Ground;
use crate::error::Misfit;
use crate::focus::Focus;
use crate::frame::Frame;
use crate::keepout::Keepouts;
use crate::reach::Reach;
use crate::stats::Stats;
use give::Limits;

/// Takes machine moves in order.
pub trait MoveSink {
    /// Why it could not.
    type Error;
    /// One move.
    ///
    /// # Errors
    /// Where the sink cannot take it; the wrap ends there.
    fn machine_move(&mut self, machine_move: &MachineMove) -> Result<(), Self::Error>;
}

/// How a flat move burns.
#[derive(Clone, Copy, Debug)]
pub struct Burn {
    /// Its feed rate in the flat plane.
    pub feed: Feed,
    /// Its power in S counts; `None` for a laser that is only on or off.
    pub power: Option<f64>,
}

/// Where the program has come to.
#[derive(Clone, Copy, Debug)]
struct Here {
    flat: FlatPoint,
    laid: Laid,
    words: Words,
}

/// Counts of the machine's words, or a step between two sets of them.
#[derive(Clone, Copy, Debug)]
struct Words {
    along: i64,
    rotary: i64,
    z: i64,
}

impl Words {
    /// The step from `from` to here.
    fn since(self, from: Self) -> Self {
        Self {
            along: self.along - from.along,
            rotary: self.rotary - from.rotary,
            z: self.z - from.z,
        }
    }
}

/// Lays the moves of one program on one wall.
#[derive(Debug)]
pub struct Wrapper<'a> {
    setup: &'a Setup,
    wall: &'a Wall,
    lay: Lay,
    /// How far a label reaches; `None` for the other lays.
    label_room: Option<LabelRoom>,
    frame: Frame,
    focus: Focus,
    reach: Reach,
    keepouts: Keepouts,
    limits: Limits,
    tolerance_mm: f64,
    even_dose: bool,
    /// Straight burns inside one span may be judged by the cheap bound alone.
    plain: bool,
    here: Option<Here>,
    drives_z: bool,
    /// The words of the last move given: a move that changes none of them is none.
    given: Option<Words>,
    given_z: Option<i64>,
    /// Whether the last move given was a burn, whose end is then counted among the extents already.
    burning: bool,
    breaks: Vec<f64>,
    crossings: Vec<f64>,
    stats: Stats,
}

impl<'a> Wrapper<'a> {
    /// A wrapper for a setup, with the lay the job names anchored at `anchor`.
    ///
    /// # Errors
    /// Where the lay does not suit the wall.
    pub fn new(setup: &'a Setup, anchor: Anchor) -> Result<Self, LayError> {
        let wall = &setup.blank.wall;
        let job = &setup.job;
        let lay = Lay::new(
            wall,
            LaySetting {
                kind: job.lay,
                origin_s_mm: wall.s_of_at(job.place.at_mm),
                origin_turn_rad: job.place.turn_rad,
                reference_radius_mm: job.reference_radius_mm,
                anchor,
            },
        )?;
        let frame = Frame::new(setup);
        let focus = Focus::new(setup, frame.zero_height_mm);
        let reach = Reach::new(wall, &frame.crest, setup.machine.controller.steepest_rad);
        let even_dose = job.dose == Some(Dose::Even);
        let rounding_mm = 0.5 * frame.count.hypot(frame.rad_per_count * wall.largest_radius_mm());
        Ok(Self {
            setup,
            wall,
            plain: wall.shape() == WallShape::Straight
                && job.lay != LayKind::Label
                && !even_dose
                && !focus.follows(),
            label_room: lay.label_room(wall),
            lay,
            limits: Limits::new(setup, &frame),
            drives_z: focus.follows(),
            frame,
            focus,
            reach,
            keepouts: if job.zones == ZoneRule::Ignore {
                Keepouts::default()
            } else {
                Keepouts::new(setup)
            },
            // The rounding of the words is part of what the machine burns.
            tolerance_mm: (job.tolerance_mm - rounding_mm).max(0.5 * job.tolerance_mm),
            even_dose,
            here: None,
            given: None,
            given_z: None,
            burning: false,
            breaks: Vec::new(),
            crossings: Vec::new(),
            stats: Stats::default(),
        })
    }

    /// The lay.
    #[must_use]
    pub fn lay(&self) -> &Lay {
        &self.lay
    }

    /// The figures so far.
    #[must_use]
    pub fn stats(&self) -> &Stats {
        &self.stats
    }

    /// True where the work lies along Y.
    #[must_use]
    pub fn along_y(&self) -> bool {
        self.frame.along_y
    }

    /// True while no move has been made.
    #[must_use]
    pub fn is_fresh(&self) -> bool {
        self.here.is_none()
    }

    /// From here on Z words are written even where the program's Z is 0.
    pub fn drive_z(&mut self) {
        self.drives_z = true;
    }

    fn ground(&self) -> Ground<'_> {
        Ground {
            wall: self.wall,
            lay: &self.lay,
            frame: &self.frame,
            focus: &self.focus,
            tolerance_mm: self.tolerance_mm,
            even_dose: self.even_dose,
        }
    }

    fn place(&self, flat: FlatPoint) -> Result<Here, Misfit> {
        let mut hint = self.here.map_or(0, |here| here.laid.span);
        let laid = self.lay.map(self.wall, flat.u, flat.v, &mut hint);
        let (along, rotary) = self.frame.words(&laid)?;
        let z = self.z_count(&laid, flat)?;
        Ok(Here { flat, laid, words: Words { along, rotary, z } })
    }

    #[inline]
    fn z_count(&self, laid: &Laid, flat: FlatPoint) -> Result<i64, Misfit> {
        if self.focus.follows() {
            self.frame.z_word(self.focus.z_mm(&self.frame.crest, &laid.section, flat.z))
        } else if flat.z == 0.0 {
            Ok(0)
        } else {
            self.frame.z_word(flat.z)
        }
    }
}
