//! Programs written and read back: steps are the same steps, and lie where the lay puts them,
//! whatever the machine's conventions.

use std::convert::Infallible;

use proptest::prelude::*;
use stave_parse::gcode::{self, ReadOptions};
use stave_rig::{AXES, MadeFor, ROTARY, Rig, Z};
use stave_setup::{Along, JobFile, Setup, read_blank, read_machine};
use stave_tests::ware::{BLANKS, MACHINES};
use stave_toolpath::{BeamWord, Corner, PauseWord, Place, Stand, Step, StepKind, StepSink};
use stave_wall::{Anchor, Laid, Lay, LaySetting};
use stave_write::gcode::{Dialect, Writer};

use super::{Finished, Known};
use crate::{Code, Options, Source, wrap};

fn setup(blank: usize, machine: usize, options: &[(&str, String)]) -> Setup {
    let mut job = JobFile::default();
    for (name, value) in options {
        job.set_option(name, value).unwrap();
    }
    let blank = read_blank(BLANKS[blank], "blank.toml").unwrap();
    Setup::new(blank, read_machine(MACHINES[machine], "machine.toml").unwrap(), job).unwrap()
}

/// Steps as they come.
#[derive(Debug, Default)]
struct Record(Vec<Step>);

impl StepSink for Record {
    type Error = Infallible;

    fn step(&mut self, step: &Step) -> Result<(), Infallible> {
        self.0.push(*step);
        Ok(())
    }
}

/// A program of ours as steps, by what its own line 1 says.
fn read(program: &[u8], setup: &Setup) -> Vec<Step> {
    let made_for = MadeFor::of_head(program).unwrap().unwrap();
    assert!(made_for.differences(Some(&setup.blank), &setup.machine).is_empty());
    let known = Known::Wrapped(Rig::new(&setup.blank, &setup.machine, &made_for));
    let mut run = Finished::new(&setup.machine, known, true, false, Record::default());
    gcode::read(program, &ReadOptions::default(), &mut run).unwrap();
    assert_eq!(run.unfinished(true), None);
    run.sink.0
}

/// The flat points as travels, wrapped and read back: where the lay puts each, and where it is
/// found.
fn there_and_back(setup: &Setup, points: &[(f64, f64)]) -> Vec<(Laid, Place)> {
    let along_y = setup.machine.rotary.along == Along::Y;
    let mut flat = String::from("G21 G90\n");
    for (u, v) in points {
        let (x, y) = if along_y { (-v, *u) } else { (*u, *v) };
        flat += &format!("G0 X{x} Y{y}\n");
    }
    let mut text = Vec::new();
    // What does not burn, or strikes the work, has its words all the same.
    let options = Options::allowing([Code::NothingBurns, Code::Clearance]);
    let flat = flat + "M2\n";
    wrap(Source::program(flat.as_bytes()), &mut text, setup, &options).unwrap();
    let steps = read(&text, setup);
    let ends: Vec<Place> = steps
        .iter()
        .filter(|step| step.kind == StepKind::Travel)
        .map(|step| step.to.place.unwrap())
        .collect();
    assert_eq!(ends.len(), points.len());
    let wall = &setup.blank.wall;
    let lay = Lay::new(
        wall,
        LaySetting {
            kind: setup.job.lay,
            origin_s_mm: wall.s_of_at(setup.job.place.at_mm),
            origin_turn_rad: setup.job.place.turn_rad,
            reference_radius_mm: setup.job.reference_radius_mm,
            anchor: Anchor::Drawing,
        },
    )
    .unwrap();
    points.iter().map(|(u, v)| lay.map(wall, *u, *v, &mut 0)).zip(ends).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn every_machine_leads_back_to_the_wall(
        (blank, machine) in (0..4_usize, 0..4_usize),
        lay in prop::sample::select(vec!["even-angle", "true-width", "true-shape"]),
        tilt in -6.0..6.0_f64,
        toward in prop::sample::select(vec!["x+", "x-"]),
        (place, zero) in (0.1..0.9_f64, 0.1..0.9_f64),
        (turn, zero_turn) in (-180.0..180.0_f64, -180.0..180.0_f64),
        points in prop::collection::vec((-40.0..40.0_f64, -60.0..60.0_f64), 2..12),
    ) {
        let (first, last) = read_blank(BLANKS[blank], "b").unwrap().wall.at_range_mm();
        let at = |share: f64| format!("{}", first + share * (last - first));
        let options = [
            ("lay", lay.to_owned()),
            ("tilt", tilt.to_string()),
            ("toward", toward.to_owned()),
            ("place-at", at(place)),
            ("zero-at", at(zero)),
            ("place-turn", turn.to_string()),
            ("zero-turn", zero_turn.to_string()),
        ];
        let mut points = points;
        // No two alike in a row: a travel that moves nothing is not written.
        points.dedup_by(|a, b| (a.0 - b.0).abs() < 0.01 && (a.1 - b.1).abs() < 0.01);
        let setup = setup(blank, machine, &options);
        let made_for = MadeFor::of_setup(&setup);
        let rig = Rig::new(&setup.blank, &setup.machine, &made_for);
        for (laid, found) in there_and_back(&setup, &points) {
            // The words are rounded; on a slope of up to 65 degrees that is up to 2.4 times as much
            // along the wall.
            prop_assert!((laid.s_mm - found.s_mm).abs() < 2e-3, "{laid:?} {found:?}");
            let around = (laid.turn_rad - found.turn_rad).abs() * found.radius_mm;
            prop_assert!(around < 2e-3, "{laid:?} {found:?}");
            prop_assert!((laid.section.radius_mm - found.radius_mm).abs() < 2e-3);
            prop_assert!((laid.section.at_mm - found.at_mm).abs() < 2e-3);
            let length = setup.blank.wall.length_mm();
            if (laid.s_mm.min(length - laid.s_mm)).abs() > 0.01 {
                prop_assert_eq!(rig.on_wall(found.s_mm), laid.s_mm > 0.0 && laid.s_mm < length);
            }
        }
    }
}

