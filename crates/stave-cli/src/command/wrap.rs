//! `stave wrap`.

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use stave::{
    ArtOptions, ArtSource, Code, FOCUS_UNKNOWN, Setup, TIME_UNKNOWN, WrapOptions, WrapReport,
    clock, focus_field, sentence, set_up_line, time_field, wrap_art, wrap_gcode, wrap_svg,
};

use crate::args::{OutputType, WrapArgs};
use crate::failure::{Failure, say};
use crate::output::Output;
use crate::{input, settings};

pub(crate) fn run(args: &WrapArgs) -> Result<ExitCode, Failure> {
    let setup = settings::read(&args.files, &args.job, args.quiet)?;
    let mut output = Output::open(args.output.as_deref())?;
    let allow = settings::allowed(&args.files, &setup)?;
    let report = wrap(args, &setup, &allow, &mut output)?;
    let duration_s = report.estimate.as_ref().map(|estimate| estimate.duration_s);
    if let Some(time) = duration_s.and_then(time_field) {
        let field = |value: &str| format!(" time={value}");
        output
            .correct(&field(TIME_UNKNOWN), &field(&time))
            .map_err(|error| Failure::bad(format!("the output could not be written: {error}")))?;
    }
    if let Some(focus_at) = report.focus_at.filter(|_| report.estimate.is_some()) {
        let field = |value: &str| format!("focus at {value} mm");
        output
            .correct(&field(FOCUS_UNKNOWN), &field(&focus_field(focus_at)))
            .map_err(|error| Failure::bad(format!("the output could not be written: {error}")))?;
        if !args.quiet {
            say(&set_up_line(&setup, Some(focus_at)));
        }
    }
    output.keep()?;
    if let (Some(estimate), false) = (&report.estimate, args.quiet) {
        say(&format!(
            "{}: burning {}, travelling {}",
            clock(estimate.duration_s),
            clock(estimate.burn_s),
            clock(estimate.travel_s)
        ));
    }
    tell(args, &report)
}

fn wrap(
    args: &WrapArgs,
    setup: &Setup,
    allow: &[Code],
    output: &mut impl Write,
) -> Result<WrapReport, Failure> {
    let report = if let Some(path) = &args.path {
        let options = ArtOptions { allow: allow.to_vec(), ..ArtOptions::default() };
        match args.to {
            OutputType::Gcode => wrap_art(ArtSource::Path(path), &mut *output, setup, &options)?,
            OutputType::Svg => wrap_svg(ArtSource::Path(path), &mut *output, setup, &options)?,
        }
    } else {
        let mut input = input::open(&args.input, args.reading.from_type)?;
        match (input.is_svg, args.to) {
            (true, to) => {
                let data = input.whole()?;
                let options =
                    ArtOptions { name: input.name, allow: allow.to_vec(), ..ArtOptions::default() };
                match to {
                    OutputType::Gcode => {
                        wrap_art(ArtSource::Svg(&data), &mut *output, setup, &options)?
                    }
                    OutputType::Svg => {
                        wrap_svg(ArtSource::Svg(&data), &mut *output, setup, &options)?
                    }
                }
            }
            (false, OutputType::Svg) => {
                return Err(Failure::bad(format!(
                    "{}: --to svg takes a drawing, not a program (say --from-type svg if it is \
                     one)",
                    input.name
                )));
            }
            (false, OutputType::Gcode) => {
                let options = WrapOptions {
                    read: args.reading.options(),
                    name: input.name,
                    allow: allow.to_vec(),
                    pass: args.reading.pass(),
                };
                wrap_gcode(input.reader, &mut *output, setup, &options)?
            }
        }
    };
    Ok(report)
}

fn tell(args: &WrapArgs, report: &WrapReport) -> Result<ExitCode, Failure> {
    if !args.quiet {
        for warning in &report.warnings {
            say(&format!("note: {warning}"));
        }
        for finding in &report.findings {
            say(&sentence(finding));
        }
    }
    if let Some(path) = &args.report {
        write_report(path, report)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn write_report(path: &Path, report: &WrapReport) -> Result<(), Failure> {
    let fail = |error: &dyn std::fmt::Display| {
        Failure::bad(format!("cannot write {}: {error}", path.display()))
    };
    let json = report.to_json().map_err(|error| fail(&error))?;
    if path == Path::new("-") {
        return writeln!(std::io::stderr().lock(), "{json}").map_err(|error| fail(&error));
    }
    let mut output = Output::open(Some(path))?;
    writeln!(output, "{json}").map_err(|error| fail(&error))?;
    output.keep()
}
