//! What can be typed for `order`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::CAUTION;

/// Make the pieces of an order: a row of a table each, on its blank, by its job, with its fields.
///
/// What is there already and is what would be made is kept, by digests and not by times; so an
/// order that was stopped goes on where it was. A row that fails is told with its line, leaves no
/// file, and spoils no other. Status 0: all is there; 1: a row failed; 2: the order or its rows
/// cannot be meant, and nothing was written.
#[derive(Debug, ClapArgs)]
#[command(after_help = CAUTION)]
pub(crate) struct OrderArgs {
    /// The order (TOML): rows, blanks, jobs, drawings, price; every path in it is seen from it
    pub(crate) order: PathBuf,
    /// Judge every row as `stave check` does, and write nothing
    #[arg(long, conflicts_with_all = ["dry_run", "verify"])]
    pub(crate) check: bool,
    /// These rows alone, counted from 1 without the header: 7,12-15
    #[arg(long, value_name = "LIST")]
    pub(crate) only: Option<String>,
    /// Say what would be made, how long it takes and what it costs, and write nothing; status 0,
    /// whichever rows would fail
    #[arg(long, conflicts_with = "verify")]
    pub(crate) dry_run: bool,
    /// Say whether what lies there is what would be made today, and why not; status 1 if anything
    /// would be made
    #[arg(long)]
    pub(crate) verify: bool,
    /// Print JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
    /// Write the table here too, as CSV, for the books
    #[arg(long, value_name = "FILE")]
    pub(crate) csv: Option<PathBuf>,
}
