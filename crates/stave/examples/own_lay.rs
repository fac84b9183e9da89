//! A lay of one's own: a band that winds up around the ware as a thread does, so many mm a turn.
//!
//! `even-angle` from the drawing keeps length along the meridian as `u` and turn as `v` over the
//! reference radius, exactly. Whatever rule carries a flat point to the wall can so be put before
//! it: what it makes is a flat program for that lay, cut finely enough that straight pieces follow
//! the rule.
//!
//! `cargo run --example own_lay BLANK MACHINE > wound.nc`

use std::error::Error;
use std::f64::consts::TAU;
use std::io::{Write, stdout};

use stave::{LayKind, Options, Setup, Source, number::fixed, setup, wrap};

/// Flat points lie no farther apart than this, mm.
const STEP_MM: f64 = 0.2;

/// The rule: from the flat plane to length along the meridian, mm, and turn, rad.
pub(crate) fn thread(radius_mm: f64, rise_mm_per_turn: f64, (u, v): (f64, f64)) -> (f64, f64) {
    let turn_rad = v / radius_mm;
    (u + rise_mm_per_turn * turn_rad / TAU, turn_rad)
}

/// Lays straight flat lines by a rule and writes the program that burns them.
pub(crate) fn wound(
    setup: &Setup,
    lines: &[[(f64, f64); 2]],
    rule: impl Fn((f64, f64)) -> (f64, f64),
    output: impl Write,
) -> Result<(), Box<dyn Error>> {
    let mut setup = setup.clone();
    setup.job.lay = LayKind::EvenAngle;
    let radius_mm = setup.job.reference_radius_mm;
    let mut flat = String::from("G21 G90\nM4 S300\n");
    for [from, to] in lines {
        let steps = ((to.0 - from.0).hypot(to.1 - from.1) / STEP_MM).ceil().max(1.0);
        let mut k = 0.0;
        while k <= steps {
            let mix = |a: f64, b: f64| a + (b - a) * k / steps;
            let (s_mm, turn_rad) = rule((mix(from.0, to.0), mix(from.1, to.1)));
            let (word, feed) = if k == 0.0 { ("G0", "") } else { ("G1", " F1200") };
            let (x, y) = (fixed(s_mm, 6), fixed(turn_rad * radius_mm, 6));
            flat.push_str(&format!("{word} X{x} Y{y}{feed}\n"));
            k += 1.0;
        }
    }
    flat.push_str("M5\nM2\n");
    wrap(Source::program(flat.as_bytes()), output, &setup, &Options::default())?;
    Ok(())
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
    let radius_mm = setup.job.reference_radius_mm;
    let band = [[(20.0, 0.0), (20.0, 120.0)], [(26.0, 0.0), (26.0, 120.0)]];
    wound(&setup, &band, |point| thread(radius_mm, 40.0, point), stdout())
}
