//! What can be typed for `template`.

use std::path::PathBuf;

use clap::{ArgGroup, Args as ClapArgs, ValueEnum};
use stave::SheetSize;

use super::{FieldOptions, FontFiles, JobOptions, PictureOptions, Reading};

/// Draw the page to draw on: an SVG in mm that prints true, with stations, zones, seam and a bar to
/// check the print.
///
/// With INPUT, a layer of its own shows the frame of each picture or piece where it will be burned:
/// its box, laid as the job says, with its name and the size that it is drawn in.
#[derive(Debug, ClapArgs)]
#[command(group = ArgGroup::new("art").args(["input", "path"]))]
#[command(mut_group("FontFiles", |group| group.requires("art")))]
#[command(mut_group("Reading", |group| group.requires("art")))]
#[command(mut_group("PictureOptions", |group| group.requires("art")))]
pub(crate) struct TemplateArgs {
    /// The drawing (SVG), picture (PNG, JPEG) or program whose frames are shown; `-` is standard
    /// input. An input that only the job names is not
    #[arg(conflicts_with = "paper")]
    pub(crate) input: Option<PathBuf>,
    /// Bare path data instead of INPUT: one unit to the mm, y down
    #[arg(
        long,
        value_name = "DATA",
        conflicts_with_all = ["input", "paper"],
        allow_hyphen_values = true
    )]
    pub(crate) path: Option<String>,
    /// The blank: its wall and zones (TOML); needed unless the job names it
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) blank: Option<PathBuf>,
    /// The machine (TOML), if the page is to show where its lens is sharp and the margins it asks
    /// around zones; needed with INPUT, which is laid by it, unless the job names it
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: Option<PathBuf>,
    /// The job: reference diameter, stands, lay, anchor (TOML); an option beats it
    #[arg(short, long, value_name = "JOB")]
    pub(crate) job: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) fonts: FontFiles,
    #[command(flatten)]
    pub(crate) options: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    #[command(flatten)]
    pub(crate) size: PictureOptions,
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
