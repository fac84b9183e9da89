//! Pictures and engravings scanned again: seconds by the clock and on the processor, millions of
//! power steps a second, and the most that was held, beside a loop over pixels written by hand.
//!
//! `cargo bench -p stave-benches --bench pictures [-- COLUMNS ROWS]` (of the engraving; 6000 and
//! 800 where they are not given). Each figure is the median of three runs on the tapered cup.

use std::time::Instant;

use stave::{Code, Options, PictureSize, ScanLines, Source};
use stave_benches::clock;
use stave_benches::memory::peak_kb;
use stave_benches::picture::Grain;
use stave_benches::wrap::{Ware, setup_on};

const RUNS: usize = 3;

const OPERATION: &str = "[[operation]]\nname = \"photo\"\nwork = \"picture\"\nspeed = 250.0\n\
                         power = 60.0\npower_floor = 12.0\nlines_per_inch = 500\n";

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let asked: Vec<u32> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let (columns, rows) = match asked[..] {
        [columns, rows, ..] => (columns, rows),
        _ => (6000, 800),
    };
    println!(
        "{:<34}{:>9}{:>9}{:>11}{:>12}",
        "on the cup, median of 3", "clock s", "cpu s", "M steps/s", "most held"
    );
    let photo = Grain::new(2953, 1575);
    let png = photo.png();
    let steps = f64::from(photo.columns) * f64::from(photo.rows);
    let options = Options::allowing([
        Code::Overlap,
        Code::Clearance,
        Code::DefocusFar,
        Code::TravelLimit,
        Code::Power,
    ]);
    for lay in ["even-angle", "true-width", "true-shape", "label"] {
        let setup =
            setup_on(Ware::Cup, &format!("lay = \"{lay}\"\nzones = \"ignore\"\n{OPERATION}"))?;
        let size = PictureSize { width_mm: Some(150.0), height_mm: None };
        told(&format!("photograph 150 mm, {lay}"), steps, || {
            let source = Source::picture(&png[..], size);
            stave::wrap(source, std::io::sink(), &setup, &options).map(|report| report.moves_out)
        })?;
    }
    let grain = Grain::new(columns, rows);
    let pitch_mm = 0.02;
    let pixel_mm = 80.0 / f64::from(columns);
    let program = grain.engraving(pixel_mm, pitch_mm);
    let steps = f64::from(columns) * f64::from(rows);
    let again = Options { scan: ScanLines::Again, ..options.clone() };
    for lay in ["even-angle", "true-width", "label"] {
        let setup = setup_on(Ware::Cup, &format!("lay = \"{lay}\"\n"))?;
        for (how, options) in [("again", &again), ("followed", &options)] {
            told(&format!("engraving {how}, {lay}"), steps, || {
                let source = Source::program(&program[..]);
                stave::wrap(source, std::io::sink(), &setup, options).map(|report| report.moves_out)
            })?;
        }
    }
    told("its pixels by hand, true-width", steps, || {
        Ok::<_, stave::Error>(grain.by_hand(pixel_mm, pitch_mm).len() as u64)
    })
}

/// Does the work some times, and tells what it took.
fn told(
    name: &str,
    steps: f64,
    mut work: impl FnMut() -> Result<u64, stave::Error>,
) -> Result<(), Box<dyn std::error::Error>> {
    let mut runs = Vec::with_capacity(RUNS);
    for _ in 0..RUNS {
        let begun = Instant::now();
        let (cpu_s, done) = clock::timed(&mut work);
        runs.push((begun.elapsed().as_secs_f64(), cpu_s));
        if std::hint::black_box(done?) < 1000 {
            return Err("the work was not done".into());
        }
    }
    runs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (clock_s, cpu_s) = runs[RUNS / 2];
    let held = peak_kb().map_or("cannot tell".into(), |kb| format!("{:.0} MB", kb as f64 / 1e3));
    println!("{name:<34}{clock_s:>9.2}{cpu_s:>9.2}{:>11.2}{held:>12}", steps / clock_s / 1e6);
    Ok(())
}
