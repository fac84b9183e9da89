//! `stave proof`.

use std::path::Path;
use std::process::ExitCode;

use stave::setup::Setup;
use stave::{
    ArtOptions, ArtSource, Code, JustWrapped, ProofOptions, ProvenProgram, ReadOptions,
    WrapOptions, WrapReport, is_wrapped, prove_program, wrap_art, wrap_gcode,
};

use crate::args::InputType;
use crate::args::ProofArgs;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, settings};

/// What is drawn.
#[derive(Clone, Copy)]
enum Form {
    Svg,
    Png,
    Html,
}

/// A program to be shown, and what is known of it.
struct Program {
    bytes: Vec<u8>,
    name: String,
    wrapped: Option<JustWrapped>,
}

pub(crate) fn run(args: &ProofArgs) -> Result<ExitCode, Failure> {
    let form = form(&args.output)?;
    let setup = settings::read(&args.files, &args.job, args.quiet)?;
    let mut files = Files::of_setup(&args.files).may_read("--wrapped", args.wrapped.as_deref());
    if args.path.is_none() && (args.input.is_some() || args.wrapped.is_none()) {
        files = files.reads("INPUT", args.input.as_deref().unwrap_or(Path::new("-")));
    }
    let mut output = files.writes("-o", Some(&args.output), Carries::Text)?;
    let given = match (&args.input, &args.path, &args.wrapped) {
        (None, None, Some(_)) => None,
        (_, Some(path), _) => Some(of_path(path, args, &setup)?),
        (input, None, _) => {
            Some(program(input.as_deref().unwrap_or(Path::new("-")), args, &setup)?)
        }
    };
    let wrapped = args.wrapped.as_deref().map(as_it_is).transpose()?;
    let proven = match (given, wrapped) {
        (Some(given), None) => shown(&given, args, &setup)?,
        (None, Some(wrapped)) => shown(&wrapped, args, &setup)?,
        (Some(given), Some(wrapped)) => {
            let mut proven = shown(&wrapped, args, &setup)?;
            proven.compare(&shown(&given, args, &setup)?);
            proven
        }
        (None, None) => return Err(Failure::bad("give INPUT, --path or --wrapped")),
    };
    let picture = match form {
        Form::Svg => proven.sheet_svg(args.for_customer).into_bytes(),
        Form::Html => proven.page_html(args.for_customer).into_bytes(),
        Form::Png => {
            let (png, worded) = proven.sheet_png(args.for_customer, f64::from(args.dpi))?;
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
        for warning in &proven.warnings {
            say(&format!("note: {warning}"));
        }
        for finding in proven.found() {
            say(&finding);
        }
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

fn shown(program: &Program, args: &ProofArgs, setup: &Setup) -> Result<ProvenProgram, Failure> {
    let title = args.title.clone().unwrap_or_else(|| stem(&program.name));
    let options = ProofOptions {
        read: reading(args),
        name: program.name.clone(),
        title,
        wrapped: program.wrapped.clone(),
    };
    Ok(prove_program(&program.bytes[..], setup, &options)?)
}

fn reading(args: &ProofArgs) -> ReadOptions {
    args.reading.options()
}

/// The input as a program for the rotary: as it is if it was wrapped, else wrapped here.
fn program(path: &Path, args: &ProofArgs, setup: &Setup) -> Result<Program, Failure> {
    let mut input = input::open(path, args.reading.from_type)?;
    let data = input.whole()?;
    let name = input.name;
    let mut bytes = Vec::new();
    let report = if input.is_svg {
        let options = ArtOptions { name: name.clone(), allow: all(), ..ArtOptions::default() };
        wrap_art(ArtSource::Svg(&data), &mut bytes, setup, &options)?
    } else if is_wrapped(&data) {
        return Ok(Program { bytes: data, name, wrapped: None });
    } else {
        let options = WrapOptions {
            read: reading(args),
            name: name.clone(),
            allow: all(),
            pass: args.reading.pass(),
        };
        wrap_gcode(&data[..], &mut bytes, setup, &options)?
    };
    Ok(made(bytes, name, args, &report))
}

/// A picture is there to be looked at: it shows what is wrong, whatever that is.
fn all() -> Vec<Code> {
    Code::ALL.to_vec()
}

fn made(bytes: Vec<u8>, name: String, args: &ProofArgs, report: &WrapReport) -> Program {
    if !args.quiet {
        for warning in &report.warnings {
            say(&format!("note: {warning}"));
        }
    }
    Program { bytes, name, wrapped: Some(JustWrapped::of(report)) }
}

fn of_path(path: &str, args: &ProofArgs, setup: &Setup) -> Result<Program, Failure> {
    let mut bytes = Vec::new();
    let options = ArtOptions { allow: all(), ..ArtOptions::default() };
    let report = wrap_art(ArtSource::Path(path), &mut bytes, setup, &options)?;
    Ok(made(bytes, "path".to_owned(), args, &report))
}

/// A program that is shown whatever it was made by.
fn as_it_is(path: &Path) -> Result<Program, Failure> {
    let mut input = input::open(path, Some(InputType::Gcode))?;
    let bytes = input.whole()?;
    Ok(Program { bytes, name: input.name, wrapped: None })
}

/// A file's name without folder and endings, as a title.
fn stem(name: &str) -> String {
    let name = name.rsplit(['/', '\\']).next().unwrap_or(name);
    let stem = name.split('.').next().unwrap_or(name);
    if stem.is_empty() || name == "standard input" { String::new() } else { stem.to_owned() }
}
