//! `stave lays`.

use std::path::Path;
use std::process::ExitCode;

use stave::{Options, lays};

use crate::args::LaysArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, settings, shown};

pub(crate) fn run(args: &LaysArgs) -> Result<ExitCode, Failure> {
    let (setup, paths) = settings::read(&args.files, &args.job, false)?;
    let path = paths.input(args.input.as_deref());
    let mut files = Files::of_setup(&paths);
    if args.path.is_none() {
        files = files.reads("INPUT", &path);
    }
    files = files.reads_all("--font", &args.fonts.fonts);
    let picture = match &args.output {
        Some(path) => Some(files.writes("-o", Some(path), Carries::Text)?),
        None => None,
    };
    let only_picture = args.output.as_deref() == Some(Path::new("-"));
    let table = match only_picture {
        true => None,
        false => Some(files.writes("the table", None, Carries::Text)?),
    };
    let source = input::source(&path, args.path.as_deref(), args.reading.from_type, &args.size)?;
    let fonts = settings::fonts(&args.fonts.fonts, paths.job.as_deref(), &setup)?;
    let options = Options { fonts, ..args.reading.options(Vec::new()) };
    let report = lays(source, &setup, &args.size.scanning(options))?;
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
