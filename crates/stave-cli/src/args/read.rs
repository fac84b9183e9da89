//! What can be typed for `read`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::Reading;

/// Say what a program does, one JSON object a line, in order of execution.
#[derive(Debug, ClapArgs)]
pub(crate) struct ReadArgs {
    /// The program; `-` or nothing is standard input
    #[arg(default_value = "-")]
    pub(crate) input: PathBuf,
    #[command(flatten)]
    pub(crate) reading: Reading,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}
