//! `stave read`.

use std::process::ExitCode;

use stave::read_program;

use crate::args::ReadArgs;
use crate::failure::{Failure, say};
use crate::input;
use crate::output::Output;

pub(crate) fn run(args: &ReadArgs) -> Result<ExitCode, Failure> {
    let input = input::open(&args.input, args.reading.from_type)?;
    if input.is_svg {
        return Err(Failure::bad(format!(
            "{}: this is a drawing; `read` takes G-code (say --from-type gcode if it is a program)",
            input.name
        )));
    }
    let mut output = Output::open(args.output.as_deref())?;
    let options = args.reading.options();
    let warnings = read_program(input.reader, &mut output, &options, &input.name)?;
    output.keep()?;
    for warning in &warnings {
        say(&format!("note: {warning}"));
    }
    Ok(ExitCode::SUCCESS)
}
