//! `stave measure`.

use std::path::Path;
use std::process::ExitCode;

use stave::setup::{
    Gauge, JobFile, LengthUnit, Reading, Stands, option_length_mm, read_blank, read_readings,
};
use stave::{
    Gauges, Known, MeasureFrom, MeasureOptions, Measurement, OutlineOptions, Side, WallShape,
    measure,
};

use crate::args::{InputType, MeasureArgs, SideWord, UnitWord, WallWord};
use crate::failure::{Failure, tell};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, settings, shown};

pub(crate) fn run(args: &MeasureArgs) -> Result<ExitCode, Failure> {
    let unit = match args.units {
        UnitWord::Mm => LengthUnit::Mm,
        UnitWord::In => LengthUnit::Inch,
    };
    let length = |name: &str, text: &str| option_length_mm(name, text, unit).map_err(Failure::from);
    let options = MeasureOptions {
        name: args.name.clone().unwrap_or_else(|| stem(args.output.as_deref())),
        unit,
        shape: match args.wall {
            WallWord::Straight => WallShape::Straight,
            WallWord::Smooth => WallShape::Smooth,
        },
        gauges: Gauges {
            caliper_mm: length("caliper-error", &args.caliper_error)?,
            tape_mm: length("tape-error", &args.tape_error)?,
            tape_width_mm: length("tape-width", &args.tape_width)?,
            place_mm: length("place-error", &args.place_error)?,
        },
    };
    if args.json && args.output.as_deref() == Some(Path::new("-")) {
        return Err(Failure::bad(
            "--json goes to standard output, where -o - puts the blank too: name a file for one of \
             them",
        ));
    }
    let mut files = files(args);
    let json_only = args.json && args.output.is_none();
    let blank = match json_only {
        true => None,
        false => Some(files.writes("-o", args.output.as_deref(), Carries::Text)?),
    };
    let json = match args.json {
        true => Some(files.writes("--json", None, Carries::Text)?),
        false => None,
    };
    let measured = match &args.outline {
        Some(path) => from_outline(path, args, &options)?,
        None => measure(MeasureFrom::Readings(&readings(args, unit)?), &options)?,
    };
    let mut outputs = Vec::new();
    if let Some(mut blank) = blank {
        blank.all(measured.blank.as_bytes())?;
        outputs.push(blank);
    }
    if let Some(mut json) = json {
        let text = measured.report.to_json().map_err(|error| Failure::bad(error.to_string()))?;
        json.all((text + "\n").as_bytes())?;
        outputs.push(json);
    }
    keep(outputs)?;
    tell(&shown::measure(&measured.report));
    // What was made is doubted as what is read.
    if let Ok(blank) = read_blank(&measured.blank, "the blank") {
        settings::say_doubts(Some(&blank), None, None);
    }
    Ok(ExitCode::SUCCESS)
}

fn files(args: &MeasureArgs) -> Files {
    let files = Files::default().may_read("--outline", args.outline.as_deref());
    match readings_path(args).filter(|_| args.outline.is_none()) {
        Some(path) => files.reads("READINGS", path),
        None => files,
    }
}

/// Where readings are read from, if not from options alone.
fn readings_path(args: &MeasureArgs) -> Option<&Path> {
    let options_given =
        [&args.diameter, &args.circumference, &args.dial].iter().any(|given| !given.is_empty());
    args.readings.as_deref().or((!options_given).then_some(Path::new("-")))
}

/// A name from where the blank goes.
fn stem(output: Option<&Path>) -> String {
    let stem = output.filter(|path| *path != Path::new("-")).and_then(Path::file_stem);
    stem.map_or_else(
        || MeasureOptions::default().name,
        |stem| stem.to_string_lossy().replace(char::is_control, " "),
    )
}

fn readings(args: &MeasureArgs, unit: LengthUnit) -> Result<Vec<Reading>, Failure> {
    let (mut readings, mut faults) = (Vec::new(), Vec::new());
    let given = [
        (Gauge::Caliper, &args.diameter),
        (Gauge::Tape, &args.circumference),
        (Gauge::Dial, &args.dial),
    ];
    for (gauge, options) in given {
        for text in options {
            match Reading::of_option(gauge, text, unit) {
                Ok(reading) => readings.push(reading),
                Err(fault) => faults.push(fault.to_string()),
            }
        }
    }
    if let Some(path) = readings_path(args) {
        match read_readings(&input::text_or_stdin(path)?, &input::name(path), unit) {
            Ok(read) => readings.extend(read),
            Err(read) => faults.extend(read.iter().map(ToString::to_string)),
        }
    }
    if faults.is_empty() { Ok(readings) } else { Err(Failure::all_bad(faults)) }
}

fn from_outline(
    path: &Path,
    args: &MeasureArgs,
    options: &MeasureOptions,
) -> Result<Measurement, Failure> {
    let mut stands = JobFile::default();
    if let Some(word) = &args.stands {
        stands.set_option("stands", word).map_err(Failure::from)?;
    }
    let stands = stands.stands.map_or(Stands::Upright, |given| given.value);
    let outline = OutlineOptions {
        name: input::name(path),
        known: known(args.known.as_deref().unwrap_or_default(), options.unit)?,
        stands,
        side: side(args.side, stands)?,
        id: args.id.clone(),
        within_mm: option_length_mm("within", &args.within, options.unit).map_err(Failure::from)?,
    };
    if outline.within_mm <= 0.0 {
        return Err(Failure::bad("--within: must be more than 0"));
    }
    let svg = input::open(path, Some(InputType::Svg))?.whole()?;
    Ok(measure(MeasureFrom::Outline(&svg, &outline), options)?)
}

fn known(text: &str, unit: LengthUnit) -> Result<Known, Failure> {
    let Some((what, length)) = text.rsplit_once('=').filter(|(what, _)| !what.is_empty()) else {
        return Err(Failure::bad(format!(
            "--known: \"{text}\" is given, but must be height=LENGTH, width=LENGTH or ID=LENGTH, \
             such as height=175"
        )));
    };
    let length = option_length_mm("known", length, unit).map_err(Failure::from)?;
    if length <= 0.0 {
        return Err(Failure::bad("--known: the length must be more than 0"));
    }
    Ok(match what {
        "height" => Known::Height(length),
        "width" => Known::Width(length),
        id => Known::Element(id.to_owned(), length),
    })
}

fn side(word: SideWord, stands: Stands) -> Result<Side, Failure> {
    match (word, stands) {
        (SideWord::Both, _) => Ok(Side::Both),
        (SideWord::Left, Stands::Upright | Stands::Inverted) | (SideWord::Upper, Stands::Lying) => {
            Ok(Side::Less)
        }
        (SideWord::Right, Stands::Upright | Stands::Inverted)
        | (SideWord::Lower, Stands::Lying) => Ok(Side::Greater),
        (_, Stands::Lying) => {
            Err(Failure::bad("--side: ware that lies has an upper and a lower side"))
        }
        _ => Err(Failure::bad("--side: ware that stands has a left and a right side")),
    }
}
