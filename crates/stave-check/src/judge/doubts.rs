//! What can hardly be meant of how long things take.

use stave_toolpath::number::fixed;

use super::Judge;
use crate::finding::{Code, Finding};

/// A beam that stands still burns one spot through in a second or two; a machine that waits longer
/// than this in the dark waits for nothing there is on it. Common practice, no source.
const LONGEST_S: [f64; 2] = [60.0, 2.0];

impl Judge<'_> {
    /// Waits that are likely in another unit, and burns that hardly move.
    pub(super) fn plausible(&self, out: &mut Vec<Finding>) {
        for ((wait, longest_s), lit) in self.waits.iter().zip(LONGEST_S).zip([false, true]) {
            let Some(worst) = wait.worst.filter(|worst| worst.value > longest_s) else { continue };
            let seconds = fixed(worst.value, 3);
            let (what, then) = match lit {
                true => ("the beam stands lit on one spot", "burns a hole"),
                false => ("the machine waits", "is a long wait"),
            };
            let message = format!(
                "{what} for {seconds} s, which {then}: P counts seconds (RS274/NGC); likely \
                 milliseconds were meant, P{}",
                fixed(worst.value / 1000.0, 6)
            );
            out.push(self.found(Code::Plausible, &worst, message).figures(worst.value, longest_s));
        }
        if let Some(worst) = self.crawls.worst {
            let message = format!(
                "a burn goes at {} mm/s, slower than anything is engraved: F counts mm, or inches, \
                 a minute; likely it was typed by the second",
                fixed(-worst.value, 6)
            );
            let limit = super::CRAWL_MM_PER_S;
            out.push(self.found(Code::Plausible, &worst, message).figures(-worst.value, limit));
        }
    }
}
