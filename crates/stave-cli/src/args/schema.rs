//! What can be typed for `schema`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};
use stave::setup::SettingsFile;

/// Print the JSON Schema (draft 2020-12) of a file, for editors that complete and check it.
#[derive(Debug, ClapArgs)]
pub(crate) struct SchemaArgs {
    /// Which file
    #[arg(value_enum)]
    pub(crate) file: FileWord,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum FileWord {
    Blank,
    Machine,
    Job,
    Order,
}

impl FileWord {
    pub(crate) fn file(self) -> SettingsFile {
        match self {
            Self::Blank => SettingsFile::Blank,
            Self::Machine => SettingsFile::Machine,
            Self::Job => SettingsFile::Job,
            Self::Order => SettingsFile::Order,
        }
    }
}
