//! `stave place`.

use std::process::ExitCode;

use stave::place;
use stave::setup::{Along, read_points};

use crate::args::PlaceArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, settings};

pub(crate) fn run(args: &PlaceArgs) -> Result<ExitCode, Failure> {
    let (setup, paths) = settings::read(&args.files, &args.job, false)?;
    let mut files = Files::of_setup(&paths).reads("POINTS", &args.points);
    let mut output = files.writes("-o", args.output.as_deref(), Carries::Text)?;
    let rotary = &setup.machine.rotary;
    let along = if rotary.along == Along::Y { 'Y' } else { 'X' };
    let turning = rotary.word.as_str().chars().next().unwrap_or('A');
    let text = input::text_or_stdin(&args.points)?;
    let points =
        read_points(&text, &input::name(&args.points), (along, turning)).map_err(Failure::from)?;
    let found = place(&points, &setup)?;
    let text = if args.json {
        found.to_json().map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        found.to_toml()
    };
    output.all(text.as_bytes())?;
    keep([output])?;
    say(&found.sentence());
    if let Some(doubt) = &found.doubt {
        say(&format!("looks wrong: {doubt}"));
    }
    Ok(ExitCode::SUCCESS)
}
