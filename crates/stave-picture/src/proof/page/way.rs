//! The way of the beam as the page reads it.

use serde::Serialize;

use super::super::planes::{Planes, steps};
use super::super::{LegKind, TrackPoint};

/// Times are told to this, s: at the fastest the beam goes a tenth of a millimetre in it.
const STEP_S: f64 = 0.0001;
/// Sections past this many share the last number.
const LAST_SECTION: u16 = 255;

#[derive(Serialize)]
pub(super) struct TrackData {
    count: usize,
    /// For every point its place along, around, its time, its kind, its section, one after the
    /// other.
    bytes: String,
    /// mm of meridian, rad and seconds for one.
    steps: (f64, f64, f64),
}

impl TrackData {
    /// The way over a wall of this largest radius.
    pub(super) fn of(track: &[TrackPoint], radius_mm: f64) -> Self {
        let (step_mm, step_rad) = steps(radius_mm);
        let mut planes = Planes::default();
        planes.add_in_steps(track.iter().map(|point| point.place.s_mm), step_mm);
        planes.add_in_steps(track.iter().map(|point| point.place.turn_rad), step_rad);
        planes.add_in_steps(track.iter().map(|point| point.at_s), STEP_S);
        planes.add(track.iter().map(|point| match point.kind {
            LegKind::Travel => 0,
            LegKind::Burn => 1,
            LegKind::RunUp => 2,
        }));
        planes.add(track.iter().map(|point| i64::from(point.section.min(LAST_SECTION))));
        Self { count: track.len(), bytes: planes.packed(), steps: (step_mm, step_rad, STEP_S) }
    }
}
