//! What can be typed for `place`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::{JobOptions, SetupFiles};

/// Find where the piece really lies, from points of it that the pointer met: the place of the
/// drawing and the zero, by least squares on the wall.
///
/// POINTS is a text of one point a line, two or more: `drawn U V met X12.3 A45` for a point of the
/// drawing (mm along the axis and around from its origin), `wall AT TURN met X12.3 A45` for a place
/// of the blank, such as the middle of a handle. The words are read against the job's [zero], else
/// against the first station and turn 0. What is printed goes into the job. More than 1 mm left
/// over (rms) is told with what is likely wrong.
#[derive(Debug, ClapArgs)]
pub(crate) struct PlaceArgs {
    /// The points; `-` or nothing is standard input
    #[arg(default_value = "-")]
    pub(crate) points: PathBuf,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    /// Print JSON instead of the sections of a job
    #[arg(long)]
    pub(crate) json: bool,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}
