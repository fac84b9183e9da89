//! Run-ups that an axis's end makes shorter.

use crate::command::run_in;

/// An end that falls between two counts of the word: no word is past it.
#[test]
fn no_run_up_goes_past_an_end_between_two_counts() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let circle = "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='40mm' viewBox='0 0 \
                  60 40'><circle cx='30' cy='20' r='4'/></svg>";
    std::fs::write(folder.join("art.svg"), circle).unwrap();
    std::fs::write(
        folder.join("blank.toml"),
        "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n",
    )
    .unwrap();
    let count = 1e-4;
    for (scan, along) in [("along", "x"), ("along", "y"), ("around", "x")] {
        // From what is first asked for the end is put close, so that run-ups are cut short.
        for at in [0.25, 0.5, 0.75] {
            for (end, sign) in [("min", -1.0), ("max", 1.0)] {
                let write = |limit: &str| {
                    let of = |axis: &str| {
                        let its = if scan == "around" { "rotary" } else { along };
                        if axis == its { limit } else { "" }
                    };
                    let machine = format!(
                        "[controller]\ndecimals = 4\n[x]\nspeed = 500\nacceleration = 900\n{}[y]\n\
                         speed = 500\nacceleration = 900\n{}[rotary]\nword = \"A\"\nalong = \
                         \"{along}\"\nunits_per_turn = 360\nspeed = 900\nacceleration = 2000\n{}",
                        of("x"),
                        of("y"),
                        of("rotary")
                    );
                    std::fs::write(folder.join("machine.toml"), machine).unwrap();
                };
                let job = format!(
                    "[place]\nat = 30\n[[operation]]\nname = \"a\"\npick = {{ fill = \"black\" \
                     }}\nwork = \"area\"\nspeed = 150\npower = 20\nline_spacing = 0.5\nscan = \
                     \"{scan}\"\n"
                );
                std::fs::write(folder.join("job.toml"), job).unwrap();
                let rest = ["-b", "blank.toml", "-m", "machine.toml", "-j", "job.toml"];
                let wrap = [&["wrap", "art.svg"][..], &rest].concat();
                let letter = match (scan, along) {
                    ("around", _) => 'A',
                    (_, "y") => 'Y',
                    _ => 'X',
                };
                let words = |text: &str| -> Vec<f64> {
                    let lines = text.lines().filter(|line| !line.starts_with('('));
                    let words = lines.flat_map(|line| line.split(' '));
                    words.filter_map(|word| word.strip_prefix(letter)?.parse().ok()).collect()
                };
                write("");
                let free = run_in(folder, &wrap, b"").done();
                let far = words(free.out_text())
                    .into_iter()
                    .fold(f64::NEG_INFINITY, |far, word| far.max(sign * word));
                let far = sign * far;
                // Run-ups are 12.5 mm and more.
                let bound = far - sign * 3.0;
                let bound = (bound / count).trunc() * count + at * count * bound.signum();
                write(&format!("{end} = {bound:.7}\n"));
                let held = run_in(folder, &wrap, b"").done();
                let said = format!("{scan} {along} {end} {bound}");
                let most = words(held.out_text())
                    .into_iter()
                    .fold(f64::NEG_INFINITY, |m, w| m.max(sign * w));
                assert!(
                    most <= sign * bound && most > sign * bound - 1.01 * count,
                    "{said} {most}"
                );
                let check = [&["check", "-"][..], &rest].concat();
                run_in(folder, &check, held.out_text().as_bytes()).done();
            }
        }
    }
}
