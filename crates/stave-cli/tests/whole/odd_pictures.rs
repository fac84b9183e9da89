//! Pictures and engravings that are not as they should be: told in a sentence, or taken as they are
//! meant.

use crate::command::{Outcome, fixture, run_in};
use crate::pictures::png;

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
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let operation = format!(
        "[place]\nat = 20\n[[operation]]\nname = \"photo\"\nwork = \"picture\"\nspeed = 200\n\
         power = 60\nline_spacing = {spacing_mm}\n"
    );
    std::fs::write(folder.join("job.toml"), operation).unwrap();
    std::fs::write(folder.join("a.png"), picture).unwrap();
    let (can, bench) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let on = ["-b", can.to_str().unwrap(), "-m", bench.to_str().unwrap(), "-j", "job.toml"];
    run_in(folder, &[&["wrap", "a.png", "--width", "20"], &on[..]].concat(), b"")
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
