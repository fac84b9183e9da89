//! `stave proof`: pictures of what a program burns, and mistakes planted in programs, told by what
//! the proof finds.

use crate::command::{LAID, fixture, run_in};
use std::fs;
use std::path::Path;

const CREST: [&str; 7] = [
    "programs/crest.nc",
    "-b",
    "blanks/bottle.toml",
    "-m",
    "machines/degrees.toml",
    "-j",
    "jobs/step.toml",
];

fn run(arguments: &[&str]) -> crate::command::Outcome {
    run_in(&fixture(""), arguments, b"")
}

/// What a proof of the crest says, with options more, drawn to `out`.
fn proof(more: &[&str], out: &Path) -> String {
    let out = out.to_str().unwrap();
    run(&[&["proof"], &CREST[..], more, &["-o", out]].concat()).done().err
}

/// Wraps the crest for files of its own making, to `out`.
fn wrap(blank: &Path, machine: &Path, more: &[&str], out: &Path) {
    let files =
        ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap(), "-j", "jobs/step.toml"];
    let out = ["-o", out.to_str().unwrap()];
    run(&[&["wrap", "programs/crest.nc"], &files[..], &LAID, more, &out].concat()).done();
}

/// The mm² of the finding that has these words.
fn area(said: &str, words: &str) -> f64 {
    let line =
        said.lines().find(|line| line.contains(words)).unwrap_or_else(|| panic!("{words}: {said}"));
    line.split("error difference: ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap()
}

/// ISO 216; ANSI/ASME Y14.1, size A: 8.5 by 11 inches.
#[test]
fn sheets_are_as_large_as_the_paper_that_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("sheet.svg");
    for (sheet, lying, standing) in [
        (&[][..], "width=\"297mm\" height=\"210mm\"", "width=\"210mm\" height=\"297mm\""),
        (
            &["--sheet", "letter"],
            "width=\"279.4mm\" height=\"215.9mm\"",
            "width=\"215.9mm\" height=\"279.4mm\"",
        ),
    ] {
        proof(sheet, &out);
        assert!(fs::read_to_string(&out).unwrap().contains(lying), "{sheet:?}");
        let order = ["proof", "orders/order.toml", "-o", out.to_str().unwrap()];
        run(&[&order[..], sheet].concat()).done();
        assert!(fs::read_to_string(&out).unwrap().contains(standing), "{sheet:?}");
    }
}

#[test]
fn each_form_is_written_whole() {
    let folder = tempfile::tempdir().unwrap();
    for (name, start) in [("a.svg", "<svg"), ("a.html", "<!doctype html>")] {
        let out = folder.path().join(name);
        proof(&[], &out);
        let text = fs::read_to_string(&out).unwrap();
        assert!(text.starts_with(start) && text.trim_end().ends_with('>'));
        for word in ["crest", "stepped bottle", "Laser light blinds"] {
            assert!(text.contains(word), "{name}: {word}");
        }
    }
    let out = folder.path().join("a.png");
    proof(&[], &out);
    assert!(fs::read(&out).unwrap().starts_with(b"\x89PNG"));
    let bad = run(&[&["proof"], &CREST[..], &["-o", "/tmp/a.bmp"]].concat());
    assert_eq!(bad.status, Some(2));
    assert!(bad.err.contains(".svg, .png or .html"), "{}", bad.err);
}

#[test]
fn a_program_as_meant_shows_no_difference() {
    let folder = tempfile::tempdir().unwrap();
    let (wrapped, out) = (folder.path().join("a.nc"), folder.path().join("a.svg"));
    wrap(&fixture("blanks/bottle.toml"), &fixture("machines/degrees.toml"), &[], &wrapped);
    let said = proof(&["--wrapped", wrapped.to_str().unwrap()], &out);
    assert!(!said.contains("meant") && !said.contains("difference"), "{said}");
}

#[test]
fn a_rotary_that_turns_the_wrong_way_shows() {
    let folder = tempfile::tempdir().unwrap();
    let (machine, wrapped) = (folder.path().join("m.toml"), folder.path().join("a.nc"));
    let text = fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    fs::write(&machine, text.replace("[rotary]", "[rotary]\nreverse = true")).unwrap();
    wrap(&fixture("blanks/bottle.toml"), &machine, &[], &wrapped);
    let said = proof(&["--wrapped", wrapped.to_str().unwrap()], &folder.path().join("a.svg"));
    // The stars and the tilted oars are not their own mirror images.
    assert!(area(&said, "burned that were not meant") > 20.0, "{said}");
    assert!(area(&said, "not burned that were meant") > 20.0, "{said}");
}

