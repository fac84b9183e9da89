//! Ware that was measured in inches: what is drawn of it is told in inches.

use crate::command::{fixture, run_in};
use std::fs;

const ON: [&str; 4] = ["-b", "blanks/cup.toml", "-m", "machines/degrees.toml"];
const PHOTO: [&str; 5] = ["photos/boathouse.png", "--width", "60", "-j", "photos/job.toml"];

/// The words of a picture that a command draws.
fn words(command: &[&str], of_cup: &[&str], name: &str) -> (Vec<String>, String) {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join(name);
    let all = [command, of_cup, &["-o", out.to_str().unwrap()]].concat();
    run_in(&fixture(""), &all, b"").done();
    let text = fs::read_to_string(out).unwrap();
    let words = text.split("<text ").skip(1).map(|part| {
        let (_, rest) = part.split_once('>').unwrap();
        rest.split("</text>").next().unwrap().to_owned()
    });
    (words.collect(), text)
}

/// Those that tell a length in mm: a figure before the unit.
fn in_mm(words: &[String]) -> Vec<&String> {
    let tells = |text: &&String| {
        text.match_indices(" mm").any(|(at, _)| text[..at].ends_with(|c: char| c.is_ascii_digit()))
    };
    words.iter().filter(tells).collect()
}

/// The cup is 4.5 inches high, 2.5 across its foot and 10.9956 round its rim, which is 3.5 across.
#[test]
fn a_sheet_tells_the_ware_in_the_unit_of_its_file() {
    let (sheet, _) = words(&[&["proof"], &PHOTO[..]].concat(), &ON, "a.svg");
    for told in [
        "The wall unrolled, seen from outside; lengths in inches",
        "at 4.5 ⌀3.5",
        "at 0 ⌀2.5",
        "1 in on the ware",
        "2 in along the wall, around where ⌀ is 3.5; to the ends: along the axis",
        // The picture is 43.33 mm high along a wall that true-shape makes 6 % larger upwards.
        "1.8 to 3.49 in",
    ] {
        assert!(sheet.iter().any(|text| text == told), "{told}: {sheet:?}");
    }
    // What belongs to beam, head and machine stays in mm.
    let machine = ["250 and 250 mm/s", "±0.06 mm, sharp to ±0.61", "0.1021 mm", "5.9 mm"];
    let left = in_mm(&sheet);
    assert!(left.iter().all(|text| machine.contains(&text.as_str())), "{left:?}");
    let customer = [&["proof", "--for-customer"], &PHOTO[..]].concat();
    let (sheet, _) = words(&customer, &ON, "a.svg");
    let size = "tapered cup: 4.5 in measured along, 2.5 to 3.5 in across; engraved \
                2.51 in around by 1.71 in along the wall";
    assert!(sheet.iter().any(|text| text == size), "{sheet:?}");
    assert!(in_mm(&sheet).is_empty(), "{sheet:?}");
    let (_, page) = words(&[&["proof"], &PHOTO[..]].concat(), &ON, "a.html");
    assert!(page.contains("\"inches\":true") && page.contains("\"diameter_text\":\"3.5\""));
}

/// The lines of a layer of the page.
fn layer<'a>(page: &'a str, name: &str) -> Vec<&'a str> {
    let (_, rest) = page.split_once(&format!("<g id=\"stave-guides-{name}\">")).unwrap();
    rest.split("</g>").next().unwrap().lines().filter(|line| line.contains("<path")).collect()
}

/// Told otherwise, and nowhere else: the page of the same cup measured in mm has the same lines.
#[test]
fn what_is_drawn_lies_where_it_lay() {
    let folder = tempfile::tempdir().unwrap();
    let blank = folder.path().join("cup.toml");
    let text = "name = \"tapered cup\"\n[[station]]\nat = 0.0\ndiameter = 63.5\n\
                [[station]]\nat = 114.3\ncircumference = 279.28824\n";
    fs::write(&blank, text).unwrap();
    let in_mm = ["-b", blank.to_str().unwrap(), "-m", "machines/degrees.toml"];
    let command = [&["template"], &PHOTO[..]].concat();
    let (told, page) = words(&command, &in_mm, "a.svg");
    let (_, of_inches) = words(&command, &ON, "a.svg");
    assert_eq!(page.lines().next(), of_inches.lines().next(), "as large");
    for name in ["outline", "focus", "turns", "stations", "frames"] {
        assert_eq!(layer(&page, name), layer(&of_inches, name), "{name}");
    }
    assert!(told.contains(&"picture: 60 × 43.3 mm".to_owned()), "{told:?}");
}

#[test]
fn level_template_and_patterns_too() {
    let (level, _) = words(&["level"], &ON, "a.svg");
    for told in [
        "end at 4.5 in",
        // 4 sin 6.5° = 0.4528.
        "raise the end at 0 in by 0.45 in over every 4 in of the rotary's length",
        "thick, 0 to 4.5 in: with tilt -6.5° it is at most 0.16 mm out of focus",
    ] {
        assert!(level.iter().any(|text| text == told), "{told}: {level:?}");
    }
    let (page, _) = words(&[&["template"], &PHOTO[..]].concat(), &ON, "a.svg");
    for told in [
        "rim: at 4.5, ⌀ 3.5",
        "Blue bars: 0.5 in on the ware, as long as they are to be drawn for true-shape.",
        "picture: 2.36 × 1.71 in",
        "2 in by a ruler, else print at 100 %",
    ] {
        assert!(page.iter().any(|text| text == told), "{told}: {page:?}");
    }
    // Half the page is 5.5 inches: one figure an inch.
    let rulers: Vec<&String> = page.iter().filter(|text| text.parse::<i32>().is_ok()).collect();
    let around = ["-5", "-4", "-3", "-2", "-1", "0", "1", "2", "3", "4", "5"];
    assert_eq!(rulers[..11], around, "{rulers:?}");
    assert!(in_mm(&page).is_empty(), "{page:?}");
    let (patterns, drawn) = words(&["template", "--paper"], &ON[..2], "a.svg");
    // A cone from 1.25 to 1.75 inches of radius over 4.5: its slant is 4.528.
    let told = "1. at 0 to 4.5 in, diameters 2.5 and 3.5 in, slant 4.528 in";
    assert!(patterns.iter().any(|text| text == told), "{patterns:?}");
    // The bar is as long as it says: 2 inches are 50.8 mm, from the margin of 10.
    assert!(drawn.contains("60.8") && in_mm(&patterns).is_empty(), "{patterns:?}");
    let (lays, _) = words(&[&["lays"], &PHOTO[..]].concat(), &ON, "a.svg");
    assert!(lays.iter().any(|text| text.ends_with("stations, diameters in inches.")), "{lays:?}");
}
