//! `stave read`.

use std::process::ExitCode;

use stave::read;

use crate::args::ReadArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::input;
use crate::output::{Carries, keep};

pub(crate) fn run(args: &ReadArgs) -> Result<ExitCode, Failure> {
    let input = input::open(&args.input, args.reading.from_type)?;
    if input.is_svg {
        return Err(Failure::bad(format!(
            "{}: this is a drawing; `read` takes G-code (say --from-type gcode if it is a program)",
            input.name
        )));
    }
    let mut output = Files::default().reads("INPUT", &args.input).writes(
        "-o",
        args.output.as_deref(),
        Carries::Text,
    )?;
    let warnings = read(input.source()?, &mut output, &args.reading.options(Vec::new()));
    let warnings = output.told(warnings)?;
    keep([output])?;
    for warning in &warnings {
        say(&format!("note: {warning}"));
    }
    Ok(ExitCode::SUCCESS)
}
