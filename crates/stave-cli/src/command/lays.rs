//! `stave lays`.

use std::path::Path;
use std::process::ExitCode;

use stave::{ArtOptions, ArtSource, LaysInput, compare_lays};

use crate::args::LaysArgs;
use crate::failure::{Failure, say};
use crate::output::write;
use crate::{input, settings, shown};

pub(crate) fn run(args: &LaysArgs) -> Result<ExitCode, Failure> {
    let setup = settings::read(&args.files, &args.job, false)?;
    let report = if let Some(path) = &args.path {
        compare_lays(LaysInput::Art(ArtSource::Path(path)), &setup, &ArtOptions::default())?
    } else {
        let mut input = input::open(&args.input, args.reading.from_type)?;
        let options = ArtOptions { name: input.name.clone(), ..ArtOptions::default() };
        if input.is_svg {
            let data = input.whole()?;
            compare_lays(LaysInput::Art(ArtSource::Svg(&data)), &setup, &options)?
        } else {
            let read = args.reading.options();
            compare_lays(LaysInput::Program(&mut input.reader, read), &setup, &options)?
        }
    };
    for note in &report.notes {
        say(&format!("note: {note}"));
    }
    if let Some(path) = args.output.as_deref().filter(|path| *path != Path::new("-")) {
        write(Some(path), report.picture_svg())?;
    } else if args.output.is_some() {
        write(None, report.picture_svg())?;
        return Ok(ExitCode::SUCCESS);
    }
    let text = if args.json {
        report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::lays(&report)
    };
    write(None, &text)?;
    Ok(ExitCode::SUCCESS)
}
