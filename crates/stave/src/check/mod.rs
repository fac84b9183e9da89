//! `check`: is a job fit for its blank and machine? Everything that is wrong with it is told at
//! once.

mod art;
mod flat;
mod judge;
mod report;
mod spacing;
mod survey;
mod wrapped;

use std::io::{self, Read};

use stave_check::{Code, Finding, Severity};
use stave_parse::gcode::ReadOptions;
use stave_setup::{Drive, JobAnchor, Setup, ZoneRule};
use stave_toolpath::number::fixed;
use stave_wall::Anchor;
use stave_plan::PlanError;

use crate::error::Error;
use crate::header::WrappedFor;
use crate::wrap::{WrapOptions, told};
use flat::FlatFacts;
use spacing::Lines;
use survey::Survey;

pub use art::check_art;
pub use report::{CheckReport, FindingReport, NozzleReport};

/// How much of a program is looked at to see whether it was wrapped already.
const HEAD_BYTES: u64 = 4096;

/// Checks a program against blank, machine and job: a flat one is wrapped first, a wrapped one
/// taken as it is.
///
/// What keeps a move from being laid is a finding; the check goes on behind it, so that all of it
/// is told.
///
/// # Errors
/// Where the program itself is wrong, or a setting cannot be meant; errors of reading.
///
/// ```
/// use stave::{Setup, WrapOptions, check_program, setup};
/// let blank = setup::read_blank("[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n", "can.toml")?;
/// let machine = setup::read_machine(
///     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n", "bench.toml")?;
/// let setup = Setup::new(blank, machine, setup::read_job("", "job.toml")?)?;
/// let report = check_program(&b"M4 S500\nG1 X120 F600\nM5\nM2\n"[..], &setup, &WrapOptions::default())?;
/// assert!(!report.fit && report.findings[0].code == "off-wall" && report.findings[0].line == Some(2));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn check_program<R: Read>(
    input: R,
    setup: &Setup,
    options: &WrapOptions,
) -> Result<CheckReport, Error> {
    let name = if options.name.is_empty() { "standard input" } else { &options.name };
    let (head, input) = head_of(input).map_err(Error::Input)?;
    match wrapped_for(&head) {
        Some(Ok(wrapped)) => check_wrapped(input, setup, wrapped, options, name),
        Some(Err(message)) => Err(Error::Setting(format!("{name}: {message}"))),
        None => check_flat(input, setup, options, name),
    }
}

/// The first bytes of an input, and the input with them put back.
fn head_of<R: Read>(mut input: R) -> io::Result<(Vec<u8>, impl Read)> {
    let mut head = Vec::new();
    input.by_ref().take(HEAD_BYTES).read_to_end(&mut head)?;
    Ok((head.clone(), io::Cursor::new(head).chain(input)))
}

/// What the first line says a program was wrapped for.
fn wrapped_for(head: &[u8]) -> Option<Result<WrappedFor, String>> {
    let head = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head).trim_ascii_start();
    let line = head.split(|byte| matches!(byte, b'\n' | b'\r')).next()?;
    let comment = line.strip_prefix(b"(")?.trim_ascii_end().strip_suffix(b")")?;
    WrappedFor::parse(comment)
}

/// What a setup says of itself, as a wrapped program would.
fn as_wrapped(setup: &Setup) -> WrappedFor {
    let job = &setup.job;
    WrappedFor {
        blank: setup.blank.name.clone(),
        machine: setup.machine.name.clone(),
        lay: Some(job.lay),
        tilt_rad: job.tilt_rad,
        place: (job.place.at_mm, job.place.turn_rad),
        zero: (job.zero.at_mm, job.zero.turn_rad),
        toward: job.toward,
        focus: job.focus,
        reference_radius_mm: Some(job.reference_radius_mm),
        contact_at_mm: (setup.machine.rotary.drive == Drive::Roller).then_some(job.contact_at_mm),
    }
}

fn plan_error(error: PlanError) -> Error {
    Error::Setting(error.to_string())
}

fn check_flat<R: Read>(
    input: R,
    setup: &Setup,
    options: &WrapOptions,
    name: &str,
) -> Result<CheckReport, Error> {
    let anchor = match setup.job.anchor {
        None | Some(JobAnchor::Drawing) => Anchor::Drawing,
        Some(JobAnchor::Point { u_mm, v_mm }) => Anchor::Point { u_mm, v_mm },
        Some(JobAnchor::Piece) => {
            return Err(Error::Setting(
                "anchor \"piece\" needs art: a program that streams has no pieces; use \
                 \"drawing\" or a point"
                    .into(),
            ));
        }
    };
    // A burn in a zone that is refused must not keep back those behind it: the survey finds it by
    // itself.
    let mut passing = setup.clone();
    if passing.job.zones == ZoneRule::Refuse {
        passing.job.zones = ZoneRule::Ignore;
    }
    let mut survey = Survey::new(setup, as_wrapped(setup), false).map_err(plan_error)?;
    let (facts, summary) = flat::survey(input, &mut survey, &passing, anchor, &options.read, name)?;
    survey.finish();
    let mut findings: Vec<Finding> = facts
        .misfits
        .iter()
        .filter_map(|(misfit, tally)| flat::misfit_finding(misfit, tally))
        .collect();
    flat_findings(setup, &survey, &facts, anchor, &mut findings)?;
    let (slowed, below) = (facts.slowed_power, facts.below_least_power);
    Ok(report(&survey, false, slowed, below, findings, told(&summary), Some))
}

