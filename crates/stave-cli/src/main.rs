//! The `stave` command: options, files, messages, nothing else.

mod args;
mod broken;
mod command;
mod cores;
mod failure;
mod files;
mod input;
mod output;
mod part;
mod piece_of_order;
mod progress;
mod recognised;
mod settings;
mod shown;
mod streams;
mod was;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let args = match args::Args::try_parse() {
        Ok(args) => args,
        Err(usage) => return failure::usage(&usage),
    };
    if args.command.may_take_long() {
        progress::begin(args.command.name());
    }
    let done = command::run(args.command);
    progress::end();
    let code = match done {
        Ok(code) => code,
        Err(failure) => failure.report(),
    };
    // A run that a signal breaks off ends by that signal, however far it has come.
    broken::settle();
    code
}
