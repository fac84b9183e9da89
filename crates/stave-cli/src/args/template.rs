//! What can be typed for `template`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};
use stave::SheetSize;

use super::{FieldOptions, JobOptions};

/// Draw the page to draw on: an SVG in mm that prints true, with stations, zones, seam and a bar to
/// check the print.
#[derive(Debug, ClapArgs)]
pub(crate) struct TemplateArgs {
    /// The blank: its wall and zones (TOML); needed unless the job names it
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) blank: Option<PathBuf>,
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
    /// Part the patterns onto sheets that an office printer takes, with overlaps to glue: OUT,
    /// OUT-2 and so on
    #[arg(long, value_name = "SHEET", requires = "paper", conflicts_with = "title")]
    pub(crate) sheet: Option<SheetWord>,
    /// What is written on the page and under it; the blank's name where not given. Fields such as
    /// {name} are filled by --set and --row
    #[arg(long, value_name = "NAME", conflicts_with = "paper")]
    pub(crate) title: Option<String>,
    #[command(flatten)]
    pub(crate) fields: FieldOptions,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

/// Paper.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum SheetWord {
    A4,
    Letter,
}

impl From<SheetWord> for SheetSize {
    fn from(word: SheetWord) -> Self {
        match word {
            SheetWord::A4 => Self::A4,
            SheetWord::Letter => Self::Letter,
        }
    }
}
