//! Memory while a program without end is timed and wrapped: the most the process ever held, after
//! 16 MB and after a gigabyte.
//!
//! `cargo bench -p stave-benches --bench memory`. The program is made as it is read and the result
//! thrown away, so that what is left is what the pipeline itself holds. Read from
//! `/proc/self/status`; elsewhere it says that it cannot tell.

use stave::{Options, Source};
use stave_benches::memory::peak_kb;
use stave_benches::program::{Endless, Style};
use stave_benches::wrap;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let setup = wrap::bench_setup()?;
    for style in [Style::Raster, Style::Vector] {
        for megabytes in [16_usize, 1000] {
            let input = || Endless::new(style, megabytes * 1_000_000);
            let timed =
                stave::estimate(Source::program(input()), &setup.machine, &Options::default())?;
            let held =
                peak_kb().map_or("cannot tell".into(), |kb| format!("{:.1} MB", kb as f64 / 1e3));
            println!(
                "{:<13} {megabytes:>5} MB in, {:>10} moves timed, most held {held}",
                style.name(),
                timed.moves
            );
            let report = stave::wrap(
                Source::program(input()),
                std::io::sink(),
                &setup,
                &Options::default(),
            )?;
            let held =
                peak_kb().map_or("cannot tell".into(), |kb| format!("{:.1} MB", kb as f64 / 1e3));
            println!(
                "{:<13} {megabytes:>5} MB in, {:>10} moves out, most held {held}",
                style.name(),
                report.moves_out
            );
        }
    }
    Ok(())
}
