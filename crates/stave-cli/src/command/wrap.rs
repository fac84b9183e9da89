//! `stave wrap`.

use std::io::Cursor;
use std::path::Path;
use std::process::ExitCode;

use stave::number::fixed;
use stave::{
    LevelParts, Options, Setup, Source, TIME_UNKNOWN, WrapReport, clock, focus_words, redraw,
    set_up_part, set_up_sentence, time_field, wrap, wrap_in_parts,
};

use crate::args::{OutputType, Part, WrapArgs};
use crate::failure::{Failure, say, tell};
use crate::files::Files;
use crate::input::Kind;
use crate::output::{Carries, Output, keep};
use crate::settings::Paths;
use crate::{input, settings};

pub(crate) fn run(args: &WrapArgs) -> Result<ExitCode, Failure> {
    let art = (&args.fonts, &args.reading, &args.size);
    let (setup, paths, options) = settings::of_art((&args.files, &args.job), art, args.quiet)?;
    let (mut output, report_file) = outputs(args, &paths)?;
    let (report, setup) = written(args, &paths, setup, &options, &mut output)?;
    let duration_s = report.estimate.as_ref().map(|estimate| estimate.duration_s);
    if let Some(time) = duration_s.and_then(time_field) {
        let field = |value: &str| format!(" time={value}");
        output.correct(&field(TIME_UNKNOWN), &field(&time))?;
    }
    if let Some(focus_at) = report.focused().filter(|_| report.estimate.is_some()) {
        output.correct(&focus_words(&setup, None), &focus_words(&setup, Some(focus_at)))?;
        if !args.quiet {
            say(&set_up_sentence(&setup, focus_at));
        }
    }
    let mut all = vec![output];
    let json = match &args.report {
        Some(_) => Some(report.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"),
        None => None,
    };
    if let (Some(mut file), Some(json)) = (report_file, &json) {
        file.all(json.as_bytes())?;
        all.push(file);
    }
    keep(all)?;
    if let (Some(estimate), false) = (&report.estimate, args.quiet) {
        let mut sum = format!(
            "{}: burning {}, travelling {}",
            clock(estimate.duration_s),
            clock(estimate.burn_s),
            clock(estimate.travel_s)
        );
        // Waits, and the swing to a flat place.
        if estimate.dwell_s > 0.0 {
            sum.push_str(&format!(", dwelling {}", clock(estimate.dwell_s)));
        }
        say(&sum);
    }
    if !args.quiet {
        for warning in &report.warnings {
            say(&format!("note: {warning}"));
        }
        settings::say_findings(&report.findings, &options.allow, &setup);
    }
    if let (Some(json), None) = (json, to_file(args.report.as_deref())) {
        tell(&json);
    }
    Ok(ExitCode::SUCCESS)
}

/// A path that is not `-`.
fn to_file(path: Option<&Path>) -> Option<&Path> {
    path.filter(|path| *path != Path::new("-"))
}

/// The program's output and the report's, if that goes to a file.
fn outputs(args: &WrapArgs, paths: &Paths) -> Result<(Output, Option<Output>), Failure> {
    let mut files = Files::of_setup(paths).may_read("--row", args.fields.table());
    if args.path.is_none() {
        files = files.reads("INPUT", &paths.input(args.input.as_deref()));
    }
    let path = args.output.as_deref();
    let is_input = to_file(path).is_some_and(|path| files.is(path, "INPUT"));
    if is_input && !args.in_place {
        return Err(Failure::bad(
            "-o is INPUT, which would be written over; write to another file, or, for a program, \
             say --in-place if that is meant",
        ));
    }
    if args.in_place && !is_input {
        return Err(Failure::bad(
            "--in-place: -o is not INPUT; leave --in-place out to write to another file",
        ));
    }
    let carries = match args.to {
        OutputType::Gcode => Carries::Program,
        OutputType::Svg => Carries::Text,
    };
    let over = args.in_place.then_some("INPUT");
    let output = files.writes_over("-o", path, carries, over)?;
    let report = match to_file(args.report.as_deref()) {
        Some(path) => Some(files.writes("--report", Some(path), Carries::Text)?),
        None => None,
    };
    Ok((output, report))
}

fn written(
    args: &WrapArgs,
    paths: &Paths,
    mut setup: Setup,
    options: &Options,
    output: &mut Output,
) -> Result<(WrapReport, Setup), Failure> {
    if let Some(data) = &args.path {
        let source = || input::of_path(data, &args.size, &args.fields);
        match args.part {
            Some(Part::All) => return in_parts(source, &setup, (options, args.quiet), output),
            Some(Part::One(number)) => {
                setup = part_of(source()?, &setup, options, (number, args.quiet))?;
            }
            None => {}
        }
        return whole(args, source()?, setup, options, output);
    }
    let path = paths.input(args.input.as_deref());
    let mut input = input::open(&path, args.reading.from_type)?;
    if args.to == OutputType::Svg && input.kind == Kind::Program {
        return Err(Failure::bad(format!(
            "{}: --to svg takes a drawing, not a program (say --from-type svg if it is one)",
            input.name
        )));
    }
    if args.in_place && input.kind != Kind::Program {
        return Err(Failure::bad(format!(
            "--in-place: {} is no program, and it would be lost; write to another file",
            input.name
        )));
    }
    if args.in_place || args.part.is_some() {
        let bytes = input.whole()?;
        let again = || input.of_bytes(bytes.clone()).source(&args.size, &args.fields);
        match args.part {
            Some(Part::All) => return in_parts(again, &setup, (options, args.quiet), output),
            Some(Part::One(number)) => {
                setup = part_of(again()?, &setup, options, (number, args.quiet))?;
            }
            None => {}
        }
        input.reader = Box::new(Cursor::new(bytes));
    }
    let source = input.source(&args.size, &args.fields)?;
    whole(args, source, setup, options, output)
}

fn whole(
    args: &WrapArgs,
    source: Source<'_>,
    setup: Setup,
    options: &Options,
    output: &mut Output,
) -> Result<(WrapReport, Setup), Failure> {
    let report = match args.to {
        OutputType::Gcode => wrap(source, &mut *output, &setup, options),
        OutputType::Svg => redraw(source, &mut *output, &setup, options),
    };
    Ok((output.told(report)?, setup))
}

/// All set-ups in one program; what each burns is told.
fn in_parts<'a>(
    open: impl FnMut() -> Result<Source<'a>, Failure>,
    setup: &Setup,
    (options, quiet): (&Options, bool),
    output: &mut Output,
) -> Result<(WrapReport, Setup), Failure> {
    let mut program = Vec::new();
    let (report, first, parts) = wrap_in_parts(open, &mut program, setup, options)?;
    output.all(&program)?;
    let count = parts.parts.len();
    for number in 1..=count {
        tell_part(&parts, number, quiet);
    }
    Ok((report, first))
}

fn tell_part(parts: &LevelParts, number: usize, quiet: bool) {
    let part = number.checked_sub(1).and_then(|index| parts.parts.get(index));
    if let Some(part) = part.filter(|_| !quiet) {
        say(&format!(
            "part {number} of {}: what burns from {} to {} mm along the axis, sharp within ±{} mm",
            parts.parts.len(),
            fixed(part.from, 2),
            fixed(part.to, 2),
            fixed(parts.depth_of_focus_mm, 2)
        ));
    }
}

/// The setup of one part of what burns, which is told.
fn part_of(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
    (number, quiet): (usize, bool),
) -> Result<Setup, Failure> {
    let (own, parts) = set_up_part(source, setup, options, number)?;
    tell_part(&parts, number, quiet);
    Ok(own)
}
