//! `stave template`.

use std::process::ExitCode;

use stave::setup::JobFile;
use stave::{paper, template};

use crate::args::TemplateArgs;
use crate::failure::Failure;
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::settings;

pub(crate) fn run(args: &TemplateArgs) -> Result<ExitCode, Failure> {
    let blank = settings::blank(&args.blank)?;
    let job = settings::job(args.job.as_deref())?;
    let machine = match &args.machine {
        Some(path) => settings::machine(path)?.map(Some),
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
            messages.extend(faults.iter().flatten().flatten().map(ToString::to_string));
            return Err(Failure::all_bad(messages));
        }
    };
    let job = job.overridden_by(given);
    let svg = match args.paper {
        true => paper(&blank)?,
        false => template(&blank, machine.as_ref(), &job)?,
    };
    let mut files = Files::default()
        .reads("the blank", &args.blank)
        .may_read("the machine", args.machine.as_deref())
        .may_read("the job", args.job.as_deref());
    let mut output = files.writes("-o", args.output.as_deref(), Carries::Text)?;
    output.all(svg.as_bytes())?;
    keep([output])?;
    Ok(ExitCode::SUCCESS)
}
