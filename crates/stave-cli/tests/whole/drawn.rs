//! Drawings and programs as people have them: what is told of a drawing that burns nothing, fonts
//! that are given, letters of single lines, burns along Z alone.

use std::path::Path;

use crate::command::{Outcome, fixture, run_in};
use crate::pictures::png;
use crate::program::{self, Kind};

struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let bench = Self { folder };
        for (name, from) in [
            ("can.toml", "blanks/can.toml"),
            ("degrees.toml", "machines/degrees.toml"),
            ("swapped.toml", "machines/swapped.toml"),
            ("plank.ttf", "fonts/plank.ttf"),
        ] {
            bench.put(name, &std::fs::read(fixture(from)).unwrap());
        }
        bench
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn put(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path().join(name), bytes).unwrap();
    }

    fn run(&self, command: &str, more: &[&str], input: &str) -> Outcome {
        let setup = ["-b", "can.toml", "-m", "degrees.toml"];
        run_in(self.path(), &[&[command][..], &setup, more].concat(), input.as_bytes())
    }
}

fn page(inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' id='all' width='100mm' height='60mm' viewBox='0 \
         0 100 60'>{inside}</svg>"
    )
}

const AREA: &str = "[[operation]]\nname = \"a\"\npick = { id = \"a\" }\nwork = \"area\"\nspeed = \
                    100\npower = 30\nline_spacing = 0.2\n";

/// A drawing that burns nothing is an error in every command that makes something of it, and is
/// told in a drawing's words.
#[test]
fn a_drawing_that_burns_nothing_says_why() {
    let bench = Bench::new();
    bench.put("job.toml", AREA.as_bytes());
    let mark = "<path d='M80 40h9v9z' fill='#00f'/>";
    let cases: [(&str, &[&str], &str); 7] = [
        ("", &[], "the drawing shows nothing"),
        ("<rect width='9' height='9' fill='#fff'/>", &[], "white or near it"),
        ("<symbol id='oar'><path d='M0 0h9v9z'/></symbol>", &[], "<use href=\"#oar\"/>"),
        ("<path id='a' d='M10 10L30 30'/>", &["-j", "job.toml"], "fill=\"none\""),
        (
            "<path id='a' d='M10 10h9v9z'/><path d='M0 0h50v50H0z' fill='#fff'/>",
            &["-j", "job.toml"],
            "hidden by what lies over it",
        ),
        (
            "<clipPath id='c'><path d='M50 50h5v5z'/></clipPath><path id='a' clip-path='url(#c)' \
             d='M10 10h9v9z'/>",
            &["-j", "job.toml"],
            "clip paths",
        ),
        (mark, &["--lay", "even-angle", "-j", "job.toml", "--allow", "no-match"], "no operation"),
    ];
    for (inside, more, why) in cases {
        for command in ["wrap", "check", "walk"] {
            let outcome = bench.run(command, more, &page(inside));
            let said = format!("{}{}", outcome.out_text(), outcome.err).replace("\n         ", " ");
            assert_eq!(outcome.status, Some(1), "{command} {inside}: {said}");
            assert!(said.contains("nothing-burns") && said.contains(why), "{inside}: {said}");
            assert!(!said.contains("M3"), "{inside}: {said}");
        }
        let allowed = [more, &["--allow", "nothing-burns"]].concat();
        bench.run("wrap", &allowed, &page(inside)).done();
    }
}

/// What reaches farther than is read is an error, however it is drawn: of it is nothing burned, not
/// even what lies on the page.
#[test]
fn what_reaches_past_a_kilometre_is_left_out_by_name() {
    let bench = Bench::new();
    let mark = "<path d='M80 40h9v9z' fill='#00f'/>";
    let shapes = [
        "<rect id='o' x='50' y='30' width='2000000' height='5'/>",
        "<circle id='o' cx='-1200000' cy='30' r='1200050'/>",
        "<path id='o' d='M50 30H70V40H1100000' fill='none' stroke='#000'/>",
        "<path id='o' d='M50 30H70V40H1e38' fill='none' stroke='#000'/>",
        "<polyline id='o' points='50,30 70,40 1e38,40' fill='none' stroke='#000'/>",
        "<line id='o' x1='50' y1='30' x2='1e38' y2='30' stroke='#000'/>",
    ];
    for shape in shapes {
        for command in [&["wrap"][..], &["check"], &["walk"], &["wrap", "--to", "svg"]] {
            let outcome = bench.run(command[0], &command[1..], &page(&format!("{mark}{shape}")));
            let said = format!("{}{}", outcome.out_text(), outcome.err).replace("\n         ", " ");
            assert_eq!(outcome.status, Some(1), "{command:?} {shape}: {said}");
            assert!(said.contains("left-out") && said.contains("a kilometre"), "{shape}: {said}");
        }
        bench.run("wrap", &["--allow", "left-out"], &page(&format!("{mark}{shape}"))).done();
    }
}

