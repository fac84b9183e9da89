//! What can hardly be meant of how long things take.

use stave_toolpath::number::fixed;

use super::Judge;
use crate::finding::{Code, Finding};

/// A beam that stands still burns one spot through in a second or two, and there is nothing on the
/// machine that a wait of a minute in the dark is for, s: common practice, no source.
const LONGEST_DOT_S: f64 = 2.0;
const LONGEST_WAIT_S: f64 = 60.0;
/// Nothing is engraved as slowly as this on purpose, mm/s: common practice, no source.
pub(super) const CRAWL_MM_PER_S: f64 = 0.1;

impl Judge<'_> {
    /// Waits that are likely in another unit, and burns that hardly move.
    pub(super) fn plausible(&self, out: &mut Vec<Finding>) {
        for (wait, longest_s, what) in [
            (&self.dots, LONGEST_DOT_S, "the beam stands lit on one spot"),
            (&self.waits, LONGEST_WAIT_S, "the machine waits"),
        ] {
            let Some(worst) = wait.worst.filter(|worst| worst.value > longest_s) else { continue };
            let message = format!(
                "{what} for {} s: P counts seconds (RS274/NGC); likely milliseconds were meant, \
                 P{}",
                fixed(worst.value, 3),
                fixed(worst.value / 1000.0, 6)
            );
            out.push(self.found(Code::Plausible, &worst, message).figures(worst.value, longest_s));
        }
        if let Some(worst) = self.crawls.worst {
            let mm_per_s = 1.0 / worst.value;
            let message = format!(
                "a burn goes at {} mm/s, slower than anything is engraved: F counts mm, or inches, \
                 a minute; likely it was typed by the second",
                fixed(mm_per_s, 6)
            );
            let finding = self.found(Code::Plausible, &worst, message);
            out.push(finding.figures(mm_per_s, CRAWL_MM_PER_S));
        }
    }
}
