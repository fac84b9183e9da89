//! The points that a program burns.

use std::convert::Infallible;

use stave_rig::Rig;
use stave_toolpath::{Stand, Step, StepKind, StepSink};
use stave_transform::{Around, Curve, FlatPoint};

use crate::run::{TakesBurns, place_between};

/// Into how many chords an arc is taken apart.
const CHORDS: u32 = 96;
/// Burns over more than one stretch of wall are followed by parts no longer than this, mm.
const PART_MM: f64 = 1.0;
const MOST_PARTS: f64 = 4096.0;

/// The points of what a flat program burns.
#[derive(Debug, Default)]
pub(super) struct FlatPoints(pub(super) Around);

impl TakesBurns for FlatPoints {
    fn burn(&mut self, curve: &Curve<'_>) {
        let chords = if matches!(curve, Curve::Line { .. }) { 1 } else { CHORDS };
        for k in 0..=chords {
            self.dot(curve.point(f64::from(k) / f64::from(chords)));
        }
    }

    fn dot(&mut self, at: FlatPoint) {
        self.0.add((at.u, at.v));
    }
}

/// Gathers the places of the wall that a finished program burns: mm of meridian, and turn times a
/// radius, mm.
pub(super) struct BurnedWall<'a> {
    rig: Rig<'a>,
    radius_mm: f64,
    hint: usize,
    pub(super) points: Around,
}

impl<'a> BurnedWall<'a> {
    pub(super) fn new(rig: Rig<'a>, radius_mm: f64) -> Self {
        Self { rig, radius_mm, hint: 0, points: Around::default() }
    }

    fn add(&mut self, ends: (&Stand, &Stand), share: f64) {
        let place = place_between(&self.rig, ends, share, &mut self.hint);
        self.points.add((place.s_mm, place.turn_rad * self.radius_mm));
    }
}

impl StepSink for BurnedWall<'_> {
    type Error = Infallible;

    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        if !step.kind.marks() {
            return Ok(());
        }
        let ends = (&step.from, &step.to);
        self.add(ends, 0.0);
        if step.kind == StepKind::Burn {
            // Even in the words is not even on the wall: between the ends it may bulge.
            let parts = (step.length_mm / PART_MM).ceil().clamp(1.0, MOST_PARTS);
            let mut k = 1.0;
            while k <= parts {
                self.add(ends, k / parts);
                k += 1.0;
            }
        }
        Ok(())
    }
}
