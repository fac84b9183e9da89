//! `stave estimate`.

use std::io::{self, IsTerminal};
use std::path::Path;
use std::process::ExitCode;

use stave::setup::{Blank, JobFile, Machine, RotaryWord};
use stave::{
    Fonts, Options, QuoteSteps, ScanTimes, Setup, Terms, TimedOn, estimate, estimates_to_json,
    scan_times,
};

use crate::args::{EstimateArgs, InputType, TermOptions};
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::input::Kind;
use crate::output::Carries;
use crate::was::{self, AtHand};
use crate::{input, settings, shown};

pub(crate) fn run(args: &EstimateArgs) -> Result<ExitCode, Failure> {
    let job_path = args.job.as_deref();
    let job = settings::job(job_path)?.map_err(Failure::from)?;
    let machine_path =
        settings::typed_or_named(args.machine.as_deref(), job_path, job.machine.as_ref())
            .ok_or_else(|| Failure::bad(settings::not_given("machine", "-m")))?;
    let blank_path = settings::typed_or_named(args.blank.as_deref(), job_path, job.blank.as_ref());
    let mut inputs = args.inputs.clone();
    if inputs.is_empty() {
        let named = settings::typed_or_named(None, job_path, job.input.as_ref());
        inputs.push(named.unwrap_or_else(|| "-".into()));
    }
    let machine = settings::machine(&machine_path)?;
    let blank = match &blank_path {
        Some(path) => settings::blank(path)?.map(Some),
        None => Ok(None),
    };
    let (given, wrong) = settings::typed(&args.settings);
    let (machine, blank) = match (machine, blank) {
        (Ok(machine), Ok(blank)) if wrong.is_empty() => (machine, blank),
        (machine, blank) => {
            let faults = blank.err().into_iter().chain(machine.err()).flatten();
            let told = faults.map(|fault| fault.to_string());
            return Err(Failure::all_bad(wrong.into_iter().chain(told)));
        }
    };
    let job = job.overridden_by(given);
    let is_typed = args.settings.given().next().is_some();
    match &blank {
        // What is typed is looked at, whether an input is laid by it or not.
        Some(blank) if is_typed => settings::say_doubts_of(&setup(&job, &machine, blank)?),
        _ => settings::say_doubts(blank.as_ref(), Some(&machine), Some(&job)),
    }
    if is_typed && blank.is_none() {
        say("note: without a blank (-b) nothing is laid, and job settings change no time");
    }
    let font_paths = settings::font_paths(&args.fonts, job_path, &job.fonts);
    let mut files = Files::default()
        .reads("the machine", &machine_path)
        .may_read("the blank", blank_path.as_deref())
        .may_read("the job", job_path)
        .reads_all("a font", &font_paths)
        .may_read("--row", args.fields.table());
    for path in &inputs {
        files = files.reads("INPUT", path);
    }
    let job_values = job.values();
    let at_hand = AtHand {
        blank: blank.as_ref().map(Blank::values),
        machine: machine.values(),
        job: args.job.as_ref().map(|_| &job_values),
    };
    was::tell(&args.was, at_hand)?;
    let mut output = files.writes("the result", None, Carries::Text)?;
    let mut all = Vec::with_capacity(inputs.len());
    for path in &inputs {
        let input = input::open(path, args.reading.from_type)?;
        let setup = match &blank {
            Some(blank) if input.kind != Kind::Program => Some(setup(&job, &machine, blank)?),
            _ => None,
        };
        let on = match (&setup, &blank) {
            (Some(setup), _) => TimedOn::Setup(setup),
            (None, Some(blank)) => TimedOn::Blank(blank, &machine),
            (None, None) => TimedOn::Machine(&machine),
        };
        let kind = input.kind;
        let name = input.name.clone();
        let fonts = match &setup {
            Some(setup) => settings::fonts(&font_paths, setup)?,
            None => Fonts::None,
        };
        let options = args.size.scanning(Options { fonts, ..args.reading.options(Vec::new()) });
        let mut timed = estimate(input.source(&args.size, &args.fields)?, on, &options)?;
        if let Some(blank) = blank.as_ref().filter(|_| kind == Kind::Program) {
            let from_type = args.reading.from_type;
            timed.scan = laid(path, &name, (&job, &machine, blank), from_type, &options);
        }
        for warning in &timed.warnings {
            say(&format!("note: {name}: {warning}"));
        }
        all.push(timed);
    }
    let quote = terms(&args.terms)
        .map(|terms| QuoteSteps::new(all.iter().map(|estimate| estimate.duration_s).sum(), &terms));
    let text = if args.json {
        estimates_to_json(&all, quote.as_ref().map(|steps| &steps.quote))
            .map_err(|error| Failure::bad(error.to_string()))?
            + "\n"
    } else {
        let quote = quote.map_or_else(String::new, |steps| format!("\n{}", shown::quote(&steps)));
        let large = io::stdout().is_terminal();
        shown::plain(&(shown::estimates(&all, large) + &quote))
    };
    output.all(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// How long a flat program of scan lines takes once it is laid. Only a file can be read again.
fn laid(
    path: &Path,
    name: &str,
    (job, machine, blank): (&JobFile, &Machine, &Blank),
    from_type: Option<InputType>,
    options: &Options,
) -> Option<ScanTimes> {
    // Where Y turns the work the program is one for the rotary.
    if !path.is_file() || machine.rotary.word == RotaryWord::Y {
        return None;
    }
    let setup = setup(job, machine, blank).ok()?;
    let anew = || match input::open(path, from_type) {
        Ok(input) => Ok(input.reader),
        Err(_) => Err(io::Error::other("it cannot be read again")),
    };
    scan_times(anew, name, &setup, options).ok()?
}

/// A drawing or picture is laid before it is timed.
fn setup(job: &JobFile, machine: &Machine, blank: &Blank) -> Result<Setup, Failure> {
    Setup::new(blank.clone(), machine.clone(), job.clone()).map_err(Failure::from)
}

/// The terms of a quote, if anything was said of one.
fn terms(options: &TermOptions) -> Option<Terms> {
    let given = options.rate.is_some()
        || options.handling.is_some()
        || options.set_up.is_some()
        || options.pieces.is_some()
        || options.material.is_some()
        || options.markup.is_some()
        || options.start.is_some();
    given.then(|| Terms {
        rate_per_hour: options.rate,
        handling_s: options.handling.unwrap_or(0.0),
        set_up_s: options.set_up.unwrap_or(0.0),
        pieces: options.pieces.unwrap_or(1),
        material: options.material.unwrap_or(0.0),
        markup_percent: options.markup.unwrap_or(0.0),
        start_min: options.start,
    })
}
