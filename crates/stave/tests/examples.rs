//! The examples do what they say.
#![allow(clippy::unwrap_used, missing_docs)]

#[path = "../examples/batch_quote.rs"]
mod batch_quote;
#[path = "../examples/dialect.rs"]
mod dialect;
#[path = "../examples/filter.rs"]
mod filter;
#[path = "../examples/own_lay.rs"]
mod own_lay;
#[path = "../examples/plot.rs"]
mod plot;

use std::convert::Infallible;

use stave::setup::{JobFile, read_blank, read_machine};
use stave::{Options, Setup, Source, StepKind, Terms, steps};

const BLANK: &str = include_str!("../../../fixtures/blanks/can.toml");
const MACHINE: &str = include_str!("../../../fixtures/machines/degrees.toml");
const FLAT: &[u8] =
    b"G21 G90\nM4 S300\nG0 X20 Y0\nG1 X50 Y0 F600\nG1 X50 Y20\nG4 P1\nM5\nG0 X0 Y0\nM2\n";

fn setup() -> Setup {
    let blank = read_blank(BLANK, "can.toml").unwrap();
    let machine = read_machine(MACHINE, "degrees.toml").unwrap();
    Setup::new(blank, machine, JobFile::default()).unwrap()
}

#[test]
fn the_filter_writes_a_program_for_the_rotary() {
    let mut wrapped = Vec::new();
    let report = filter::filter(BLANK, MACHINE, FLAT, &mut wrapped).unwrap();
    assert!(report.moves_in == 4 && report.moves_out >= 4, "{report:?}");
    let text = String::from_utf8(wrapped).unwrap();
    assert!(text.starts_with("(stave wrapped 1 ") && text.ends_with("M2\n"), "{text}");
}

/// Read back from the program it makes, every burn lies where the rule says.
#[test]
fn a_lay_of_ones_own_lands_where_its_rule_says() {
    let setup = setup();
    let radius_mm = setup.job.reference_radius_mm;
    let rule = |point| own_lay::thread(radius_mm, 40.0, point);
    let mut wound = Vec::new();
    own_lay::wound(&setup, &[[(20.0, 0.0), (20.0, 90.0)]], rule, &mut wound).unwrap();
    let mut burns = 0;
    steps(Source::program(&wound[..]), &setup, &Options::default(), |step| {
        if step.kind == StepKind::Burn {
            let place = step.to.place.unwrap();
            let (s_mm, turn_rad) = rule((20.0, place.turn_rad * radius_mm));
            assert!((place.s_mm - s_mm).abs() < 2e-3, "{place:?}, not {s_mm}");
            assert!(turn_rad > 0.0);
            burns += 1;
        }
        Ok::<(), Infallible>(())
    })
    .unwrap();
    assert!(burns > 0);
}

#[test]
fn a_dialect_of_ones_own_has_every_step() {
    let mut text = Vec::new();
    dialect::write(FLAT, &setup(), &mut text).unwrap();
    let text = String::from_utf8(text).unwrap();
    let of = |word: &str| text.lines().filter(|line| line.starts_with(word)).count();
    assert!(of("B ") >= 2 && of("J ") >= 2 && of("W T1") == 1, "{text}");
    // Full power is S 1000; 30 mm at 10 mm/s.
    assert!(text.lines().all(|line| !line.starts_with("B ") || line.ends_with(" L30")), "{text}");
    let seconds: f64 = text
        .lines()
        .filter(|line| line.starts_with("B "))
        .filter_map(|line| line.split(" T").nth(1)?.split(' ').next()?.parse::<f64>().ok())
        .sum();
    assert!((seconds - 5.0).abs() < 1e-3, "{seconds} s for 50 mm at 10 mm/s");
}

#[test]
fn whoever_takes_steps_may_have_enough() {
    let refused = steps(Source::program(FLAT), &setup(), &Options::default(), |step| {
        if step.kind == StepKind::Burn { Err("enough") } else { Ok(()) }
    });
    let error = refused.unwrap_err();
    assert!(matches!(error, stave::Error::Refused(_)), "{error:?}");
    assert_eq!(std::error::Error::source(&error).unwrap().to_string(), "enough");
}

#[test]
fn a_batch_takes_the_sum_of_its_programs() {
    let machine = read_machine(MACHINE, "degrees.toml").unwrap();
    let programs = [("a.nc".to_owned(), FLAT), ("b.nc".to_owned(), FLAT)];
    let terms = Terms { pieces: 12, set_up_s: 600.0, ..Terms::default() };
    let (each, steps) = batch_quote::quote(&machine, programs, &terms).unwrap();
    assert_eq!(each.len(), 2);
    let one = (10.0 * (each[0].duration_s + each[1].duration_s)).round() / 10.0;
    assert!((steps.quote.batch_s - (600.0 + 12.0 * one)).abs() < 0.06, "{steps:?}");
}

#[test]
fn a_plot_has_a_line_for_every_move() {
    let svg = plot::plot(FLAT, &setup()).unwrap();
    let ink = |colour: &str| svg.matches(&format!("stroke=\"{colour}\"")).count();
    assert!(ink("#000") >= 2 && ink("#bbb") >= 1, "{svg}");
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
}
