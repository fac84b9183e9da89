//! `stave check`.

use std::process::ExitCode;

use stave::{ArtOptions, ArtSource, WrapOptions, check_art, check_program};

use crate::args::CheckArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::Carries;
use crate::{input, settings, shown};

pub(crate) fn run(args: &CheckArgs) -> Result<ExitCode, Failure> {
    let setup = settings::read(&args.files, &args.job, false)?;
    let allow = settings::allowed(&args.files, &setup)?;
    let mut files = Files::of_setup(&args.files);
    if args.path.is_none() {
        files = files.reads("INPUT", &args.input);
    }
    let mut output = files.writes("the result", None, Carries::Text)?;
    let report = if let Some(path) = &args.path {
        check_art(ArtSource::Path(path), &setup, &ArtOptions { allow, ..ArtOptions::default() })?
    } else {
        let mut input = input::open(&args.input, args.reading.from_type)?;
        if input.is_svg {
            let data = input.whole()?;
            let options = ArtOptions { name: input.name.clone(), allow, ..ArtOptions::default() };
            check_art(ArtSource::Svg(&data), &setup, &options)?
        } else {
            let read = args.reading.options();
            check_program(
                &mut input.reader,
                &setup,
                &WrapOptions { read, name: input.name.clone(), allow, pass: args.reading.pass() },
            )?
        }
    };
    for warning in &report.warnings {
        say(&format!("note: {warning}"));
    }
    let text = if args.json {
        report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::plain(&shown::check(&report))
    };
    output.all(text.as_bytes())?;
    Ok(if report.fit { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
