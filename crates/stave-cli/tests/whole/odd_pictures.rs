//! Pictures and engravings that are not as they should be: told in a sentence, or taken as they are
//! meant.

use crate::command::{Outcome, fixture, run, run_in};
use crate::pictures::png;
use crate::program;

/// CRC of PNG (W3C PNG, third edition, 5.5): reflected 0xEDB88320.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 }
        })
    })
}

fn chunk(kind: [u8; 4], data: &[u8]) -> Vec<u8> {
    let typed = [&kind[..], data].concat();
    let length = u32::try_from(data.len()).unwrap().to_be_bytes();
    [&length[..], &typed, &crc32(&typed).to_be_bytes()].concat()
}

fn wrapped(picture: &[u8], spacing_mm: f64) -> Outcome {
    wrapped_by(picture, &format!("line_spacing = {spacing_mm}"), &["--width", "20"])
}

/// By an operation that says more, at a size.
fn wrapped_by(picture: &[u8], more: &str, size: &[&str]) -> Outcome {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let operation = format!(
        "[place]\nat = 20\n[[operation]]\nname = \"photo\"\nwork = \"picture\"\nspeed = 200\n\
         power = 60\n{more}\n"
    );
    std::fs::write(folder.join("job.toml"), operation).unwrap();
    std::fs::write(folder.join("a.png"), picture).unwrap();
    let (can, bench) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let on = ["-b", can.to_str().unwrap(), "-m", bench.to_str().unwrap(), "-j", "job.toml"];
    run_in(folder, &[&["wrap", "a.png"], size, &on[..]].concat(), b"")
}

#[test]
fn a_picture_too_large_is_refused_by_its_head() {
    // Forty thousand pixels square, and no pixels at all.
    let side = 40_000_u32.to_be_bytes();
    let head = chunk(*b"IHDR", &[&side[..], &side, &[8, 0, 0, 0, 0]].concat());
    let huge = [b"\x89PNG\r\n\x1a\n", &head[..]].concat();
    let outcome = wrapped(&huge, 0.1);
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("40000 x 40000 pixels, more than"), "{}", outcome.err);
    assert!(outcome.out.is_empty());
}

#[test]
fn lines_finer_than_the_picture_are_told() {
    let coarse = png(8, 8, |column, _| (column * 30) as u8);
    let outcome = wrapped(&coarse, 0.1).done();
    assert!(
        outcome.err.contains("finer than the picture, whose pixels are 2.5 mm"),
        "{}",
        outcome.err
    );
    let fine = png(180, 180, |column, _| (column % 8 * 30) as u8);
    let outcome = wrapped(&fine, 0.12).done();
    assert!(!outcome.err.contains("finer than the picture"), "{}", outcome.err);
}

/// Of a picture that moves the first burns: that of a reader that knows nothing of it.
#[test]
fn of_what_moves_the_first_picture_burns() {
    let still = png(16, 16, |column, row| ((column + row) * 8) as u8);
    let at = still.windows(4).position(|kind| kind == b"IDAT").unwrap() - 4;
    let control = chunk(*b"acTL", &[0, 0, 0, 2, 0, 0, 0, 0]);
    let frame: Vec<u8> = [0_u32, 16, 16, 0, 0].iter().flat_map(|n| n.to_be_bytes()).collect();
    let frame = chunk(*b"fcTL", &[&frame[..], &[0, 1, 0, 10, 0, 0]].concat());
    let moves = [&still[..at], &control, &frame, &still[at..]].concat();
    assert_eq!(without_digests(&wrapped(&moves, 0.2)), without_digests(&wrapped(&still, 0.2)));
}

/// The words, without the first line, which has the digest of the input.
fn without_digests(outcome: &Outcome) -> String {
    assert_eq!(outcome.status, Some(0), "{}", outcome.err);
    let text = String::from_utf8(outcome.out.clone()).unwrap();
    text.lines().skip(1).collect::<Vec<_>>().join("\n")
}

/// An engraving that breaks off within a line is refused with its place, however it is scanned.
#[test]
fn an_engraving_that_breaks_off_is_refused() {
    let whole = std::fs::read_to_string(fixture("programs/pennant.nc")).unwrap();
    let word = whole.len() / 2 + whole[whole.len() / 2..].find('S').unwrap();
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("cut.nc"), &whole[..=word]).unwrap();
    let path = |name: &str| fixture(name).display().to_string();
    let (cup, bench) = (path("blanks/cup.toml"), path("machines/degrees.toml"));
    let job = path("jobs/cup.toml");
    for way in ["again", "follow", "auto"] {
        let wrap = ["wrap", "cut.nc", "-b", &cup, "-m", &bench, "-j", &job, "--scan", way];
        let outcome = run_in(folder.path(), &[&wrap[..], &["-o", "out.nc"]].concat(), b"");
        assert_eq!(outcome.status, Some(2), "{way}: {}", outcome.err);
        assert!(
            outcome.err.contains("expected a value, but the line ends here"),
            "{}",
            outcome.err
        );
        assert!(!folder.path().join("out.nc").exists(), "{way}");
    }
}