/// One thing to do: which, where to in shares of what the words may be, how long, at what power.
type Deed = (u8, [f64; 3], f64, f64);

/// Deeds as steps that a run could have: what burns only under a beam word, dots only under M3, no
/// move that moves nothing.
fn steps_of(deeds: &[Deed], rig: &Rig<'_>, drives_z: bool, on_off: bool) -> Vec<Step> {
    let mut hint = 0;
    let mut stand = |words: [f64; AXES]| Stand { words, place: Some(rig.place(&words, &mut hint)) };
    let mut steps: Vec<Step> = Vec::new();
    let (mut here, mut beam) = (stand([0.0; AXES]), None);
    let still = |kind: StepKind, here: Stand, beam: Option<BeamWord>| Step {
        kind,
        from: here,
        to: here,
        drives_z,
        beam,
        power_s: None,
        time_s: 0.0,
        asked_s: 0.0,
        length_mm: 0.0,
        corner: Corner::Tolerance,
        joined: false,
        even_dose: false,
        line: 0,
        section: 0,
    };
    for (which, to, time_s, power) in deeds {
        // S words have three decimals, dwells six.
        let power = (power * 1e3).round() / 1e3;
        let power_s = (!on_off).then_some(power);
        let first = steps.is_empty();
        // What is on or off alone is switched off before anything dark.
        let dark = |steps: &mut Vec<Step>, beam: &mut Option<BeamWord>, here: Stand| {
            if on_off && beam.take().is_some() {
                steps.push(still(StepKind::Beam, here, None));
            }
        };
        match which {
            0..=4 if beam.is_none() && !first => {
                beam = Some(if which % 2 == 0 { BeamWord::M3 } else { BeamWord::M4 });
                let lit = (!on_off).then_some(0.0);
                steps.push(Step { power_s: lit, ..still(StepKind::Beam, here, beam) });
            }
            5 if beam.is_some() => {
                beam = None;
                steps.push(still(StepKind::Beam, here, None));
            }
            6 if beam == Some(BeamWord::M3) => {
                steps.push(Step { time_s: *time_s, power_s, ..still(StepKind::Dot, here, beam) });
            }
            7 if !first => {
                dark(&mut steps, &mut beam, here);
                steps.push(Step { time_s: *time_s, ..still(StepKind::Dwell, here, beam) });
            }
            8 if !first => {
                dark(&mut steps, &mut beam, here);
                steps.push(still(StepKind::Pause(PauseWord::M0), here, beam));
            }
            _ => {
                let count = |share: f64, most: f64| (share * most / rig.count).round() * rig.count;
                let mut words = [0.0; AXES];
                words[rig.along] = count(to[0], 150.0);
                words[ROTARY] = count(to[1], 700.0);
                words[Z] = if drives_z { count(to[2], 8.0) } else { 0.0 };
                if words == here.words {
                    continue;
                }
                let kind = match which {
                    _ if first => StepKind::Travel,
                    9..=10 => StepKind::Travel,
                    11..=12 => StepKind::Dark,
                    _ if beam.is_some() => StepKind::Burn,
                    _ => StepKind::Dark,
                };
                if kind != StepKind::Burn {
                    dark(&mut steps, &mut beam, here);
                }
                let to = stand(words);
                steps.push(Step {
                    to,
                    power_s: if kind == StepKind::Burn { power_s } else { Some(0.0) },
                    time_s: if kind == StepKind::Travel { 0.0 } else { *time_s },
                    length_mm: rig.wall_mm(&here.words, &to.words, &mut 0),
                    ..still(kind, here, beam)
                });
                here = to;
            }
        }
    }
    steps
}

