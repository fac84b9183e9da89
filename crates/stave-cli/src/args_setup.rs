//! What can be typed for setting up.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use crate::args::{JobOptions, Reading, SetupFiles};

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
    /// Print JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
    /// Draw the wall at that tilt from the side (SVG), with focus band and nozzle, and write that
    /// here: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

/// Draw the page to draw on: an SVG in mm that prints true, with stations, zones, seam and a bar to
/// check the print.
#[derive(Debug, ClapArgs)]
pub(crate) struct TemplateArgs {
    /// The blank: its wall and zones (TOML)
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) blank: PathBuf,
    /// The machine (TOML), if the page is to show where its lens is sharp and the margins it asks
    /// around zones
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: Option<PathBuf>,
    /// The job: reference diameter, stands, lay, anchor (TOML); an option beats it
    #[arg(short, long, value_name = "JOB")]
    pub(crate) job: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) options: JobOptions,
    /// Draw instead the flat pattern of every straight run of the wall, to cut out and hold against
    /// the blank: it checks the measurements
    #[arg(long)]
    pub(crate) paper: bool,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

/// Say whether a job is fit for its blank and machine: everything that is wrong with it, at once.
///
/// A drawing or a flat program is wrapped first; a wrapped program is taken as it is. Status 1 if
/// anything found is an error.
#[derive(Debug, ClapArgs)]
pub(crate) struct CheckArgs {
    /// The drawing (SVG), flat program or wrapped program; `-` or nothing is standard input
    #[arg(default_value = "-")]
    pub(crate) input: PathBuf,
    /// Take this bare path data instead, one unit to the mm, y down: "M0 0H20V20H0Z"
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    /// Print JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
}