/// What burns of eight greys side by side: for each, S times length, over that of the darkest.
fn eight_greys(outcome: &Outcome) -> Vec<f64> {
    let program = program::read(outcome.out_text());
    let burns = program.moves.iter().filter(|m| m.kind == program::Kind::Burn);
    let all: Vec<(f64, f64)> =
        burns.map(|m| (m.from[3], m.power.unwrap() * (m.to[0] - m.from[0]).abs())).collect();
    // Page right is the way of falling turns; 20 mm on 74 mm of diameter, about turn 0.
    let half = (10.0_f64 / 37.0).to_degrees();
    let mut greys = [0.0; 8];
    for (turn, energy) in all {
        greys[(((half - turn) / (2.0 * half) * 8.0) as usize).min(7)] += energy;
    }
    let most = greys[0];
    greys.iter().map(|grey| grey / most).collect()
}

/// `photos/ramps.py` writes them by Pillow: a ramp of eight greys, the same in inks for paper, and
/// the same as a camera held upright leaves it. sRGB by IEC 61966-2-1.
#[test]
fn a_jpeg_in_inks_and_one_that_is_turned_burn_as_the_plain_one_does() {
    let of = |name: &str| {
        let picture = std::fs::read(fixture(&format!("photos/{name}"))).unwrap();
        wrapped(&picture, 0.1).done()
    };
    let plain = of("ramp.jpg");
    let greys = eight_greys(&plain);
    for (k, found) in (0_u8..).zip(&greys) {
        let wanted = crate::pictures::darkness(32 * k);
        assert!((found - wanted).abs() < 0.03, "{greys:?}, {wanted} of the {k}th");
    }
    let inks = of("ramp-cmyk.jpg");
    assert!(inks.err.contains("is in CMYK, inks for paper: its greys are near"), "{}", inks.err);
    for other in [inks, of("ramp-turned.jpg")] {
        let other = eight_greys(&other);
        let alike = other.iter().zip(&greys).all(|(a, b)| (a - b).abs() < 0.03);
        assert!(alike, "{other:?} {greys:?}");
    }
    // A file that ends in the middle is no picture, however much of it is there.
    let whole = std::fs::read(fixture("photos/ramp.jpg")).unwrap();
    let outcome = wrapped(&whole[..whole.len() - 40], 0.1);
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
    assert!(outcome.err.contains("breaks off") && outcome.out.is_empty(), "{}", outcome.err);
}

/// A picture damaged within is refused with its place, whoever shows it: as INPUT, and by a drawing
/// as data or in a file beside it, where it is left out.
#[test]
fn a_picture_damaged_within_is_told_wherever_it_is_shown() {
    let mut jpeg = std::fs::read(fixture("photos/hills-progressive.jpg")).unwrap();
    let within = jpeg.len() - 60;
    jpeg.drain(within..within + 20);
    let mut still = png(16, 16, |column, row| ((column + row) * 8) as u8);
    // The last byte of the sum over the pixels' chunk: the last chunk, of 12 bytes, follows.
    let sum = still.len() - 13;
    still[sum] ^= 4;
    for (damaged, kind, words) in
        [(jpeg, "jpeg", "the picture is damaged at byte "), (still, "png", "cannot be read: CRC")]
    {
        let outcome = wrapped(&damaged, 0.1);
        assert_eq!(outcome.status, Some(2), "{}", outcome.err);
        assert!(outcome.err.contains(words), "{}", outcome.err);
        assert!(outcome.err.contains("copy or export it again"), "{}", outcome.err);
        assert!(outcome.out.is_empty());
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("beside"), &damaged).unwrap();
        let data = crate::rendered::data_url(&format!("image/{kind}"), &damaged);
        for href in ["beside", &data] {
            let svg = format!(
                "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='60mm' \
                 viewBox='0 0 60 60'><image id='photo' width='20' height='20' href='{href}'/></svg>"
            );
            std::fs::write(folder.path().join("a.svg"), svg).unwrap();
            let path = |name: &str| fixture(name).display().to_string();
            let (can, bench) = (path("blanks/can.toml"), path("machines/degrees.toml"));
            let arguments = ["wrap", "a.svg", "-b", &can, "-m", &bench];
            let outcome = run_in(folder.path(), &arguments, b"");
            assert_eq!(outcome.status, Some(1), "{}", outcome.err);
            assert!(outcome.err.contains("left-out") && outcome.err.contains("photo"));
            assert!(outcome.err.contains(words), "{}", outcome.err);
        }
    }
}

