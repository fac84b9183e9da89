//! Pictures that are seen through: as input and in a drawing they burn alike.

use crate::command::{fixture, run_in};
use crate::program::{self, Kind};
use crate::rendered::data_url;
use resvg::tiny_skia::{ColorU8, Pixmap};

/// Of the operation, percent.
const POWER: f64 = 60.0;
/// A PNG's eight pixels along each side are so wide.
const WIDTH_MM: f64 = 20.0;

/// A PNG of one colour, as much of it there as its last part says.
fn png([red, green, blue, alpha]: [u8; 4]) -> Vec<u8> {
    let mut pixmap = Pixmap::new(8, 8).unwrap();
    pixmap.pixels_mut().fill(ColorU8::from_rgba(red, green, blue, alpha).premultiply());
    pixmap.encode_png().unwrap()
}

/// The power that most of the length is burned with, percent; 0 where it is told that nothing is.
fn power(input: &str, bytes: &[u8], (pick, invert): (&str, bool), size: &[&str]) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let job = format!(
        "[place]\nat = 20\n[[operation]]\nname = \"veil\"\nwork = \"picture\"\n{pick}speed = 200\n\
         power = {POWER}\nline_spacing = 0.2\ninvert = {invert}\n"
    );
    std::fs::write(folder.join("job.toml"), job).unwrap();
    std::fs::write(folder.join(input), bytes).unwrap();
    let (can, bench) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let on = ["-b", can.to_str().unwrap(), "-m", bench.to_str().unwrap(), "-j", "job.toml"];
    let outcome = run_in(folder, &[&["wrap", input], size, &on[..]].concat(), b"");
    if outcome.err.contains("error nothing-burns") {
        return 0.0;
    }
    let outcome = outcome.done();
    let moves = program::read(outcome.out_text()).moves;
    let mut lengths: Vec<(f64, f64)> = Vec::new();
    for one in moves.iter().filter(|one| one.kind == Kind::Burn) {
        let (s, length) = (one.power.unwrap(), (one.to[0] - one.from[0]).abs());
        match lengths.iter_mut().find(|known| known.0 == s) {
            Some(known) => known.1 += length,
            None => lengths.push((s, length)),
        }
    }
    let most = lengths.into_iter().max_by(|one, other| one.1.total_cmp(&other.1));
    most.map_or(0.0, |most| most.0 / 10.0)
}

/// IEC 61966-2-1:1999, 5.2, and the weights of ITU-R BT.709-6, 3.2.
fn luminance(srgb: [f64; 3]) -> f64 {
    let linear = |v: f64| if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) };
    let [red, green, blue] = srgb.map(linear);
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

/// What shines through is as dark as it looks over white, channel by channel in sRGB (W3C
/// Compositing and Blending Level 1, 5.1, source over: `co = cs x as + cb x (1 - as)`); inverted,
/// it burns as light as it is by itself, as far as it is there.
#[test]
fn a_picture_seen_through_burns_alike_as_input_and_in_a_drawing() {
    let page = |url: &str| {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='{WIDTH_MM}mm' height='{WIDTH_MM}mm' \
             viewBox='0 0 {WIDTH_MM} {WIDTH_MM}'><image id='veil' width='{WIDTH_MM}' \
             height='{WIDTH_MM}' href='{url}'/></svg>"
        )
    };
    for colour in [[0, 0, 0], [128, 128, 128], [200, 40, 90]] {
        for alpha in [64, 128, 191] {
            let picture = png([colour[0], colour[1], colour[2], alpha]);
            let drawing = page(&data_url("image/png", &picture));
            let own = colour.map(|part| f64::from(part) / 255.0);
            let there = f64::from(alpha) / 255.0;
            let over_white = own.map(|part| part * there + 1.0 - there);
            for invert in [false, true] {
                let dark =
                    if invert { luminance(own) * there } else { 1.0 - luminance(over_white) };
                let width = WIDTH_MM.to_string();
                let input = power("a.png", &picture, ("", invert), &["--width", &width]);
                let pick = ("pick = { id = \"veil\" }\n", invert);
                let drawn = power("a.svg", drawing.as_bytes(), pick, &[]);
                let case = format!("{colour:?}, {alpha}, {invert}: {input} {drawn}");
                // Eight bits of sRGB are 0.009 of darkness at most; half of that, rounded.
                assert!((input - POWER * dark).abs() < 0.3, "{case}, not {}", POWER * dark);
                assert!((input - drawn).abs() < 0.3, "{case}");
            }
        }
    }
}
