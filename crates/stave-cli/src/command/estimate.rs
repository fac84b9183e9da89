//! `stave estimate`.

use std::process::ExitCode;

use stave::setup::{Blank, Machine};
use stave::{
    ArtOptions, ArtSource, Code, Estimate, EstimateOptions, QuoteSteps, Setup, Terms,
    estimate_program, estimates_to_json, sentence, wrap_art,
};

use crate::args::{EstimateArgs, TermOptions};
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::Carries;
use crate::progress::Watched;
use crate::{input, settings, shown};

pub(crate) fn run(args: &EstimateArgs) -> Result<ExitCode, Failure> {
    let machine = settings::machine(&args.machine)?;
    let blank = match &args.blank {
        Some(path) => settings::blank(path)?.map(Some),
        None => Ok(None),
    };
    let (machine, blank) = match (machine, blank) {
        (Ok(machine), Ok(blank)) => (machine, blank),
        (machine, blank) => {
            let faults = [blank.err(), machine.err()];
            let messages: Vec<String> =
                faults.into_iter().flatten().map(|faults| faults.to_string()).collect();
            return Err(Failure::bad(messages.join("\n")));
        }
    };
    let warnings = blank.iter().flat_map(stave::setup::Blank::warnings).chain(machine.warnings());
    for warning in warnings {
        say(&format!("note: {warning}"));
    }
    let mut files = Files::default()
        .reads("the machine", &args.machine)
        .may_read("the blank", args.blank.as_deref());
    for path in &args.inputs {
        files = files.reads("INPUT", path);
    }
    let mut output = files.writes("the result", None, Carries::Text)?;
    let mut all = Vec::with_capacity(args.inputs.len());
    for path in &args.inputs {
        let mut input = input::open(path, args.reading.from_type)?;
        if input.is_svg {
            let data = input.whole()?;
            all.push(of_drawing(&data, &input.name, args, &machine, blank.as_ref())?);
            continue;
        }
        let options = EstimateOptions { read: args.reading.options(), name: input.name };
        let reader = Watched::new(input.reader, path);
        let estimate = estimate_program(reader, &machine, blank.as_ref(), &options)?;
        for warning in &estimate.warnings {
            say(&format!("note: {}: {warning}", options.name));
        }
        all.push(estimate);
    }
    let quote = terms(&args.terms)
        .map(|terms| QuoteSteps::new(all.iter().map(|estimate| estimate.duration_s).sum(), &terms));
    let text = if args.json {
        estimates_to_json(&all, quote.as_ref().map(|steps| &steps.quote))
            .map_err(|error| Failure::bad(error.to_string()))?
            + "\n"
    } else {
        let quote = quote.map_or_else(String::new, |steps| format!("\n{}", shown::quote(&steps)));
        shown::plain(&(shown::estimates(&all) + &quote))
    };
    output.all(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// A drawing's time: that of the program it makes, fit or not.
fn of_drawing(
    data: &[u8],
    name: &str,
    args: &EstimateArgs,
    machine: &Machine,
    blank: Option<&Blank>,
) -> Result<Estimate, Failure> {
    let Some(blank) = blank else {
        return Err(Failure::bad(format!(
            "{name}: this is a drawing: give the blank it is for with -b, and the job with -j"
        )));
    };
    let job =
        settings::job(args.job.as_deref())?.map_err(|faults| Failure::bad(faults.to_string()))?;
    let setup = Setup::new(blank.clone(), machine.clone(), job)
        .map_err(|faults| Failure::bad(faults.to_string()))?;
    let options =
        ArtOptions { name: name.to_owned(), allow: Code::ALL.to_vec(), ..ArtOptions::default() };
    let report = wrap_art(ArtSource::Svg(data), std::io::sink(), &setup, &options)?;
    for finding in &report.findings {
        say(&format!("note: {name}: {}", sentence(finding)));
    }
    report.estimate.ok_or_else(|| Failure::bad(format!("{name}: nothing to time")))
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
