//! `stave swatch`.

use std::path::Path;
use std::process::ExitCode;

use stave::setup::{LengthUnit, option_length_mm};
use stave::{SwatchKind, SwatchOptions, SwatchTest, swatch, swatch_test};

use crate::args::SwatchArgs;
use crate::failure::{Failure, say, tell};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{settings, shown};

pub(crate) fn run(args: &SwatchArgs) -> Result<ExitCode, Failure> {
    let length = |name: &str, text: &str| {
        option_length_mm(name, text, LengthUnit::Mm).map_err(Failure::from)
    };
    let spacings: Result<Vec<f64>, Failure> =
        args.spacings.iter().map(|text| length("spacings", text)).collect();
    let label = match args.label.as_slice() {
        [] => None,
        [power, speed] => Some((*power, *speed)),
        _ => return Err(Failure::bad("--label: must be POWER,SPEED, such as 20,60")),
    };
    let watts = settings::watts(args.watts)?;
    let (setup, paths) = settings::read(&args.files, &args.job, false)?;
    let size = ("size", Some(args.size.as_str()));
    let typed = args.spacings.iter().map(|text| ("spacings", Some(text.as_str())));
    settings::say_bare(typed.chain([size]), &setup.blank, &setup.machine);
    let options = SwatchOptions {
        kind: if args.arrow { SwatchKind::Arrow } else { SwatchKind::Table },
        powers_percent: args.powers.clone(),
        speeds_mm_per_s: args.speeds.clone(),
        spacings_mm: spacings?,
        size_mm: length("size", &args.size)?,
        label,
        watts,
        allow: settings::allowed(&args.files, &setup)?,
        at_mm: args.job.has("place-at").then_some(setup.job.place.at_mm),
        turn_rad: args.job.has("place-turn").then_some(setup.job.place.turn_rad),
    };
    let mut files = Files::of_setup(&paths);
    let mut output = files.writes("-o", args.output.as_deref(), Carries::Program)?;
    let to_file = args.report.as_deref().filter(|path| *path != Path::new("-"));
    let report_file = match to_file {
        Some(path) => Some(files.writes("--report", Some(path), Carries::Text)?),
        None => None,
    };
    let test = match (args.turn, args.lag, args.focus_ladder, args.wedge) {
        (true, ..) => Some(SwatchTest::Turn),
        (_, true, ..) => Some(SwatchTest::Lag),
        (_, _, true, _) => Some(SwatchTest::FocusLadder),
        (.., wedge) => wedge.map(SwatchTest::Wedge),
    };
    let (json, findings, set_up, told) = match test {
        None => {
            let report = swatch(&mut output, &setup, &options);
            let report = output.told(report)?;
            let told = shown::swatch(&report);
            (report.to_json(), report.findings, report.set_up, told)
        }
        Some(test) => {
            let report = swatch_test(&mut output, &setup, test, &options);
            let report = output.told(report)?;
            let told = shown::marks(&report);
            (report.to_json(), report.findings, report.set_up, told)
        }
    };
    let json = json.map_err(|error| Failure::bad(error.to_string()))? + "\n";
    let mut all = vec![output];
    if let Some(mut file) = report_file {
        file.all(json.as_bytes())?;
        all.push(file);
    }
    keep(all)?;
    say(&set_up);
    settings::say_findings(&findings, &options.allow, &setup);
    tell(&told);
    if args.report.is_some() && to_file.is_none() {
        tell(&json);
    }
    Ok(ExitCode::SUCCESS)
}
