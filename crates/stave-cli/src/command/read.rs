//! `stave read`.

use std::process::ExitCode;

use stave::read;

use crate::args::{FieldOptions, PictureOptions, ReadArgs};
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::input::{self, Kind};
use crate::output::{Carries, keep};

pub(crate) fn run(args: &ReadArgs) -> Result<ExitCode, Failure> {
    let input = input::open(&args.input, args.reading.from_type)?;
    if input.kind != Kind::Program {
        let what = if input.kind == Kind::Drawing { "drawing" } else { "picture" };
        return Err(Failure::bad(format!(
            "{}: this is a {what}; `read` takes G-code (say --from-type gcode if it is a program)",
            input.name
        )));
    }
    let mut output = Files::default().reads("INPUT", &args.input).writes(
        "-o",
        args.output.as_deref(),
        Carries::Text,
    )?;
    let warnings = read(
        input.source(&PictureOptions::default(), &FieldOptions::default())?,
        &mut output,
        &args.reading.options(Vec::new()),
    );
    let warnings = output.told(warnings)?;
    keep([output])?;
    for warning in &warnings {
        say(&format!("note: {warning}"));
    }
    Ok(ExitCode::SUCCESS)
}
