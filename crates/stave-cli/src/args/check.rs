//! What can be typed for `check`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::{FieldOptions, FontFiles, JobOptions, PictureOptions, Reading, SetupFiles};

/// Say whether a job is fit for its blank and machine: everything that is wrong with it, at once.
///
/// A drawing, a picture or a flat program is wrapped first; a wrapped program is taken as it is.
/// Status 1 if anything found is an error.
#[derive(Debug, ClapArgs)]
pub(crate) struct CheckArgs {
    /// The drawing (SVG), picture (PNG, JPEG), flat program or wrapped program; `-` is standard
    /// input, and so is nothing where the job names none
    pub(crate) input: Option<PathBuf>,
    /// Take this bare path data instead, one unit to the mm, y down: "M0 0H20V20H0Z"
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    /// A blank, machine or job file as it was when the program was wrapped: the keys that differ
    /// are named; repeat it for several
    #[arg(long, value_name = "FILE")]
    pub(crate) was: Vec<PathBuf>,
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
}
