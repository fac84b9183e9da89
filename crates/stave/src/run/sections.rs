//! Sections of a program: from a comment to the next.

use stave_rig::{CAUTIONS, FIRST_WORDS};
use stave_toolpath::printable_within;

/// How the line begins that says what to set.
const SET_UP: &str = "set: ";
/// The longest name of a section, characters.
pub(super) const NAME: usize = 80;
/// More sections than this are one.
const MOST: usize = 4096;
/// The name of the section that holds what comes after as many as are kept.
pub(crate) const REST: &str = "all that follows";

/// The sections of one run, in order; a step bears the index of its own.
#[derive(Clone, Debug)]
pub(crate) struct Sections {
    names: Vec<String>,
    /// A comment has come, and begins a section with the next step.
    named: Option<String>,
}

impl Default for Sections {
    fn default() -> Self {
        Self { names: vec![String::new()], named: None }
    }
}

impl Sections {
    /// A comment: what comes after it is a section, if anything does.
    pub(crate) fn comment(&mut self, text: &[u8]) {
        let text = String::from_utf8_lossy(text);
        let text = text.trim();
        if text.is_empty()
            || CAUTIONS.contains(&text)
            || text.starts_with(FIRST_WORDS)
            || text.starts_with(SET_UP)
        {
            return;
        }
        // As it will stand in the program, so that both are named alike.
        self.named = Some(printable_within(text, NAME));
    }

    /// The section of a step that comes now.
    #[inline]
    pub(crate) fn now(&mut self) -> u32 {
        if self.named.is_some() {
            self.begin();
        }
        u32::try_from(self.names.len() - 1).unwrap_or(u32::MAX)
    }

    #[cold]
    fn begin(&mut self) {
        let Some(name) = self.named.take() else { return };
        if self.names.len() < MOST {
            self.names.push(name);
        } else if let Some(last) = self.names.last_mut() {
            REST.clone_into(last);
        }
    }

    /// The name of a section.
    pub(crate) fn name(&self, section: u32) -> &str {
        self.names.get(section as usize).map_or("", String::as_str)
    }
}
