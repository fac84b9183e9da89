//! `stave wrap`.

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use stave::{ReadOptions, WrapOptions, WrapReport, wrap_gcode};

use crate::args::{OutputType, WrapArgs};
use crate::failure::{Failure, say};
use crate::output::Output;
use crate::{input, settings};

pub(crate) fn run(args: &WrapArgs) -> Result<ExitCode, Failure> {
    let setup = settings::read(&args.files, &args.job, args.quiet)?;
    let input = input::open(&args.input, args.reading.from_type)?;
    if input.is_svg || args.to == OutputType::Svg {
        return Err(Failure::bad(format!(
            "{}: drawings are not to be had yet; give a flat G-code program",
            input.name
        )));
    }
    let mut output = Output::open(args.output.as_deref())?;
    let options = WrapOptions {
        read: ReadOptions { strict: args.reading.strict, block_delete: args.reading.block_delete },
        name: input.name,
    };
    let report = wrap_gcode(input.reader, &mut output, &setup, &options)?;
    output.keep()?;
    if !args.quiet {
        for warning in &report.warnings {
            say(&format!("note: {warning}"));
        }
    }
    if let Some(path) = &args.report {
        write_report(path, &report)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn write_report(path: &Path, report: &WrapReport) -> Result<(), Failure> {
    let fail =
        |error: &dyn std::fmt::Display| Failure::bad(format!("cannot write {}: {error}", path.display()));
    let json = report.to_json().map_err(|error| fail(&error))?;
    if path == Path::new("-") {
        return writeln!(std::io::stderr().lock(), "{json}").map_err(|error| fail(&error));
    }
    let mut output = Output::open(Some(path))?;
    writeln!(output, "{json}").map_err(|error| fail(&error))?;
    output.keep()
}
