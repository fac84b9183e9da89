//! The head and the rotary as the page is given them; angles rad, lengths mm.

use serde::Serialize;
use stave_setup::ObstacleShape;

use super::{BesideShape, HeadShape, Lies};

/// The nozzle and the place where it comes nearest, and what is over and beside the work.
#[derive(Serialize)]
pub(super) struct NozzleData {
    radius: f64,
    gap: f64,
    tilt: f64,
    focus: Option<f64>,
    s: f64,
    turn: f64,
    /// What burns as it stands so, from and to, mm of meridian.
    stretch: Option<(f64, f64)>,
    /// Of each step, the height above the tip from which its radius counts, and that radius.
    steps: Vec<(f64, f64)>,
    carriage: Option<CarriageData>,
    beside: Vec<BesideData>,
}

/// The carriage: from the beam along the rail and across it, above the tip.
#[derive(Serialize)]
struct CarriageData {
    along: (f64, f64),
    across: (f64, f64),
    above: f64,
}

/// Something of the rotary: what turns has a radius, what stands still is a box.
#[derive(Serialize)]
#[serde(untagged)]
enum BesideData {
    Turning { at: (f64, f64), radius: f64, turn: Option<(f64, f64)> },
    Still { at: (f64, f64), across: (f64, f64), height: f64 },
}

impl NozzleData {
    /// How it stands in each set-up, one where there is but one; none where no nozzle is fitted.
    pub(super) fn all(first: &Lies, more: &[Lies]) -> Vec<Self> {
        std::iter::once(first).chain(more).filter_map(Self::of).collect()
    }

    fn of(lies: &Lies) -> Option<Self> {
        let (radius, gap) = lies.nozzle_mm?;
        let of_head = |carriage: bool| -> Vec<&HeadShape> {
            lies.head.iter().filter(|shape| shape.carriage == carriage).collect()
        };
        let turn = lies.burned_turn_rad.map_or(0.0, |(low, high)| 0.5 * (low + high));
        Some(Self {
            radius,
            gap,
            tilt: lies.tilt_rad,
            focus: lies.focus_height_mm,
            s: lies.nozzle_s_mm,
            turn,
            stretch: lies.burned_here_s_mm(),
            steps: of_head(false).iter().map(|step| (step.above_mm, step.along_mm.1)).collect(),
            carriage: of_head(true).first().map(|carriage| CarriageData {
                along: carriage.along_mm,
                across: carriage.across_mm,
                above: carriage.above_mm,
            }),
            beside: lies.beside.iter().map(BesideData::of).collect(),
        })
    }
}

impl BesideData {
    fn of(shape: &BesideShape) -> Self {
        let at = shape.at_mm;
        match shape.form {
            ObstacleShape::Turning { radius_mm, turn_rad } => {
                Self::Turning { at, radius: radius_mm, turn: turn_rad }
            }
            ObstacleShape::Still { across_mm, height_mm } => {
                Self::Still { at, across: across_mm, height: height_mm }
            }
        }
    }
}
