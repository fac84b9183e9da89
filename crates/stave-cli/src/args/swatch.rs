//! What can be typed for `swatch`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::{CAUTION, JobOptions, SetupFiles};

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
        required_unless_present_any = ["arrow", "turn", "lag", "focus_ladder", "wedge"]
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
    /// Burn instead marks a turn and five turns apart, and from both sides: the true units of a
    /// turn (or scale of a roller), and the rotary's backlash
    #[arg(long, conflicts_with_all = ["powers", "speeds", "spacings", "watts", "arrow"])]
    pub(crate) turn: bool,
    /// Burn instead blocks of lines one way and the other, at two or more --speeds: the lag
    /// between a word and its light
    #[arg(long, conflicts_with_all = ["powers", "spacings", "watts", "arrow", "turn"])]
    pub(crate) lag: bool,
    /// Burn instead lines at heights of the head around the focus: by Z words, else with a stop
    /// before each
    #[arg(
        long,
        conflicts_with_all = ["powers", "speeds", "spacings", "watts", "arrow", "turn", "lag"]
    )]
    pub(crate) focus_ladder: bool,
    /// Burn instead a wedge of N steps up to the power of [picture], or to the one of --powers: how
    /// dark each comes out
    #[arg(
        long,
        value_name = "N",
        conflicts_with_all = ["watts", "arrow", "turn", "lag", "focus_ladder"]
    )]
    pub(crate) wedge: Option<u32>,
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
    /// Write the patches or marks here as JSON, each mark with its value and its lines; `-` is
    /// standard error
    #[arg(long, value_name = "FILE")]
    pub(crate) report: Option<PathBuf>,
}
