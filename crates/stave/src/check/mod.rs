//! `check`: is a job fit for its blank and machine? Everything that is wrong with it is told at
//! once.

#[cfg(feature = "svg")]
mod drawn;
mod report;

use std::io::Read;

use stave_check::{Code, Finding, Made, RunFacts};
use stave_parse::gcode::{self, ReadError, ReadSummary, Sink};
use stave_plan::Nobody;
use stave_rig::{FocusAt, MadeFor, Misfit, Rig};
use stave_setup::{Setup, ZoneRule};
use stave_transform::Wrapper;

use crate::changed::Changed;
use crate::error::{Error, ProgramFault, Refusal};
use crate::flat_place::for_program;
use crate::lays::distortion_as_laid;
use crate::run::{
    Both, Finished, Flat, Known, Misfits, NotedMisfit, Nothing, Onlookers, Paced, Pass, Passing,
    Quiet, Rescan, RunOut as _, open, program_anchor,
};
use crate::source::{Options, Source};
use crate::wrap::{facts, refused, told, z_left_out};

#[cfg(feature = "svg")]
pub(crate) use drawn::check_drawn;
pub use report::{CheckReport, HeadPartKind, NozzleReport};

/// Checks a source against blank, machine and job: a flat program or a drawing is laid first, a
/// wrapped program taken as it is.
///
/// What keeps a move from being laid is a finding; the check goes on behind it, so that all of it
/// is told.
///
/// # Errors
/// Where a program itself is wrong or a drawing cannot be read, art without speed and power, a
/// setting that cannot be meant; errors of reading.
///
/// ```
/// use stave::{Code, Options, Setup, Source, check, setup};
/// let blank = setup::read_blank("[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n",
/// "can.toml")?;
/// let machine = setup::read_machine(
///     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
///      "bench.toml")?;
/// let setup = Setup::new(blank, machine, setup::read_job("", "job.toml")?)?;
/// let program = Source::program(&b"M4 S500\nG1 X120 F600\nM5\nM2\n"[..]);
/// let report = check(program, &setup, &Options::default())?;
/// assert!(!report.fit && report.findings[0].code == Code::OffWall && report.findings[0].line == Some(2));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn check(source: Source<'_>, setup: &Setup, options: &Options) -> Result<CheckReport, Error> {
    let (input, name) = match source {
        Source::Program { input, name } => (input, name),
        #[cfg(feature = "svg")]
        drawn => return drawn::check_drawn(&drawn, setup, options),
    };
    let (made_for, input) = open(input, &name)?;
    match made_for {
        Some(made_for) => {
            let setup = for_program(setup, &made_for, &name)?;
            check_finished(input, &setup, &made_for, options, &name)
        }
        None => check_flat(input, setup, options, &name, &mut Nothing).map(|(report, _)| report),
    }
}

/// What a program that was made just now comes to, read back, and where it is focused; what is
/// wrong with it refuses.
///
/// # Errors
/// What the judge finds, but for what is allowed.
pub(crate) fn judged(
    program: &[u8],
    setup: &Setup,
    allow: &[Code],
) -> Result<(Vec<Finding>, FocusAt), Error> {
    let options = Options { allow: allow.to_vec(), ..Options::default() };
    let report = check(Source::program(program), setup, &options)?;
    let unfit = refused(report.findings.clone(), allow);
    if !unfit.is_empty() {
        return Err(Error::NotFit(unfit));
    }
    let focus_at = report.focused();
    Ok((report.findings, focus_at))
}

/// The setup under which a run goes on past zones: the judge has them.
pub(crate) fn past_zones(setup: &Setup) -> Setup {
    let mut passing = setup.clone();
    if passing.job.zones == ZoneRule::Refuse {
        passing.job.zones = ZoneRule::Ignore;
    }
    passing
}

