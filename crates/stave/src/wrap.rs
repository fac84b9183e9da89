//! `wrap`: a flat program in, a program for the rotary out.

use std::io::{Read, Write};

use stave_check::{Code, Finding, Made, RunFacts, Verdict};
use stave_parse::gcode;
use stave_plan::Nobody;
use stave_rig::MadeFor;
use stave_setup::Setup;
use stave_transform::{Stats, Wrapper};
use stave_write::gcode::{Dialect, Writer};

use crate::check::of_misfit;
use crate::error::{Error, ProgramFault, Refusal};
use crate::estimate::Estimate;
use crate::lays::distortion_as_laid;
use crate::order::END_UNKNOWN;
use crate::report::{PieceAsLaid, WrapReport};
use crate::run::{
    Flat, Hashed, INPUT_WORDS, Misfits, Onlookers, Rescan, RunOut as _, Sections, Seen, Staged,
    in_stages, program_anchor,
};
use crate::set_up::write_head;
use crate::source::{Options, Source};

/// Lays a flat program or a drawing on the setup's blank, and writes the program for its machine to
/// `output`.
///
/// A program streams: memory does not grow with it. The judge looks at every step before it is
/// written, and at all of them at the end. Whatever ends it midway, the output then ends with the
/// beam off and a comment that says why, and has no end word.
///
/// Of a drawing areas are burned by scan lines along the axis, lines along them, what is seen and
/// no more. Nothing is written before all of it is known to fit.
///
/// # Errors
/// [`Error::Program`] where a program is wrong or does not fit, with line, column and a caret; a
/// drawing that cannot be read, or without speed and power; [`Error::NotFit`] for what the judge
/// finds and for what would burn off the wall, out of reach or in a zone; errors of reading and
/// writing.
///
/// ```
/// use stave::{Options, Setup, Source, setup, wrap};
/// # let blank = "[[station]]\nat = 0.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n";
/// # let machine = "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n[rotary]\nword = \"A\"\n\
/// #     units_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n[line]\nspeed = 60.0\npower = 20.0\n";
/// let blank = setup::read_blank(blank, "can.toml")?;
/// let machine = setup::read_machine(machine, "bench.toml")?;
/// let setup = Setup::new(blank, machine, setup::read_job("place = { at = 40.0 }", "job.toml")?)?;
/// let mut program = Vec::new();
/// let square = Source::path("M0 0H20V20H0Z");
/// let report = wrap(square, &mut program, &setup, &Options::default())?;
/// assert!((report.burn_mm - 80.0).abs() < 0.01);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn wrap<W: Write>(
    source: Source<'_>,
    output: W,
    setup: &Setup,
    options: &Options,
) -> Result<WrapReport, Error> {
    match source {
        Source::Program { input, name } => {
            wrap_program(input, output, (setup, setup), options, &name)
        }
        #[cfg(feature = "svg")]
        drawn => crate::wrap_art::wrap_drawn(&drawn, output, setup, options, false),
    }
}

