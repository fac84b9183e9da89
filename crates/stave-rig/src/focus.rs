//! Driven focus: where Z must be for the crest to stay sharp, and how high a travel must go.

use std::f64::consts::TAU;

use stave_setup::{Blank, FocusMode, FocusUp, Setup};
use stave_wall::{Crest, Section, Wall};

use crate::clearance::HeadOverWork;

/// How far Z may stray from the crest within one move, mm: far below any lens's depth of focus.
pub const FOLLOW_TOLERANCE_MM: f64 = 0.02;

/// The height of the crest, mm, where a person focuses at a place along the axis: on the ware as it
/// is, at a turn.
///
/// ```
/// # let blank = "station = [{ at = 0, diameter = 80 }, { at = 100, diameter = 60 }]";
/// let cone = stave_setup::read_blank(blank, "cone.toml")?;
/// assert!((stave_rig::height_where_focused_mm(&cone, 0.0, 0.0, 50.0) - 35.0).abs() < 1e-9);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn height_where_focused_mm(blank: &Blank, tilt_rad: f64, turn_rad: f64, at_mm: f64) -> f64 {
    let crest = Crest::new(tilt_rad);
    let section = blank.wall.section(blank.wall.s_of_at(at_mm), &mut 0);
    crest.height_mm(&section) + blank.running.off_mm(at_mm, turn_rad) * tilt_rad.cos()
}

/// Where a person focuses.
///
/// ```
/// # let ware = "station = [{ at = 0, diameter = 70, runout = 0.5 }, \
/// #     { at = 100, diameter = 70, runout = 0.5 }]";
/// use std::f64::consts::PI;
/// use stave_rig::FocusAt;
/// let ware = stave_setup::read_blank(ware, "bent.toml")?;
/// let [out, back] = [0.0, PI].map(|turn_rad| FocusAt::of(&ware, 30.0, turn_rad));
/// assert!((out.height_mm(&ware, 0.0, 0.0) - 35.5).abs() < 1e-9);
/// assert!((back.height_mm(&ware, 0.0, 0.0) - 34.5).abs() < 1e-9);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FocusAt {
    /// Where along the axis, mm.
    pub at_mm: f64,
    /// The turn that is uppermost then, rad; `None` where all turns are alike, on ware that is
    /// round and runs true.
    pub turn_rad: Option<f64>,
}

impl FocusAt {
    /// A place of a blank's wall.
    #[must_use]
    pub fn of(blank: &Blank, at_mm: f64, turn_rad: f64) -> Self {
        Self { at_mm, turn_rad: (!blank.running.is_true()).then_some(turn_rad) }
    }

    /// Where a person focuses whatever burns: where the focus follows, at the zero (mm, rad), else
    /// where the job says; `None` where that hangs on what burns.
    #[must_use]
    pub fn asked(setup: &Setup, focus: FocusMode, zero: (f64, f64)) -> Option<Self> {
        let (blank, job) = (&setup.blank, &setup.job);
        // The head is focused before the program turns the work.
        let turn_rad = job.focus_turn_rad.unwrap_or(zero.1);
        match focus {
            FocusMode::Follow => Some(Self::of(blank, zero.0, zero.1)),
            FocusMode::Fixed => job.focus_at_mm.map(|at_mm| Self::of(blank, at_mm, turn_rad)),
        }
    }

    /// The height of the crest there, mm; the turn is that of the zero where none is said.
    #[must_use]
    pub fn height_mm(&self, blank: &Blank, tilt_rad: f64, zero_turn_rad: f64) -> f64 {
        let turn_rad = self.turn_rad.unwrap_or(zero_turn_rad);
        height_where_focused_mm(blank, tilt_rad, turn_rad, self.at_mm)
    }

    /// The same with its turn as near to another as whole turns bring it.
    #[must_use]
    pub fn turned_near(self, turn_rad: f64) -> Self {
        let near = |own: f64| own - TAU * ((own - turn_rad) / TAU).round();
        Self { turn_rad: self.turn_rad.map(near), ..self }
    }

    /// The turn, degrees.
    #[must_use]
    pub fn turn_deg(&self) -> Option<f64> {
        // Adding nothing turns a minus zero into zero.
        self.turn_rad.map(|turn_rad| turn_rad.to_degrees() + 0.0)
    }
}

/// How Z is driven.
#[derive(Clone, Debug)]
pub struct Focus {
    follow: bool,
    /// +1 where a larger Z takes the head away from the work.
    sign: f64,
    zero_height_mm: f64,
    /// What a travel must not go below; nothing where Z does not follow.
    over: Option<HeadOverWork>,
}

impl Focus {
    /// For a setup whose zero lies at this height of the crest, mm.
    #[must_use]
    pub fn new(setup: &Setup, zero_height_mm: f64) -> Self {
        let away = setup.machine.z.as_ref().is_none_or(|z| z.up == FocusUp::Away);
        let follow = setup.job.focus == FocusMode::Follow;
        Self {
            follow,
            sign: if away { 1.0 } else { -1.0 },
            zero_height_mm,
            over: follow.then(|| {
                let job = &setup.job;
                HeadOverWork::of(
                    (&setup.blank, &setup.machine),
                    job.nozzle.as_ref(),
                    job.tilt_rad,
                    job.toward,
                    job.held_at_mm,
                )
            }),
        }
    }

    /// Whether Z follows the wall.
    #[must_use]
    #[inline]
    pub fn follows(&self) -> bool {
        self.follow
    }

    /// The Z word, mm, at a place of the crest where the program asks for `program_z_mm`.
    #[must_use]
    pub fn z_mm(&self, crest: &Crest, section: &Section, program_z_mm: f64) -> f64 {
        self.z_at_height(crest.height_mm(section), program_z_mm)
    }

    fn z_at_height(&self, height_mm: f64, program_z_mm: f64) -> f64 {
        program_z_mm + self.sign * (height_mm - self.zero_height_mm)
    }

    /// The Z word a travel between two places must not go below, if either end lies below it: the
    /// work's height there is what would be in focus.
    ///
    /// A rise counts wherever its stretch of wall comes under the head, whatever the turn, and so
    /// does what turns beside it: higher than need be at times, never lower.
    #[must_use]
    pub fn lift_mm(&self, crest: &Crest, ends: [(&Section, f64); 2]) -> Option<f64> {
        let [(from, z_from), (to, z_to)] = ends;
        let over = self.over.as_ref()?;
        let highest = over.highest_mm((crest.along_mm(from), crest.along_mm(to)));
        let need = self.sign * self.z_at_height(highest, 0.0);
        let here = self.sign * self.z_mm(crest, from, z_from);
        let there = self.sign * self.z_mm(crest, to, z_to);
        (here.min(there) < need - 1e-9).then_some(self.sign * need.max(here).max(there))
    }

    /// The Z word, mm, at which the head meets nothing of a wall and of the rotary; `None` where Z
    /// does not follow.
    #[must_use]
    pub fn above_all_mm(&self, crest: &Crest, wall: &Wall) -> Option<f64> {
        let over = self.over.as_ref()?;
        // Past its ends a tilted wall is taken to run on, and would rise for ever.
        let end = |s_mm: f64| crest.along_mm(&wall.section(s_mm, &mut 0));
        let highest_mm = over.highest_of_all_mm((end(0.0), end(wall.length_mm())));
        Some(self.z_at_height(highest_mm, 0.0))
    }

    /// Which way Z words grow: +1 where a larger one takes the head away from the work.
    #[must_use]
    pub fn up(&self) -> f64 {
        self.sign
    }
}
