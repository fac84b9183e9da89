//! `stave template`.

use std::process::ExitCode;

use stave::setup::{JobFile, read_blank, read_job, read_machine};
use stave::{paper_svg, template_for_machine, template_svg};

use crate::args::TemplateArgs;
use crate::failure::Failure;
use crate::input;
use crate::output::write;

pub(crate) fn run(args: &TemplateArgs) -> Result<ExitCode, Failure> {
    let name = |path: &std::path::Path| path.display().to_string();
    let blank = read_blank(&input::text(&args.blank)?, &name(&args.blank));
    let job = match &args.job {
        Some(path) => read_job(&input::text(path)?, &name(path)),
        None => Ok(JobFile::default()),
    };
    let machine = match &args.machine {
        Some(path) => read_machine(&input::text(path)?, &name(path)).map(Some),
        None => Ok(None),
    };
    let mut given = JobFile::default();
    let options = args.options.given().map(|(option, value)| given.set_option(option, value));
    let mut messages: Vec<String> =
        options.filter_map(Result::err).map(|fault| fault.to_string()).collect();
    let (blank, machine, job) = match (blank, machine, job) {
        (Ok(blank), Ok(machine), Ok(job)) if messages.is_empty() => (blank, machine, job),
        (blank, machine, job) => {
            let faults = [blank.err(), machine.err(), job.err()];
            messages.extend(faults.into_iter().flatten().map(|faults| faults.to_string()));
            return Err(Failure::bad(messages.join("\n")));
        }
    };
    let job = job.overridden_by(given);
    let svg = match &machine {
        _ if args.paper => paper_svg(&blank)?,
        Some(machine) => template_for_machine(&blank, machine, &job)?,
        None => template_svg(&blank, &job),
    };
    write(args.output.as_deref(), &svg)?;
    Ok(ExitCode::SUCCESS)
}