/// What the bytes can hold of a step: all but the line and section, and what was asked before.
#[track_caller]
fn same(found: &Step, step: &Step) -> Result<(), TestCaseError> {
    prop_assert_eq!(
        (found.kind, found.beam, found.corner, found.joined),
        (step.kind, step.beam, step.corner, step.joined)
    );
    for (found, stand) in [(found.from, step.from), (found.to, step.to)] {
        for axis in 0..AXES {
            prop_assert!((found.words[axis] - stand.words[axis]).abs() < 1e-9);
        }
        let (found, place) = (found.place.unwrap(), stand.place.unwrap());
        prop_assert!((found.s_mm - place.s_mm).abs() < 1e-5, "{found:?} {place:?}");
        prop_assert!((found.turn_rad - place.turn_rad).abs() < 1e-6);
    }
    prop_assert!((found.length_mm - step.length_mm).abs() < 1e-4 + 1e-6 * step.length_mm);
    // F has six figures, P six decimals.
    let slack = 1e-6 + 1e-5 * step.time_s;
    prop_assert!((found.time_s - step.time_s).abs() < slack, "{} {}", found.time_s, step.time_s);
    if step.kind.marks() {
        prop_assert_eq!(found.power_s, step.power_s);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]
    #[test]
    fn what_was_written_reads_back_as_the_same_steps(
        (blank, machine) in (0..4_usize, 0..4_usize),
        (drives_z, on_off, rewind) in (any::<bool>(), any::<bool>(), any::<bool>()),
        tilt in -6.0..6.0_f64,
        deeds in prop::collection::vec(
            (0..20_u8, prop::array::uniform3(-1.0..1.0_f64), 0.01..9.0_f64, 0.001..255.0_f64),
            1..60),
    ) {
        let setup = setup(blank, machine, &[("tilt", format!("{tilt:.6}"))]);
        let rig = Rig::of_setup(&setup);
        let steps = steps_of(&deeds, &rig, drives_z, on_off);
        let mut writer = Writer::new(Vec::new(), Dialect::of(&setup.machine));
        writer.head(&MadeFor::of_setup(&setup).header_with_time(), None).unwrap();
        for step in &steps {
            writer.step(step).unwrap();
        }
        writer.end(rewind).unwrap();
        let program = writer.into_inner().unwrap();
        let text = String::from_utf8_lossy(&program).into_owned();
        // Head and end switch the beam off whatever it is.
        let back = read(&program, &setup);
        let (Some(first), Some(last)) = (back.first(), back.last()) else {
            return Err(TestCaseError::fail("nothing came back"));
        };
        prop_assert_eq!((first.kind, first.beam), (StepKind::Beam, None));
        prop_assert_eq!((last.kind, last.beam), (StepKind::Beam, None));
        let back = &back[1..back.len() - 1];
        prop_assert_eq!(back.len(), steps.len(), "{}", text);
        for (found, step) in back.iter().zip(&steps) {
            same(found, step)?;
        }
    }
}
