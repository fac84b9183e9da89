//! `stave walk`.

use std::process::ExitCode;

use stave::{WalkAround, WalkOptions, walk};

use crate::args::{AroundWord, WalkArgs};
use crate::failure::{Failure, say, tell};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, settings, shown};

pub(crate) fn run(args: &WalkArgs) -> Result<ExitCode, Failure> {
    let art = (&args.fonts, &args.reading, &args.size);
    let (setup, paths, options) = settings::of_art((&args.files, &args.job), art, false)?;
    let path = paths.input(args.input.as_deref());
    let mut files = Files::of_setup(&paths).may_read("--row", args.fields.table());
    if args.path.is_none() {
        files = files.reads("INPUT", &path);
    }
    let mut output = files.writes("-o", args.output.as_deref(), Carries::Program)?;
    let source = input::source(
        &path,
        args.path.as_deref(),
        args.reading.from_type,
        (&args.size, &args.fields),
    )?;
    let how = WalkOptions {
        around: match args.around {
            AroundWord::Box => WalkAround::Box,
            AroundWord::Hull => WalkAround::Hull,
        },
        speed_mm_per_s: args.speed,
        dwell_s: args.dwell,
        pointer_percent: args.pointer,
    };
    let report = walk(source, &mut output, &setup, &options, &how);
    let report = output.told(report)?;
    keep([output])?;
    say(&report.set_up);
    settings::say_findings(&report.findings, &options.allow, &setup);
    tell(&shown::walk(&report));
    Ok(ExitCode::SUCCESS)
}
