//! What can be typed.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

/// Lay flat art and flat G-code on turned ware - bottles, tumblers, mugs - for a laser and a
/// rotary.
///
/// From measured stations on the wall, segment by segment, so that pieces with a step come out
/// right the first time.
#[derive(Debug, Parser)]
#[command(name = "stave", version, max_term_width = 100, after_help = CAUTION)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

pub(crate) const CAUTION: &str = "Laser light blinds and sets fire: never leave a running job, \
                                  keep the enclosure shut and the \
extraction on, know the coating, keep clear of turning work, and walk the job with the beam off first. The maker's \
manual, local codes and licensed practice rule over anything printed here.";

// One is made a run, and read where it lies.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Wrap(WrapArgs),
    Read(ReadArgs),
    Lays(LaysArgs),
    Estimate(crate::args_estimate::EstimateArgs),
    Check(crate::args_setup::CheckArgs),
    Level(crate::args_setup::LevelArgs),
    Template(crate::args_setup::TemplateArgs),
    Proof(crate::args_proof::ProofArgs),
    Measure(crate::args_kit::MeasureArgs),
    Swatch(crate::args_kit::SwatchArgs),
    Walk(crate::args_kit::WalkArgs),
}

/// Lay a drawing or a flat program on the wall of a measured blank and write the program for the
/// rotary.
///
/// Results go to standard output or -o; words for people go to standard error. Status 0: done; 1:
/// the job does not fit the blank or machine; 2: bad usage, bad input, or a file that cannot be
/// read or written.
#[derive(Debug, ClapArgs)]
#[command(after_help = CAUTION)]
pub(crate) struct WrapArgs {
    /// The drawing (SVG) or flat program; `-` or nothing is standard input
    #[arg(default_value = "-")]
    pub(crate) input: PathBuf,
    /// Burn this bare path data instead, one unit to the mm, y down: "M0 0H20V20H0Z"
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
    /// What to write: a program, or (of a drawing) the drawing laid, for controllers that read
    /// drawings and take the wall for a cylinder
    #[arg(long, value_enum, default_value = "gcode")]
    pub(crate) to: OutputType,
    /// Write the figures of the wrap here as JSON; `-` is standard error
    #[arg(long, value_name = "FILE")]
    pub(crate) report: Option<PathBuf>,
    /// Say nothing on standard error but errors
    #[arg(short, long)]
    pub(crate) quiet: bool,
}

