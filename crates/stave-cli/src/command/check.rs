//! `stave check`.

use std::process::ExitCode;

use stave::check;

use crate::args::CheckArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::Carries;
use crate::was::{self, AtHand};
use crate::{input, settings, shown};

pub(crate) fn run(args: &CheckArgs) -> Result<ExitCode, Failure> {
    let art = (&args.fonts, &args.reading, &args.size);
    let (setup, paths, options) = settings::of_art((&args.files, &args.job), art, true)?;
    let path = paths.input(args.input.as_deref());
    let mut files = Files::of_setup(&paths).may_read("--row", args.fields.table());
    if args.path.is_none() {
        files = files.reads("INPUT", &path);
    }
    let mut output = files.writes("the result", None, Carries::Text)?;
    let source = input::source(
        &path,
        args.path.as_deref(),
        args.reading.from_type,
        (&args.size, &args.fields),
    )?;
    let report = check(source, &setup, &options)?;
    was::tell(&args.was, AtHand::of(&setup))?;
    // Doubtful settings are among the findings.
    for warning in setup.warnings.iter().map(ToString::to_string).chain(report.warnings.clone()) {
        say(&format!("note: {warning}"));
    }
    let text = if args.json {
        report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::plain(&shown::check(&report, &options.allow))
    };
    output.all(text.as_bytes())?;
    Ok(if report.fit { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
