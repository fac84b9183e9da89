//! `stave level`.

use std::process::ExitCode;

use stave::setup::{JobFile, read_blank, read_machine};
use stave::{level_report, level_svg};

use crate::args::LevelArgs;
use crate::failure::Failure;
use crate::output::write;
use crate::{input, shown};

pub(crate) fn run(args: &LevelArgs) -> Result<ExitCode, Failure> {
    let name = |path: &std::path::Path| path.display().to_string();
    let blank = read_blank(&input::text(&args.blank)?, &name(&args.blank));
    let machine = read_machine(&input::text(&args.machine)?, &name(&args.machine));
    let (blank, machine) = match (blank, machine) {
        (Ok(blank), Ok(machine)) => (blank, machine),
        (blank, machine) => {
            let faults = [blank.err(), machine.err()];
            let messages: Vec<String> =
                faults.into_iter().flatten().map(|faults| faults.to_string()).collect();
            return Err(Failure::bad(messages.join("\n")));
        }
    };
    let from = length(args.from.as_deref(), "--from")?;
    let to = length(args.to.as_deref(), "--to")?;
    let report = level_report(&blank, &machine, from, to)?;
    if let Some(path) = &args.output {
        write(Some(path), &level_svg(&blank, &machine, &report))?;
        if path == std::path::Path::new("-") {
            return Ok(ExitCode::SUCCESS);
        }
    }
    let text = if args.json {
        report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::level(&report)
    };
    write(None, &text)?;
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
