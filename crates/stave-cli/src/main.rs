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
mod today;
mod was;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    quiet_reader();
    if let Err(error) = broken::mind_limits() {
        return failure::Failure::bad(format!("signals cannot be watched for: {error}")).report();
    }
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

/// What a library stumbles over in a drawing is told as an error of that drawing, once.
fn quiet_reader() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        if std::thread::current().name() != Some(stave::READER_THREAD) {
            before(panic);
        }
    }));
}
