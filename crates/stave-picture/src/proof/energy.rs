//! The unit that energy is told in.

use super::ProofParts;
use super::sheet::shown;

/// Energy as a person is told it: in J/cm² where the beam's full power is known, else in percent of
/// it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EnergyUnit {
    /// The beam's full power, W, where it is known.
    pub watts: Option<f64>,
}

impl EnergyUnit {
    /// An energy per area, percent of full power times seconds a mm², in this unit.
    #[must_use]
    pub fn of(self, percent_s_per_mm2: f64) -> f64 {
        match self.watts {
            Some(watts) => stave_toolpath::j_per_cm2(percent_s_per_mm2, watts),
            None => percent_s_per_mm2,
        }
    }

    /// The same to three digits, with its unit.
    #[must_use]
    pub fn told(self, percent_s_per_mm2: f64) -> String {
        let unit = if self.watts.is_some() { JOULES } else { "%·s/mm²" };
        format!("{} {unit}", shown(self.of(percent_s_per_mm2)))
    }

    /// What the unit is, for a scale of colours.
    pub(super) fn words(self) -> &'static str {
        match self.watts {
            Some(_) => JOULES,
            None => "percent of full power × seconds a mm²",
        }
    }

    /// What stands after a figure where its scale does not say it.
    pub(super) fn after_figure(self) -> Option<&'static str> {
        self.watts.map(|_| JOULES)
    }
}

const JOULES: &str = "J/cm²";

impl ProofParts<'_> {
    /// The most energy that the colours tell, in the unit that is told.
    pub(super) fn top_told(&self) -> f64 {
        self.energy.of(self.map.top_density())
    }
}
