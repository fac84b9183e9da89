//! `stave walk`.

use std::process::ExitCode;

use stave::{
    ArtOptions, ArtSource, WalkAround, WalkOptions, is_wrapped, sentence, walk_art, walk_gcode,
    walk_wrapped,
};

use crate::args::{AroundWord, WalkArgs};
use crate::failure::{Failure, say, tell};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, settings, shown};

pub(crate) fn run(args: &WalkArgs) -> Result<ExitCode, Failure> {
    let setup = settings::read(&args.files, &args.job, false)?;
    let allow = settings::allowed(&args.files, &setup)?;
    let mut files = Files::of_setup(&args.files);
    if args.path.is_none() {
        files = files.reads("INPUT", &args.input);
    }
    let mut output = files.writes("-o", args.output.as_deref(), Carries::Program)?;
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
        allow: settings::allowed(&args.files, &setup)?,
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
    output.all(&program)?;
    keep([output])?;
    report.findings.iter().for_each(|finding| say(&sentence(finding)));
    tell(&shown::walk(&report));
    Ok(ExitCode::SUCCESS)
}