/// What is far too large for the wall is refused by its size, before any line of it is looked at:
/// by the picture's own resolution, by an option, and in a drawing.
#[test]
fn a_picture_vast_beside_the_wall_is_refused_by_its_size() {
    let picture = png(64, 64, |column, _| (column * 3) as u8);
    // A pixel a metre (W3C PNG, third edition, 11.3.4.3), after the header of 33 bytes.
    let metre = chunk(*b"pHYs", &[0, 0, 0, 1, 0, 0, 0, 1, 1]);
    let own = [&picture[..33], &metre, &picture[33..]].concat();
    let more = "line_spacing = 0.1";
    let refused = |outcome: &Outcome| {
        assert_eq!(outcome.status, Some(2), "{}", outcome.err);
        assert!(outcome.err.contains("the picture would be "), "{}", outcome.err);
        assert!(outcome.err.contains("mm round: give its size"), "{}", outcome.err);
    };
    refused(&wrapped_by(&own, more, &[]));
    refused(&wrapped_by(&picture, more, &["--width", "100000"]));
    refused(&wrapped_by(&picture, more, &["--height", "3900in"]));
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("a.png"), &picture).unwrap();
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='3000mm' height='3000mm' \
               viewBox='0 0 3 3'><image width='3' height='3' href='a.png'/></svg>";
    std::fs::write(folder.path().join("a.svg"), svg).unwrap();
    let path = |name: &str| fixture(name).display().to_string();
    let (can, bench, job) =
        (path("blanks/can.toml"), path("machines/degrees.toml"), path("photos/job.toml"));
    for command in ["wrap", "check", "walk", "estimate"] {
        let arguments = [command, "a.svg", "-b", &can, "-m", &bench, "-j", &job];
        refused(&run_in(folder.path(), &arguments, b""));
    }
}

#[test]
fn a_picture_too_small_to_burn_is_told_as_a_picture() {
    let picture = png(30, 30, |_, _| 0);
    let outcome = wrapped_by(&picture, "line_spacing = 0.1", &["--width", "0.001"]);
    assert_eq!(outcome.status, Some(1), "{}", outcome.err);
    assert!(outcome.err.contains("the picture is too small to burn"), "{}", outcome.err);
}

/// A row or a column of pixels, or one, is a picture like another.
#[test]
fn pictures_of_one_row_or_column_burn() {
    for (columns, rows) in [(1, 40), (120, 1), (1, 1)] {
        let picture = png(columns, rows, |_, _| 0);
        let outcome = wrapped_by(&picture, "line_spacing = 0.1", &["--height", "8"]);
        let outcome = if columns > rows { wrapped(&picture, 0.1) } else { outcome }.done();
        let program = program::read(outcome.out_text());
        let burns = program.moves.iter().filter(|m| m.kind == program::Kind::Burn);
        let burned: f64 = burns.map(|m| (m.to[0] - m.from[0]).abs()).sum();
        // Every line from end to end: its area over the spacing of five motor steps or six.
        let (width, height) = match (columns, rows) {
            (1, 40) => (0.2, 8.0),
            (120, 1) => (20.0, 20.0 / 120.0),
            _ => (8.0, 8.0),
        };
        let lines = burned / height;
        let asked = width / 0.1;
        assert!((lines - asked).abs() < 0.12 * asked + 1.0, "{columns} x {rows}: {lines}");
    }
}

/// A picture that is light all over says so, and what would burn.
#[test]
fn a_picture_with_nothing_to_burn_says_why() {
    let (white, black) = (png(30, 30, |_, _| 255), png(30, 30, |_, _| 0));
    let grey = png(30, 30, |_, _| 190);
    for (picture, more, why) in [
        (&white, "", "all of it is white, which is bare ware; `invert` burns what is light"),
        (&black, "invert = true", "all of it is black, and where it says `invert` what is light"),
        (&grey, "tone = \"threshold\"", "nothing of it is as dark as its `threshold` says"),
    ] {
        let more = format!("line_spacing = 0.1\n{more}");
        let outcome = wrapped_by(picture, &more, &["--width", "20"]);
        assert_eq!(outcome.status, Some(1), "{}", outcome.err);
        assert!(outcome.err.contains("error nothing-burns: nothing of the drawing burns"));
        assert!(outcome.err.contains(why), "{}", outcome.err);
        assert!(outcome.out_text().contains("(broken off: error nothing-burns"));
    }
    wrapped_by(&white, "line_spacing = 0.1\ninvert = true", &["--width", "20"]).done();
}

#[test]
fn a_size_that_is_none_is_told_alike_however_it_is_none() {
    let picture = fixture("photos/boathouse.png");
    let (blank, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    for size in ["0", "-3", "-0.5in"] {
        let arguments = ["wrap", picture.to_str().unwrap(), "--width", size];
        let files = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
        let refused = run(&[&arguments[..], &files].concat(), b"");
        assert_eq!(refused.status, Some(2), "{size}: {}", refused.err);
        let words = format!("--width: `{size}` must be more than 0");
        assert!(refused.err.contains(&words), "{size}: {}", refused.err);
    }
}
