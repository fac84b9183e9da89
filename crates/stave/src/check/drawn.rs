//! A drawing checked.

use stave_check::{Code, Finding, Made, RunFacts, Verdict};
use stave_plan::Nobody;
use stave_rig::MadeFor;
use stave_setup::Setup;
use stave_transform::{Halt, plan_art};

use super::{CheckReport, past_zones};
use crate::error::{Error, PlacedMisfit};
use crate::judged_operation::judge_operation;
use crate::layout::{Layout, Purpose};
use crate::lays::as_laid;
use crate::nothing;
use crate::run::{Onlookers, Paced, Quiet, RunOut as _};
use crate::source::{Options, Source};
use crate::wrap::facts;
use crate::wrap_art::{ArtRun, of_hit, of_pieces, settled};

/// Checks a drawing: what keeps a piece from being laid is told for each; where all can be laid,
/// the program it makes is judged as any other.
pub(crate) fn check_drawn(
    source: &Source<'_>,
    setup: &Setup,
    options: &Options,
) -> Result<CheckReport, Error> {
    let layout = Layout::read(source, setup, options, Purpose::Burn)?;
    let folds = layout.folds(&setup.blank.wall);
    let folded = !folds.is_empty();
    let (burns, ways) = settled(&layout, source, setup);
    let hits = if folded { Vec::new() } else { plan_art(&burns, setup).err().unwrap_or_default() };
    let mut findings: Vec<Finding> =
        hits.iter().map(|hit| of_hit(hit, &layout, &setup.blank.wall)).collect();
    findings.extend(folds);
    findings.extend(layout.findings.iter().cloned());
    findings.extend(as_laid(&layout, setup).findings);
    let mut warnings = layout.warnings.clone();
    for (operation, way) in layout.operations.iter().zip(&ways) {
        warnings.extend(way.as_ref().map(|way| way.sentence(&operation.name)));
    }
    let onlookers = Onlookers::new(setup, &MadeFor::of_setup(setup), Made::Here, Nobody)?;
    // A burn in a zone need not keep back what else is to be found.
    let passing = past_zones(setup);
    let plan = if folded { None } else { plan_art(&burns, &passing).ok() };
    let Some(plan) = plan else {
        let verdict =
            Verdict { findings, told: Vec::new(), ..onlookers.end(RunFacts::default())?.verdict };
        return Ok(CheckReport::new(setup, verdict, &options.allow, warnings));
    };
    let mut run = ArtRun::new(&layout, Paced::new(setup, Quiet(onlookers))?);
    let burned = plan.burn(&mut run).map_err(|halt| match halt {
        Halt::Misfit(misfit) => PlacedMisfit::of_run(misfit),
        Halt::Sink(refusal) => refusal.into(),
    })?;
    run.out.settle()?;
    let ArtRun { out, pieces, .. } = run;
    let known = RunFacts { spacing_known: true, ..facts(&burned.stats) };
    let mut verdict = out.out.0.end(known)?.verdict;
    of_pieces(&mut verdict.findings, &pieces, &layout);
    for (operation, figures) in layout.operations.iter().zip(&burned.operations) {
        judge_operation(operation, figures, &layout, setup, &mut verdict);
    }
    nothing::tell(&mut verdict.findings, &layout, &burned.operations, source, setup);
    if findings.iter().any(|finding| finding.code == Code::NothingBurns) {
        verdict.findings.retain(|finding| finding.code != Code::NothingBurns);
    }
    let zones_told = findings.iter().any(|finding| finding.code == Code::Zone);
    verdict.findings.retain(|found| found.code != Code::Zone || !zones_told);
    verdict.findings.extend(findings);
    let mut report = CheckReport::new(setup, verdict, &options.allow, warnings);
    report.nozzles.iter_mut().for_each(|nozzle| nozzle.line = None);
    Ok(report)
}
