//! Words lead back to the wall, and line 1 to what a program was made for.

// A panic in a test's helper is a failed test.
#![allow(clippy::unwrap_used)]

use proptest::prelude::*;
use stave_rig::{AXES, FocusAt, Header, MadeFor, ROTARY, Rig, Stamp, Swatch};
use stave_setup::{
    Along, Drive, FocusMode, JobFile, RotaryWord, Setup, Toward, read_blank, read_machine,
};
use stave_tests::ware::{BLANKS, MACHINES};
use stave_toolpath::Position;
use stave_wall::{Crest, LayKind};

fn setup(blank: usize, machine: usize, options: &[(&str, String)]) -> Setup {
    let mut job = JobFile::default();
    for (name, value) in options {
        job.set_option(name, value).unwrap();
    }
    let blank = read_blank(BLANKS[blank], "blank.toml").unwrap();
    Setup::new(blank, read_machine(MACHINES[machine], "machine.toml").unwrap(), job).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_length_of_a_move_is_that_of_its_parts(
        (blank, machine) in (0..4_usize, 0..4_usize),
        (tilt, from, to) in (-6.0..6.0_f64, -10.0..180.0_f64, -10.0..180.0_f64),
        turn in -200.0..200.0_f64,
    ) {
        let setup = setup(blank, machine, &[("tilt", tilt.to_string())]);
        let made_for = MadeFor {
            tilt_rad: tilt.to_radians(),
            ..MadeFor::assumed(&setup.blank, &setup.machine)
        };
        let rig = Rig::new(&setup.blank, &setup.machine, &made_for);
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
            rig.words_of(&p)
        };
        let whole = rig.wall_mm(&at(0.0), &at(1.0), &mut 0);
        // By chords in space that follow the wall closely.
        let point = |t: f64| {
            let p = rig.place(&at(t), &mut 0);
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

    /// Without rounding the way there and back ends where it began, whatever the conventions.
    #[test]
    fn words_lead_back_where_they_came_from(
        (blank, machine) in (0..4_usize, 0..4_usize),
        tilt in -6.0..6.0_f64,
        toward in prop::sample::select(vec!["x+", "x-"]),
        (along, rotary) in (-300.0..300.0_f64, -900.0..900.0_f64),
    ) {
        let setup = setup(blank, machine, &[("tilt", tilt.to_string()), ("toward", toward.into())]);
        let rig = Rig::of_setup(&setup);
        let mut words = [0.0; AXES];
        (words[rig.along], words[ROTARY]) = (along, rotary);
        let (back_along, back_rotary) = rig.to_words(rig.rail_mm(&words), rig.turn_rad(&words));
        prop_assert!((back_along - along).abs() < 1e-9 && (back_rotary - rotary).abs() < 1e-9);
        let place = rig.place(&words, &mut 0);
        let wall = &setup.blank.wall;
        if place.s_mm > 0.0 && place.s_mm < wall.length_mm() {
            let section = wall.section(place.s_mm, &mut 0);
            prop_assert!((rig.along_mm(&section) - rig.rail_mm(&words)).abs() < 1e-6);
        }
        // To the rounding of the words, two counts.
        let (length, slack) = (wall.length_mm(), 3.0 * rig.count);
        if place.s_mm > 0.0 && place.s_mm < length {
            prop_assert!(rig.on_wall(place.s_mm));
        } else if place.s_mm < -slack || place.s_mm > length + slack {
            prop_assert!(!rig.on_wall(place.s_mm));
        }
    }
}

#[test]
fn a_wall_too_steep_for_one_place_shows_its_uppermost() {
    // A shoulder of 80 degrees, tilted 15 degrees over: X runs back along it.
    let blank = "[[station]]\nat = 0\ndiameter = 40\n[[station]]\nat = 50\ndiameter = 40\n\
                 [[station]]\nat = 53\ndiameter = 74\n[[station]]\nat = 100\ndiameter = 74\n";
    let blank = read_blank(blank, "b").unwrap();
    let machine = read_machine(MACHINES[0], "m").unwrap();
    let made_for = MadeFor { tilt_rad: 15_f64.to_radians(), ..MadeFor::assumed(&blank, &machine) };
    let rig = Rig::new(&blank, &machine, &made_for);
    let crest = Crest::new(made_for.tilt_rad);
    let wall = &blank.wall;
    let x_zero = crest.along_mm(&wall.section(0.0, &mut 0));
    // Just before the foot of the shoulder, under its overhang: the beam meets the body above.
    let hidden = wall.section(wall.s_of_at(49.0), &mut 0);
    let x = crest.along_mm(&hidden) - x_zero;
    let met = rig.place(&[x, 0.0, 0.0, 0.0], &mut 0);
    assert!(met.at_mm > 52.0, "{met:?}");
    let section = wall.section(met.s_mm, &mut 0);
    assert!((crest.along_mm(&section) - x_zero - x).abs() < 1e-9);
    assert!(crest.height_mm(&section) > crest.height_mm(&hidden));
}

#[test]
fn a_first_line_that_cannot_be_meant_is_told() {
    let told = |line: &str| MadeFor::parse(line.as_bytes()).unwrap().unwrap_err();
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
    for word in [
        "toward=up",
        "focus=near",
        "focus_height=NaN",
        "contact_at=",
        "held_at=x",
        "swatch=cube",
        "tilt=-inf",
    ] {
        let line = format!("stave wrapped 1 {word} tilt=0 place=0,0 zero=0,0");
        assert_eq!(told(&line), format!("line 1 says {word}, which cannot be meant"));
    }
}

/// What line 1 says, read back: numbers have six decimals.
fn read_back(made_for: &MadeFor, walk: bool) -> MadeFor {
    let mut header = made_for.header_with_time();
    if walk {
        header.add("walk", "dark".to_owned());
    }
    let line = header.first_line();
    let head = format!("{line}\nG21 G90 G94\nM5\n");
    MadeFor::of_head(head.as_bytes()).unwrap().unwrap()
}

proptest! {
    #[test]
    fn line_1_says_all_that_a_program_was_made_for(
        (blank, machine) in ("[a-z (=)\"]{0,12}", "[a-z\u{e9}]{0,8}"),
        lay in prop::option::of(prop::sample::select(vec![
            LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape, LayKind::Label,
        ])),
        (tilt, place, zero) in (-89.0..89.0_f64, -900.0..900.0_f64, -900.0..900.0_f64),
        (turn, zero_turn) in (-720.0..720.0_f64, -720.0..720.0_f64),
        (x_minus, follow, walk, files) in
            (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>()),
        optional in prop::collection::vec(prop::option::of(0.5..500.0_f64), 3),
        swatch in prop::option::of(prop::sample::select(Swatch::ALL.to_vec())),
    ) {
        let made_for = MadeFor {
            blank: blank.clone(),
            machine,
            lay,
            tilt_rad: tilt.to_radians(),
            place: (place, turn.to_radians()),
            zero: (zero, zero_turn.to_radians()),
            toward: if x_minus { Toward::XMinus } else { Toward::XPlus },
            focus: if follow { FocusMode::Follow } else { FocusMode::Fixed },
            contact_at_mm: optional[0],
            facet: None,
            set_ups: follow.then_some(3),
            held_at_mm: optional[2],
            walk: false,
            swatch,
            focus_height_mm: optional[1],
            focus_at: optional[0].map(|at_mm| FocusAt { at_mm, turn_rad: optional[1] }),
            fitted: (optional[0].map(|_| "lens (2)".to_owned()), None),
            files: files.then(|| "0123abcd,-,89ef0123,-".parse().unwrap()),
            stamp: follow.then(|| Stamp {
                version: "0.1.0".into(),
                with: "89ef0123".into(),
                input: String::new(),
            }),
        };
        let back = read_back(&made_for, walk);
        let near = |a: f64, b: f64| (a - b).abs() <= 0.5e-6 + 1e-9;
        let both = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => near(a, b),
            (a, b) => a.is_none() && b.is_none(),
        };
        let pair = |a: (f64, f64), b: (f64, f64)| {
            near(a.0, b.0) && near(a.1.to_degrees(), b.1.to_degrees())
        };
        // Names are shortened where the line would be too long for a controller.
        let same = |found: &str, name: &str| {
            let name = Header::cleaned(name);
            let short = |start: &str| name.starts_with(start.trim_end());
            found == name || found.strip_suffix("...").is_some_and(short)
        };
        prop_assert!(same(&back.blank, &blank), "{} of {blank}", back.blank);
        prop_assert!(same(&back.machine, &made_for.machine), "{}", back.machine);
        prop_assert_eq!((back.lay, back.walk, back.swatch), (lay, walk, swatch));
        prop_assert_eq!((back.toward, back.focus), (made_for.toward, made_for.focus));
        prop_assert!(near(back.tilt_rad.to_degrees(), tilt));
        prop_assert!(pair(back.place, made_for.place) && pair(back.zero, made_for.zero));
        prop_assert!(both(back.contact_at_mm, made_for.contact_at_mm));
        prop_assert!(both(back.held_at_mm, made_for.held_at_mm));
        prop_assert!(both(back.focus_height_mm, made_for.focus_height_mm));
        let along = |one: &MadeFor| one.focus_at.map(|place| place.at_mm);
        let turn = |one: &MadeFor| one.focus_at.and_then(|place| place.turn_deg());
        prop_assert!(both(along(&back), along(&made_for)));
        prop_assert!(both(turn(&back), turn(&made_for)));
        prop_assert_eq!(back.fitted.0.is_some(), made_for.fitted.0.is_some());
        prop_assert_eq!(&back.files, &made_for.files);
        prop_assert_eq!(&back.stamp, &made_for.stamp);
        // What was read is written the same again.
        let again = back.header_with_time().first_line();
        prop_assert_eq!(again, read_back(&back, walk).header_with_time().first_line());
    }
}

