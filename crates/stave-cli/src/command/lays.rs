//! `stave lays`.

use std::path::Path;
use std::process::ExitCode;

use stave::lays;

use crate::args::LaysArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::today::today;
use crate::{input, settings, shown};

pub(crate) fn run(args: &LaysArgs) -> Result<ExitCode, Failure> {
    let art = (&args.fonts, &args.reading, &args.size);
    let (setup, paths, mut options) = settings::of_art((&args.files, &args.job), art, false)?;
    let path = paths.input(args.input.as_deref());
    let mut files = Files::of_setup(&paths).may_read("--row", args.fields.table());
    if args.path.is_none() {
        files = files.reads("INPUT", &path);
    }
    let picture = match &args.output {
        Some(path) => Some(files.writes("-o", Some(path), Carries::Text)?),
        None => None,
    };
    let only_picture = args.output.as_deref() == Some(Path::new("-"));
    let table = match only_picture {
        true => None,
        false => Some(files.writes("the table", None, Carries::Text)?),
    };
    let source = input::source(
        &path,
        args.path.as_deref(),
        args.reading.from_type,
        (&args.size, &args.fields),
    )?;
    if picture.is_some() {
        options.date = today()?;
    }
    let report = lays(source, &setup, &options)?;
    for note in &report.notes {
        say(&format!("note: {note}"));
    }
    if let Some(mut picture) = picture {
        picture.all(report.picture_svg().as_bytes())?;
        keep([picture])?;
    }
    let Some(mut table) = table else { return Ok(ExitCode::SUCCESS) };
    let text = if args.json {
        report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::plain(&shown::lays(&report))
    };
    table.all(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}
