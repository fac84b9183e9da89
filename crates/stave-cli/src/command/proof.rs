//! `stave proof`.

use std::path::Path;
use std::process::ExitCode;

use stave::{ProofOptions, Source, proof};

use super::proof_order;
use crate::args::{FieldOptions, InputType, ProofArgs};
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::today::today;
use crate::was::{self, AtHand};
use crate::{input, settings};

/// What is drawn.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Form {
    Svg,
    Png,
    Html,
}

pub(crate) fn run(args: &ProofArgs) -> Result<ExitCode, Failure> {
    let form = form(&args.output)?;
    if let Some(order) = args.input.as_deref().filter(|path| proof_order::is_order(path)) {
        return proof_order::run(args, order, form);
    }
    let watts = settings::watts(args.watts)?;
    let art = (&args.fonts, &args.reading, &args.size);
    let (setup, paths, mut options) = settings::of_art((&args.files, &args.job), art, args.quiet)?;
    options.date = today()?;
    let path = paths.input(args.input.as_deref());
    let mut files = Files::of_setup(&paths)
        .may_read("--row", args.fields.table())
        .may_read("--wrapped", args.wrapped.as_deref());
    if args.path.is_none() && (args.input.is_some() || args.wrapped.is_none()) {
        files = files.reads("INPUT", &path);
    }
    was::tell(&args.was, AtHand::of(&setup))?;
    let mut output = files.writes("-o", Some(&args.output), Carries::Text)?;
    let title = match &args.title {
        Some(title) => Some(args.fields.title(title)?),
        None => None,
    };
    let drawn = |source: Source<'_>, finished: bool| {
        let title = title.clone().unwrap_or_else(|| stem(source.name()));
        let files = paths.file_names();
        let shown = ProofOptions { title, finished, files, sheet: args.sheet.into(), watts };
        proof(source, &setup, &options, &shown)
    };
    let given = match (&args.input, &args.path, &args.wrapped) {
        (None, None, Some(_)) => None,
        (_, data, _) => {
            let source = input::source(
                &path,
                data.as_deref(),
                args.reading.from_type,
                (&args.size, &args.fields),
            )?;
            Some(drawn(source, false)?)
        }
    };
    let wrapped = match &args.wrapped {
        Some(path) => {
            // A finished program has no fields left.
            let as_it_is = (&args.size, &FieldOptions::default());
            Some(drawn(input::source(path, None, Some(InputType::Gcode), as_it_is)?, true)?)
        }
        None => None,
    };
    let shown = match (given, wrapped) {
        (Some(shown), None) | (None, Some(shown)) => shown,
        (Some(given), Some(mut wrapped)) => {
            wrapped.compare(&given);
            wrapped
        }
        (None, None) => return Err(Failure::bad("give INPUT, --path or --wrapped")),
    };
    let picture = match form {
        Form::Svg => shown.sheet_svg(args.for_customer).into_bytes(),
        Form::Html => shown.page_html(args.for_customer).into_bytes(),
        Form::Png => {
            let (png, worded) = shown.sheet_png(args.for_customer, f64::from(args.dpi))?;
            if !worded {
                say("note: no font is installed here, so the picture has no words; -o proof.svg \
                     or proof.html has");
            }
            png
        }
    };
    output.all(&picture)?;
    keep([output])?;
    if !args.quiet {
        for warning in &shown.warnings {
            say(&format!("note: {warning}"));
        }
        settings::say_found(shown.found(), &setup);
    }
    Ok(ExitCode::SUCCESS)
}

fn form(path: &Path) -> Result<Form, Failure> {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("svg") => Ok(Form::Svg),
        Some("png") => Ok(Form::Png),
        Some("html" | "htm") => Ok(Form::Html),
        _ => Err(Failure::bad(format!(
            "{}: what to draw is told by the ending: .svg, .png or .html",
            path.display()
        ))),
    }
}

/// A file's name without folder and endings, as a title.
pub(crate) fn stem(name: &str) -> String {
    let name = name.rsplit(['/', '\\']).next().unwrap_or(name);
    let stem = name.split('.').next().unwrap_or(name);
    if stem.is_empty() || name == "standard input" { String::new() } else { stem.to_owned() }
}