#[test]
fn every_setup_says_what_its_program_is_made_for() {
    for (blank, machine) in (0..4).flat_map(|blank| (0..4).map(move |machine| (blank, machine))) {
        let options = [("tilt", "2.5".to_owned()), ("toward", "x-".to_owned())];
        let setup = setup(blank, machine, &options);
        let made_for = MadeFor::of_setup(&setup);
        let back = read_back(&made_for, false);
        assert!(back.differences(Some(&setup.blank), &setup.machine).is_empty());
        // A roller's word cannot be read back without where it touches.
        let roller = setup.machine.rotary.drive == Drive::Roller;
        assert_eq!((back.contact_at_mm.is_some(), back.lay), (roller, Some(setup.job.lay)));
        // Both rigs put the same words at the same places.
        let (one, other) = (
            Rig::new(&setup.blank, &setup.machine, &made_for),
            Rig::new(&setup.blank, &setup.machine, &back),
        );
        let mut words = [0.0, 0.0, 0.0, 250.0];
        words[one.along] = 31.0;
        let (a, b) = (one.place(&words, &mut 0), other.place(&words, &mut 0));
        assert!((a.s_mm - b.s_mm).abs() < 1e-5 && (a.turn_rad - b.turn_rad).abs() < 1e-6);
    }
}

/// A program for a blank of another name is told, and one whose line 1 keeps quiet is not.
#[test]
fn another_blank_or_machine_is_told() {
    let setup = setup(0, 0, &[]);
    let made_for = MadeFor::of_setup(&setup);
    let other = MadeFor { blank: "vase".into(), machine: String::new(), ..made_for.clone() };
    let told = other.differences(Some(&setup.blank), &setup.machine);
    assert_eq!(told.len(), 1);
    assert!(told[0].starts_with("the program was wrapped for the blank \"vase\""), "{told:?}");
    assert!(other.differences(None, &setup.machine).is_empty());
}
