//! What can be typed for `wrap`.

use std::path::PathBuf;
use std::str::FromStr;

use clap::{Args as ClapArgs, ValueEnum};

use super::{CAUTION, FieldOptions, FontFiles, JobOptions, PictureOptions, Reading, SetupFiles};

/// Lay a drawing, a picture or a flat program on the wall of a measured blank and write the program
/// for the rotary.
///
/// Results go to standard output or -o; words for people go to standard error. Status 0: done; 1:
/// the job does not fit the blank or machine; 2: bad usage, bad input, or a file that cannot be
/// read or written.
#[derive(Debug, ClapArgs)]
#[command(after_help = CAUTION)]
pub(crate) struct WrapArgs {
    /// The drawing (SVG), picture (PNG, JPEG) or flat program; `-` is standard input, and so is
    /// nothing where the job names none
    pub(crate) input: Option<PathBuf>,
    /// Burn this bare path data instead, one unit to the mm, y down: "M0 0H20V20H0Z"
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
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
    /// Let -o be INPUT: it is read to its end, and then replaced
    #[arg(long, requires = "output", conflicts_with = "path")]
    pub(crate) in_place: bool,
    /// What to write: a program, or (of a drawing) the drawing laid, for controllers that read
    /// drawings and take the wall for a cylinder
    #[arg(long, value_enum, default_value = "gcode")]
    pub(crate) to: OutputType,
    /// Burn only what belongs to this of the fewest set-ups that keep all of it sharp, counted from
    /// 1 along the axis, with its own tilt and focus: see `stave level --parts`. `all`: one program
    /// that waits (M0) between them
    #[arg(long, value_name = "N|all", conflicts_with_all = ["to", "in_place"])]
    pub(crate) part: Option<Part>,
    /// Write the figures of the wrap here as JSON; `-` is standard error
    #[arg(long, value_name = "FILE")]
    pub(crate) report: Option<PathBuf>,
    /// Say nothing on standard error but errors
    #[arg(short, long)]
    pub(crate) quiet: bool,
}

/// Which of several set-ups.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Part {
    All,
    One(usize),
}

impl FromStr for Part {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text == "all" {
            return Ok(Self::All);
        }
        text.parse().map(Self::One).map_err(|_| "must be a whole number or `all`".to_owned())
    }
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum OutputType {
    Gcode,
    Svg,
}
