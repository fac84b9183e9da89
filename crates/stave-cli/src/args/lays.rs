//! What can be typed for `lays`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::{FieldOptions, FontFiles, JobOptions, PictureOptions, Reading, SetupFiles};

/// Compare the lays for this art on this wall: what each does to every piece, and which suits.
///
/// The table goes to standard output; -o draws every piece on the unrolled wall under each lay.
#[derive(Debug, ClapArgs)]
pub(crate) struct LaysArgs {
    /// The drawing (SVG), picture (PNG, JPEG) or flat program; `-` is standard input, and so is
    /// nothing where the job names none
    pub(crate) input: Option<PathBuf>,
    /// Take this bare path data instead, one unit to the mm, y down: "M0 0H20V20H0Z"
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    #[command(flatten)]
    pub(crate) fonts: FontFiles,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    #[command(flatten)]
    pub(crate) size: PictureOptions,
    #[command(flatten)]
    pub(crate) fields: FieldOptions,
    /// Print JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
    /// Draw the lays beside each other (SVG) and write that here: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}