#[test]
fn a_wrong_diameter_shows() {
    let folder = tempfile::tempdir().unwrap();
    let (blank, wrapped) = (folder.path().join("b.toml"), folder.path().join("a.nc"));
    let text = fs::read_to_string(fixture("blanks/bottle.toml")).unwrap();
    assert!(text.contains("diameter = 70.0"));
    fs::write(&blank, text.replace("diameter = 70.0", "diameter = 76.0")).unwrap();
    wrap(&blank, &fixture("machines/degrees.toml"), &[], &wrapped);
    let said = proof(&["--wrapped", wrapped.to_str().unwrap()], &folder.path().join("a.svg"));
    assert!(area(&said, "burned that were not meant") > 20.0, "{said}");
}

#[test]
fn a_zone_that_was_ignored_shows() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("a.svg");
    let there = ["--place-at", "100", "--place-turn", "180", "--zones", "ignore"];
    let said = proof(&there, &out);
    assert!(said.contains("strikes the zone \"lower boss\""), "{said}");
    let masked = proof(&[&there[..5], &["mask"]].concat(), &out);
    assert!(!masked.contains("error zone"), "{masked}");
}

/// Art in a zone has its place on the wall: the picture is made, of a flat program and of a
/// drawing, and the errors are those of `check`.
#[test]
fn what_lies_in_a_zone_is_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("a.svg");
    let there = ["--place-at", "100", "--place-turn", "180"];
    let errors = |said: &str| -> Vec<String> {
        said.lines().filter(|line| line.contains("error zone")).map(str::to_owned).collect()
    };
    let said = proof(&there, &out);
    assert!(!errors(&said).is_empty(), "{said}");
    assert!(fs::read_to_string(&out).unwrap().starts_with("<svg"), "{said}");
    let drawing = folder.path().join("b.svg");
    let of = |path: &str| {
        let to = drawing.to_str().unwrap();
        let there = ["--place-at", "60", "--place-turn", "170", "--path", path, "-o", to];
        run(&[&["proof"], &CREST[1..], &there].concat())
    };
    let said = of("M0 0H30V60H0Z").done().err;
    assert!(!errors(&said).is_empty(), "{said}");
    assert!(drawing.is_file());
    // What lies off the wall has no place to be drawn at.
    let off = of("M0 0H30V400H0Z");
    assert_eq!(off.status, Some(1), "{}", off.err);
    assert!(off.err.contains("off-wall"), "{}", off.err);
}

/// The sheet names the files with the digests of line 1; the customer is not told of the bench.
#[test]
fn the_files_are_named_with_their_digests() {
    let folder = tempfile::tempdir().unwrap();
    let (wrapped, sheet) = (folder.path().join("w.nc"), folder.path().join("sheet.svg"));
    let out = ["-o", wrapped.to_str().unwrap()];
    run(&[&["wrap"], &CREST[..], &LAID, &out].concat()).done();
    let program = fs::read_to_string(&wrapped).unwrap();
    let line_one = program.lines().next().unwrap();
    let files = line_one.split("files=").nth(1).unwrap().split(' ').next().unwrap();
    let end = program.split("(stave end input=").nth(1).unwrap();
    let digests: Vec<&str> = files.split(',').take(3).chain(end.split(')').take(1)).collect();
    let [blank, machine, job, input] = digests.as_slice() else { panic!("{digests:?}") };
    let drawn = |words: &[&str]| {
        run(&[&["proof"], words, &["-q", "-o", sheet.to_str().unwrap()]].concat()).done();
        fs::read_to_string(&sheet).unwrap()
    };
    let files = format!("Files: blank bottle.toml {blank}, machine degrees.toml {machine}, ");
    let told = drawn(&CREST);
    assert!(told.contains(&format!("{files}job step.toml {job}, input crest.nc {input}<")));
    let customer = drawn(&[&CREST[..], &["--for-customer"]].concat());
    let told = format!("Files: blank bottle.toml {blank}, input crest.nc {input}<");
    assert!(customer.contains(&told));
    // Of a program that was wrapped before, the job is not at hand, nor the input.
    let told = drawn(&[&[wrapped.to_str().unwrap()], &CREST[1..5]].concat());
    assert!(told.contains(&format!("{files}job {job}, program w.nc, input {input}<")));
}

