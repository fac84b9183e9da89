//! `stave level`.

use std::path::Path;
use std::process::ExitCode;

use stave::setup::{Blank, JobFile, Machine};
use stave::{level, level_parts, level_svg};

use crate::args::LevelArgs;
use crate::failure::Failure;
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::today::today;
use crate::{settings, shown};

pub(crate) fn run(args: &LevelArgs) -> Result<ExitCode, Failure> {
    let blank = settings::blank(&args.blank)?;
    let machine = settings::machine(&args.machine)?;
    let (blank, machine) = match (blank, machine) {
        (Ok(blank), Ok(machine)) => (blank, machine),
        (blank, machine) => {
            let faults = [blank.err(), machine.err()];
            return Err(Failure::of_faults(faults));
        }
    };
    settings::say_doubts(Some(&blank), Some(&machine), None);
    let ends = [("from", &args.from), ("to", &args.to)];
    settings::say_bare(ends.map(|(name, text)| (name, text.as_deref())), &blank, &machine);
    let from = length(args.from.as_deref(), "--from")?;
    let to = length(args.to.as_deref(), "--to")?;
    if args.parts {
        return parts(args, (&blank, &machine), (from, to));
    }
    let report = level(&blank, &machine, args.lens.as_deref(), from, to)?;
    let mut files =
        Files::default().reads("the blank", &args.blank).reads("the machine", &args.machine);
    let picture = match &args.output {
        Some(path) => Some(files.writes("-o", Some(path), Carries::Text)?),
        None => None,
    };
    let only_picture = args.output.as_deref() == Some(Path::new("-"));
    let table = match only_picture {
        true => None,
        false => Some(files.writes("the table", None, Carries::Text)?),
    };
    if let Some(mut picture) = picture {
        picture.all(level_svg(&blank, &machine, &report, &today()?).as_bytes())?;
        keep([picture])?;
    }
    let Some(mut table) = table else { return Ok(ExitCode::SUCCESS) };
    let text = if args.json {
        report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::plain(&shown::level(&report))
    };
    table.all(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// The fewest set-ups, as a table or JSON.
fn parts(
    args: &LevelArgs,
    (blank, machine): (&Blank, &Machine),
    (from, to): (Option<f64>, Option<f64>),
) -> Result<ExitCode, Failure> {
    let report = level_parts(blank, machine, args.lens.as_deref(), from, to)?;
    let mut table = Files::default()
        .reads("the blank", &args.blank)
        .reads("the machine", &args.machine)
        .writes("the table", None, Carries::Text)?;
    let text = if args.json {
        report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::plain(&shown::level_parts(&report))
    };
    table.all(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// A length as an option gives it, mm: read as `place-at` is.
fn length(text: Option<&str>, option: &str) -> Result<Option<f64>, Failure> {
    let Some(text) = text else { return Ok(None) };
    let mut settings = JobFile::default();
    settings.set_option("place-at", text).map_err(|_| {
        Failure::bad(format!("{option} is \"{text}\", but must be a length, such as 40 or 1.5in"))
    })?;
    Ok(settings.place_at_mm.map(|at| at.value))
}
