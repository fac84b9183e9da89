//! A thousand cups with a name each, on all cores: seconds, cups a second, and the most the process
//! ever held after ten, a hundred and a thousand rows.
//!
//! `cargo bench -p stave-benches --bench order`. The fixture order's cup, its font and its job;
//! every row is filled, laid out, wrapped, judged, timed and sealed, and the program thrown away.
//! What does not change with the row is read once.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use stave::field::Fields;
use stave::{FontSet, Fonts, Options, Setup, Source, Stamp, Template, make_piece, setup};
use stave_benches::memory::peak_kb;

const BLANK: &str = include_str!("../../fixtures/blanks/cup.toml");
const MACHINE: &str = include_str!("../../fixtures/machines/degrees.toml");
const JOB: &str = include_str!("../../fixtures/orders/cup.toml");
const DRAWING: &[u8] = include_bytes!("../../fixtures/orders/cup.svg");
const FONT: &[u8] = include_bytes!("../../fixtures/orders/fonts/DejaVuSans-five.ttf");

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let blank = setup::read_blank(BLANK, "cup.toml")?;
    let machine = setup::read_machine(MACHINE, "degrees.toml")?;
    let setup = Setup::new(blank, machine, setup::read_job(JOB, "job.toml")?)?;
    let mut fonts = FontSet::default();
    fonts.add(FONT.to_vec());
    let options = Options {
        fonts: Fonts::Given(fonts).loaded(),
        stamp: Some(Stamp::default()),
        ..Options::default()
    };
    let template = Template::read(DRAWING)?;
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    for rows in [10_usize, 100, 1000] {
        let (next, bytes) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let begun = Instant::now();
        std::thread::scope(|scope| {
            let workers: Vec<_> = (0..cores)
                .map(|_| {
                    scope.spawn(|| {
                        loop {
                            let row = next.fetch_add(1, Ordering::Relaxed);
                            if row >= rows {
                                return Ok(());
                            }
                            let made = cup(&template, row, &setup, &options)?;
                            bytes.fetch_add(made, Ordering::Relaxed);
                        }
                    })
                })
                .collect();
            let fell = || Err(stave::Error::Setting("a worker fell".to_owned()));
            let ended = workers.into_iter().map(|worker| worker.join().unwrap_or_else(|_| fell()));
            ended.collect::<Result<(), stave::Error>>()
        })?;
        let seconds = begun.elapsed().as_secs_f64();
        let held =
            peak_kb().map_or("cannot tell".into(), |kb| format!("{:.1} MB", kb as f64 / 1e3));
        println!(
            "{rows:>5} cups on {cores} cores: {seconds:>6.2} s, {:>6.1} cups/s, {:>6.1} MB out, \
             most held {held}",
            rows as f64 / seconds,
            bytes.into_inner() as f64 / 1e6
        );
    }
    Ok(())
}

/// Makes one cup; how many bytes it has.
fn cup(
    template: &Template,
    row: usize,
    setup: &Setup,
    options: &Options,
) -> Result<usize, stave::Error> {
    let values =
        [("name", format!("Name {row} Quill")), ("ink", "#111".into()), ("boss", String::new())];
    let fields: Fields = values.map(|(name, value)| (name.to_owned(), value)).into();
    let filled =
        template.filled(&fields).map_err(|error| stave::Error::Setting(error.to_string()))?;
    let made = make_piece(Source::drawing(filled), setup, options)?;
    Ok(made.program.len())
}