#[test]
fn files_that_it_was_not_wrapped_for_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let (wrapped, out) = (folder.path().join("a.nc"), folder.path().join("a.svg"));
    wrap(&fixture("blanks/bottle.toml"), &fixture("machines/degrees.toml"), &[], &wrapped);
    let said = run(&[
        "proof",
        wrapped.to_str().unwrap(),
        "-b",
        "blanks/tumbler.toml",
        "-m",
        "machines/degrees.toml",
        "-o",
        out.to_str().unwrap(),
    ])
    .done()
    .err;
    assert!(said.contains("wrapped for the blank \"stepped bottle\""), "{said}");
}

#[test]
fn the_customer_sees_no_figures() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["a.svg", "a.html"] {
        let out = folder.path().join(name);
        proof(&["--for-customer", "--title", "Club bottle"], &out);
        let text = fs::read_to_string(&out).unwrap();
        assert!(text.contains("Club bottle") && text.contains("signature"));
        for word in ["39.5 s", "degrees on A", "least gap", "upper boss"] {
            assert!(!text.contains(word), "{name}: {word}");
        }
    }
}

/// The words of a picture's text elements.
fn texts(svg: &str) -> Vec<String> {
    let parts = svg.split("</text>").filter_map(|part| part.rsplit_once('>'));
    parts.map(|(_, words)| words.to_owned()).collect()
}

/// A rectangle of 60 by 100 mm on a cone that widens from 60 to 86 mm in 140 mm: true-width keeps
/// its 60 mm at every height and its 100 mm along the slant, and so they are told. Above them
/// 25.4 mm of the axis are left (140 − 15 − 100 · 140/√(140² + 13²)).
#[test]
fn the_size_that_is_signed_is_that_on_the_ware() {
    let folder = tempfile::tempdir().unwrap();
    let cone = "name = \"cone\"\n[[station]]\nat = 0\ndiameter = 60\n\
                [[station]]\nat = 140\ndiameter = 86\n";
    fs::write(folder.path().join("cone.toml"), cone).unwrap();
    let machine = fixture("machines/degrees.toml");
    let sheet = |more: &[&str]| {
        let art = ["proof", "--path", "M0 0H60V-100H0Z", "-b", "cone.toml", "--place-at", "15"];
        let rest = ["-m", machine.to_str().unwrap(), "--tilt", "-5", "-o", "sheet.svg"];
        let all = [&art[..], &rest, &LAID, more].concat();
        run_in(folder.path(), &all, b"").done();
        texts(&fs::read_to_string(folder.path().join("sheet.svg")).unwrap())
    };
    let size = "cone: 140 mm measured along, 60 to 86 mm across; engraved 60 mm around by 100 mm \
                along the wall";
    let signed = sheet(&["--for-customer"]);
    assert!(signed.iter().any(|words| words == size), "{signed:?}");
    let bench = sheet(&[]);
    for figure in ["60 mm", "15", "100", "25.4"] {
        assert!(bench.iter().any(|words| words == figure), "{figure}: {bench:?}");
    }
}

/// On a card of an order a piece stands where its own proof says, as the stations count: past a
/// step of the wall that is not the way along the slant.
#[test]
fn a_card_tells_the_place_along_the_axis() {
    let folder = tempfile::tempdir().unwrap();
    let ware = "name = \"stepped\"\n[[station]]\nat = 0\ndiameter = 60\n\
                [[station]]\nat = 50\ndiameter = 60\n[[station]]\nat = 55\ndiameter = 76\n\
                [[station]]\nat = 120\ndiameter = 76\n";
    fs::write(folder.path().join("ware.toml"), ware).unwrap();
    let art = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" height=\"40mm\" \
               viewBox=\"0 0 60 40\"><path d=\"M20 15H40V25H20Z\" fill=\"none\" \
               stroke=\"#000\"/></svg>";
    fs::write(folder.path().join("art.svg"), art).unwrap();
    fs::write(folder.path().join("rows.csv"), "name\none\n").unwrap();
    let machine = fixture("machines/degrees.toml");
    let job = format!(
        "blank = \"ware.toml\"\nmachine = {machine:?}\ninput = \"art.svg\"\n[place]\nat = 70\n"
    );
    fs::write(folder.path().join("job.toml"), job).unwrap();
    let order = "rows = \"rows.csv\"\nout = \"made\"\nname = \"{name}\"\n\
                 [[make]]\njob = \"job.toml\"\n";
    fs::write(folder.path().join("order.toml"), order).unwrap();
    let words = |file: &str, out: &str| {
        run_in(folder.path(), &[&["proof", file, "-o", out], &LAID[..]].concat(), b"").done();
        texts(&fs::read_to_string(folder.path().join(out)).unwrap())
    };
    let cards = words("order.toml", "cards.svg");
    assert!(cards.iter().any(|words| words == "from 85 to 95 mm along the axis"), "{cards:?}");
}

