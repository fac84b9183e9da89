//! What can be typed: what commands share, and one file a command.

mod check;
mod completions;
mod estimate;
mod fields;
mod job_options;
mod keys;
mod lays;
mod level;
mod man;
mod measure;
mod new;
mod note;
mod order;
mod picture;
mod place;
mod proof;
mod read;
mod resume;
mod schema;
mod swatch;
mod template;
mod walk;
mod wrap;

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use stave::{Code, Options, Pass, ReadOptions};

pub(crate) use check::CheckArgs;
pub(crate) use completions::{CompletionsArgs, ShellWord};
pub(crate) use estimate::{EstimateArgs, TermOptions};
pub(crate) use fields::{FieldOptions, of_rows};
pub(crate) use job_options::JobOptions;
pub(crate) use keys::KeysArgs;
pub(crate) use lays::LaysArgs;
pub(crate) use level::LevelArgs;
pub(crate) use man::ManArgs;
pub(crate) use measure::{MeasureArgs, SideWord, UnitWord, WallWord};
pub(crate) use new::NewArgs;
pub(crate) use note::NoteArgs;
pub(crate) use order::OrderArgs;
pub(crate) use picture::PictureOptions;
pub(crate) use place::PlaceArgs;
pub(crate) use proof::ProofArgs;
pub(crate) use read::ReadArgs;
pub(crate) use resume::ResumeArgs;
pub(crate) use schema::{FileWord, SchemaArgs};
pub(crate) use swatch::SwatchArgs;
pub(crate) use template::TemplateArgs;
pub(crate) use walk::{AroundWord, WalkArgs};
pub(crate) use wrap::{OutputType, Part, WrapArgs};

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

pub(crate) const CAUTION: &str = "\
    Laser light blinds and sets fire: never leave a running job, keep the enclosure shut and the \
    extraction on, know the coating, keep clear of turning work, and walk the job with the beam \
    off first. The maker's manual, local codes and licensed practice rule over anything printed \
    here.";

// One is made a run, and read where it lies.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Wrap(WrapArgs),
    Read(ReadArgs),
    Lays(LaysArgs),
    Estimate(EstimateArgs),
    Check(CheckArgs),
    Level(LevelArgs),
    Template(TemplateArgs),
    Proof(ProofArgs),
    Measure(MeasureArgs),
    Swatch(SwatchArgs),
    Note(NoteArgs),
    Walk(WalkArgs),
    Place(PlaceArgs),
    Resume(ResumeArgs),
    Order(OrderArgs),
    New(NewArgs),
    Keys(KeysArgs),
    Schema(SchemaArgs),
    Completions(CompletionsArgs),
    Man(ManArgs),
}

impl Command {
    /// What is typed for it.
    pub(crate) fn name(&self) -> &'static str {
        match self {
            Self::Wrap(_) => "wrap",
            Self::Read(_) => "read",
            Self::Lays(_) => "lays",
            Self::Estimate(_) => "estimate",
            Self::Check(_) => "check",
            Self::Level(_) => "level",
            Self::Template(_) => "template",
            Self::Proof(_) => "proof",
            Self::Measure(_) => "measure",
            Self::Swatch(_) => "swatch",
            Self::Note(_) => "note",
            Self::Walk(_) => "walk",
            Self::Place(_) => "place",
            Self::Resume(_) => "resume",
            Self::Order(_) => "order",
            Self::New(_) => "new",
            Self::Keys(_) => "keys",
            Self::Schema(_) => "schema",
            Self::Completions(_) => "completions",
            Self::Man(_) => "man",
        }
    }

    /// Whether somebody who waits for it is told how far it is: not where it asks, and not where
    /// nothing is to be said.
    pub(crate) fn may_take_long(&self) -> bool {
        match self {
            Self::Wrap(args) => !args.quiet,
            Self::Proof(args) => !args.quiet,
            Self::New(_) => false,
            _ => true,
        }
    }
}

/// The files a job is made of.
#[derive(Debug, ClapArgs)]
pub(crate) struct SetupFiles {
    /// The blank: its wall and zones (TOML); needed unless the job names it
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) blank: Option<PathBuf>,
    /// The machine: its axes, words and limits (TOML); needed unless the job names it
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: Option<PathBuf>,
    /// The job: lay, place, tilt and so on (TOML); an option beats it. It may name blank, machine
    /// and input
    #[arg(short, long, value_name = "JOB")]
    pub(crate) job: Option<PathBuf>,
    /// Accept what `check` calls an error, by its code, and say so: repeat it, or give several with
    /// commas
    #[arg(long, value_name = "CODE", value_delimiter = ',')]
    pub(crate) allow: Vec<String>,
}

/// Fonts for the texts of drawings.
#[derive(Debug, Default, ClapArgs)]
pub(crate) struct FontFiles {
    /// A font file for the texts of a drawing, used before those installed: repeat it
    #[arg(long = "font", value_name = "FILE")]
    pub(crate) fonts: Vec<PathBuf>,
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
    /// Which lines of a flat program go through that move nothing of the work: comments, messages,
    /// T, M6, coolant and the machine's air words are known; after what may have moved the machine
    /// it comes back in the dark before anything burns
    #[arg(long, value_enum, value_name = "WHICH", default_value = "known")]
    pub(crate) pass: PassWord,
    /// Take the input for this, whatever it looks like
    #[arg(long, value_enum, value_name = "TYPE")]
    pub(crate) from_type: Option<InputType>,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum PassWord {
    None,
    Known,
    All,
}

impl Reading {
    /// How the pipeline is to read.
    pub(crate) fn options(&self, allow: Vec<Code>) -> Options {
        let pass = match self.pass {
            PassWord::None => Pass::None,
            PassWord::Known => Pass::Known,
            PassWord::All => Pass::All,
        };
        let read = ReadOptions { strict: self.strict, block_delete: self.block_delete };
        Options { read, pass, allow, ..Options::default() }
    }
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum InputType {
    Gcode,
    Svg,
}
