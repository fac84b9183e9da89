//! `stave note`.

use std::process::ExitCode;

use stave::setup::{LengthUnit, read_machine};
use stave::{note, note_doubt, sentence};

use crate::args::NoteArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::recognised::Settings;
use crate::{input, settings};

/// What the machine file is to messages.
const MACHINE: &str = "the machine";

pub(crate) fn run(args: &NoteArgs) -> Result<ExitCode, Failure> {
    let mut files = Files::default().reads(MACHINE, &args.machine).reads("SWATCH", &args.swatch);
    let swatch = input::text_or_stdin(&args.swatch)?;
    let coating = note(&swatch, &input::name(&args.swatch), args.chosen, &args.coating)?;
    let (text, name) =
        (input::settings(&args.machine, Settings::Machine)?, input::name(&args.machine));
    let machine = read_machine(&text, &name)?;
    settings::say_doubts(None, Some(&machine), None);
    if let Some(doubt) = note_doubt(&swatch, &machine) {
        say(&sentence(&doubt));
    }
    // That it can be read there is seen before it is printed, too.
    let with_it = coating.put_into(&text, &name)?;
    if args.in_place {
        let mut output =
            files.writes_over("-m", Some(&args.machine), Carries::Text, Some(MACHINE))?;
        output.all(with_it.as_bytes())?;
        keep([output])?;
        let replaced = machine.coatings.iter().any(|one| one.name == coating.name);
        let what = if replaced { "replaced in" } else { "added to" };
        say(&format!("[[coating]] \"{}\" {what} {name}", coating.name));
        return Ok(ExitCode::SUCCESS);
    }
    let mut output = files.writes("standard output", None, Carries::Text)?;
    let unit = if machine.is_in_inches() { LengthUnit::Inch } else { LengthUnit::Mm };
    output.all(coating.to_toml(unit).as_bytes())?;
    keep([output])?;
    Ok(ExitCode::SUCCESS)
}
