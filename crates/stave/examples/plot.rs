//! Moves to a plot: the wall unrolled, burns in black and travels in grey, as an SVG document.
//!
//! `cargo run --example plot BLANK MACHINE < flat.nc > plot.svg`

use std::error::Error;
use std::io::{Read, stdin};

use stave::number::fixed;
use stave::{Options, Setup, Source, Step, setup, steps};

/// The moves of a program as a picture: turn times the largest radius across, the meridian up.
pub(crate) fn plot(program: impl Read, setup: &Setup) -> Result<String, stave::Error> {
    let wall = &setup.blank.wall;
    let (radius_mm, length_mm) = (wall.largest_radius_mm(), wall.length_mm());
    let width_mm = std::f64::consts::TAU * radius_mm;
    let mut lines = String::new();
    steps(Source::program(program), setup, &Options::default(), |step: &Step| {
        if let (Some(from), Some(to)) = (step.from.place, step.to.place)
            && step.from.words != step.to.words
        {
            let x = |turn_rad: f64| fixed(0.5 * width_mm - turn_rad * radius_mm, 3);
            let y = |s_mm: f64| fixed(length_mm - s_mm, 3);
            let ink = if step.kind.marks() { "#000" } else { "#bbb" };
            lines.push_str(&format!(
                "<path d=\"M{} {}L{} {}\" stroke=\"{ink}\"/>\n",
                x(from.turn_rad),
                y(from.s_mm),
                x(to.turn_rad),
                y(to.s_mm)
            ));
        }
        Ok::<(), std::convert::Infallible>(())
    })?;
    let (w, h) = (fixed(width_mm, 3), fixed(length_mm, 3));
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" \
         viewBox=\"0 0 {w} {h}\" fill=\"none\" stroke-width=\"0.1\">\n{lines}</svg>\n"
    ))
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
    print!("{}", plot(stdin(), &setup)?);
    Ok(())
}
