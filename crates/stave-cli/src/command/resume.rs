//! `stave resume`.

use std::process::ExitCode;

use stave::{Options, ResumeAt, resume};

use crate::args::{InputType, ResumeArgs};
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, settings};

pub(crate) fn run(args: &ResumeArgs) -> Result<ExitCode, Failure> {
    let machine = settings::machine(&args.machine)?.map_err(Failure::from)?;
    settings::say_doubts(None, Some(&machine), None);
    let at = match (args.line, &args.piece, args.at) {
        (Some(line), ..) => ResumeAt::Line(line),
        (_, Some(piece), _) => ResumeAt::Piece(piece.clone()),
        (.., Some(time_s)) => ResumeAt::TimeS(time_s),
        _ => return Err(Failure::bad("say where to go on: --line, --piece or --at")),
    };
    let mut files =
        Files::default().reads("the machine", &args.machine).reads("PROGRAM", &args.program);
    let mut output = files.writes("-o", args.output.as_deref(), Carries::Program)?;
    let program = input::open(&args.program, Some(InputType::Gcode))?;
    let source = stave::Source::program(program.reader).named(program.name);
    let options = Options { allow: settings::allowed_words(&args.allow)?, ..Options::default() };
    let report = resume(source, &mut output, &machine, &at, &options);
    let report = output.told(report)?;
    keep([output])?;
    say(&report.sentence());
    for warning in &report.warnings {
        say(&format!("note: {warning}"));
    }
    Ok(ExitCode::SUCCESS)
}
