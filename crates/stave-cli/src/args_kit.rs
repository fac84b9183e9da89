//! What can be typed for measuring and for first burns.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

use crate::args::{CAUTION, JobOptions, Reading, SetupFiles};

/// Make a blank file from what was measured: diameters, tape circumferences, or the outline of a
/// side view.
///
/// READINGS is a text of one reading a line: the place along the axis, `diameter` or
/// `circumference`, and the value, several where it was measured again. Blanks or commas part them,
/// `#` begins a comment, a line `units in` makes bare lengths inches. How sure each station is, and
/// which looks wrong, goes to standard error.
#[derive(Debug, ClapArgs)]
pub(crate) struct MeasureArgs {
    /// The readings; `-` is standard input, as is nothing where no option gives any
    pub(crate) readings: Option<PathBuf>,
    /// A diameter at a place along the axis, measured once or more
    #[arg(long, value_name = "AT=VALUE[,VALUE…]", allow_hyphen_values = true)]
    pub(crate) diameter: Vec<String>,
    /// A circumference by tape at a place along the axis, measured once or more
    #[arg(long, value_name = "AT=VALUE[,VALUE…]", allow_hyphen_values = true)]
    pub(crate) circumference: Vec<String>,
    /// A side view (SVG) to take the wall from, instead of readings
    #[arg(long, value_name = "SVG", requires = "known", conflicts_with_all = ["readings", "diameter", "circumference"])]
    pub(crate) outline: Option<PathBuf>,
    /// The one length known in the side view: height=LENGTH, width=LENGTH, or ID=LENGTH for the
    /// element with that id
    #[arg(long, value_name = "WHAT=LENGTH", requires = "outline")]
    pub(crate) known: Option<String>,
    /// Which side of the side view to read, if not both: the one without a handle
    #[arg(long, value_enum, default_value = "both", requires = "outline")]
    pub(crate) side: SideWord,
    /// How the ware stands in the side view: upright, lying or inverted
    #[arg(long, value_name = "HOW", requires = "outline")]
    pub(crate) stands: Option<String>,
    /// The id of the outline in the side view; the largest shape where not given
    #[arg(long, value_name = "ID", requires = "outline")]
    pub(crate) id: Option<String>,
    /// How far the wall may lie from the outline
    #[arg(long, value_name = "LENGTH", default_value = "0.1mm", requires = "outline")]
    pub(crate) within: String,
    /// The unit of bare lengths, and of the blank file
    #[arg(long, value_enum, default_value = "mm")]
    pub(crate) units: UnitWord,
    /// How the wall runs between the stations
    #[arg(long, value_enum, default_value = "straight")]
    pub(crate) wall: WallWord,
    /// The blank's name; the output's where not given
    #[arg(long)]
    pub(crate) name: Option<String>,
    /// How far the caliper may be off, either way (common practice, no source)
    #[arg(long, value_name = "LENGTH", default_value = "0.05mm", allow_hyphen_values = true)]
    pub(crate) caliper_error: String,
    /// How far the tape may be off around, either way (common practice, no source)
    #[arg(long, value_name = "LENGTH", default_value = "0.5mm", allow_hyphen_values = true)]
    pub(crate) tape_error: String,
    /// How wide the tape is
    #[arg(long, value_name = "LENGTH", default_value = "10mm", allow_hyphen_values = true)]
    pub(crate) tape_width: String,
    /// How far a place along the axis, or the known length, may be off, either way (common
    /// practice, no source)
    #[arg(long, value_name = "LENGTH", default_value = "0.5mm", allow_hyphen_values = true)]
    pub(crate) place_error: String,
    /// Write the blank here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) output: Option<PathBuf>,
}

/// Write a program that burns a table of test patches, powers against speeds or spacings, each row
/// and column labelled.
///
/// It lies on the straightest part of the wall, within reach and clear of zones; --place-at and
/// --place-turn put its middle elsewhere (those of the job file are for the art). What each patch
/// gets in energy per area goes to standard error.
#[derive(Debug, ClapArgs)]
#[command(after_help = CAUTION)]
pub(crate) struct SwatchArgs {
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    /// The powers of the rows, percent, from the top down
    #[arg(
        long,
        value_name = "PERCENT,…",
        value_delimiter = ',',
        allow_hyphen_values = true,
        required_unless_present = "arrow"
    )]
    pub(crate) powers: Vec<f64>,
    /// The speeds of the columns, mm/s, from left to right; one where spacings are tried, the
    /// machine's [area] where none
    #[arg(long, value_name = "SPEED,…", value_delimiter = ',', allow_hyphen_values = true)]
    pub(crate) speeds: Vec<f64>,
    /// The spacings of lines of the columns; one where speeds are tried, the machine's [area] where
    /// none
    #[arg(long, value_name = "LENGTH,…", value_delimiter = ',', allow_hyphen_values = true)]
    pub(crate) spacings: Vec<String>,
    /// How large a patch is, both ways
    #[arg(long, value_name = "LENGTH", default_value = "8mm", allow_hyphen_values = true)]
    pub(crate) size: String,
    /// Burn instead an arrow along the axis and the letter R: whether `toward` and `reverse` are
    /// right
    #[arg(long, conflicts_with_all = ["powers", "speeds", "spacings", "watts"])]
    pub(crate) arrow: bool,
    /// Power, percent, and speed, mm/s, of labels and arrow; the machine's [line] where not given
    #[arg(
        long,
        value_name = "POWER,SPEED",
        value_delimiter = ',',
        num_args = 1,
        allow_hyphen_values = true
    )]
    pub(crate) label: Vec<f64>,
    /// The beam's full power, W: energy per area is then told in J/cm²
    #[arg(long, value_name = "W", allow_hyphen_values = true)]
    pub(crate) watts: Option<f64>,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
    /// Write the patches here as JSON; `-` is standard error
    #[arg(long, value_name = "FILE")]
    pub(crate) report: Option<PathBuf>,
}

/// Write a program that goes round what will burn, slowly and in the dark, and stands at every
/// corner.
///
/// Each piece of a drawing is gone round by itself, a program as a whole. Box and hull are taken in
/// the flat plane, then laid; of a program that was wrapped already they are those of its words.
#[derive(Debug, ClapArgs)]
#[command(after_help = CAUTION)]
pub(crate) struct WalkArgs {
    /// A flat program, a drawing, or a wrapped program; `-` or nothing is standard input
    #[arg(default_value = "-")]
    pub(crate) input: PathBuf,
    /// Bare path data instead of INPUT: one unit to the mm, y down
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
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
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum AroundWord {
    Box,
    Hull,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum UnitWord {
    Mm,
    In,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum WallWord {
    Straight,
    Smooth,
}

/// Sides as they are on the page: left and right of ware that stands, upper and lower of ware that
/// lies.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum SideWord {
    Both,
    Left,
    Right,
    Upper,
    Lower,
}
