//! `stave template`.

use std::process::ExitCode;

use stave::setup::{JobFile, read_blank, read_job};
use stave::{paper_svg, template_svg};

use crate::args_setup::TemplateArgs;
use crate::command::level::write;
use crate::failure::Failure;
use crate::input;

pub(crate) fn run(args: &TemplateArgs) -> Result<ExitCode, Failure> {
    let name = |path: &std::path::Path| path.display().to_string();
    let blank = read_blank(&input::text(&args.blank)?, &name(&args.blank));
    let job = match &args.job {
        Some(path) => read_job(&input::text(path)?, &name(path)),
        None => Ok(JobFile::default()),
    };
    let mut given = JobFile::default();
    let options = args.options.given().map(|(option, value)| given.set_option(option, value));
    let mut messages: Vec<String> = options.filter_map(Result::err).map(|fault| fault.to_string()).collect();
    let (blank, job) = match (blank, job) {
        (Ok(blank), Ok(job)) if messages.is_empty() => (blank, job),
        (blank, job) => {
            let faults = [blank.err(), job.err()];
            messages.extend(faults.into_iter().flatten().map(|faults| faults.to_string()));
            return Err(Failure::bad(messages.join("\n")));
        }
    };
    let svg = if args.paper { paper_svg(&blank)? } else { template_svg(&blank, &job.overridden_by(given)) };
    write(args.output.as_deref(), &svg)?;
    Ok(ExitCode::SUCCESS)
}
