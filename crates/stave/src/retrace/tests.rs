//! Wrapped programs read back: what lands where the lay says, whatever the machine's conventions.

use proptest::prelude::*;
use stave_parse::gcode::{self, Sink};
use stave_setup::{JobFile, Setup, read_blank, read_machine};
use stave_toolpath::Event;
use stave_wall::{Anchor, Lay, LaySetting};

use super::*;
use crate::{ReadOptions, WrapOptions, wrap_gcode};

const BLANKS: [&str; 4] = [
    include_str!("../../../../fixtures/blanks/bottle.toml"),
    include_str!("../../../../fixtures/blanks/cup.toml"),
    include_str!("../../../../fixtures/blanks/ornament.toml"),
    include_str!("../../../../fixtures/blanks/tumbler.toml"),
];
const MACHINES: [&str; 4] = [
    include_str!("../../../../fixtures/machines/degrees.toml"),
    include_str!("../../../../fixtures/machines/along-y.toml"),
    include_str!("../../../../fixtures/machines/roller.toml"),
    include_str!("../../../../fixtures/machines/swapped.toml"),
];

/// The ends of a program's moves, and what its line 1 says.
#[derive(Default)]
struct Ends {
    travels: Vec<Position>,
    wrapped: Option<WrappedFor>,
}

impl Sink for Ends {
    type Error = String;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), String> {
        match event {
            Event::Travel { to, .. } => self.travels.push(**to),
            Event::Comment { text } if self.wrapped.is_none() => {
                self.wrapped = WrappedFor::parse(text).transpose()?;
            }
            _ => {}
        }
        Ok(())
    }
}

fn setup(blank: usize, machine: usize, options: &[(&str, String)]) -> Setup {
    let mut job = JobFile::default();
    for (name, value) in options {
        job.set_option(name, value).unwrap();
    }
    let blank = read_blank(BLANKS[blank], "blank.toml").unwrap();
    Setup::new(blank, read_machine(MACHINES[machine], "machine.toml").unwrap(), job).unwrap()
}

/// The flat points as travels, wrapped and read back: what each was, where the lay puts it, where
/// it is found.
fn there_and_back(setup: &Setup, points: &[(f64, f64)]) -> Vec<(stave_wall::Laid, WallPoint)> {
    let along_y = setup.machine.rotary.along == Along::Y;
    let mut flat = String::from("G21 G90\n");
    for (u, v) in points {
        let (x, y) = if along_y { (-v, *u) } else { (*u, *v) };
        flat += &format!("G0 X{x} Y{y}\n");
    }
    let mut text = Vec::new();
    wrap_gcode(flat.as_bytes(), &mut text, setup, &WrapOptions::default()).unwrap();
    let mut ends = Ends::default();
    gcode::read(&text[..], &ReadOptions::default(), &mut ends).unwrap();
    assert_eq!(ends.travels.len(), points.len());
    let wrapped = ends.wrapped.unwrap();
    assert!(wrapped.differences(Some(&setup.blank), &setup.machine).is_empty());
    let retrace = Retrace::new(&setup.blank, &setup.machine, &wrapped);
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
    let mut hint = 0;
    let ends = ends.travels.iter().map(|position| retrace.wall_point(position, &mut hint));
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
        for (laid, found) in there_and_back(&setup, &points) {
            // The words are rounded; on a slope of up to 65 degrees that is up to 2.4 times as much
            // along the wall.
            prop_assert!((laid.s_mm - found.s_mm).abs() < 2e-3, "{laid:?} {found:?}");
            prop_assert!((laid.turn_rad - found.turn_rad).abs() * found.radius_mm < 2e-3, "{laid:?} {found:?}");
            prop_assert!((laid.section.radius_mm - found.radius_mm).abs() < 2e-3);
            prop_assert!((laid.section.at_mm - found.at_mm).abs() < 2e-3);
            let length = setup.blank.wall.length_mm();
            if (laid.s_mm.min(length - laid.s_mm)).abs() > 0.01 {
                prop_assert_eq!(found.on_wall, laid.s_mm > 0.0 && laid.s_mm < length);
            }
        }
    }

    #[test]
    fn the_length_of_a_move_is_that_of_its_parts(
        (blank, machine) in (0..4_usize, 0..4_usize),
        (tilt, from, to) in (-6.0..6.0_f64, -10.0..180.0_f64, -10.0..180.0_f64),
        turn in -200.0..200.0_f64,
    ) {
        let setup = setup(blank, machine, &[("tilt", tilt.to_string())]);
        let wrapped = WrappedFor {
            tilt_rad: tilt.to_radians(),
            ..WrappedFor::assumed(&setup.blank, &setup.machine)
        };
        let retrace = Retrace::new(&setup.blank, &setup.machine, &wrapped);
        let at = |t: f64| {
            let (along, rotary) = (from + (to - from) * t, turn * t);
            let mut p = Position::default();
            *(if setup.machine.rotary.along == Along::X { &mut p.x } else { &mut p.y }) = along;
            match setup.machine.rotary.word {
                RotaryWord::A => p.a = rotary,
                RotaryWord::B => p.b = rotary,
                RotaryWord::C => p.c = rotary,
                RotaryWord::Y => p.y = rotary,
            }
            p
        };
        let whole = retrace.wall_mm(&at(0.0), &at(1.0), &mut 0);
        // By chords in space that follow the wall closely.
        let point = |t: f64| {
            let p = retrace.wall_point(&at(t), &mut 0);
            let (sin, cos) = p.turn_rad.sin_cos();
            [p.at_mm, p.radius_mm * cos, p.radius_mm * sin]
        };
        let parts = 20_000_u32;
        let mut sum = 0.0;
        let mut before = point(0.0);
        for k in 1..=parts {
            let next = point(f64::from(k) / f64::from(parts));
            let d = [next[0] - before[0], next[1] - before[1], next[2] - before[2]];
            sum += (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt();
            before = next;
        }
        prop_assert!((whole - sum).abs() < 1e-4 * sum + 1e-3, "{whole} {sum}");
    }
}

