//! Files that are not those that a program was made for.

use stave_check::{Code, Finding};
use stave_rig::MadeFor;
use stave_setup::{Blank, Machine, SettingsFile, Setup, Values};

/// Which files say something else than those that a program was made for.
pub(crate) struct Changed {
    /// The blank and the machine: what the program is laid for and on.
    pub(crate) findings: Vec<Finding>,
    /// The job: what line 1 says of it is what was made.
    pub(crate) told: Vec<String>,
}

impl Changed {
    pub(crate) fn of(
        made_for: &MadeFor,
        blank: Option<&Blank>,
        machine: &Machine,
        job: Option<&Values>,
    ) -> Self {
        let (mut findings, mut told) = (Vec::new(), Vec::new());
        for (file, message) in made_for.changed(blank, machine, job) {
            if file == SettingsFile::Job {
                told.push(message);
            } else {
                findings.push(Finding::new(Code::WrongRig, message));
            }
        }
        Self { findings, told }
    }

    pub(crate) fn of_setup(made_for: &MadeFor, setup: &Setup) -> Self {
        Self::of(made_for, Some(&setup.blank), &setup.machine, Some(setup.job_values()))
    }
}
