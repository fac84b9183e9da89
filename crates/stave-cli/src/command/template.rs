//! `stave template`.

use std::path::Path;
use std::process::ExitCode;

use stave::setup::{Blank, JobFile, Machine};
use stave::{Options, Setup, paper, paper_sheets, template, template_framed};

use crate::args::TemplateArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep, numbered};
use crate::today::today;
use crate::{input, settings};

pub(crate) fn run(args: &TemplateArgs) -> Result<ExitCode, Failure> {
    let job_path = args.job.as_deref();
    let job = settings::job(job_path)?;
    let named = job.as_ref().ok();
    let blank_path = settings::typed_or_named(
        args.blank.as_deref(),
        job_path,
        named.and_then(|job| job.blank.as_ref()),
    );
    let machine_path = settings::typed_or_named(
        args.machine.as_deref(),
        job_path,
        named.and_then(|job| job.machine.as_ref()),
    );
    let Some(blank_path) = blank_path else {
        return Err(Failure::bad(match job {
            Err(faults) => faults.to_string(),
            Ok(_) => settings::not_given("blank", "-b"),
        }));
    };
    let blank = settings::blank(&blank_path)?;
    let machine = match &machine_path {
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
    let is_framed = args.input.is_some() || args.path.is_some();
    if is_framed && machine.is_none() {
        let not_given = settings::not_given("machine", "-m");
        return Err(Failure::bad(format!(
            "what is drawn is laid as the machine burns it, and {not_given}"
        )));
    }
    settings::say_doubts(Some(&blank), machine.as_ref(), Some(&job));
    let title = args.title.as_deref().map(|title| args.fields.title(title)).transpose()?;
    let date = today()?;
    let documents = match (args.paper, args.sheet, &machine) {
        (true, Some(sheet), _) => paper_sheets(&blank, sheet.into(), &date)?,
        (true, None, _) => vec![paper(&blank, &date)?],
        (false, _, Some(machine)) if is_framed => {
            vec![framed(args, (&blank, machine, &job), title.as_deref(), date)?]
        }
        (false, _, machine) => {
            // The page is the same for every row: only its title tells which.
            let values = args.fields.read()?;
            if let Some(unused) = values.unused_by(args.title.as_deref().unwrap_or_default()) {
                let message = format!("--set: only --title has fields here, and not {unused}");
                return Err(Failure::bad(message));
            }
            vec![template(&blank, machine.as_ref(), &job, title.as_deref(), &date)?]
        }
    };
    let mut files = Files::default()
        .reads("the blank", &blank_path)
        .may_read("the machine", machine_path.as_deref())
        .may_read("the job", job_path)
        .may_read("INPUT", args.input.as_deref())
        .may_read("--row", args.fields.table());
    let first = args.output.as_deref().filter(|path| *path != Path::new("-"));
    if documents.len() > 1 && first.is_none() {
        let count = documents.len();
        return Err(Failure::bad(format!(
            "{count} sheets are {count} files: name the first with -o"
        )));
    }
    let mut outputs = Vec::with_capacity(documents.len());
    for (number, document) in (1_usize..).zip(&documents) {
        let path = first.map(|path| numbered(path, number));
        let mut output = files.writes("-o", path.as_deref(), Carries::Text)?;
        output.all(document.as_bytes())?;
        outputs.push(output);
    }
    keep(outputs)?;
    Ok(ExitCode::SUCCESS)
}

/// The page with the frames of what is drawn; what is to be said of that is said.
fn framed(
    args: &TemplateArgs,
    (blank, machine, job): (&Blank, &Machine, &JobFile),
    title: Option<&str>,
    date: String,
) -> Result<String, Failure> {
    let setup = Setup::new(blank.clone(), machine.clone(), job.clone())?;
    let job_path = args.job.as_deref();
    let fonts = settings::font_paths(&args.fonts, job_path, &setup.job.fonts);
    let fonts = settings::fonts(&fonts, &setup)?;
    let allow = settings::allowed_by_job(&setup)?;
    let options = Options { fonts, date, ..args.reading.options(allow) };
    let options = args.size.scanning(options);
    let source = input::source(
        args.input.as_deref().unwrap_or(Path::new("-")),
        args.path.as_deref(),
        args.reading.from_type,
        (&args.size, &args.fields),
    )?;
    let page = template_framed(source, (blank, machine, job), title, &options)?;
    for warning in &page.warnings {
        say(&format!("note: {warning}"));
    }
    settings::say_findings(&page.findings, &options.allow, &setup);
    Ok(page.svg)
}