/// Checks a flat program; `also` is handed all that is read of it.
///
/// # Errors
/// Those of [`check`].
pub(crate) fn check_flat(
    input: impl Read,
    setup: &Setup,
    options: &Options,
    name: &str,
    also: &mut impl Sink<Error = Refusal>,
) -> Result<(CheckReport, ReadSummary), Error> {
    let passing = past_zones(setup);
    let wrapper = Wrapper::new(&passing, program_anchor(setup)?)?;
    let onlookers = Onlookers::new(setup, &MadeFor::of_setup(setup), Made::Here, Nobody)?;
    let misfits = Misfits::Note(Vec::new());
    let flat = Flat::new(
        &passing,
        wrapper,
        Paced::new(setup, Quiet(onlookers))?,
        misfits,
        (options.read.strict, options.pass),
    );
    let rescan = Rescan::new(flat, options.scan, options.read.strict);
    let mut both = Both(rescan, also);
    let summary = gcode::read(input, &options.read, &mut both)
        .map_err(|error| Error::of_reading(error, name))?;
    let mut run = both.0.flat;
    let no_end = run.end_of_input(&summary);
    run.out.settle()?;
    let seen = run.out.out.0.end(facts(run.wrapper.stats()))?;
    let mut verdict = seen.verdict;
    verdict.findings.extend(run.passing.findings());
    verdict.findings.extend(match no_end {
        Ok(finding) => finding,
        Err(cut) => {
            let line = cut.line().map(|line| format!("line {line}: ")).unwrap_or_default();
            Some(Finding::new(Code::Unfinished, format!("{line}{cut}")))
        }
    });
    if let Misfits::Note(noted) = &run.misfits
        && !noted.is_empty()
    {
        // What was refused would have burned.
        verdict.findings.retain(|finding| finding.code != Code::NothingBurns);
        verdict.findings.extend(noted.iter().map(of_noted));
    }
    let laid = distortion_as_laid(setup, run.wrapper.lay(), &run.footprint);
    verdict.findings.extend(laid.and_then(|(_, finding)| finding));
    let mut warnings = told(&summary);
    warnings.append(&mut run.told);
    warnings.extend(z_left_out(run.wrapper.stats()));
    Ok((CheckReport::new(setup, verdict, &options.allow, warnings), summary))
}

fn check_finished<R: Read>(
    input: R,
    setup: &Setup,
    made_for: &MadeFor,
    options: &Options,
    name: &str,
) -> Result<CheckReport, Error> {
    let mut warnings = made_for.differences(Some(&setup.blank), &setup.machine);
    let onlookers = Onlookers::new(setup, made_for, Made::Before, Nobody)?;
    let known = Known::Wrapped(Rig::new(&setup.blank, &setup.machine, made_for));
    let run = Finished::new(&setup.machine, known, true, options.read.strict, onlookers)
        .made_for(setup.whole().1, made_for);
    let mut passed = Passing::new(Pass::All, setup);
    let mut both = Both(run, &mut passed);
    let read = gcode::read(input, &options.read, &mut both);
    let run = both.0;
    let changed = Changed::of_setup(made_for, setup);
    let mut findings = Vec::new();
    match read {
        Ok(summary) => warnings.extend(told(&summary)),
        Err(ReadError::Sink {
            line,
            error: Refusal::Program(wrong @ ProgramFault::WrongRig { .. }),
            ..
        }) => {
            findings.push(Finding::new(Code::WrongRig, wrong.to_string()).on_line(line));
        }
        Err(error) => return Err(Error::of_reading(error, name)),
    }
    let wrong_rig = !findings.is_empty();
    if let Some(why) = run.unfinished(true).filter(|_| !wrong_rig) {
        findings.push(Finding::new(Code::Unfinished, why.to_string()));
    }
    if run.beam.burns() && !wrong_rig {
        let message = "the program ends with the beam on; end it with M5 and M2".to_owned();
        findings.push(Finding::new(Code::BeamOnEnd, message));
    }
    let mut verdict = run.sink.end(RunFacts::default())?.verdict;
    if wrong_rig {
        verdict.findings.clear();
    }
    verdict.findings.extend(findings);
    verdict.findings.extend(passed.findings());
    verdict.findings.extend(changed.findings);
    warnings.extend(changed.told);
    Ok(CheckReport::new(setup, verdict, &options.allow, warnings))
}

/// What keeps a move from being laid, as a finding; `before` is put before its sentence.
pub(crate) fn of_misfit(misfit: &Misfit, before: &str) -> Finding {
    let message = format!("{before}{misfit}");
    match misfit {
        Misfit::OffWall { at_mm, wall_mm } => {
            let past = (wall_mm.0 - at_mm).max(at_mm - wall_mm.1);
            Finding::new(Code::OffWall, message).along(*at_mm).figures(past, 0.0)
        }
        Misfit::Reach { at_mm, slope_deg, steepest_deg } => {
            Finding::new(Code::Reach, message).along(*at_mm).figures(slope_deg.abs(), *steepest_deg)
        }
        Misfit::Zone { at_mm, turn_deg, .. } => {
            Finding::new(Code::Zone, message).at(*at_mm, turn_deg.to_radians())
        }
        Misfit::Label(_) => Finding::new(Code::Fold, message),
        _ => Finding::new(Code::TravelLimit, message),
    }
}

fn of_noted(noted: &NotedMisfit) -> Finding {
    let mut finding = of_misfit(&noted.misfit, "").on_line(noted.line);
    if noted.lines > 1 {
        finding.message.push_str(&format!("; so do {} more lines", noted.lines - 1));
    }
    match noted.place {
        Some((at_mm, turn_rad)) => finding.at(at_mm, turn_rad),
        None => finding,
    }
}
