//! A laser that is only on or off is dark wherever the work stands without being burned: it has no
//! power to be taken away, so that its word must be.

use crate::command::{LAID, fixture, run};

#[test]
fn whatever_stops_the_work_between_two_burns_finds_the_beam_off() {
    let files = ["blanks/can.toml", "machines/degrees.toml"].map(fixture);
    let [blank, machine] = files.each_ref().map(|path| path.to_str().unwrap());
    let words = ["wrap", "-", "-b", blank, "-m", machine, "--place-at", "20", "--pass", "all"];
    // Under M4 a dwell is dark, since there the power follows the speed.
    for stop in ["G4 P1", "M0", "M1", "M8", "M48", "M106 P1", "$H"] {
        let text = format!("G21 F600\nM4\nG1 X10\n{stop}\nX20\nM5\nM2\n");
        let outcome = run(&[&words[..], &LAID].concat(), text.as_bytes()).done();
        let lines: Vec<&str> =
            outcome.out_text().lines().filter(|line| !line.starts_with('(')).collect();
        let at = lines.iter().position(|line| line.starts_with(stop)).unwrap();
        let last = |range: &[&str]| {
            let beam = |line: &&&str| ["M3", "M4", "M5"].contains(line);
            range.iter().rfind(beam).map(|line| (*line).to_owned())
        };
        assert_eq!(last(&lines[..at]).as_deref(), Some("M5"), "{stop}: {lines:?}");
        let burn = at + lines[at..].iter().position(|line| line.contains("X20")).unwrap();
        assert_eq!(last(&lines[at..burn]).as_deref(), Some("M4"), "{stop}: {lines:?}");
    }
}
