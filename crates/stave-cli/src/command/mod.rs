//! One file a command.

mod check;
mod completions;
mod estimate;
mod keys;
mod lays;
mod level;
mod man;
mod measure;
mod new;
mod note;
mod order;
mod place;
mod proof;
mod proof_order;
mod read;
mod resume;
mod schema;
mod swatch;
mod template;
mod walk;
mod wrap;

use std::process::ExitCode;

use crate::args::Command;
use crate::failure::Failure;

/// Does what was typed.
pub(crate) fn run(command: Command) -> Result<ExitCode, Failure> {
    match command {
        Command::Wrap(args) => wrap::run(&args),
        Command::Read(args) => read::run(&args),
        Command::Lays(args) => lays::run(&args),
        Command::Estimate(args) => estimate::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Level(args) => level::run(&args),
        Command::Template(args) => template::run(&args),
        Command::Proof(args) => proof::run(&args),
        Command::Measure(args) => measure::run(&args),
        Command::Swatch(args) => swatch::run(&args),
        Command::Note(args) => note::run(&args),
        Command::Walk(args) => walk::run(&args),
        Command::Place(args) => place::run(&args),
        Command::Resume(args) => resume::run(&args),
        Command::Order(args) => order::run(&args),
        Command::New(args) => new::run(&args),
        Command::Keys(args) => keys::run(&args),
        Command::Schema(args) => schema::run(&args),
        Command::Completions(args) => completions::run(&args),
        Command::Man(args) => man::run(&args),
    }
}
