//! Scan lines that the motor does not let lie as far apart as asked.

use stave_check::{Code, Finding};
use stave_toolpath::number::{change_percent, fixed};
use stave_transform::{HatchFigures, Patch, PatchLines};

/// Lines this share farther apart or closer than asked are told.
const TOLD: f64 = 0.1;
/// Under a power that does not make up for it, lines this share farther apart or closer are told.
pub(crate) const CHANGED: f64 = 0.02;
/// Lines that come closer by more than this share where the work is narrower are told at both ends.
const TAPERS: f64 = 0.005;

/// The spacing of lines that was got.
#[derive(Clone, Copy, Debug)]
pub(crate) struct GotSpacing {
    /// How far apart lines lie where the work is widest, and were asked to, mm.
    pub(crate) spacing_mm: f64,
    /// How far apart they lie where it is narrowest, mm.
    pub(crate) closest_mm: f64,
    pub(crate) asked_mm: f64,
    /// Motor steps between lines, where they are known.
    pub(crate) motor_steps: Option<f64>,
}

impl GotSpacing {
    /// The share by which lines lie farther apart than asked; negative where they lie closer.
    pub(crate) fn off(&self) -> f64 {
        self.spacing_mm / self.asked_mm - 1.0
    }

    /// Of an operation's lines.
    pub(crate) fn of_hatch(hatch: &HatchFigures) -> Self {
        Self {
            spacing_mm: hatch.spacing_mm,
            closest_mm: hatch.closest_mm,
            asked_mm: hatch.asked_mm,
            motor_steps: hatch.motor_steps,
        }
    }

    /// The greatest share by which lines lie farther apart or closer than asked, anywhere.
    pub(crate) fn most_off(&self) -> f64 {
        self.off().abs().max((self.closest_mm / self.asked_mm - 1.0).abs())
    }

    /// How far apart lines lie: all over, or at both ends of what tapers.
    pub(crate) fn lie(&self) -> String {
        let [widest, narrowest] = [self.spacing_mm, self.closest_mm].map(|mm| fixed(mm, 4));
        match self.tapers() {
            true => format!(
                "{widest} mm apart where the work is widest and {narrowest} mm where it is \
                 narrowest,"
            ),
            false => format!("{widest} mm apart"),
        }
    }

    fn tapers(&self) -> bool {
        self.closest_mm < self.spacing_mm * (1.0 - TAPERS)
    }

    /// What that makes of the energy where the power does not make up for it.
    pub(crate) fn changes(&self) -> String {
        let [widest, narrowest] =
            [self.spacing_mm, self.closest_mm].map(|mm| change_percent(self.asked_mm / mm));
        match self.tapers() {
            true => format!(
                "which changes the energy on each mm² by {widest} where the work is widest to \
                 {narrowest} where it is narrowest"
            ),
            false => format!("which changes the energy on each mm² by {widest}"),
        }
    }

    /// Of a swatch's patch and its lines.
    pub(crate) fn of_patch(patch: &Patch, lines: &PatchLines) -> Self {
        Self {
            spacing_mm: lines.spacing_mm,
            closest_mm: lines.spacing_mm,
            asked_mm: patch.spacing_mm,
            motor_steps: lines.motor_steps,
        }
    }

    /// Whether it lies farther from what was asked than another.
    pub(crate) fn is_worse_than(&self, other: &Self) -> bool {
        self.off().abs() > other.off().abs()
    }

    /// Why no spacing nearer to what was asked was taken.
    fn why(&self) -> String {
        let Some(steps) = self.motor_steps else {
            return "that is the nearest that closes around the work".to_owned();
        };
        if steps <= 1.0 && self.off() > 0.0 {
            return "a motor step is no finer".to_owned();
        }
        let asked_steps = steps * self.asked_mm / self.spacing_mm;
        if asked_steps.round() > steps {
            return "one motor step more would be over a tenth too wide".to_owned();
        }
        "that is the nearest whole number of motor steps".to_owned()
    }

    /// That lines of `what` lie more than a tenth farther apart or closer than asked; `changed` is
    /// what is said of the energy where the power does not make up for it.
    pub(crate) fn finding(&self, what: &str, changed: Option<&str>) -> Option<Finding> {
        if self.off().abs() <= TOLD {
            // Where the work is narrower they may be farther off.
            let says = changed.filter(|_| self.most_off() > TOLD)?;
            let message = self.at_one_power(what, says);
            let finding = Finding::new(Code::SpacingSteps, message);
            return Some(finding.figures(self.closest_mm, self.asked_mm));
        }
        let dose = changed.map_or(String::new(), |says| format!(", {}{says}", self.changes()));
        let message = format!(
            "the lines of {what} lie {} mm apart where {} mm were asked: {}{dose}; ask for {}",
            fixed(self.spacing_mm, 4),
            fixed(self.asked_mm, 4),
            self.why(),
            self.better()
        );
        let finding = Finding::new(Code::SpacingSteps, message);
        Some(finding.figures(self.spacing_mm, self.asked_mm))
    }

    /// How the lines of `what` lie where the power does not make up for it, and what that makes of
    /// the energy.
    pub(crate) fn at_one_power(&self, what: &str, says: &str) -> String {
        format!(
            "the lines of {what} lie {} where {} mm were asked, at the power that is asked, \
             {}{says}",
            self.lie(),
            fixed(self.asked_mm, 4),
            self.changes()
        )
    }

    /// What to ask for instead.
    fn better(&self) -> String {
        match self.motor_steps {
            Some(steps) => format!("a multiple of {} mm", fixed(self.spacing_mm / steps, 4)),
            None => "a multiple of it".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The words for so many steps asked, of a motor step of 0.02 mm.
    fn told(asked: f64, got: f64) -> Option<String> {
        let spacing = GotSpacing {
            spacing_mm: 0.02 * got,
            closest_mm: 0.02 * got,
            asked_mm: 0.02 * asked,
            motor_steps: Some(got),
        };
        Some(spacing.finding("it", None)?.message)
    }

    #[test]
    fn it_says_why_lines_do_not_lie_as_asked() {
        for (asked, got, why) in [
            (1.4, 1.0, "that is the nearest whole number of motor steps"),
            (1.6, 1.0, "one motor step more would be over a tenth too wide"),
            (2.6, 2.0, "one motor step more would be over a tenth too wide"),
            (0.7, 1.0, "a motor step is no finer"),
            (0.2, 1.0, "a motor step is no finer"),
        ] {
            let told = told(asked, got).unwrap_or_default();
            assert!(told.contains(&format!(": {why}; ")), "{asked}: {told}");
            assert!(told.ends_with("ask for a multiple of 0.02 mm"), "{told}");
        }
        assert_eq!(told(3.2, 3.0), None);
    }
}
