//! `stave walk`.

use std::io::Write;
use std::process::ExitCode;

use stave::{
    ArtOptions, ArtSource, WalkAround, WalkOptions, is_wrapped, walk_art, walk_gcode, walk_wrapped,
};

use crate::args::{AroundWord, WalkArgs};
use crate::failure::Failure;
use crate::output::Output;
use crate::{input, settings, shown};

pub(crate) fn run(args: &WalkArgs) -> Result<ExitCode, Failure> {
    let setup = settings::read(&args.files, &args.job, false)?;
    let allow = settings::allowed(&args.files, &setup)?;
    let (data, name, is_svg) = match &args.path {
        Some(_) => (Vec::new(), String::new(), false),
        None => {
            let mut input = input::open(&args.input, args.reading.from_type)?;
            (input.whole()?, input.name, input.is_svg)
        }
    };
    let options = WalkOptions {
        read: args.reading.options(),
        name: name.clone(),
        around: match args.around {
            AroundWord::Box => WalkAround::Box,
            AroundWord::Hull => WalkAround::Hull,
        },
        speed_mm_per_s: args.speed,
        dwell_s: args.dwell,
        pointer_percent: args.pointer,
    };
    // Short, and best not begun where it cannot be ended.
    let mut program = Vec::new();
    let art = ArtOptions { name, allow, ..ArtOptions::default() };
    let report = if let Some(path) = &args.path {
        walk_art(ArtSource::Path(path), &mut program, &setup, &art, &options)?
    } else if is_svg {
        walk_art(ArtSource::Svg(&data), &mut program, &setup, &art, &options)?
    } else if is_wrapped(&data) {
        walk_wrapped(&data, &mut program, &setup, &options)?
    } else {
        walk_gcode(&data[..], &mut program, &setup, &options)?
    };
    let mut output = Output::open(args.output.as_deref())?;
    output.write_all(&program).and_then(|()| output.flush()).map_err(stave::Error::Output)?;
    output.keep()?;
    // It does not matter whether anyone listens.
    let _ = std::io::stderr().lock().write_all(shown::walk(&report).as_bytes());
    Ok(ExitCode::SUCCESS)
}