#[test]
fn a_wall_too_steep_for_one_place_shows_its_uppermost() {
    // A shoulder of 80 degrees, tilted 15 degrees over: X runs back along it.
    let blank = "[[station]]\nat = 0\ndiameter = 40\n[[station]]\nat = 50\ndiameter = 40\n\
                 [[station]]\nat = 53\ndiameter = 74\n[[station]]\nat = 100\ndiameter = 74\n";
    let blank = read_blank(blank, "b").unwrap();
    let machine = read_machine(MACHINES[0], "m").unwrap();
    let wrapped =
        WrappedFor { tilt_rad: 15_f64.to_radians(), ..WrappedFor::assumed(&blank, &machine) };
    let retrace = Retrace::new(&blank, &machine, &wrapped);
    let crest = Crest::new(wrapped.tilt_rad);
    let wall = &blank.wall;
    let x_zero = crest.along_mm(&wall.section(0.0, &mut 0));
    // Just before the foot of the shoulder, under its overhang: the beam meets the body above.
    let hidden = wall.section(wall.s_of_at(49.0), &mut 0);
    let x = crest.along_mm(&hidden) - x_zero;
    let met = retrace.wall_point(&Position { x, ..Position::default() }, &mut 0);
    assert!(met.at_mm > 52.0, "{met:?}");
    let section = wall.section(met.s_mm, &mut 0);
    assert!((crest.along_mm(&section) - x_zero - x).abs() < 1e-9);
    assert!(crest.height_mm(&section) > crest.height_mm(&hidden));
}

#[test]
fn a_first_line_that_cannot_be_meant_is_told() {
    let told = |line: &str| WrappedFor::parse(line.as_bytes()).unwrap().unwrap_err();
    assert_eq!(told("stave wrapped 1 blank=mug"), "line 1 does not say tilt=…");
    let line = "stave wrapped 1 tilt=x place=0,0 zero=0,0";
    assert_eq!(told(line), "line 1 says tilt=x, which cannot be meant");
    assert_eq!(
        told("stave wrapped 1 tilt=95 place=0,0 zero=0,0"),
        "line 1 says tilt=95, which cannot be meant"
    );
    assert_eq!(
        told("stave wrapped 1 tilt=0 place=0 zero=0,0"),
        "line 1 says place=0, which cannot be meant"
    );
}