/// Wraps a program for a setup as it is laid under another, which is the same but where a run is
/// to go on past zones: the judge has them then.
///
/// # Errors
/// Those of [`wrap`].
pub(crate) fn wrap_program<W: Write>(
    input: Box<dyn Read + '_>,
    output: W,
    (setup, laid_under): (&Setup, &Setup),
    options: &Options,
    name: &str,
) -> Result<WrapReport, Error> {
    let wrapper = Wrapper::new(laid_under, program_anchor(setup)?)?;
    let mut made_for = MadeFor::of_setup(setup);
    if let Some(stamp) = &options.stamp {
        made_for.stamped(stamp);
    }
    let mut writer = Writer::new(output, Dialect::of(&setup.machine));
    write_head(&mut writer, setup, &made_for.header_with_time())?;
    let onlookers = Onlookers::new(setup, &made_for, Made::Here, Nobody)?;
    let mut input = Hashed::new(input);
    let judged = (onlookers, &options.allow[..]);
    let staged = in_stages(setup, judged, &mut input, &mut writer, |out, input| {
        let modes = (options.read.strict, options.pass);
        let flat = Flat::new(laid_under, wrapper, out, Misfits::Refuse, modes);
        let mut rescan = Rescan::new(flat, options.scan, options.read.strict);
        let read = gcode::read(input, &options.read, &mut rescan);
        let mut run = rescan.flat;
        let summary = read.map_err(|error| Error::of_reading(error, name))?;
        let no_end = run.end_of_input(&summary).map_err(|cut| Error::of_source(name, cut))?;
        run.arrive()?;
        run.out.settle()?;
        let stats = run.wrapper.stats().clone();
        let laid = distortion_as_laid(setup, run.wrapper.lay(), &run.footprint);
        let mut told = told(&summary);
        told.append(&mut run.told);
        told.extend(z_left_out(&stats));
        let mut findings = run.passing.findings();
        findings.extend(no_end);
        Ok(Laid { stats, sections: run.sections, rewind: run.rewind, laid, told, findings })
    })?;
    let Staged { made, onlookers, parted, refused: later } = staged;
    let made = match (later, made) {
        // What was refused on the way is told with all that is found at the end.
        (None | Some(Refusal::Unfit), Ok(made)) => Ok(made),
        (Some(Refusal::Unfit), Err(error)) => {
            let mut findings = onlookers.judge.verdict(&RunFacts::default()).findings;
            findings.extend(misfit_of(&error));
            Err(Error::NotFit(refused(findings, &options.allow)))
        }
        (Some(later), _) => Err(later.into()),
        (None, Err(error)) => Err(error),
    };
    let made = match made {
        Ok(made) => made,
        Err(error) => {
            if !error.is_closed_pipe() {
                writer.break_off(&error.short())?;
            }
            return Err(error);
        }
    };
    let seen = onlookers.end(facts(&made.stats))?;
    let unfit = refused(seen.verdict.findings.clone(), &options.allow);
    if !unfit.is_empty() {
        let error = Error::NotFit(unfit);
        writer.break_off(&error.short())?;
        return Err(error);
    }
    let digest = input.finish().map_err(Error::Input)?;
    writer.comment(format!("{INPUT_WORDS}{digest}").as_bytes())?;
    if options.stamp.is_some() {
        writer.comment(END_UNKNOWN.as_bytes())?;
    }
    writer.end(made.rewind)?;
    let count = setup.machine.controller.count();
    let mut report = WrapReport::of(&made.stats, count, made.told);
    report.moves_out += parted;
    report.estimate = Some(Estimate::of(name, &seen.times, &made.sections, &setup.machine, true));
    report.judged(&seen);
    report.findings.extend(made.findings);
    if let Some((piece, finding)) = made.laid {
        report.as_laid.push(piece);
        report.findings.extend(finding);
    }
    Ok(report)
}

/// What keeps a move from being laid, where that is what ended a program, as a finding.
fn misfit_of(error: &Error) -> Option<Finding> {
    let Error::Program(program) = error else { return None };
    let ProgramFault::Misfit(misfit) = &program.fault else { return None };
    Some(of_misfit(misfit, "").on_line(program.line))
}

/// What is known of a flat program once it was laid.
struct Laid {
    stats: Stats,
    sections: Sections,
    /// True where the program ends with M30.
    rewind: bool,
    laid: Option<(PieceAsLaid, Option<Finding>)>,
    told: Vec<String>,
    findings: Vec<Finding>,
}

/// What is told of heights that the machine has no axis for.
pub(crate) fn z_left_out(stats: &Stats) -> Option<String> {
    let told = "the program goes to heights (Z words), and they are left out: the machine file has \
                no `[z]`";
    stats.z_left_out.then(|| told.to_owned())
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
    findings.into_iter().filter(|finding| finding.refuses(allow)).collect()
}

impl WrapReport {
    /// Takes in what the judge and the clock saw.
    pub(crate) fn judged<F>(&mut self, seen: &Seen<F>) {
        let Verdict { findings, told, focus, .. } = &seen.verdict;
        self.findings.extend(findings.iter().cloned());
        self.warnings.extend(told.iter().cloned());
        self.focus_at = Some(focus.place.at_mm + 0.0);
        self.focus_turn_deg = focus.place.turn_deg();
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