/// In letters 40 mm high, an `I` of the font given is a bar of 4 mm by 28 mm.
#[test]
fn a_font_that_is_given_is_used_and_one_that_is_none_is_refused() {
    let bench = Bench::new();
    bench.put("job.toml", b"fonts = [\"plank.ttf\"]\n");
    bench.put("wrong.toml", b"fonts = [\"can.toml\"]\n");
    let text = page("<text x='20' y='50' font-family='Plank' font-size='40'>I</text>");
    let burned = |more: &[&str]| {
        let outcome = bench.run("wrap", more, &text).done();
        let moves = program::read(outcome.out_text()).moves;
        let burns: Vec<_> = moves.into_iter().filter(|m| m.kind == Kind::Burn).collect();
        let low = burns.iter().map(|m| m.from[0].min(m.to[0])).fold(f64::INFINITY, f64::min);
        let high = burns.iter().map(|m| m.from[0].max(m.to[0])).fold(0.0, f64::max);
        (low, high)
    };
    for more in [&["--font", "plank.ttf"][..], &["-j", "job.toml"]] {
        let (low, high) = burned(more);
        assert!((low - 10.0).abs() < 0.01 && (high - 38.0).abs() < 0.01, "{low} to {high}");
    }
    for command in ["check", "lays"] {
        bench.run(command, &["--font", "plank.ttf"], &text).done();
    }
    for command in ["wrap", "check", "lays", "walk"] {
        let outcome = bench.run(command, &["--allow", "clearence"], &text);
        assert_eq!(outcome.status, Some(2), "{command}: {}", outcome.err);
        assert!(outcome.err.contains("did you mean `clearance`?"), "{}", outcome.err);
    }
    let missing = bench.run("wrap", &[], &text);
    assert_eq!(missing.status, Some(1), "{}", missing.err);
    assert!(missing.err.contains("the font \"Plank\" is not there"), "{}", missing.err);
    for (more, why) in [
        (&["--font", "no.ttf"][..], "cannot read the font no.ttf"),
        (&["--font", "can.toml"], "can.toml holds no font"),
        (&["-j", "wrong.toml"], "wrong.toml:1:"),
        (&["--font", "plank.ttf", "-o", "plank.ttf"], "a font"),
        (&["-j", "job.toml", "-o", "plank.ttf"], "a font"),
    ] {
        let outcome = bench.run("wrap", more, &text);
        assert_eq!(outcome.status, Some(2), "{more:?}: {}", outcome.err);
        assert!(outcome.err.contains(why), "{more:?}: {}", outcome.err);
    }
}

/// NBS Special Publication 424: an `L` of Roman Simplex is one stem and one foot, 21 and 12 units;
/// 30 units are the em here.
#[test]
fn letters_of_single_lines_burn_each_stroke_once() {
    let bench = Bench::new();
    let text = page("<text x='20' y='50' font-family='stave-line' font-size='30'>L</text>");
    let outcome = bench.run("wrap", &["--lay", "even-angle"], &text).done();
    let moves = program::read(outcome.out_text()).moves;
    let length: f64 = moves
        .iter()
        .filter(|m| m.kind == Kind::Burn)
        .map(|m| (m.to[0] - m.from[0]).hypot((m.to[3] - m.from[3]).to_radians() * 37.0))
        .sum();
    assert!((length - 33.0).abs() < 0.02, "{length}");
}

const STEPS_DOWN: &str = "G21 G90\nG0 X5 Y0 Z2\nM3 S200\nG1 Z0 F100\nG1 X20 F600\nG1 Z-1 F100\nG1 \
                          X5 F600\nM5\nM2\n";

