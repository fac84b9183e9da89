//! A batch quote: what so many pieces of several programs take and cost.
//!
//! `cargo run --example batch_quote MACHINE PIECES PROGRAM…`

use std::error::Error;
use std::fs::File;
use std::io::Read;

use stave::setup::{Machine, read_machine};
use stave::{Estimate, Options, QuoteSteps, Source, Terms, estimate};

/// Times every program and reckons out the batch.
pub(crate) fn quote(
    machine: &Machine,
    programs: impl IntoIterator<Item = (String, impl Read)>,
    terms: &Terms,
) -> Result<(Vec<Estimate>, QuoteSteps), stave::Error> {
    let time = |(name, program): (String, _)| {
        estimate(Source::program(program).named(name), machine, &Options::default())
    };
    let each = programs.into_iter().map(time).collect::<Result<Vec<_>, _>>()?;
    let quote = QuoteSteps::new(Estimate::sum(&each).duration_s, terms);
    Ok((each, quote))
}

#[allow(dead_code, reason = "the tests call what it calls")]
fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let (Some(machine), Some(pieces)) = (args.next(), args.next()) else {
        return Err("give MACHINE, PIECES and PROGRAMs".into());
    };
    let machine = read_machine(&std::fs::read_to_string(&machine)?, &machine)?;
    let programs: Vec<String> = args.collect();
    let files = programs.into_iter().map(|name| Ok((name.clone(), File::open(name)?)));
    let files = files.collect::<Result<Vec<_>, std::io::Error>>()?;
    let terms = Terms {
        rate_per_hour: Some(45.0),
        handling_s: 75.0,
        set_up_s: 900.0,
        pieces: pieces.parse()?,
        ..Terms::default()
    };
    let (each, steps) = quote(&machine, files, &terms)?;
    for one in &each {
        println!("{}: {}", one.name, stave::clock(one.duration_s));
    }
    println!("{} pieces: {}", steps.quote.pieces, stave::clock(steps.quote.batch_s));
    println!("cost: {:?}", steps.quote.cost);
    Ok(())
}
