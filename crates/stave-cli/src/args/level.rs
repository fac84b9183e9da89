//! What can be typed for `level`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

/// Find the tilt, the focus and the lens for a stretch of wall.
#[derive(Debug, ClapArgs)]
pub(crate) struct LevelArgs {
    /// The blank: its wall and zones (TOML)
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) blank: PathBuf,
    /// The machine: its axes, lenses and limits (TOML)
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: PathBuf,
    /// Where the stretch begins along the axis; the first station where not given. Bare lengths are
    /// mm, 3.5in is taken
    #[arg(long, value_name = "AT", allow_hyphen_values = true)]
    pub(crate) from: Option<String>,
    /// Where it ends; the last station where not given
    #[arg(long, value_name = "AT", allow_hyphen_values = true)]
    pub(crate) to: Option<String>,
    /// Divide the stretch into the fewest set-ups, each sharp under a tilt of its own
    #[arg(long, conflicts_with = "output")]
    pub(crate) parts: bool,
    /// Tell of this lens alone; for set-ups and in the picture the machine's first where not given
    #[arg(long, value_name = "NAME")]
    pub(crate) lens: Option<String>,
    /// Print JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
    /// Draw the wall at that tilt from the side (SVG), with focus band and nozzle, and write that
    /// here: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}
