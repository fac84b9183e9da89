//! What can be typed for `note`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

/// Keep what the chosen patch of a swatch was burned with, as a [[coating]] of the machine file.
///
/// A job's operation may then say `coating = "NAME"` instead of speed, power and spacing. Without
/// --in-place the section is printed, in the units of the machine file.
#[derive(Debug, ClapArgs)]
pub(crate) struct NoteArgs {
    /// The program of the swatch, as Stave wrote it; `-` is standard input
    pub(crate) swatch: PathBuf,
    /// The patch chosen: its row and its column, counted from 1 at the top left
    #[arg(long, value_name = "ROW,COLUMN", value_parser = place)]
    pub(crate) chosen: (usize, usize),
    /// What the coating is to be called
    #[arg(long, value_name = "NAME")]
    pub(crate) coating: String,
    /// The machine file that it is for (TOML)
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: PathBuf,
    /// Put it into MACHINE, in place of one of that name; every other byte stays as it is
    #[arg(long)]
    pub(crate) in_place: bool,
}

fn place(text: &str) -> Result<(usize, usize), String> {
    let number = |text: &str| text.trim().parse::<usize>().ok().filter(|one| *one > 0);
    text.split_once(',')
        .and_then(|(row, column)| Some((number(row)?, number(column)?)))
        .ok_or_else(|| "this must be ROW,COLUMN, counted from 1, such as 3,2".to_owned())
}
