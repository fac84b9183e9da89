//! A laser that is only on or off is dark wherever the work stands without being burned: it has no
//! power to be taken away, so that its word must be. So is any laser at a word that only its
//! controller knows.

use crate::command::{LAID, fixture, run, run_in};

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

/// A controller that does not know a word may skip it and take the S beside it: under M3 that burns
/// where the work stands.
#[test]
fn before_a_word_that_only_the_controller_knows_the_beam_word_is_off() {
    let files = ["blanks/can.toml", "machines/degrees.toml"].map(fixture);
    let [blank, machine] = files.each_ref().map(|path| path.to_str().unwrap());
    let words = ["wrap", "-", "-b", blank, "-m", machine, "--place-at", "20", "--pass", "all"];
    for beam in ["M3", "M4"] {
        for stop in ["M106 S255", "M42 P3 S255", "$J=G91X1F1"] {
            let text = format!(
                "G21 G90\nG0 X20 Y0\n{beam} S300\n{stop}\nG1 X30 F1200\n{stop}\nG0 X40\n{stop}\n\
                 G1 X45\nM5\nM2\n"
            );
            let outcome = run(&[&words[..], &LAID].concat(), text.as_bytes()).done();
            let lines: Vec<&str> =
                outcome.out_text().lines().filter(|line| !line.starts_with('(')).collect();
            let lit = format!("{beam} S0");
            // And since it may move the machine, that comes to where it was before it burns.
            let first = ["G21 G90 G94", "M5", "G0 X20 A0", &lit, "M5", stop, "M5", "G0 X20 A0"];
            let burn = [&lit, "G1 X30 S300 F1200", "M5", stop, "M5", "G0 X40 A0", stop, "M5"];
            let last = ["G0 X40 A0", &lit, "G1 X45 S300 F1200", "M5", "M5", "M2"];
            assert_eq!(lines, [&first[..], &burn[..], &last[..]].concat());
        }
    }
}

/// The same of a machine's own words of the air, which may have an S as well.
#[test]
fn before_a_word_of_the_air_that_is_no_coolant_the_beam_word_is_off() {
    let folder = tempfile::tempdir().unwrap();
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let air = ("low = \"M7\"", "low = \"M106 S100\"");
    let machine = machine.replace(air.0, air.1).replace("\"M4\"", "\"M3\"");
    let job = "[[operation]]\nname = \"still\"\npick = { stroke = \"#f00\" }\n\
               work = \"line\"\nspeed = 60\npower = 20\n\
               [[operation]]\nname = \"blown\"\npick = { stroke = \"#00f\" }\n\
               work = \"line\"\nspeed = 60\npower = 20\n\
               air = \"low\"\n";
    let drawing = r##"<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm"
        viewBox="0 0 40 20"><path d="M5 5h9" stroke="#f00"/>
        <path d="M5 9h9" stroke="#00f"/></svg>"##;
    std::fs::write(folder.path().join("m.toml"), machine).unwrap();
    std::fs::write(folder.path().join("j.toml"), job).unwrap();
    let blank = fixture("blanks/can.toml");
    let words = ["wrap", "-", "-m", "m.toml", "-j", "j.toml", "--place-at", "20"];
    let words = [&words[..], &["-b", blank.to_str().unwrap()], &LAID].concat();
    let outcome = run_in(folder.path(), &words, drawing.as_bytes()).done();
    let lines: Vec<&str> =
        outcome.out_text().lines().filter(|line| !line.starts_with('(')).collect();
    let at = lines.iter().position(|line| *line == "M106 S100").unwrap();
    assert_eq!(lines[at - 1..=at + 1], ["M5", "M106 S100", "M5"], "{lines:#?}");
    let burn = lines[at..].iter().position(|line| line.starts_with("G1")).unwrap();
    assert!(lines[at..at + burn].contains(&"M3 S0"), "{lines:#?}");
    assert!(lines[at + burn].contains(" S") && lines[at + burn].contains(" F"), "{lines:#?}");
}
