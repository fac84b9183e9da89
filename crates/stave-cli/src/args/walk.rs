//! What can be typed for `walk`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

use super::{CAUTION, FieldOptions, FontFiles, JobOptions, PictureOptions, Reading, SetupFiles};

/// Write a program that goes round what will burn, slowly and in the dark, and stands at every
/// corner.
///
/// Each piece of a drawing is gone round by itself, a program as a whole. Box and hull are taken in
/// the flat plane, then laid; of a program that was wrapped already they are those of its words.
#[derive(Debug, ClapArgs)]
#[command(after_help = CAUTION)]
pub(crate) struct WalkArgs {
    /// A flat program, a drawing, a picture, or a wrapped program; `-` is standard input, and so is
    /// nothing where the job names none
    pub(crate) input: Option<PathBuf>,
    /// Bare path data instead of INPUT: one unit to the mm, y down
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    #[command(flatten)]
    pub(crate) fonts: FontFiles,
    /// What to go round
    #[arg(long, value_enum, default_value = "box")]
    pub(crate) around: AroundWord,
    /// Speed on the wall, mm/s
    #[arg(long, value_name = "SPEED", default_value = "20", allow_hyphen_values = true)]
    pub(crate) speed: f64,
    /// How long to stand at each corner, seconds
    #[arg(long, value_name = "SECONDS", default_value = "0.5", allow_hyphen_values = true)]
    pub(crate) dwell: f64,
    /// Point with the beam at this power while moving: take one that shows and does not mark
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    pub(crate) pointer: Option<f64>,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    #[command(flatten)]
    pub(crate) size: PictureOptions,
    #[command(flatten)]
    pub(crate) fields: FieldOptions,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum AroundWord {
    Box,
    Hull,
}
