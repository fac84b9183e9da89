//! `stave completions`.

use std::process::ExitCode;

use clap::CommandFactory;
use clap_complete::{Shell, generate};

use crate::args::{Args, CompletionsArgs, ShellWord};
use crate::failure::Failure;
use crate::files::Files;
use crate::output::Carries;

pub(crate) fn run(args: &CompletionsArgs) -> Result<ExitCode, Failure> {
    let shell = match args.shell {
        ShellWord::Bash => Shell::Bash,
        ShellWord::Zsh => Shell::Zsh,
        ShellWord::Fish => Shell::Fish,
        ShellWord::Powershell => Shell::PowerShell,
    };
    let mut script = Vec::new();
    generate(shell, &mut Args::command(), "stave", &mut script);
    let mut output = Files::default().writes("the result", None, Carries::Text)?;
    output.all(&script)?;
    Ok(ExitCode::SUCCESS)
}
