//! What can be typed for `new`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::{FileWord, UnitWord};

/// Write a new file with a comment at every key: what most need is set to an example, the rest
/// shown.
///
/// On a terminal it asks for what most need; in a pipe it never does.
#[derive(Debug, ClapArgs)]
pub(crate) struct NewArgs {
    /// Which file
    #[arg(value_enum)]
    pub(crate) file: FileWord,
    /// The unit of its lengths
    #[arg(long, value_enum, default_value = "mm")]
    pub(crate) units: UnitWord,
    /// Write here instead of to standard output: whole, or not at all. A file that is there already
    /// is never written over
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}
