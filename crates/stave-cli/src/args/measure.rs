//! What can be typed for `measure`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

/// What an outline is given in the place of; said with each of its options, for one that an option
/// needs is not asked for beside what it cannot go with.
const READINGS: [&str; 4] = ["readings", "diameter", "circumference", "dial"];

/// Make a blank file from what was measured: diameters, tape circumferences, or the outline of a
/// side view.
///
/// READINGS is a text of one reading a line: the place along the axis, `diameter` or
/// `circumference`, and the value, several where it was measured again. Blanks or commas part them,
/// `#` begins a comment, a line `units in` before the first makes bare lengths inches. Ware that
/// may not be round, or not run true, is read around the turn: `40 @ 90 diameter 67.5` is how wide
/// it is across at 90 degrees, `40 @ 90 dial 0.25` what a dial indicator shows there, growing
/// outwards, any zero. How sure each station is, and which looks wrong, goes to standard error.
#[derive(Debug, ClapArgs)]
pub(crate) struct MeasureArgs {
    /// The readings; `-` is standard input, as is nothing where no option gives any
    pub(crate) readings: Option<PathBuf>,
    /// A diameter at a place along the axis, measured once or more
    #[arg(long, value_name = "AT[@TURN]=VALUE[,VALUE…]", allow_hyphen_values = true)]
    pub(crate) diameter: Vec<String>,
    /// A circumference by tape at a place along the axis, measured once or more
    #[arg(long, value_name = "AT=VALUE[,VALUE…]", allow_hyphen_values = true)]
    pub(crate) circumference: Vec<String>,
    /// What a dial indicator shows at a place and a turn, growing outwards, any zero
    #[arg(long, value_name = "AT@TURN=VALUE[,VALUE…]", allow_hyphen_values = true)]
    pub(crate) dial: Vec<String>,
    /// A side view (SVG) to take the wall from, instead of readings
    #[arg(
        long,
        value_name = "SVG",
        requires = "known",
        conflicts_with_all = READINGS
    )]
    pub(crate) outline: Option<PathBuf>,
    /// The one length known in the side view: height=LENGTH, width=LENGTH, or ID=LENGTH for the
    /// element with that id
    #[arg(long, value_name = "WHAT=LENGTH", requires = "outline", conflicts_with_all = READINGS)]
    pub(crate) known: Option<String>,
    /// Which side of the side view to read, if not both: the one without a handle
    #[arg(
        long,
        value_enum,
        default_value = "both",
        requires = "outline",
        conflicts_with_all = READINGS
    )]
    pub(crate) side: SideWord,
    /// How the ware stands in the side view: upright, lying or inverted
    #[arg(long, value_name = "HOW", requires = "outline", conflicts_with_all = READINGS)]
    pub(crate) stands: Option<String>,
    /// The id of the outline in the side view; the largest shape where not given
    #[arg(long, value_name = "ID", requires = "outline", conflicts_with_all = READINGS)]
    pub(crate) id: Option<String>,
    /// How far the wall may lie from the outline
    #[arg(
        long,
        value_name = "LENGTH",
        default_value = "0.1mm",
        requires = "outline",
        conflicts_with_all = READINGS
    )]
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
    /// How sure each station is, what is odd, how far from round: as JSON on standard output, where
    /// the blank goes only with -o
    #[arg(long)]
    pub(crate) json: bool,
    /// Write the blank here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) output: Option<PathBuf>,
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
