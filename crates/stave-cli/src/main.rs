//! The `stave` command: options, files, messages, nothing else.

mod args;
mod command;
mod failure;
mod input;
mod output;
mod progress;
mod settings;
mod shown;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let args = args::Args::parse();
    match command::run(args.command) {
        Ok(code) => code,
        Err(failure) => failure.report(),
    }
}
