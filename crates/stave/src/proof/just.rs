//! The program of a drawing or of a flat program that is wrapped to be shown, fit or not.

use stave_check::{Code, Finding};
use stave_rig::Misfit;
use stave_setup::{Setup, ZoneRule};

use crate::check::check;
use crate::error::{Error, ProgramFault};
use crate::run::{Held, OwnNames};
use crate::source::{Options, Source};
use crate::wrap::wrap;

/// What wrapping a program told of it, that the program alone does not.
pub(super) struct JustWrapped {
    pub(super) findings: Vec<Finding>,
    /// The greatest error of an angle, rad.
    pub(super) omega_rad: Option<f64>,
    /// The least and the greatest spacing of scan lines on the wall, mm.
    pub(super) spacing_mm: Option<(f64, f64)>,
    /// What a person should know, a sentence each.
    pub(super) warnings: Vec<String>,
    /// What its sections are called in the drawing.
    pub(super) own_names: OwnNames,
}

impl JustWrapped {
    pub(super) fn of(report: crate::WrapReport) -> Self {
        let omegas = report.as_laid.iter().filter_map(|piece| piece.figures.omega_max_deg);
        let spacings = || report.operations.iter().filter_map(|operation| operation.spacing_mm);
        Self {
            omega_rad: omegas.reduce(f64::max).map(f64::to_radians),
            spacing_mm: spacings().reduce(f64::min).zip(spacings().reduce(f64::max)),
            findings: report.findings,
            warnings: report.warnings,
            own_names: report.own_names,
        }
    }
}

/// Wraps a source, whatever is wrong with it that has a place to be shown at: what lies in a zone
/// is planned as if there were none, and told.
pub(super) fn wrapped(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
) -> Result<(Held, crate::WrapReport), Error> {
    match source {
        Source::Program { mut input, name } => {
            let mut held = Held::default();
            std::io::copy(&mut input, &mut held).map_err(Error::Input)?;
            let anew = || Source::program(&held.0[..]).named(&*name);
            past_zones(
                setup,
                options,
                |setup, options, out| wrap(anew(), out, setup, options),
                || {
                    let found = check(anew(), setup, options)?.findings;
                    Ok(found.into_iter().filter(|finding| finding.code == Code::Zone).collect())
                },
            )
        }
        #[cfg(feature = "svg")]
        drawn => {
            let wrap = |setup: &Setup, options: &Options, out: &mut Held| {
                crate::wrap_art::wrap_drawn(&drawn, out, setup, options, true)
            };
            past_zones(setup, options, wrap, || Ok(Vec::new()))
        }
    }
}

/// Wraps with all accepted; where zones alone refuse, as if there were none, with what `in_zones`
/// finds where the refusal does not tell all of it.
fn past_zones(
    setup: &Setup,
    options: &Options,
    wrap: impl Fn(&Setup, &Options, &mut Held) -> Result<crate::WrapReport, Error>,
    in_zones: impl Fn() -> Result<Vec<Finding>, Error>,
) -> Result<(Held, crate::WrapReport), Error> {
    let all = Options { allow: Code::ALL.to_vec(), ..options.clone() };
    let mut program = Held::default();
    let mut findings = match wrap(setup, &all, &mut program) {
        Ok(report) => return Ok((program, report)),
        Err(Error::NotFit(found)) if found.iter().all(|one| one.code == Code::Zone) => found,
        Err(Error::Program(one))
            if matches!(one.fault, ProgramFault::Misfit(Misfit::Zone { .. })) =>
        {
            in_zones()?
        }
        Err(error) => return Err(error),
    };
    let mut passing = setup.clone();
    passing.job.zones = ZoneRule::Ignore;
    let mut program = Held::default();
    let mut report = wrap(&passing, &all, &mut program)?;
    findings.append(&mut report.findings);
    report.findings = findings;
    Ok((program, report))
}
