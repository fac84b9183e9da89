//! MB of flat program a second, on one core: the project's wrap, estimate and read, beside a
//! newline count, a wrap written by hand and the same in awk.
//!
//! `cargo bench -p stave-benches --bench throughput [-- MEGABYTES]`. A MB is 10^6 bytes of input, a
//! second one on the processor; each figure is the median of several runs over a program held in
//! memory.

use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Instant;

use stave::{Options, Source};
use stave_benches::program::{Style, program};
use stave_benches::{clock, hand, wrap};

/// Runs per figure.
const RUNS: usize = 7;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let megabytes = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(32_usize);
    let setup = wrap::bench_setup()?;
    println!("{megabytes} MB of input, median of {RUNS} runs, MB/s");
    println!(
        "{:<13} {:>9} {:>9} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "", "newlines", "by hand", "wrap", "of hand", "estimate", "read", "mawk"
    );
    for style in [Style::Raster, Style::Vector] {
        let input = program(style, megabytes * 1_000_000);
        let newlines = median(&input, || input.iter().filter(|b| **b == b'\n').count());
        let by_hand = median(&input, || hand::wrap(&input).len());
        let mut out = Vec::with_capacity(input.len() * 4);
        let wrapped = median(&input, || {
            out.clear();
            stave::wrap(Source::program(&input[..]), &mut out, &setup, &Options::default())
                .map_or(0, |report| report.moves_out)
        });
        agree(&input, &out);
        let estimate = median(&input, || {
            stave::estimate(Source::program(&input[..]), &setup.machine, &Options::default())
                .map_or(0, |estimate| estimate.moves)
        });
        let read = median(&input, || {
            out.clear();
            stave::read(Source::program(&input[..]), &mut out, &Options::default())
                .map_or(0, |_| out.len())
        });
        let awk = awk(&input).map_or("none".into(), |speed| format!("{speed:.0}"));
        let share = format!("{:.0} %", 100.0 * wrapped / by_hand);
        println!(
            "{:<13} {newlines:>9.0} {by_hand:>9.0} {wrapped:>9.0} {share:>9} {estimate:>9.0} \
             {read:>9.0} {awk:>9}",
            style.name()
        );
    }
    Ok(())
}

/// MB/s of `work` over `input`; it says what it did, so that nothing is optimised away and an error
/// shows as nothing.
fn median<T: TryInto<usize>>(input: &[u8], mut work: impl FnMut() -> T) -> f64 {
    let mut seconds: Vec<f64> = (0..RUNS)
        .map(|_| {
            let (seconds, done) = clock::timed(&mut work);
            let done = done.try_into().unwrap_or(0);
            assert!(std::hint::black_box(done) > 1000, "the work was not done");
            seconds
        })
        .collect();
    seconds.sort_by(f64::total_cmp);
    input.len() as f64 / 1e6 / seconds[RUNS / 2]
}

/// The hand-written loop and the project must end every move at the same place, or they are not to
/// be compared.
fn agree(input: &[u8], wrapped: &[u8]) {
    let ends = |program: &[u8]| -> (f64, f64) {
        let text =
            String::from_utf8_lossy(&program[program.len().saturating_sub(4000)..]).into_owned();
        let last = |letter: char| {
            text.rsplit(letter).next().and_then(|tail| {
                tail.split(|c: char| !matches!(c, '0'..='9' | '.' | '-'))
                    .next()
                    .and_then(|n| n.parse().ok())
            })
        };
        (last('X').unwrap_or(f64::NAN), last('A').unwrap_or(f64::NAN))
    };
    let (a, b) = (ends(&hand::wrap(input)), ends(wrapped));
    assert!((a.0 - b.0).abs() < 2e-4 && (a.1 - b.1).abs() < 2e-4, "by hand {a:?}, wrapped {b:?}");
}

/// The same map in mawk, on a quarter of the input; `None` where there is no mawk.
fn awk(input: &[u8]) -> Option<f64> {
    let quarter = input[..input.len() / 4].to_vec();
    let megabytes = quarter.len() as f64 / 1e6;
    let (before, begun) = (clock::of_children(), Instant::now());
    let mut child = Command::new("mawk")
        .arg(include_str!("../src/wrap.awk"))
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .ok()?;
    child.stdin.take()?.write_all(&quarter).ok()?;
    let done = child.wait().ok()?.success();
    let seconds = match (before, clock::of_children()) {
        (Some(before), Some(after)) if after > before => after - before,
        _ => begun.elapsed().as_secs_f64(),
    };
    done.then_some(megabytes / seconds)
}
