//! What has changed in a settings file since a program was wrapped, key by key.

use std::path::{Path, PathBuf};

use stave::setup::{Setup, Values, read_blank, read_job, read_machine};

use crate::failure::{Failure, say};
use crate::input;
use crate::recognised::{Settings, kind};

/// The values of the files at hand; `None` where there is none.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AtHand<'a> {
    pub(crate) blank: Option<&'a Values>,
    pub(crate) machine: &'a Values,
    pub(crate) job: Option<&'a Values>,
}

impl<'a> AtHand<'a> {
    /// Those of a setup.
    pub(crate) fn of(setup: &'a Setup) -> Self {
        Self {
            blank: Some(setup.blank.values()),
            machine: setup.machine.values(),
            job: Some(setup.job_values()),
        }
    }
}

/// Tells of every file what it says otherwise than the one at hand.
pub(crate) fn tell(files: &[PathBuf], at_hand: AtHand<'_>) -> Result<(), Failure> {
    files.iter().try_for_each(|path| tell_one(path, at_hand))
}

fn tell_one(path: &Path, at_hand: AtHand<'_>) -> Result<(), Failure> {
    let name = input::name(path);
    let text = input::text_or_stdin(path)?;
    let kind = kind(&text);
    let was = match kind {
        Settings::Blank => read_blank(&text, &name).map_err(Failure::from)?.values().clone(),
        Settings::Machine => read_machine(&text, &name).map_err(Failure::from)?.values().clone(),
        Settings::Job => read_job(&text, &name).map_err(Failure::from)?.values(),
        Settings::Order => {
            let message = "this is an order, and --was takes a blank, a machine or a job";
            return Err(Failure::bad(format!("{name}: {message}")));
        }
    };
    let is = match kind {
        Settings::Blank => at_hand.blank,
        Settings::Machine => Some(at_hand.machine),
        Settings::Job | Settings::Order => at_hand.job,
    };
    let noun = kind.noun();
    let Some(is) = is else {
        return Err(Failure::bad(format!("--was {name}: this is {noun}, and none is given now")));
    };
    let digest = was.digest();
    let differences = is.differences(&was);
    if differences.is_empty() {
        say(&format!("note: {name} ({digest}), {noun}, says what the one given now says"));
    }
    for difference in differences {
        say(&format!("note: {name} ({digest}), {noun}: {difference}"));
    }
    Ok(())
}