/// A program that steps down between passes: one move along Z for each block, at its own feed rate.
#[test]
fn a_burn_along_z_alone_is_one_move() {
    let bench = Bench::new();
    let outcome = bench.run("wrap", &[], STEPS_DOWN).done();
    let lines: Vec<&str> =
        outcome.out_text().lines().filter(|l| !l.starts_with('(') && l.contains('Z')).collect();
    assert_eq!(lines, ["G0 X5 A0 Z2", "G1 Z0 S200 F100", "Z-1 F100"]);
    let first = bench.run("wrap", &[], "G0 X5\nM3 S500\nG1 Z-.5 F100\nX20 F600\nM5\nM2\n").done();
    assert!(first.out_text().contains("\nG1 Z-0.5 S500 F100\n"), "{}", first.out_text());
}

#[test]
fn a_machine_without_z_gets_no_z_words() {
    let bench = Bench::new();
    let arguments = ["wrap", "-b", "can.toml", "-m", "swapped.toml"];
    let outcome = run_in(bench.path(), &arguments, STEPS_DOWN.as_bytes()).done();
    let has_z = outcome.out_text().lines().any(|l| !l.starts_with('(') && l.contains('Z'));
    assert!(!has_z, "{}", outcome.out_text());
    assert!(outcome.err.contains("no `[z]`"), "{}", outcome.err);
}

#[test]
fn a_finding_names_the_element_within_its_piece() {
    let bench = Bench::new();
    let zoned = "name = \"marked can\"\nstation = [{ at = 0, diameter = 74 }, { at = 110, \
         diameter = 74 }]\nzone = [{ name = \"mark\", at = [10, 20], turn = [-70, -50] }]\n";
    bench.put("zoned.toml", zoned.as_bytes());
    // A border that takes in all that lies within it.
    let art = |d: &str| {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='232.478mm' height='110mm' \
             viewBox='0 0 232.478 110'><rect x='2' y='2' width='228' height='106' fill='none' \
             stroke='black'/><path id='far' d='M30 30h9v9h-9z'/><path id='tri' d='{d}'/></svg>"
        )
    };
    for (d, code) in [("M150 100l10 0 -5 -8z", "zone"), ("M150 60l10 0 -5 -8z", "none")] {
        std::fs::write(bench.path().join("art.svg"), art(d)).unwrap();
        let setup = ["check", "art.svg", "-b", "zoned.toml", "-m", "degrees.toml", "--json"];
        let outcome = run_in(bench.path(), &setup, b"");
        let found: serde_json::Value = serde_json::from_slice(&outcome.out).unwrap();
        let zones: Vec<_> = (found["findings"].as_array().unwrap().iter())
            .filter(|finding| finding["code"] == "zone")
            .collect();
        assert_eq!(zones.is_empty(), code == "none", "{found}");
        assert!(zones.iter().all(|zone| zone["element"] == "tri"), "{found}");
    }
    // Past the wall's end it is the one that reaches farthest.
    let setup = ["-b", "zoned.toml", "-m", "degrees.toml", "--place-at", "50", "--zones"];
    let wrap = [&["wrap", "art.svg"][..], &setup, &["ignore"]].concat();
    let outcome = run_in(bench.path(), &wrap, b"");
    assert_eq!(outcome.status, Some(1), "{}", outcome.err);
    assert!(outcome.err.contains("element"), "{}", outcome.err);
}

/// A part whose black is not quite the black that is picked is missing in the end: every command
/// that judges says which, and which colour it lacks.
#[test]
fn what_no_operation_picks_is_told_by_every_command() {
    let bench = Bench::new();
    bench.put("job.toml", AREA.replace("{ id = \"a\" }", "{ fill = \"#000\" }").as_bytes());
    let inside = "<g><path d='M10 10h9v9z'/><path id='eye' d='M60 10h9v9z' fill='#010101'/></g>";
    bench.put("art.svg", page(inside).as_bytes());
    let order = "machine = \"degrees.toml\"\nrows = \"rows.csv\"\nout = \"made\"\nname = \
                 \"{name}\"\n[[make]]\nblank = \"can.toml\"\njob = \"job.toml\"\ninput = \
                 \"named.svg\"\n";
    bench.put("order.toml", order.as_bytes());
    bench.put("rows.csv", b"name\none\ntwo\n");
    let named = inside.replace("<g>", "<g><title>{name}</title>");
    bench.put("named.svg", page(&named).as_bytes());
    let why = "eye, filled with #010101: left out; the nearest fill that is picked is #000000";
    for (command, more) in [
        ("wrap", &["-o", "o.nc"][..]),
        ("wrap", &["--to", "svg", "-o", "o.svg"]),
        ("check", &[]),
        ("walk", &["-o", "w.nc"]),
        ("proof", &["-o", "p.svg"]),
        ("estimate", &[]),
    ] {
        let all = [&["art.svg", "-j", "job.toml"][..], more].concat();
        let outcome = bench.run(command, &all, "").done();
        let said = format!("{}{}", outcome.out_text(), outcome.err).replace("\n         ", " ");
        assert!(said.contains("warning") && said.contains(why), "{command} {more:?}: {said}");
    }
    let order = run_in(bench.path(), &["order", "order.toml"], b"").done();
    assert!(order.err.contains("row 1: warning unpicked: no operation"), "{}", order.err);
    assert!(order.err.contains(why) && order.err.contains("another row has such"), "{}", order.err);
    let checked = bench.run("check", &["art.svg", "-j", "job.toml", "--json"], "").done();
    let report: serde_json::Value = serde_json::from_str(checked.out_text()).unwrap();
    let findings = report["findings"].as_array().unwrap();
    let found = findings.iter().find(|finding| finding["code"] == "unpicked").unwrap();
    assert_eq!(
        (found["severity"].as_str(), found["element"].as_str()),
        (Some("warning"), Some("eye"))
    );
    // Who picks all of it hears nothing.
    let both = bench.run("check", &["art.svg"], "");
    assert!(!both.out_text().contains("unpicked"), "{}", both.out_text());
}

