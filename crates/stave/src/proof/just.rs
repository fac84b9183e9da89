//! The program of a drawing or of a flat program that is wrapped to be shown, fit or not.

use std::io;
use std::panic::resume_unwind;
use std::sync::mpsc::channel;
use std::thread::{Builder, scope};

use stave_check::{Code, Finding};
use stave_setup::Setup;

use super::{Made, Proof, ProofOptions, of_program};
use crate::check::past_zones;
use crate::error::Error;
use crate::run::{OwnNames, open};
use crate::source::{Options, Source};
use crate::wrap::wrap_program;

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
    /// The texts of a drawing; `None` for a program.
    pub(super) texts: Option<Vec<String>>,
}

impl JustWrapped {
    fn of(report: crate::WrapReport, is_program: bool) -> Self {
        let omegas = report.as_laid.iter().filter_map(|piece| piece.figures.omega_max_deg);
        let spacings = || report.operations.iter().filter_map(|operation| operation.spacing_mm);
        #[cfg(feature = "svg")]
        let texts = report.words;
        #[cfg(not(feature = "svg"))]
        let texts = Vec::new();
        Self {
            omega_rad: omegas.reduce(f64::max).map(f64::to_radians),
            spacing_mm: spacings().reduce(f64::min).zip(spacings().reduce(f64::max)),
            findings: report.findings,
            warnings: report.warnings,
            own_names: report.own_names,
            texts: (!is_program).then_some(texts),
        }
    }
}

/// What is shown, and how.
#[derive(Clone, Copy)]
pub(super) struct Shown<'a> {
    pub(super) setup: &'a Setup,
    pub(super) options: &'a Options,
    pub(super) how: &'a ProofOptions,
}

/// Wraps a source and shows it, whatever is wrong with it that has a place to be shown at: what
/// lies in a zone is planned as if there were none, and told.
///
/// # Errors
/// Those of [`super::proof`].
pub(super) fn shown(source: Source<'_>, on: Shown<'_>) -> Result<Proof, Error> {
    let name = source.name().to_owned();
    let all = Options { allow: Code::ALL.to_vec(), ..on.options.clone() };
    match source {
        Source::Program { input, .. } => {
            let passing = past_zones(on.setup);
            as_it_is_wrapped(&name, on, true, Vec::new(), |out| {
                wrap_program(input, out, (on.setup, &passing), &all, &name)
            })
        }
        #[cfg(feature = "svg")]
        drawn => {
            let wrapped = |setup: &Setup, found| {
                as_it_is_wrapped(&name, on, false, found, |out| {
                    crate::wrap_art::wrap_drawn(&drawn, out, setup, &all, true)
                })
            };
            match wrapped(on.setup, Vec::new()) {
                Err(Error::NotFit(found)) if found.iter().all(|one| one.code == Code::Zone) => {
                    let mut passing = on.setup.clone();
                    passing.job.zones = stave_setup::ZoneRule::Ignore;
                    wrapped(&passing, found)
                }
                other => other,
            }
        }
    }
}

/// Shows a program as it is wrapped: neither it nor what it is made from is held. `found` is put
/// before what the wrap finds.
fn as_it_is_wrapped(
    name: &str,
    on: Shown<'_>,
    is_program: bool,
    mut found: Vec<Finding>,
    wrap: impl FnOnce(io::PipeWriter) -> Result<crate::WrapReport, Error>,
) -> Result<Proof, Error> {
    let (reads, writes) = io::pipe().map_err(Error::Thread)?;
    let (tell, told) = channel();
    scope(|scope| {
        let shown = Builder::new().spawn_scoped(scope, move || {
            let (line_one, input) = open(reads, name)?;
            let just = move || told.recv().ok();
            of_program(input, on, Made { name, line_one, just })
        });
        let shown = shown.map_err(Error::Thread)?;
        let wrapped = wrap(writes);
        let fault = match wrapped {
            Ok(mut report) => {
                found.append(&mut report.findings);
                report.findings = found;
                // Whoever shows it may have ended already, and says why.
                let _ = tell.send(JustWrapped::of(report, is_program));
                None
            }
            // Nobody reads on: why, whoever shows it says.
            Err(error) if error.is_closed_pipe() => None,
            Err(error) => Some(error),
        };
        drop(tell);
        let shown = shown.join().unwrap_or_else(|panic| resume_unwind(panic));
        fault.map_or(shown, Err)
    })
}
