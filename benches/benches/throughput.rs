//! MB of flat program a second, on one core: the project's wrap (its time told), estimate and read,
//! beside a newline count, a wrap written by hand, the same in awk, and awk scaling one word.
//!
//! `cargo bench -p stave-benches --bench throughput [-- MEGABYTES]`. A MB is 10^6 bytes of input, a
//! second one on the processor; each figure is the median of several runs over a program held in
//! memory, or of awk over a pipe. Ratios are to awk scaling, on the same input in the same run.

use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Instant;

use stave::{Code, Options, Setup, Source};
use stave_benches::program::{Style, program};
use stave_benches::wrap::{Ware, bench_setup, setup_on};
use stave_benches::{clock, hand};

/// Runs per figure.
const RUNS: usize = 5;

const STYLES: [Style; 6] =
    [Style::Arcs, Style::Vector, Style::Relative, Style::Inch, Style::Spelled, Style::Raster];

type Outcome = Result<(), Box<dyn std::error::Error>>;

fn main() -> Outcome {
    let megabytes = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(12_usize);
    let bytes = megabytes * 1_000_000;
    println!("{megabytes} MB of input, median of {RUNS} runs, MB/s; × is to mawk scaling one word");
    styles_on_a_cone(bytes)?;
    walls(bytes)?;
    settings(bytes)
}

/// Every kind of program on the cup.
fn styles_on_a_cone(bytes: usize) -> Outcome {
    let setup = bench_setup()?;
    println!(
        "\n{:<14}{:>9}{:>9}{:>9}{:>9}{:>9}{:>7}{:>9}{:>7}{:>9}",
        "on the cup",
        "newlines",
        "by hand",
        "mawk map",
        "scaling",
        "wrap",
        "×",
        "estimate",
        "×",
        "read"
    );
    for style in STYLES {
        let input = program(style, bytes);
        let newlines = median(&input, || input.iter().filter(|b| **b == b'\n').count());
        let by_hand = matches!(style, Style::Vector | Style::Raster | Style::Spelled)
            .then(|| median(&input, || hand::wrap(&input).len()));
        if by_hand.is_some() {
            agree(&input, &setup);
        }
        let map = by_hand.and_then(|_| awk(&input, include_str!("../src/wrap.awk")));
        let scaling = awk(&input, include_str!("../src/scale.awk"));
        let wrapped = wrap(&input, &setup);
        let timed = estimate(&input, &setup);
        let mut out = Vec::new();
        let read = median(&input, || {
            out.clear();
            stave::read(Source::program(&input[..]), &mut out, &Options::default())
                .map_or(0, |_| out.len())
        });
        println!(
            "{:<14}{newlines:>9.0}{:>9}{:>9}{:>9}{wrapped:>9.1}{:>7}{timed:>9.1}{:>7}{read:>9.1}",
            style.name(),
            whole(by_hand),
            whole(map),
            whole(scaling),
            ratio(wrapped, scaling),
            ratio(timed, scaling),
        );
    }
    Ok(())
}

/// Lines with arcs and scan lines on every wall.
fn walls(bytes: usize) -> Outcome {
    println!("\n{:<14}{:>12}{:>7}{:>12}{:>7}", "true-width", "lines, arcs", "×", "raster", "×");
    let inputs = [program(Style::Arcs, bytes), program(Style::Spelled, bytes)];
    let scaling = inputs.each_ref().map(|input| awk(input, include_str!("../src/scale.awk")));
    for ware in Ware::ALL {
        let setup = setup_on(ware, "lay = \"true-width\"\n")?;
        let [lines, raster] = inputs.each_ref().map(|input| wrap(input, &setup));
        println!(
            "{:<14}{lines:>12.1}{:>7}{raster:>12.1}{:>7}",
            ware.name(),
            ratio(lines, scaling[0]),
            ratio(raster, scaling[1]),
        );
    }
    Ok(())
}

/// Lays, tilt and dose on every wall, in time on the processor, as multiples of true-width there.
fn settings(bytes: usize) -> Outcome {
    const JOBS: [(&str, &str); 6] = [
        ("true-width", "lay = \"true-width\"\n"),
        ("even-angle", "lay = \"even-angle\"\n"),
        ("true-shape", "lay = \"true-shape\"\n"),
        ("label", "lay = \"label\"\n"),
        ("tilted", "lay = \"true-width\"\ntilt = -3.0\n"),
        ("even dose", "lay = \"true-width\"\ndose = \"even\"\n"),
    ];
    let input = program(Style::Arcs, bytes / 8);
    print!("\n{:<14}", "lines, arcs");
    for (name, _) in JOBS {
        print!("{name:>13}");
    }
    println!();
    for ware in Ware::ALL {
        print!("{:<14}", ware.name());
        let mut plain = None;
        for (_, job) in JOBS {
            let speed = wrap(&input, &setup_on(ware, job)?);
            let plain = *plain.get_or_insert(speed);
            print!("{:>11.2} ×", plain / speed);
        }
        println!();
    }
    Ok(())
}

fn wrap(input: &[u8], setup: &Setup) -> f64 {
    let options = options();
    let mut out = Vec::with_capacity(input.len() * 4);
    median(input, || {
        out.clear();
        match stave::wrap(Source::program(input), &mut out, setup, &options) {
            Ok(report) => report.moves_out,
            Err(error) => panic!("{error}"),
        }
    })
}

/// Art of the bench goes where it likes: what the judge says of it is told elsewhere.
fn options() -> Options {
    Options::allowing([
        Code::Overlap,
        Code::Clearance,
        Code::DefocusFar,
        Code::TravelLimit,
        Code::Zone,
    ])
}

fn estimate(input: &[u8], setup: &Setup) -> f64 {
    median(input, || {
        stave::estimate(Source::program(input), &setup.machine, &Options::default())
            .map_or(0, |estimate| estimate.moves)
    })
}

fn whole(speed: Option<f64>) -> String {
    speed.map_or_else(|| "-".to_owned(), |speed| format!("{speed:.0}"))
}

fn ratio(speed: f64, to: Option<f64>) -> String {
    to.map_or_else(|| "-".to_owned(), |to| format!("{:.2}", speed / to))
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
fn agree(input: &[u8], setup: &Setup) {
    let mut wrapped = Vec::new();
    let done = stave::wrap(Source::program(input), &mut wrapped, setup, &options()).is_ok();
    assert!(done, "the program of the bench is laid");
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
    let (a, b) = (ends(&hand::wrap(input)), ends(&wrapped));
    assert!((a.0 - b.0).abs() < 2e-4 && (a.1 - b.1).abs() < 2e-4, "by hand {a:?}, wrapped {b:?}");
}

/// MB/s of an awk script over `input`, the median of several runs; `None` where there is no mawk.
fn awk(input: &[u8], script: &str) -> Option<f64> {
    let mut speeds = (0..RUNS).map(|_| one_awk(input, script)).collect::<Option<Vec<f64>>>()?;
    speeds.sort_by(f64::total_cmp);
    speeds.get(RUNS / 2).copied()
}

fn one_awk(input: &[u8], script: &str) -> Option<f64> {
    let (before, begun) = (clock::of_children(), Instant::now());
    let mut child = Command::new("mawk")
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .ok()?;
    child.stdin.take()?.write_all(input).ok()?;
    let done = child.wait().ok()?.success();
    let seconds = match (before, clock::of_children()) {
        (Some(before), Some(after)) if after > before => after - before,
        _ => begun.elapsed().as_secs_f64(),
    };
    done.then_some(input.len() as f64 / 1e6 / seconds)
}
