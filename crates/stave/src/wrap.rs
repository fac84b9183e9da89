//! `wrap`: a flat program in, a program for the rotary out.

use std::io::{Read, Write};

use stave_check::{Code, Finding, Made, RunFacts, Severity, Verdict};
use stave_parse::gcode::{self, ReadOptions};
use stave_plan::Nobody;
use stave_rig::MadeFor;
use stave_setup::Setup;
use stave_transform::{Stats, Wrapper};
use stave_write::gcode::{Dialect, WriteError, Writer};

use crate::error::{Error, Refusal};
use crate::estimate::Estimate;
use crate::lays::distortion_as_laid;
use crate::report::WrapReport;
use crate::run::{Flat, Misfits, Onlookers, Pass, Seen, WriteOut, name_of, program_anchor};

/// How a flat program is read and named, and what is accepted.
#[derive(Clone, Debug, Default)]
pub struct WrapOptions {
    /// How the program is read.
    pub read: ReadOptions,
    /// The input's name in messages; "standard input" where empty.
    pub name: String,
    /// Findings that are errors and are accepted.
    pub allow: Vec<Code>,
    /// Which lines that move nothing of the work go through.
    pub pass: Pass,
}

/// Reads a flat program from `input`, lays it on the setup's blank, and writes the program for its
/// machine to `output`.
///
/// It streams: memory does not grow with the program. The judge looks at every step before it is
/// written, and at all of them at the end. Whatever ends it midway, the output then ends with the
/// beam off and a comment that says why, and has no end word.
///
/// # Errors
/// [`Error::Program`] where the program is wrong or does not fit, with line, column and a caret;
/// [`Error::NotFit`] for what the judge finds; [`Error::Setting`] for settings that need art rather
/// than a program; errors of reading and writing.
pub fn wrap_gcode<R: Read, W: Write>(
    input: R,
    output: W,
    setup: &Setup,
    options: &WrapOptions,
) -> Result<WrapReport, Error> {
    let wrapper = Wrapper::new(setup, program_anchor(setup)?)?;
    let made_for = MadeFor::of_setup(setup);
    let mut writer = Writer::new(output, Dialect::of(&setup.machine));
    writer.head(&made_for.header_with_time()).map_err(write_error)?;
    let onlookers = Onlookers::new(setup, &made_for, Made::Here, Nobody)?;
    let out = WriteOut { writer, onlookers, allow: &options.allow };
    let mut run =
        Flat::new(setup, wrapper, out, Misfits::Refuse, (options.read.strict, options.pass));
    let name = name_of(&options.name);
    let summary = match gcode::read(input, &options.read, &mut run) {
        Ok(summary) => summary,
        Err(error) => {
            let error = match error {
                gcode::ReadError::Sink { error: Refusal::Unfit, .. } => {
                    let verdict = run.out.onlookers.judge.verdict(&RunFacts::default());
                    Error::NotFit(refused(verdict.findings, &options.allow))
                }
                error => Error::of_reading(error, name),
            };
            if !error.is_closed_pipe() {
                run.out.writer.break_off(&error.short()).map_err(write_error)?;
            }
            return Err(error);
        }
    };
    let no_end = match run.end_of_input(&summary) {
        Ok(finding) => finding,
        Err(cut) => {
            let error = Error::Setting(format!("{name}:{cut}"));
            run.out.writer.break_off(&error.short()).map_err(write_error)?;
            return Err(error);
        }
    };
    let stats = run.wrapper.stats().clone();
    let WriteOut { mut writer, onlookers, .. } = run.out;
    let seen = onlookers.end(facts(&stats))?;
    let unfit = refused(seen.verdict.findings.clone(), &options.allow);
    if !unfit.is_empty() {
        let error = Error::NotFit(unfit);
        writer.break_off(&error.short()).map_err(write_error)?;
        return Err(error);
    }
    writer.end(run.rewind).map_err(write_error)?;
    let mut told = told(&summary);
    told.append(&mut run.told);
    let count = 10_f64.powi(-i32::try_from(setup.machine.controller.decimals).unwrap_or(0));
    let mut report = WrapReport::of(&stats, count, told);
    report.estimate = Some(Estimate::of(name, &seen.times, &run.sections, &setup.machine, true));
    report.judged(&seen);
    report.findings.extend(run.passing.findings());
    report.findings.extend(no_end);
    if let Some((piece, finding)) = distortion_as_laid(setup, run.wrapper.lay(), &run.footprint) {
        report.as_laid.push(piece);
        report.findings.extend(finding);
    }
    Ok(report)
}

/// What a wrap knows of a run besides its steps.
pub(crate) fn facts(stats: &Stats) -> RunFacts {
    RunFacts {
        slowed_power: stats.slowed_power,
        below_least_power: stats.below_least_power,
        masked_mm: stats.masked_mm,
        ..RunFacts::default()
    }
}

/// The errors among findings that nobody accepts.
pub(crate) fn refused(findings: Vec<Finding>, allow: &[Code]) -> Vec<Finding> {
    let refuses =
        |finding: &Finding| finding.severity == Severity::Error && !allow.contains(&finding.code);
    findings.into_iter().filter(refuses).collect()
}

impl WrapReport {
    /// Takes in what the judge and the clock saw.
    pub(crate) fn judged<F>(&mut self, seen: &Seen<F>) {
        let Verdict { findings, told, focus, .. } = &seen.verdict;
        self.findings.extend(findings.iter().cloned());
        self.warnings.extend(told.iter().cloned());
        self.focus_at = Some(focus.at_mm + 0.0);
        self.at_feeds_s = seen.times.at_feeds_s;
    }
}

/// The reader's warnings as sentences with their lines.
pub(crate) fn told(summary: &gcode::ReadSummary) -> Vec<String> {
    summary
        .warnings
        .iter()
        .map(|warning| format!("line {}: {}", warning.line, warning.text))
        .collect()
}

pub(crate) fn write_error(error: WriteError) -> Error {
    match error {
        WriteError::Io(error) => Error::Output(error),
        other => Error::Setting(other.to_string()),
    }
}
