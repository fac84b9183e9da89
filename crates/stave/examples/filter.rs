//! A filter in ten lines: a flat program in on standard input, one for the rotary out.
//!
//! `cargo run --example filter BLANK MACHINE < flat.nc > wrapped.nc`

use std::error::Error;
use std::io::{Read, Write, stdin, stdout};

use stave::{Options, Setup, Source, WrapReport, setup, wrap};

pub(crate) fn filter(
    blank: &str,
    machine: &str,
    flat: impl Read,
    wrapped: impl Write,
) -> Result<WrapReport, Box<dyn Error>> {
    let blank = setup::read_blank(blank, "blank")?;
    let machine = setup::read_machine(machine, "machine")?;
    let setup = Setup::new(blank, machine, setup::JobFile::default())?;
    Ok(wrap(Source::program(flat), wrapped, &setup, &Options::default())?)
}

#[allow(dead_code, reason = "the tests call what it calls")]
fn main() -> Result<(), Box<dyn Error>> {
    let mut files = std::env::args().skip(1).map(std::fs::read_to_string);
    let (Some(blank), Some(machine)) = (files.next(), files.next()) else {
        return Err("give BLANK and MACHINE".into());
    };
    filter(&blank?, &machine?, stdin(), stdout()).map(drop)
}
