//! Flat places of the ware that a run burns as if the wall went round there.

use std::f64::consts::{PI, TAU};

use stave_setup::Facet;
use stave_toolpath::{Place, Stand, Step};

use super::Judge;
use super::findings::mm;
use super::optical::weighed;
use super::seen::{Seen, Tally};
use crate::finding::Finding;
use crate::optics;

/// How far apart a burn across flat places is looked at.
const LOOK_RAD: f64 = PI / 180.0;
const MOST_LOOKS: f64 = 720.0;
/// Where no lens says how deep it is sharp, a plane this far below the wall is told, mm.
const DEEP_MM: f64 = 0.5;

/// How far a flat place lies below the round wall, mm; not above 0 beside it.
fn below_mm(facet: &Facet, at_mm: f64, turn_rad: f64, radius_mm: f64) -> f64 {
    let within = at_mm > facet.at_mm.0 && at_mm < facet.at_mm.1;
    let away = (turn_rad - facet.turn_rad + PI).rem_euclid(TAU) - PI;
    if !within || away.abs() >= 0.5 * PI {
        return 0.0;
    }
    // Seen from the axis the plane is so far out, and so far across from its middle.
    let across_mm = facet.height_mm * away.tan();
    let beside = across_mm.abs() > 0.5 * facet.width_mm;
    if beside { 0.0 } else { radius_mm - facet.height_mm / away.cos() }
}

impl Judge<'_> {
    /// Whether a burn of the round wall crosses flat places.
    pub(super) fn look_at_planes(&mut self, step: &Step, from: &Place, to: &Place) {
        let turned = (to.turn_rad - from.turn_rad).abs();
        let along = (to.at_mm - from.at_mm).abs();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let looks = (turned / LOOK_RAD).max(along).ceil().clamp(1.0, MOST_LOOKS) as u32;
        for look in 0..=looks {
            let share = f64::from(look) / f64::from(looks);
            let place = Place {
                s_mm: from.s_mm + share * (to.s_mm - from.s_mm),
                at_mm: from.at_mm + share * (to.at_mm - from.at_mm),
                turn_rad: from.turn_rad + share * (to.turn_rad - from.turn_rad),
                radius_mm: from.radius_mm + share * (to.radius_mm - from.radius_mm),
            };
            let facets = self.setup.blank.facets.iter();
            for (facet, tally) in facets.zip(&mut self.planes) {
                let below = below_mm(facet, place.at_mm, place.turn_rad, place.radius_mm);
                if below > 0.0 {
                    let stand = Stand { place: Some(place), ..step.to };
                    let (line, section) = (step.line, step.section);
                    tally.note(Seen { value: below, stand, line, section });
                }
            }
        }
    }

    /// Flat places that were burned as the round wall.
    pub(super) fn planes(&self, findings: &mut Vec<Finding>) {
        let lens = self.setup.job.lens.as_ref();
        let figures = lens.map(|lens| optics(lens, self.setup.machine.beam.as_ref()));
        let depth_mm = figures.and_then(|figures| figures.half_depth_mm).unwrap_or(DEEP_MM);
        let rayleigh_mm = figures.and_then(|figures| figures.rayleigh_mm).unwrap_or(depth_mm);
        for (facet, tally) in self.setup.blank.facets.iter().zip(&self.planes) {
            let Some(worst) = tally.worst.filter(|worst| worst.value > depth_mm) else { continue };
            let message = format!(
                "this burns the flat place \"{name}\" as if the wall went round there: it lies up \
                 to {} mm below; burn it by a job with place.facet = \"{name}\", or move the art",
                mm(worst.value),
                name = facet.name,
            );
            let (code, _) = weighed(worst.value, rayleigh_mm);
            findings.push(self.found(code, &worst, message).figures(worst.value, depth_mm));
        }
    }
}

pub(super) fn tallies(facets: &[Facet]) -> Vec<Tally> {
    vec![Tally::default(); facets.len()]
}
