//! Moves along Z alone, and which Z words there are.

use stave_toolpath::{StepKind, StepSink};

use super::speed::FlatSpeed;
use super::{Here, Wrapper};
use crate::asked::Asked;
use crate::curve::{Curve, FlatPoint};
use crate::halt::Halt;

/// Where a flat move ends that changes Z alone.
pub(super) fn along_z(curve: &Curve<'_>) -> Option<FlatPoint> {
    match curve {
        Curve::Line { from, to } if from.u == to.u && from.v == to.v && from.z != to.z => Some(*to),
        _ => None,
    }
}

impl Wrapper<'_> {
    /// Notes that the program goes to a height: from the first one on Z words are written, where
    /// the machine has such an axis, and told of where it has none.
    pub(super) fn heed_z(&mut self, z_mm: f64) {
        let has_z = self.setup.machine.z.is_some();
        self.emit.drives_z |= has_z && z_mm != 0.0;
        self.emit.stats.z_left_out |= !has_z && z_mm != 0.0;
    }

    /// A move along Z alone, which no wall bends: one machine move at its own feed rate, the beam
    /// as the program has it. Nothing where the machine has no such axis.
    pub(super) fn plunge<S: StepSink>(
        &mut self,
        to: FlatPoint,
        speed: FlatSpeed,
        power: Option<f64>,
        kind: StepKind,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(Here { mut spot, .. }) = self.here else { return Ok(()) };
        let lit = kind == StepKind::Burn && self.dot()?;
        let before = spot.words;
        spot.words.z = self.z_count(&spot.laid, to)?;
        spot.program_z_mm = to.z;
        let way = spot.words.since(before);
        if way.z != 0 {
            let kind = if lit { StepKind::Burn } else { StepKind::Dark };
            let power_s = power.filter(|_| lit);
            let asked = Asked { power_s, ..Asked::taking(speed.whole_s, kind, 0.0) };
            self.emit.timed(&spot.laid, spot.words, way, asked, sink)?;
        }
        self.here = Some(Here { flat: to, spot });
        Ok(())
    }
}
