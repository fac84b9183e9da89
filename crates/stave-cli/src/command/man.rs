//! `stave man`.

use std::process::ExitCode;

use clap::{Command, CommandFactory};
use clap_mangen::Man;

use crate::args::{Args, ManArgs};
use crate::failure::Failure;
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, shown};

pub(crate) fn run(args: &ManArgs) -> Result<ExitCode, Failure> {
    let folder = &args.output;
    if !folder.is_dir() {
        let name = input::name(folder);
        return Err(Failure::bad(format!("-o: {name} is no folder; make it first")));
    }
    let mut files = Files::default();
    let mut all = Vec::new();
    for (name, page) in pages()? {
        let mut output = files.writes("a page", Some(&folder.join(name)), Carries::Text)?;
        output.all(&page)?;
        all.push(output);
    }
    keep(all)?;
    Ok(ExitCode::SUCCESS)
}

/// Every page with the name of its file.
fn pages() -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let mut stave = Args::command();
    // So that the page of each command names it in full.
    stave.build();
    let commands: Vec<Command> =
        stave.get_subcommands().filter(|one| one.get_name() != "help").cloned().collect();
    let mut pages = vec![page(stave, "stave")?];
    for command in commands {
        let name = format!("stave-{}", command.get_name());
        pages.push(page(command, &name)?);
    }
    Ok(pages)
}

fn page(command: Command, name: &str) -> Result<(String, Vec<u8>), Failure> {
    let mut text = Vec::new();
    Man::new(command.display_name(name.to_owned()))
        .source(concat!("stave ", env!("CARGO_PKG_VERSION")))
        .render(&mut text)
        .map_err(|error| Failure::bad(shown::plain(&error.to_string())))?;
    Ok((format!("{name}.1"), text))
}