/// Compare the lays for this art on this wall: what each does to every piece, and which suits.
///
/// The table goes to standard output; -o draws every piece on the unrolled wall under each lay.
#[derive(Debug, ClapArgs)]
pub(crate) struct LaysArgs {
    /// The drawing (SVG) or flat program; `-` or nothing is standard input
    #[arg(default_value = "-")]
    pub(crate) input: PathBuf,
    /// Take this bare path data instead, one unit to the mm, y down: "M0 0H20V20H0Z"
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    /// Print JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
    /// Draw the lays beside each other (SVG) and write that here: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

/// Say what a program does, one JSON object a line, in order of execution.
#[derive(Debug, ClapArgs)]
pub(crate) struct ReadArgs {
    /// The program; `-` or nothing is standard input
    #[arg(default_value = "-")]
    pub(crate) input: PathBuf,
    #[command(flatten)]
    pub(crate) reading: Reading,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

/// The files a job is made of.
#[derive(Debug, ClapArgs)]
pub(crate) struct SetupFiles {
    /// The blank: its wall and zones (TOML)
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) blank: PathBuf,
    /// The machine: its axes, words and limits (TOML)
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: PathBuf,
    /// The job: lay, place, tilt and so on (TOML); an option beats it
    #[arg(short, long, value_name = "JOB")]
    pub(crate) job: Option<PathBuf>,
}

/// How G-code is read.
#[derive(Debug, ClapArgs)]
pub(crate) struct Reading {
    /// Hold the program to the letter of RS274/NGC (NISTIR 6556)
    #[arg(long)]
    pub(crate) strict: bool,
    /// Leave out lines that begin with a slash
    #[arg(long)]
    pub(crate) block_delete: bool,
    /// Take the input for this, whatever it looks like
    #[arg(long, value_enum, value_name = "TYPE")]
    pub(crate) from_type: Option<InputType>,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum InputType {
    Gcode,
    Svg,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum OutputType {
    Gcode,
    Svg,
}

/// Job settings, each beating the job file's. Bare lengths are mm; `3.5in` is taken; angles are
/// degrees.
#[derive(Debug, Default, ClapArgs)]
#[command(
    next_help_heading = "Job settings (an option beats the job file; bare lengths are mm, 3.5in \
                         is taken, angles are degrees)"
)]
pub(crate) struct JobOptions {
    /// even-angle, true-width, true-shape or label
    #[arg(long, value_name = "LAY", allow_hyphen_values = true)]
    pub(crate) lay: Option<String>,
    /// drawing, piece, or a flat point U,V
    #[arg(long, value_name = "ANCHOR", allow_hyphen_values = true)]
    pub(crate) anchor: Option<String>,
    /// How far the rotary is raised; positive raises the end with the larger `at`
    #[arg(long, value_name = "ANGLE", allow_hyphen_values = true)]
    pub(crate) tilt: Option<String>,
    /// How far a burn may stray from the exact image, on the wall
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) tolerance: Option<String>,
    /// even (energy per area held) or as-given
    #[arg(long, value_name = "DOSE", allow_hyphen_values = true)]
    pub(crate) dose: Option<String>,
    /// refuse, mask or ignore
    #[arg(long, value_name = "RULE", allow_hyphen_values = true)]
    pub(crate) zones: Option<String>,
    /// fixed, or follow: Z follows the crest
    #[arg(long, value_name = "FOCUS", allow_hyphen_values = true)]
    pub(crate) focus: Option<String>,
    /// How the ware stands in the drawing: upright, lying or inverted
    #[arg(long, value_name = "HOW", allow_hyphen_values = true)]
    pub(crate) stands: Option<String>,
    /// Which way the end with the larger `at` points: x+ or x-
    #[arg(long, value_name = "WAY", allow_hyphen_values = true)]
    pub(crate) toward: Option<String>,
    /// The diameter the art was drawn for
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) reference_diameter: Option<String>,
    /// The diameter the controller is told, for --to svg
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) set_diameter: Option<String>,
    /// Where the flat origin lands along the axis
    #[arg(long, value_name = "AT", allow_hyphen_values = true)]
    pub(crate) place_at: Option<String>,
    /// Where the flat origin lands around
    #[arg(long, value_name = "TURN", allow_hyphen_values = true)]
    pub(crate) place_turn: Option<String>,
    /// Where along the axis the machine's zero is
    #[arg(long, value_name = "AT", allow_hyphen_values = true)]
    pub(crate) zero_at: Option<String>,
    /// Where around the machine's zero is
    #[arg(long, value_name = "TURN", allow_hyphen_values = true)]
    pub(crate) zero_turn: Option<String>,
}

impl JobOptions {
    /// The options given, by the names the job's settings have.
    pub(crate) fn given(&self) -> impl Iterator<Item = (&'static str, &str)> {
        [
            ("lay", &self.lay),
            ("anchor", &self.anchor),
            ("tilt", &self.tilt),
            ("tolerance", &self.tolerance),
            ("dose", &self.dose),
            ("zones", &self.zones),
            ("focus", &self.focus),
            ("stands", &self.stands),
            ("toward", &self.toward),
            ("reference-diameter", &self.reference_diameter),
            ("set-diameter", &self.set_diameter),
            ("place-at", &self.place_at),
            ("place-turn", &self.place_turn),
            ("zero-at", &self.zero_at),
            ("zero-turn", &self.zero_turn),
        ]
        .into_iter()
        .filter_map(|(name, value)| value.as_deref().map(|value| (name, value)))
    }
}
