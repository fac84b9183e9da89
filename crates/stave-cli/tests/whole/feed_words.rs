//! F words: left out where they would hardly change anything, and never at the cost of a speed.

use crate::case::Case;
use crate::command::run_in;
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

/// Moves of a few millionths of a millimetre take so little that their F, the inverse, would be
/// greater than any that is read.
#[test]
fn no_f_is_written_that_is_not_read() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let files = [
        (
            "blank.toml",
            "wall = \"smooth\"\n[[station]]\nat = 2.287\ndiameter = 79.572\n[[station]]\nat = \
             43.564\ndiameter = 60.334\n[[station]]\nat = 98.071\ndiameter = 32.442\n",
        ),
        (
            "machine.toml",
            "[controller]\nfeed = \"inverse-time\"\nfeed_counts = \"all-axes\"\ncorner_tolerance = \
             0.05\ncurves = \"corners\"\ndecimals = 6\n[x]\nspeed = 200\nacceleration = \
             3000\n[z]\nspeed = 5\nacceleration = 100\nup = \"away\"\n[rotary]\nword = \
             \"Y\"\nspeed = 40\nacceleration = 4000\ndrive = \"roller\"\nscale = 4\nsteps_per_mm = \
             200\n",
        ),
        (
            "job.toml",
            "lay = \"even-angle\"\ntilt = -1.507\nreference_diameter = 79.572\ndose = \
             \"even\"\nfocus = \"follow\"\nanchor = \"piece\"\n[place]\nat = 2.287\nturn = \
             358.75\ncontact_at = 89.247\n[[operation]]\nname = \"a\"\npick = { fill = \
             \"#000\" }\nwork = \"area\"\nspeed = 100\npower = 20\nline_spacing = 0.2\nscan = \
             \"along\"\none_way = true\n",
        ),
        (
            "art.svg",
            "<svg xmlns='http://www.w3.org/2000/svg' width='249.98281mm' height='98.64779mm' \
             viewBox='0 0 249.98281 98.64779'><rect x='132.44387' y='59.813' width='5.46119' \
             height='7.14806'/></svg>",
        ),
    ];
    for (name, text) in files {
        std::fs::write(folder.join(name), text).unwrap();
    }
    let rest = ["-b", "blank.toml", "-m", "machine.toml", "-j", "job.toml"];
    let outcome = run_in(folder, &[&["wrap", "art.svg", "-o", "out.nc"][..], &rest].concat(), b"");
    outcome.done();
    let text = std::fs::read_to_string(folder.join("out.nc")).unwrap();
    let greatest = feeds(&text).into_iter().fold(0.0, f64::max);
    assert!(greatest > 1e6 && greatest <= 1e9, "{greatest}");
    run_in(folder, &[&["check", "out.nc"][..], &rest].concat(), b"").done();
}