/// Line 1 has names in plain letters, shortened; people read those of the files at hand, as long as
/// they are the same. Of another's ware the program's own word is told.
#[test]
fn names_are_read_as_the_ware_s_file_has_them() {
    let folder = tempfile::tempdir().unwrap();
    let (blank, machine) = (folder.path().join("b.toml"), folder.path().join("m.toml"));
    let bottle = fs::read_to_string(fixture("blanks/bottle.toml")).unwrap();
    let bench = fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let program = folder.path().join("p.nc");
    let out = ["svg", "html"].map(|kind| folder.path().join(format!("a.{kind}")));
    let [ware, on] = ["Feldflasche „Möwe“ groß, كرة", "Gerät für Gläser"];
    fs::write(&blank, bottle.replace("stepped bottle", ware)).unwrap();
    fs::write(&machine, bench.replace("degrees on A", on)).unwrap();
    wrap(&blank, &machine, &[], &program);
    let proof = |out: &Path| {
        let [program, blank, machine, to] =
            [&program, &blank, &machine, out].map(|file| file.to_str().unwrap());
        let files = ["-b", blank, "-m", machine, "-j", "jobs/step.toml", "-o", to, "-q"];
        run(&[&["proof", program][..], &files].concat());
        fs::read_to_string(out)
            .unwrap()
            .replace(['\u{2066}', '\u{2067}', '\u{2068}', '\u{2069}'], "")
    };
    for out in &out {
        let drawn = proof(out);
        assert!(drawn.contains(&format!("wrapped for {ware} on {on},")), "{out:?}");
    }
    fs::write(&blank, bottle.replace("stepped bottle", "Vase")).unwrap();
    for out in &out {
        let drawn = proof(out);
        assert!(drawn.contains("wrapped for Feldflasche") && !drawn.contains(ware), "{out:?}");
        assert!(drawn.contains(&format!("; shown on Vase and {on}")), "{out:?}");
    }
}

/// A workshop measures from the handle: the sheet, the page and the template tell how far it is
/// from the art either way, and how much it leaves free. A rectangle of 40 mm on a mug of ⌀80
/// covers 57.3° of its front; the handle takes the back's 40°.
#[test]
fn the_way_from_the_handle_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let blank = folder.path().join("mug.toml");
    let mug = "name = \"mug\"\n[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 90\n\
               diameter = 80\n[[zone]]\nname = \"handle\"\nat = [10, 80]\nturn = [160, 200]\n\
               rise = 25\n[[zone]]\nname = \"mark\"\nat = [80, 85]\nturn = [100, 110]\n";
    fs::write(&blank, mug).unwrap();
    let on = ["-b", blank.to_str().unwrap()];
    let away = std::f64::consts::PI * 80.0 * 160.0 / 360.0 - 20.0;
    let deg = 160.0 - 360.0 * 20.0 / (std::f64::consts::PI * 80.0);
    for stands in ["upright", "inverted", "lying"] {
        for name in ["a.svg", "a.html"] {
            let out = folder.path().join(name);
            let art = ["--path", "M0 0h40v40h-40z", "--stands", stands, "--place-at", "45"];
            let how = ["-m", "machines/degrees.toml", "-o", out.to_str().unwrap()];
            run(&[&["proof"], &art[..], &on, &how, &["--allow", "clearance"]].concat()).done();
            let text = fs::read_to_string(&out).unwrap();
            let sides = match stands {
                "lying" => ["below", "above"],
                _ => ["left of", "right of"],
            };
            for side in sides {
                assert!(text.contains(&format!("art {side} handle")), "{stands}, {name}: {side}");
            }
            let words = [
                format!("{away:.1} mm at ⌀80, {deg:.1}°"),
                "free beside handle".to_owned(),
                "223.4 mm at ⌀80, 320°".to_owned(),
            ];
            for word in words {
                assert!(text.contains(&word), "{stands}, {name}: {word}");
            }
            assert!(!text.contains("beside mark"));
        }
    }
    let page = folder.path().join("page.svg");
    run(&[&["template"], &on[..], &["-o", page.to_str().unwrap()]].concat()).done();
    let told = texts(&fs::read_to_string(&page).unwrap()).join(" ");
    assert!(told.contains("free from one side of handle to the other: 223.4 mm"), "{told}");
}

