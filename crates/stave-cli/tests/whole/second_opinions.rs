//! What these tests measure pictures with, held against other people's programs; and the halftone
//! against another's of the same picture.

use crate::case::Case;
use crate::command::fixture;
use crate::lay::LAYS;
use crate::pictures::{
    COLUMNS, HEIGHT_MM, ROWS, WIDTH_MM, cases, chart, chart_is_even, photo, png, replay, seen_at,
    similarity_by, wrapped,
};
use crate::program;
use crate::rays::Rays;

/// A picture's grey at a column and row.
type Grey<'a> = &'a dyn Fn(usize, usize) -> usize;

fn table(name: &str) -> String {
    std::fs::read_to_string(fixture(&format!("reference/{name}"))).unwrap()
}

/// `I_ssim.csv`: scikit-image 0.26.0, `structural_similarity` over square windows of 7 x 7 at every
/// place, with the covariance of a sample, of two pictures made by formulas.
#[test]
fn structural_similarity_is_what_another_program_finds() {
    const SIZE: (usize, usize) = (64, 48);
    let first = |x: usize, y: usize| (x * 7 + y * 13 + x * y / 5) % 256;
    let picture = |grey: Grey<'_>| -> Vec<f64> {
        let all = (0..SIZE.0 * SIZE.1).map(|k| grey(k % SIZE.0, k / SIZE.0) as f64 / 255.0);
        all.collect()
    };
    let brighter = |x: usize, y: usize| (first(x, y) + (x * x + y) % 23).min(255);
    let smoothed = |x: usize, y: usize| {
        (first(x, y) + 2 * first(x.saturating_sub(1), y) + first(x, y.saturating_sub(1))) / 4
    };
    let flat = |_: usize, _: usize| 128;
    let seconds: [(&str, Grey<'_>); 3] =
        [("brighter", &brighter), ("smoothed", &smoothed), ("flat", &flat)];
    let table = table("I_ssim.csv");
    for (name, second) in seconds {
        let row = table.lines().find(|row| row.starts_with(name)).unwrap();
        let theirs: f64 = row.split(',').nth(1).unwrap().parse().unwrap();
        let (a, b) = (picture(&first), picture(second));
        let ours = similarity_by(&a, &b, SIZE, 7, 1);
        assert!((ours - theirs).abs() < 1e-9, "{name}: {ours} {theirs}");
    }
}

/// `I_dither_blocks.csv`: Pillow 13.0.0, `Image.convert("1")` (Floyd and Steinberg) of the same
/// picture in linear light: how many dots of each block of 8 x 8 are dark.
#[test]
fn a_halftone_has_the_dots_that_another_program_gives_it() {
    // On a can of 74 mm with 12,800 steps a turn, five steps: a dot is a pixel of the picture.
    let pitch = std::f64::consts::PI * 74.0 / 12_800.0 * 5.0;
    let case = Case {
        anchor: Some((f64::from(ROWS) * pitch / 2.0, 0.0)),
        even_dose: true,
        ..Case::new("can", "degrees", LAYS[0], 0.0, 40.0)
    };
    let bench = case.bench();
    let operation = format!("line_spacing = {pitch}\ntone = \"diffused\"");
    let outcome = crate::pictures::wrapped_as_wide(
        &case,
        &png(COLUMNS, ROWS, photo),
        &operation,
        f64::from(COLUMNS) * pitch,
    );
    let lines = replay(&bench, &program::read(outcome.done().out_text()));
    let theirs = table("I_dither_blocks.csv");
    let (mut squares, mut sum, mut count) = (0.0, 0.0, 0.0);
    for (down, row) in theirs.lines().enumerate() {
        for (across, dark) in row.split(',').enumerate() {
            let dark = dark.parse::<f64>().unwrap() / 64.0;
            let corner = |x: usize, y: usize| {
                let (x, y) = (8.0 * x as f64 * pitch, 8.0 * y as f64 * pitch);
                bench.image([f64::from(ROWS) * pitch - y, f64::from(COLUMNS) * pitch / 2.0 - x])
            };
            let ([high, first], [low, last]) = (corner(across, down), corner(across + 1, down + 1));
            let mut burned = 0.0;
            for line in lines.iter().filter(|line| line.turn <= first && line.turn > last) {
                for (from, to, _) in &line.burns {
                    burned += (to.min(high) - from.max(low)).max(0.0);
                }
            }
            let off = burned / (8.0 * (high - low)) - dark;
            (squares, sum, count) = (squares + off * off, sum + off, count + 1.0);
        }
    }
    assert_eq!(count, f64::from(COLUMNS * ROWS / 64));
    let (rms, mean) = ((squares / count).sqrt(), sum / count);
    // A block of dots laid down by one rule and by another: within a few dots of 64 each.
    assert!(rms < 0.05, "{rms}");
    assert!(mean.abs() < 0.005, "{mean}");
}

/// The grey chart by the lay that lies as a paper label does, on every ware.
#[test]
fn every_patch_of_a_chart_on_a_label_gets_its_energy() {
    let picture = png(COLUMNS, ROWS, chart);
    for case in cases().iter().step_by(LAYS.len()) {
        // The bottle's label lies below its step, where a label can lie.
        let place = if case.place.0 > 70.0 { 30.0 } else { case.place.0 };
        let case = Case { place: (place, 0.0), ..case.clone() };
        let bench = case.bench();
        let outcome = wrapped(&case, &picture, "lay = \"label\"\npower_floor = 12").done();
        let lines = replay(&bench, &program::read(outcome.out_text()));
        let reach_mm = WIDTH_MM.hypot(HEIGHT_MM) / 2.0 + 0.1;
        let middle = bench.wall.s_of_z(place) + HEIGHT_MM / 2.0;
        let rays = Rays::from_the(&bench.wall, middle, reach_mm);
        chart_is_even(&case, |x, y| {
            seen_at(&lines, rays.end(HEIGHT_MM / 2.0 - y, WIDTH_MM / 2.0 - x))
        });
    }
}
