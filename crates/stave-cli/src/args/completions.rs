//! What can be typed for `completions`.

use clap::{Args as ClapArgs, ValueEnum};

/// Print what lets a shell complete the options of `stave`; where it goes, the shell's manual says.
#[derive(Debug, ClapArgs)]
pub(crate) struct CompletionsArgs {
    /// Which shell
    #[arg(value_enum)]
    pub(crate) shell: ShellWord,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum ShellWord {
    Bash,
    Zsh,
    Fish,
    Powershell,
}
