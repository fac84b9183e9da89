//! A dialect of one's own: the words of a controller that Stave does not write.
//!
//! This one has a word of its own for the beam, `L` with percent of full power, takes seconds for a
//! move as `T`, and calls the rotary `R`, in turns. The steps are what `wrap` would write; only the
//! words differ.
//!
//! `cargo run --example dialect BLANK MACHINE < flat.nc`

use std::error::Error;
use std::io::{self, Read, Write, stdin, stdout};

use stave::number::fixed;
use stave::{Options, Rig, Setup, Source, Step, StepKind, setup, steps};

/// One step as a line.
pub(crate) fn line(step: &Step, rig: &Rig<'_>, setup: &Setup) -> Option<String> {
    let along = step.to.words.get(rig.along).copied()?;
    let units = step.to.words.get(stave::ROTARY).copied()?;
    let turns = fixed(units / setup.machine.rotary.units_per_turn, 6);
    let full = setup.machine.controller.full_power_s;
    let place = format!("P{} R{turns}", fixed(along, 4));
    match step.kind {
        StepKind::Burn => {
            let percent = step.power_s.map_or(100.0, |s| 100.0 * s / full);
            Some(format!("B {place} T{} L{}", fixed(step.time_s, 6), fixed(percent, 2)))
        }
        StepKind::Dark => Some(format!("D {place} T{}", fixed(step.time_s, 6))),
        StepKind::Travel => Some(format!("J {place}")),
        StepKind::Dwell => Some(format!("W T{}", fixed(step.time_s, 6))),
        StepKind::Pause(_) => Some("HOLD".to_owned()),
        _ => None,
    }
}

pub(crate) fn write(
    flat: impl Read,
    setup: &Setup,
    mut output: impl Write,
) -> Result<(), stave::Error> {
    let rig = Rig::of_setup(setup);
    steps(Source::program(flat), setup, &Options::default(), |step| match line(step, &rig, setup) {
        Some(line) => writeln!(output, "{line}"),
        None => io::Result::Ok(()),
    })
}

#[allow(dead_code, reason = "the tests call what it calls")]
fn main() -> Result<(), Box<dyn Error>> {
    let mut files = std::env::args().skip(1).map(std::fs::read_to_string);
    let (Some(blank), Some(machine)) = (files.next(), files.next()) else {
        return Err("give BLANK and MACHINE".into());
    };
    let blank = setup::read_blank(&blank?, "blank")?;
    let machine = setup::read_machine(&machine?, "machine")?;
    let setup = Setup::new(blank, machine, setup::JobFile::default())?;
    Ok(write(stdin(), &setup, stdout())?)
}