/// The number and the words after a key of the page's data.
fn data_after<'a>(page: &'a str, key: &str) -> &'a str {
    let rest = page.split(&format!("\"{key}\":")).nth(1).unwrap_or_else(|| panic!("{key}"));
    &rest[..rest.find([',', '}']).unwrap()]
}

/// By hand: a percent of W watts for a second on a mm² is W/100 J/mm², and a cm² has 100 mm²:
/// what is 2 without the watts is 2 · W J/cm² with them.
#[test]
fn energies_are_told_in_joules_where_the_watts_are_known() {
    let folder = tempfile::tempdir().unwrap();
    let drawn = |name: &str, more: &[&str]| {
        let out = folder.path().join(name);
        proof(more, &out);
        fs::read_to_string(&out).unwrap()
    };
    let (bare, joules) = (drawn("a.html", &[]), drawn("b.html", &["--watts", "40"]));
    let top = |page: &str| data_after(page, "top").parse::<f64>().unwrap();
    assert!((top(&joules) - 40.0 * top(&bare)).abs() < 1e-9 * top(&joules));
    assert_eq!(data_after(&joules, "unit"), "\"J/cm²\"");
    assert!(!bare.contains("\"unit\"") && !bare.contains("J/cm²"));
    assert!(joules.contains("energy on the wall, J/cm²") && !joules.contains("s/mm²"));
    assert!(bare.contains("energy on the wall, percent of full power × seconds a mm²"));
    let most = data_after(&joules, "top_text").trim_matches('"');
    assert!(
        joules.contains(&format!("[\"energy on the wall, nearly the most\",\"{most} J/cm²\"]"))
    );
    let (bare, joules) = (drawn("a.svg", &[]), drawn("b.svg", &["--watts", "40"]));
    assert!(joules.contains(&format!(">{most} J/cm²<")) && joules.contains(&format!(">{most}<")));
    assert!(joules.contains(">energy on the wall: J/cm²<") && !joules.contains("s/mm²"));
    assert!(bare.contains("%·s/mm²<") && !bare.contains("J/cm²"));
    // A customer is told none, nor are the cards of an order; its page is.
    let order = ["proof", "orders/order.toml", "--watts", "40"];
    let page = folder.path().join("order.html");
    run(&[&order[..], &["-o", page.to_str().unwrap()]].concat()).done();
    assert!(fs::read_to_string(page).unwrap().contains("J/cm²"));
    let crest = [&["proof"], &CREST[..]].concat();
    for (refused, words) in [
        ([&order[..], &["-o", "/tmp/a.svg"]].concat(), "cards of an order tell no energies"),
        ([&crest[..], &["--watts", "0", "-o", "/tmp/a.svg"]].concat(), "--watts: must be more"),
        (
            [&crest[..], &["--watts", "9", "--for-customer", "-o", "/tmp/a.svg"]].concat(),
            "cannot be used with '--for-customer'",
        ),
    ] {
        let out = run(&refused);
        assert!(out.status == Some(2) && out.err.contains(words), "{}", out.err);
    }
}

/// A piece whose name is read from the right: its row on the page keeps it to itself, and whoever
/// reads the page's source is shown it in the order in which it stands.
#[test]
fn names_of_parts_that_are_read_from_the_right_keep_to_themselves() {
    let folder = tempfile::tempdir().unwrap();
    let drawing = folder.path().join("a.svg");
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='60mm' height='40mm' \
               viewBox='0 0 60 40'><g id='כוס (2)'><path d='M0 0H20V10H0Z'/></g>\
               <g id='ring'><path d='M30 20H50V30H30Z'/></g></svg>";
    fs::write(&drawing, svg).unwrap();
    let page = folder.path().join("a.html");
    let files = ["-b", "blanks/can.toml", "-m", "machines/degrees.toml", "--place-at", "30"];
    let paths = [drawing.to_str().unwrap(), "-o", page.to_str().unwrap()];
    run(&[&["proof"], &paths[..], &files].concat()).done();
    let page = fs::read_to_string(page).unwrap();
    assert!(page.contains("\"piece \\u2068כוס (2)\\u2069: areas\""));
    let (_, data) = page.split_once("id=\"proof-data\">").unwrap();
    let data = data.split("</script>").next().unwrap();
    assert!(!data.contains(['\u{2068}', '\u{2069}', '\u{200f}']));
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    assert_eq!(data["sections"][2], "piece \u{2068}כוס (2)\u{2069}: areas");
}
