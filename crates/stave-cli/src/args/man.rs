//! What can be typed for `man`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

/// Write the manual pages: stave.1, and one for each command, stave-wrap.1 and so on.
#[derive(Debug, ClapArgs)]
pub(crate) struct ManArgs {
    /// The folder to write them into, which must be there
    #[arg(short, long, value_name = "FOLDER")]
    pub(crate) output: PathBuf,
}
