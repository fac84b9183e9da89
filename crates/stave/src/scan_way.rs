//! Which way scan lines run where an operation leaves it open.
//!
//! Both ways are planned and timed as they would be burned: the figures are the planner's own.

use std::convert::Infallible;

use stave_plan::{Nobody, Timer};
use stave_rig::{AXES, Meant, Rig};
use stave_setup::{Scan, Setup};
use stave_toolpath::{Step, StepSink, clock};
use stave_transform::{ArtSink, BurnOperation, Burns, ScanWay, plan_art};

use crate::layout::PlacedOperation;
use crate::run::Times;

/// What was found of an operation whose lines may run either way.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Settled {
    pub(crate) taken: ScanWay,
    /// Along the axis and around; `None` where it cannot be burned so.
    pub(crate) along: Option<Tried>,
    pub(crate) around: Option<Tried>,
}

/// What burning once came to.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Tried {
    pub(crate) takes_s: f64,
    /// Whether all axes keep within their ends, and come up to speed before they burn.
    pub(crate) is_within: bool,
}

impl Settled {
    fn of(along: Option<Tried>, around: Option<Tried>) -> Self {
        // What keeps within the ends comes before what is sooner; what is even runs along.
        let rank = |tried: Option<Tried>| match tried {
            Some(tried) => (!tried.is_within, tried.takes_s),
            None => (true, f64::INFINITY),
        };
        let is_around = rank(around) < rank(along);
        let taken = if is_around { ScanWay::Around } else { ScanWay::Along };
        Self { taken, along, around }
    }

    /// What is to be said of it.
    pub(crate) fn sentence(&self, name: &str) -> String {
        let (taken, other) = match self.taken {
            ScanWay::Along => ((self.along, "along the axis"), (self.around, "around the work")),
            ScanWay::Around => ((self.around, "around the work"), (self.along, "along the axis")),
        };
        let takes = |tried: Tried| clock(tried.takes_s);
        let why = match (taken.0, other.0) {
            (Some(one), Some(two)) if one.is_within && !two.is_within => format!(
                ": it takes {} a pass, and {} the axes come to their ends",
                takes(one),
                other.1
            ),
            (Some(one), Some(two)) => {
                format!(": it takes {} a pass, {} {}", takes(one), other.1, takes(two))
            }
            _ => String::new(),
        };
        format!("operation \"{name}\" is scanned {}{why}", taken.1)
    }
}

/// Settles the way of every operation of `burns` that leaves it open; what was found of each.
pub(crate) fn settle(
    burns: &mut Burns<'_>,
    placed: &[PlacedOperation],
    setup: &Setup,
) -> Vec<Option<Settled>> {
    let mut all = Vec::with_capacity(placed.len());
    for (number, operation) in placed.iter().enumerate() {
        let is_open = operation.scan == Scan::Auto && burns.operations.get(number).is_some();
        let found = is_open.then(|| {
            let way = |scan| tried(burns, number, scan, setup);
            Settled::of(way(ScanWay::Along), way(ScanWay::Around))
        });
        if let (Some(found), Some(operation)) = (&found, burns.operations.get_mut(number)) {
            operation.scan = found.taken;
        }
        all.push(found);
    }
    all
}

/// Burns one operation once, to nowhere.
fn tried(burns: &Burns<'_>, number: usize, scan: ScanWay, setup: &Setup) -> Option<Tried> {
    let operation = burns.operations.get(number)?;
    let once = BurnOperation { scan, passes: 1, ..operation.clone() };
    let alone = Burns { operations: vec![once], ..burns.clone() };
    let plan = plan_art(&alone, setup).ok()?;
    let rig = Rig::of_setup(setup);
    let count = rig.count;
    let ends = std::array::from_fn(|axis| {
        let limits = rig.limits(axis);
        (
            limits.min.unwrap_or(f64::NEG_INFINITY) - count,
            limits.max.unwrap_or(f64::INFINITY) + count,
        )
    });
    let timer = Timer::new(&setup.machine, true, Nobody).ok()?;
    let mut run = Run { timer, ends, is_within: true };
    let burned = plan.burn(&mut run).ok()?;
    let (times, _) = Times::of(run.timer).ok()?;
    let takes_s = times.sections.iter().map(|section| section.totals.duration_s()).sum();
    Some(Tried { takes_s, is_within: run.is_within && burned.short_run_ups == 0 })
}

/// The clock of a run, and whether it keeps within the axes' ends.
struct Run {
    timer: Timer<Nobody>,
    ends: [(f64, f64); AXES],
    is_within: bool,
}

impl StepSink for Run {
    type Error = Infallible;

    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        let words = step.to.words.iter().zip(&self.ends);
        self.is_within &= words.clone().all(|(word, (min, max))| word >= min && word <= max);
        self.timer.step(step)
    }
}

impl ArtSink for Run {
    fn operation(&mut self, _: usize, _: u32, _: &Meant) -> Result<(), Infallible> {
        Ok(())
    }

    fn pieces(&mut self, _: &[usize]) -> Result<u32, Infallible> {
        Ok(0)
    }

    fn word(&mut self, _: &str) -> Result<(), Infallible> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_keeps_within_the_ends_comes_first_then_what_is_sooner() {
        let tried = |takes_s, is_within| Some(Tried { takes_s, is_within });
        let taken = |along, around| Settled::of(along, around).taken;
        assert_eq!(taken(tried(9.0, true), tried(5.0, true)), ScanWay::Around);
        assert_eq!(taken(tried(9.0, true), tried(5.0, false)), ScanWay::Along);
        assert_eq!(taken(tried(9.0, false), tried(50.0, true)), ScanWay::Around);
        assert_eq!(taken(tried(9.0, false), tried(5.0, false)), ScanWay::Around);
        assert_eq!(taken(tried(9.0, true), tried(9.0, true)), ScanWay::Along);
        assert_eq!(taken(None, None), ScanWay::Along);
        assert_eq!(taken(None, tried(9.0, false)), ScanWay::Around);
    }
}