/// A speed that needs more than full power is not to be had, whatever it would save.
#[test]
fn a_quicker_speed_asks_for_no_more_than_full_power() {
    let bench = Bench::new();
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let picture = "[picture]\nspeed = 60\npower = 70\nline_spacing = 0.1\n";
    bench.put("grey.toml", (machine + picture).as_bytes());
    bench.put("foto.png", &png(100, 40, |_, _| 150));
    let check = ["check", "foto.png", "-b", "can.toml", "-m", "grey.toml", "--place-at", "20"];
    let check = [&check[..], &["--width", "100", "--json"]].concat();
    let checked = run_in(bench.path(), &check, b"");
    let report: serde_json::Value = serde_json::from_str(checked.out_text()).unwrap();
    let findings = report["findings"].as_array().unwrap();
    let found = findings.iter().find(|finding| finding["code"] == "quicker").unwrap();
    let speed = found["value"].as_f64().unwrap();
    assert!(speed > 60.0 && 70.0 * speed / 60.0 <= 100.0, "{found}");
}

/// Of an element that an operation picks, its other paint may be picked by none, and a part of a
/// text too: they are named as whole elements are.
#[test]
fn a_paint_that_nothing_picks_is_named() {
    let bench = Bench::new();
    let pick = "[[operation]]\nname = \"a\"\npick = { fill = \"#d00000\" }\nwork = \"area\"\n\
                speed = 100\npower = 30\nline_spacing = 0.2\n";
    bench.put("job.toml", pick.as_bytes());
    let box_of = |paint: &str| format!("<path id='box' d='M40 20h20v15h-20z' {paint}/>");
    for (paint, told) in [
        ("fill='#d00000' stroke='#00aa00' stroke-width='4'", "the outline of box, outlined with"),
        ("fill='#d00000'", ""),
        // A line has no inside to be left out, and what is white is bare.
        ("fill='#d00000' stroke='#fff' stroke-width='4'", ""),
    ] {
        bench.put("art.svg", page(&box_of(paint)).as_bytes());
        let allow = ["art.svg", "-j", "job.toml", "--allow", "clearance"];
        let outcome = bench.run("wrap", &allow, "").done();
        assert_eq!(outcome.err.contains("unpicked"), !told.is_empty(), "{paint}: {}", outcome.err);
        assert!(outcome.err.contains(told), "{paint}: {}", outcome.err);
    }
    let line = pick.replace("fill", "stroke").replace("\"area\"", "\"line\"");
    bench.put("job.toml", line.replace("line_spacing = 0.2\n", "").as_bytes());
    for (drawn, told) in [
        (box_of("fill='#333' stroke='#d00000'"), "the fill of box, filled with #333333"),
        ("<path id='bow' d='M10 20h20' stroke='#d00000'/>".to_owned(), ""),
    ] {
        bench.put("art.svg", page(&drawn).as_bytes());
        let outcome = bench.run("wrap", &["art.svg", "-j", "job.toml"], "").done();
        assert_eq!(outcome.err.contains("unpicked"), !told.is_empty(), "{drawn}: {}", outcome.err);
        assert!(outcome.err.contains(told), "{drawn}: {}", outcome.err);
    }
}
