//! Findings that somebody knows of and means.

use crate::finding::{Code, Finding, Severity};

impl Finding {
    /// Whether it is an error that nobody accepts: what has it is refused.
    #[must_use]
    pub fn refuses(&self, accepted: &[Code]) -> bool {
        self.severity == Severity::Error && !accepted.contains(&self.code)
    }

    /// Itself, marked where it is an error that is accepted.
    #[must_use]
    pub fn accepting(self, accepted: &[Code]) -> Self {
        let is_accepted = self.severity == Severity::Error && !self.refuses(accepted);
        Self { accepted: is_accepted, ..self }
    }

    /// How much it weighs, in words: an error that is accepted stays one, and refuses nothing.
    ///
    /// ```
    /// use stave_check::{Code, Finding};
    /// let strikes = Finding::new(Code::Clearance, "the nozzle strikes the wall".to_owned());
    /// assert_eq!(strikes.weight(&[]), "error");
    /// assert_eq!(strikes.weight(&[Code::Clearance]), "accepted error");
    /// // What refuses nothing need not be accepted.
    /// let soft = Finding::new(Code::Defocus, "out of focus".to_owned());
    /// assert_eq!(soft.weight(&[Code::Defocus]), "warning");
    /// ```
    #[must_use]
    pub fn weight(&self, accepted: &[Code]) -> &'static str {
        match self.severity {
            Severity::Error if !self.refuses(accepted) => "accepted error",
            severity => severity.as_str(),
        }
    }
}
