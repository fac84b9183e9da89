//! What a mask leaves out of zones.

use crate::command::{LAID, fixture, run};

/// Lines over a corner of the lower boss with its margin, near their start or their end: the mask
/// cuts the corner out of each, so that the judge of the same run finds nothing in the zone. The
/// corner lies at the flat origin, half a millimetre up: a line goes in `over` mm from it on one
/// side and comes out as far from it on the other.
#[test]
fn a_mask_cuts_the_corner_out_of_a_line_that_ends_beside_it() {
    let mut text = String::from("G21 G90 G94\nF600\n");
    let slant = 0.5_f64.sqrt();
    for over in [0.05, 0.1, 0.2] {
        for past in [0.02, 0.06, 0.12, 0.2] {
            for long in [1.0, 5.0, 20.0] {
                let out = (-past * slant, 0.5 - over - past * slant);
                let back = (over + long * slant, 0.5 + long * slant);
                for (from, to) in [(back, out), (out, back)] {
                    text.push_str(&format!(
                        "G0 X{:.4} Y{:.4}\nM4 S300\nG1 X{:.4} Y{:.4}\nM5\n",
                        from.0, from.1, to.0, to.1
                    ));
                }
            }
        }
    }
    text.push_str("M2\n");
    let files = ["blanks/bottle.toml", "machines/degrees.toml"].map(fixture);
    let [blank, machine] = files.each_ref().map(|path| path.to_str().unwrap());
    let place = ["--place-at", "103.5", "--place-turn", "190", "--zones", "mask"];
    for lay in ["true-width", "even-angle", "true-shape", "label"] {
        let words = ["wrap", "-", "-b", blank, "-m", machine, "--lay", lay];
        let outcome = run(&[&words, &place[..], &LAID].concat(), text.as_bytes()).done();
        assert!(outcome.err.contains("are left dark"), "{lay}: {}", outcome.err);
    }
}
