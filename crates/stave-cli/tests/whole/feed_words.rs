//! F words: left out where they would hardly change anything, and never at the cost of a speed.

use crate::case::Case;
use crate::lay::LayKind;
use crate::program::{self, Kind};
use crate::replay::{Also, replay};
use std::fmt::Write;

/// An engraving as exporters write it: graded scan lines, a new power every quarter of a mm.
fn raster(lines: u32) -> String {
    let mut text = String::from("G21 G90 G94\nM4 S0\nF12000\n");
    for line in 0..lines {
        let y = f64::from(line) * 40.0 / f64::from(lines) - 20.0;
        let x = |k: u32| f64::from(if line % 2 == 0 { k } else { 240 - k }) * 0.25;
        writeln!(text, "G0 X{:.2} Y{y:.2}", x(0)).unwrap();
        for k in 1..=240 {
            writeln!(text, "G1 X{:.2} S{}", x(k), 300 + (k * 37 + line * 11) % 400).unwrap();
        }
    }
    text + "M5\nM2\n"
}

fn feeds(program: &str) -> Vec<f64> {
    let word = |line: &str| line.split(' ').find_map(|word| word.strip_prefix('F')?.parse().ok());
    program.lines().filter(|line| !line.starts_with('(')).filter_map(word).collect()
}

#[test]
fn an_f_that_is_nearly_the_one_in_effect_is_not_written() {
    // The lines of a cone shear and the rotary turns more and more along each: every move needs an
    // F of its own, and next to none by two thousandths.
    let flat = raster(20);
    for tilt in [0.0, -6.5] {
        let case = Case::new("cup", "degrees", LayKind::TrueWidth, tilt, 20.0);
        let outcome = case.wrap(&flat).done();
        let written = feeds(outcome.out_text());
        let wrapped = program::read(outcome.out_text());
        let burns = wrapped.moves.iter().filter(|m| m.kind == Kind::Burn).count();
        assert!(burns >= 20 * 240 && !written.is_empty(), "{burns} burns");
        assert!(written.len() * 50 < burns, "{} F words, {burns} burns", written.len());
        // Such short burns leave room for all of the two thousandths, so what is written is past
        // them.
        for pair in written.windows(2) {
            assert!((pair[1] / pair[0] - 1.0).abs() > 0.002 - 1e-6, "{pair:?}");
        }
        let also = Also { power: true, focus: false };
        let report = replay(&case.bench(), &program::read(&flat), &wrapped, also);
        assert!(report.fault_count == 0, "{:#?}", report.faults);
        assert!(report.worst_speed > 1e-4, "the F that stands was never off: {report:?}");
    }
}
