//! `stave template INPUT`: where art will be burned, on the page to draw on.

use crate::command::{Outcome, fixture, run};
use std::f64::consts::PI;

const PHOTO: &str = "fixtures/photos/boathouse.png";

/// `template` of a fixture blank, with the fixture machine.
fn template(blank: &str, rest: &[&str]) -> Outcome {
    let blank = fixture(&format!("blanks/{blank}.toml"));
    let machine = fixture("machines/degrees.toml");
    let files = ["template", "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    run(&[&files[..], rest].concat(), b"")
}

/// The lines of the frames of a page, mm.
fn frames(page: &str) -> Vec<Vec<(f64, f64)>> {
    let lines = page.lines().filter(|line| line.contains("class=\"frame\""));
    let points = lines.map(|line| {
        let d = line.split("d=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap();
        let d = d.trim_end_matches(" Z").trim_start_matches('M');
        let point = |text: &str| {
            let (x, y) = text.split_once(' ').unwrap();
            (x.parse().unwrap(), y.parse().unwrap())
        };
        d.split(" L").map(point).collect()
    });
    points.collect()
}

/// The page's point nearest to a place.
fn off(line: &[(f64, f64)], (x, y): (f64, f64)) -> f64 {
    line.iter().map(|point| (point.0 - x).hypot(point.1 - y)).fold(f64::INFINITY, f64::min)
}

/// The cup is a cone from 63.5 to 88.9 mm across over 114.3 mm; its page is as wide as its rim is
/// round. By the formulas of true-width: along as drawn, around v / r.
#[test]
fn a_picture_is_framed_where_it_will_be_burned() {
    let run = template("cup", &[PHOTO, "--width", "60", "--place-at", "30"]).done();
    let page = run.out_text();
    assert!(
        page.contains("id=\"stave-guides-frames\"") && page.contains(">picture: 2.36 × 1.71 in<")
    );
    let [frame] = &frames(page)[..] else { panic!("{page}") };
    let slope = (12.7_f64).hypot(114.3) / 114.3;
    let (length, rim) = (114.3 * slope, 44.45);
    // The picture is 360 by 260 pixels.
    for along in [0.0, 60.0 * 260.0 / 360.0] {
        let s = 30.0 * slope + along;
        let radius = 31.75 + 12.7 * s / length;
        for v in [-30.0, 30.0] {
            let at = (PI * rim - rim * v / radius, length - s);
            assert!(off(frame, at) < 1e-3, "{at:?}: {frame:?}");
        }
    }
    // Its sides bend inwards: half way up it is narrower than a straight line from end to end.
    assert!(frame.len() > 200, "{}", frame.len());
}

/// What `walk` goes round is what is framed: a drawing's pieces, a flat program, a wrapped one.
#[test]
fn frames_are_where_walk_goes() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let job = fixture("jobs/bottle.toml").to_str().unwrap().to_owned();
    let files = ["-b", "fixtures/blanks/bottle.toml", "-m", "fixtures/machines/degrees.toml"];
    let wrapped = path("wrapped.nc");
    let flat = fixture("programs/crest.nc").to_str().unwrap().to_owned();
    let wrap = ["wrap", &flat, "-j", &job, "-o", &wrapped];
    run(&[&wrap[..], &files].concat(), b"").done();
    for input in [&flat, &wrapped] {
        let page = template("bottle", &[input, "-j", &job]).done();
        let frames = frames(page.out_text());
        let walk = run(&[&["walk", input, "-j", &job], &files[..]].concat(), b"").done();
        // "the program: at 110.5 to 166.3 mm, turn -58.2 to 58.2 degrees, ...": as it tells it.
        let numbers: Vec<f64> = walk
            .err
            .lines()
            .find(|line| line.contains("the program"))
            .unwrap()
            .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
            .filter_map(|word| word.parse().ok())
            .collect();
        let ys = frames.iter().flatten().map(|point| point.1);
        let (top, foot) = (ys.clone().fold(f64::INFINITY, f64::min), ys.fold(0.0, f64::max));
        // Along the meridian of the body, whose taper is slight, mm of `at` are mm of page.
        let high = numbers[1] - numbers[0];
        assert!((foot - top - high).abs() < 0.05, "{frames:?} {numbers:?}");
        let xs = frames.iter().flatten().map(|point| point.0);
        let (left, right) = (xs.clone().fold(f64::INFINITY, f64::min), xs.fold(0.0, f64::max));
        let deg = (right - left) / (PI * 88.5) * 360.0;
        assert!((deg - (numbers[3] - numbers[2])).abs() < 0.2, "{deg} {numbers:?}");
    }
    let pennants = ["fixtures/art/pennants.svg", "-j", "fixtures/art/pennants.toml"];
    let page = template("tumbler", &pennants).done();
    for named in [">line: 270 × 7.9 mm<", ">red: 234 × 12 mm<", ">blue: 240 × 13 mm<"] {
        assert!(page.out_text().contains(named), "{named}");
    }
}

/// Art past the rim is told and its frame open; the page is drawn all the same.
#[test]
fn what_leaves_the_wall_is_told() {
    let out = template("bottle", &[PHOTO, "--width", "60", "--place-at", "150"]).done();
    assert!(
        out.err.contains("error off-wall: the frame of picture goes from 150 to"),
        "{}",
        out.err
    );
    let highest = frames(out.out_text())
        .into_iter()
        .flatten()
        .fold(f64::INFINITY, |low, point| low.min(point.1));
    assert!((0.0..1e-3).contains(&highest), "{highest}");
}

/// On a flat place the page is as wide as it.
#[test]
fn a_flat_place_is_framed_on_its_own_page() {
    let plate = ["--place-facet", "name plate"];
    let path = ["--path", "M0 0H20V30H0Z"];
    let page = template("mug", &[&plate[..], &path].concat()).done();
    let [frame] = &frames(page.out_text())[..] else { panic!("{}", page.out_text()) };
    for corner in [(8.0, 45.0), (28.0, 45.0), (28.0, 15.0), (8.0, 15.0)] {
        assert!(off(frame, corner) < 1e-3, "{corner:?}: {frame:?}");
    }
    let folder = tempfile::tempdir().unwrap();
    let wrapped = folder.path().join("w.nc").to_str().unwrap().to_owned();
    let files = ["-b", "fixtures/blanks/mug.toml", "-m", "fixtures/machines/degrees.toml"];
    run(&[&["wrap", "-o", &wrapped], &files[..], &plate, &path].concat(), b"").done();
    let page = template("mug", &[&plate[..], &[&wrapped]].concat()).done();
    let [frame] = &frames(page.out_text())[..] else { panic!("{}", page.out_text()) };
    assert!(off(frame, (8.0, 15.0)) < 0.02, "{frame:?}");
    let wall = template("mug", &[&wrapped]);
    assert_eq!(wall.status, Some(2));
    assert!(wall.err.contains("burns the flat place \"name plate\""), "{}", wall.err);
}

#[test]
fn without_input_nothing_is_framed_and_options_of_art_are_refused() {
    // An input that the job names is for the other commands.
    let bare = run(&["template", "-j", "fixtures/art/pennants.toml", "-b", CUP], b"").done();
    assert!(!bare.out_text().contains("frame"), "{}", bare.out_text());
    let no_machine = run(&["template", "-b", CUP, PHOTO, "--width", "60"], b"");
    assert_eq!(no_machine.status, Some(2));
    assert!(no_machine.err.contains("laid as the machine burns it, and no machine is given"));
    for idle in [&["--width", "60"][..], &["--font", "a.ttf"], &["--scan", "again"], &["--strict"]]
    {
        let refused = run(&[&["template", "-b", CUP], idle].concat(), b"");
        assert_eq!(refused.status, Some(2), "{idle:?}");
        assert!(refused.err.contains("<INPUT|--path <DATA>>"), "{}", refused.err);
    }
    let patterns = run(&["template", "-b", CUP, "--paper", PHOTO], b"");
    assert_eq!(patterns.status, Some(2));
}

const CUP: &str = "fixtures/blanks/cup.toml";