/// What only a flat program shows: distortion, scan lines in the flat plane, what a mask leaves
/// out.
fn flat_findings(
    setup: &Setup,
    survey: &Survey<'_>,
    facts: &FlatFacts,
    anchor: Anchor,
    out: &mut Vec<Finding>,
) -> Result<(), Error> {
    judge::distortion(&facts.angle, &facts.area, None, out);
    let wall = &setup.blank.wall;
    let lay = flat::lay(setup, anchor)?;
    let (u, v) = facts.scan_at;
    let jacobian = lay.jacobian(wall, u, v);
    let radius_mm = lay.map(wall, u, v, &mut 0).section.radius_mm;
    for scan in survey.scan.found() {
        // Across the lines the wall is as much wider than the flat plane as the lay makes it.
        let across = if scan.along_axis { jacobian[1][1] } else { jacobian[0][0] };
        let lines = Lines {
            what: "the program".into(),
            spacing_mm: scan.spacing_mm * across.abs(),
            radius_mm: scan.along_axis.then_some(radius_mm),
        };
        spacing::spacing(setup, &lines, out);
    }
    if facts.masked_mm > 0.0 {
        let message = format!(
            "{} mm of burns lie in zones and are left dark, as the job says",
            fixed(facts.masked_mm, 1)
        );
        out.push(Finding::new(Code::Zone, Severity::Note, message).figures(facts.masked_mm, 0.0));
    }
    Ok(())
}

fn check_wrapped<R: Read>(
    input: R,
    setup: &Setup,
    wrapped: WrappedFor,
    options: &WrapOptions,
    name: &str,
) -> Result<CheckReport, Error> {
    let mut warnings = wrapped.differences(Some(&setup.blank), &setup.machine);
    let mut survey = Survey::new(setup, wrapped, true).map_err(plan_error)?;
    let summary = wrapped::survey(input, &mut survey, &options.read, name)?;
    survey.finish();
    warnings.extend(told(&summary));
    let mut findings = Vec::new();
    wrapped_spacing(&survey, &mut findings);
    Ok(report(&survey, true, 0, 0, findings, warnings, Some))
}

/// Looks at a wrapped program that is in memory.
fn survey_wrapped<'a>(program: &[u8], setup: &'a Setup) -> Result<Survey<'a>, Error> {
    let mut survey = Survey::new(setup, as_wrapped(setup), true).map_err(plan_error)?;
    wrapped::survey(program, &mut survey, &ReadOptions::default(), "the wrapped program")?;
    survey.finish();
    Ok(survey)
}

fn wrapped_spacing(survey: &Survey<'_>, out: &mut Vec<Finding>) {
    for scan in survey.scan.found() {
        let lines = Lines {
            what: "the program".into(),
            spacing_mm: scan.spacing_mm,
            radius_mm: scan.along_axis.then_some(survey.setup.blank.wall.largest_radius_mm()),
        };
        spacing::spacing(survey.setup, &lines, out);
    }
}

fn report(
    survey: &Survey<'_>,
    wrapped: bool,
    slowed_power: u64,
    below_least_power: u64,
    mut findings: Vec<Finding>,
    warnings: Vec<String>,
    keep: impl FnMut(Finding) -> Option<Finding>,
) -> CheckReport {
    let focus = judge::focus(survey);
    let gaps = judge::nozzle_gaps(survey, &focus);
    let mut seen = Vec::new();
    judge::places(survey, &mut seen);
    judge::defocus(survey, &focus, &mut seen);
    judge::clearance(survey, &gaps, &mut seen);
    judge::axes(survey, &mut seen);
    judge::beam(survey, wrapped, slowed_power, below_least_power, &mut seen);
    // What was refused would have burned.
    let refused = findings
        .iter()
        .any(|finding| matches!(finding.code, Code::OffWall | Code::Reach | Code::TravelLimit));
    seen.retain(|finding| finding.code != Code::NothingBurns || !refused);
    findings.extend(seen.into_iter().filter_map(keep));
    CheckReport::new(survey.setup, findings, &gaps, &focus, warnings)
}
