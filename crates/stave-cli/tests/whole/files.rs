//! Which file is which: nothing that is read is written over, and results come together.

use crate::command::{Outcome, fixture, run_in, stave, without_set_up};
use std::fs;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

const SMALL: &str = "G21\nM4 S300\nG0 X5 Y-4\nG1 X20 F1200\nY4\nM5\nM2\n";
const DRAWING: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"30mm\" height=\"90mm\" \
                       viewBox=\"0 0 30 90\"><rect x=\"10\" y=\"40\" width=\"9\" height=\"9\"/></svg>";

/// A folder with everything a run reads.
fn bench() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, from: &str| {
        fs::copy(fixture(from), folder.path().join(name)).unwrap();
    };
    put("blank.toml", "blanks/bottle.toml");
    put("machine.toml", "machines/degrees.toml");
    put("job.toml", "jobs/bottle.toml");
    fs::write(folder.path().join("flat.nc"), SMALL).unwrap();
    fs::write(folder.path().join("art.svg"), DRAWING).unwrap();
    fs::write(folder.path().join("readings.txt"), "0 diameter 60\n90 diameter 70\n").unwrap();
    let wrapped = run_in(folder.path(), &words("wrap @ flat.nc"), b"").done();
    fs::write(folder.path().join("wrapped.nc"), wrapped.out).unwrap();
    folder
}

/// A command line; `@` stands for the setup's files.
fn words(line: &str) -> Vec<&str> {
    let setup = ["-b", "blank.toml", "-m", "machine.toml", "-j", "job.toml"];
    let mut words = Vec::new();
    for word in line.split_whitespace() {
        if word == "@" { words.extend(setup) } else { words.push(word) }
    }
    words
}

/// Every file of a folder with what it holds.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let entries = fs::read_dir(folder).unwrap().map(Result::unwrap);
    let files = entries.filter(|entry| entry.path().is_file());
    let mut all: Vec<_> = files
        .map(|file| (file.file_name().into_string().unwrap(), fs::read(file.path()).unwrap()))
        .collect();
    all.sort();
    all
}

/// Runs a line of the shell in `folder`, `$STAVE` being the command.
fn shell(folder: &Path, script: &str) -> Outcome {
    let setup = words("@").join(" ");
    let output = Command::new("bash")
        .current_dir(folder)
        .args(["-c", &script.replace('@', &setup)])
        .env("STAVE", stave())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    Outcome {
        status: output.status.code(),
        out: output.stdout,
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// The run is refused, says so, and touches nothing.
#[track_caller]
fn refused(folder: &Path, outcome: &Outcome, before: &[(String, Vec<u8>)], what: &str) {
    assert_eq!(outcome.status, Some(2), "{what}: {}", outcome.err);
    assert!(!outcome.err.is_empty() && outcome.out.is_empty(), "{what}");
    assert!(contents(folder) == before, "{what}: a file was touched");
}

#[test]
fn no_command_writes_over_what_it_reads() {
    let bench = bench();
    let before = contents(bench.path());
    for line in [
        "wrap @ flat.nc -o flat.nc",
        "wrap @ flat.nc -o blank.toml",
        "wrap @ flat.nc -o machine.toml",
        "wrap @ flat.nc -o job.toml",
        "wrap @ flat.nc -o new.nc --report flat.nc",
        "wrap @ flat.nc -o new.nc --report job.toml",
        "wrap @ flat.nc --report machine.toml",
        "wrap @ art.svg --to svg -o art.svg",
        "wrap @ --path M0,0H9V9Z -o job.toml",
        "wrap @ flat.nc -o ../no/../blank.toml/../flat.nc",
        "read flat.nc -o flat.nc",
        "lays @ art.svg -o art.svg",
        "lays @ art.svg -o blank.toml",
        "walk @ flat.nc -o flat.nc",
        "walk @ flat.nc -o machine.toml",
        "swatch @ --powers 20,40 --speeds 50,100 -o job.toml",
        "swatch @ --powers 20,40 --speeds 50,100 --report job.toml",
        "proof @ art.svg -o art.svg",
        "level -b blank.toml -m machine.toml -o machine.toml",
        "template -b blank.toml -m machine.toml -o blank.toml",
        "template -b blank.toml -j job.toml -o job.toml",
        "measure readings.txt -o readings.txt",
    ] {
        let outcome = run_in(bench.path(), &words(line), b"");
        refused(bench.path(), &outcome, &before, line);
    }
    // A picture's name must end so: the wrapped program is given such a name.
    fs::rename(bench.path().join("wrapped.nc"), bench.path().join("wrapped.svg")).unwrap();
    let before = contents(bench.path());
    let line = "proof @ flat.nc --wrapped wrapped.svg -o wrapped.svg";
    refused(bench.path(), &run_in(bench.path(), &words(line), b""), &before, line);
}

#[test]
fn an_input_that_is_something_else_is_told_for_what_it_is() {
    let bench = bench();
    let [blank, machine] =
        ["blank.toml", "machine.toml"].map(|name| fs::read(bench.path().join(name)).unwrap());
    for (name, bytes, told) in [
        ("table.csv", &b"Name,Size\nAnna,3\n"[..], "this is a table"),
        ("a.pdf", b"%PDF-1.7\n%\xe2\xe3\n", "this is a PDF"),
        ("a.eps", b"%!PS-Adobe-3.0 EPSF-3.0\n", "this is PostScript"),
        ("a.dxf", b"  0\r\nSECTION\r\n  2\r\nHEADER\r\n", "this is a DXF drawing"),
        ("a.bmp", b"BM6\0\x0c\0\0\0\0\0\x36\0\0\0", "this is a BMP picture"),
        ("a.tif", b"II*\0\x08\0\0\0", "this is a TIFF picture"),
        ("a.avif", b"\0\0\0\x1cftypavif", "this is a HEIF or AVIF picture"),
        ("a.zip", b"PK\x03\x04\x14\0", "this is a ZIP archive"),
        ("wide.nc", b"\xff\xfeG\x001\x00", "this is text in UTF-16"),
        ("none.nc", b"", "there is nothing in it"),
        ("none.svg", b"", "there is nothing in it"),
        ("none.png", b"", "there is nothing in it"),
        ("blank.toml", &blank, "this is a blank file, which goes with -b"),
        ("machine.toml", &machine, "this is a machine file, which goes with -m"),
    ] {
        fs::write(bench.path().join(name), bytes).unwrap();
        for line in ["wrap @ IN", "check @ IN", "lays @ IN", "estimate IN -m machine.toml"] {
            let line = line.replace("IN", name);
            let outcome = run_in(bench.path(), &words(&line), b"");
            assert_eq!(outcome.status, Some(2), "{line}: {}", outcome.err);
            assert!(outcome.err.contains(told), "{line}: {}", outcome.err);
            assert_eq!(outcome.err.lines().count(), 1, "{line}: {}", outcome.err);
        }
    }
}

#[test]
fn a_file_is_known_by_any_name() {
    let bench = bench();
    fs::create_dir(bench.path().join("folder")).unwrap();
    std::os::unix::fs::symlink("flat.nc", bench.path().join("link.nc")).unwrap();
    std::os::unix::fs::symlink("../link.nc", bench.path().join("folder/link.nc")).unwrap();
    fs::hard_link(bench.path().join("flat.nc"), bench.path().join("hard.nc")).unwrap();
    let before = contents(bench.path());
    for name in ["./flat.nc", "folder/../flat.nc", "link.nc", "folder/link.nc", "hard.nc"] {
        for line in [format!("wrap @ flat.nc -o {name}"), format!("wrap @ {name} -o flat.nc")] {
            let outcome = run_in(bench.path(), &words(&line), b"");
            refused(bench.path(), &outcome, &before, &line);
        }
    }
    // Standard input and output are files too, where they are.
    for script in [
        "$STAVE wrap @ < flat.nc -o flat.nc",
        "$STAVE wrap @ flat.nc >> flat.nc",
        "$STAVE wrap @ >> link.nc < flat.nc",
        "$STAVE check @ flat.nc >> blank.toml",
        "$STAVE estimate -m machine.toml flat.nc >> flat.nc",
        "$STAVE measure < readings.txt 1<> readings.txt",
        "$STAVE wrap @ flat.nc --report report.json >> report.json; rc=$?; rm report.json; exit $rc",
        "$STAVE lays @ art.svg -o t.svg >> t.svg; rc=$?; rm t.svg; exit $rc",
    ] {
        refused(bench.path(), &shell(bench.path(), script), &before, script);
    }
    // Devices and pipes may well be both.
    let script = "$STAVE wrap @ flat.nc -o /dev/null --report /dev/null && cat flat.nc \
                  | $STAVE wrap @ -o /dev/stdout | tail -n 1";
    let outcome = shell(bench.path(), script).done();
    assert_eq!(outcome.out_text(), "M2\n", "{}", outcome.err);
}

#[test]
fn two_results_are_not_one_file() {
    let bench = bench();
    std::os::unix::fs::symlink("to-be.nc", bench.path().join("link")).unwrap();
    let before = contents(bench.path());
    for line in [
        "wrap @ flat.nc -o new --report new",
        "wrap @ flat.nc -o new --report ./new",
        "wrap @ flat.nc -o link --report to-be.nc",
        "swatch @ --powers 20,40 --speeds 50,100 -o new --report new",
    ] {
        refused(bench.path(), &run_in(bench.path(), &words(line), b""), &before, line);
    }
}

#[test]
fn what_is_told_does_not_stand_within_a_program() {
    let bench = bench();
    for script in [
        "$STAVE wrap @ flat.nc > new.nc 2>&1",
        "$STAVE walk @ flat.nc > new.nc 2>&1",
        "$STAVE wrap @ flat.nc -q --report - > new.nc 2>&1",
    ] {
        let outcome = shell(bench.path(), script);
        assert_eq!(outcome.status, Some(2), "{script}");
        let told = fs::read_to_string(bench.path().join("new.nc")).unwrap();
        assert!(told.contains("standard error (what is told) are one file"), "{script}: {told}");
        assert_eq!(told.lines().count(), 1, "{script}: {told}");
    }
    let outcome = shell(bench.path(), "$STAVE wrap -q @ flat.nc 2>&1 | tail -n 1").done();
    assert_eq!(outcome.out_text(), "M2\n", "a pipe may well be both");
}

#[test]
fn a_program_is_wrapped_in_place_on_asking() {
    let bench = bench();
    std::os::unix::fs::symlink("flat.nc", bench.path().join("link.nc")).unwrap();
    let wrapped = fs::read(bench.path().join("wrapped.nc")).unwrap();
    let before = contents(bench.path());
    for line in [
        "wrap @ flat.nc -o other.nc --in-place",
        "wrap @ flat.nc -o job.toml --in-place",
        "wrap @ flat.nc --in-place",
        "wrap @ art.svg -o art.svg --in-place",
        "wrap @ flat.nc -o flat.nc --in-place --report link.nc",
    ] {
        refused(bench.path(), &run_in(bench.path(), &words(line), b""), &before, line);
    }
    run_in(bench.path(), &words("wrap @ flat.nc -o link.nc --in-place"), b"").done();
    assert!(fs::symlink_metadata(bench.path().join("link.nc")).unwrap().is_symlink());
    let in_place = fs::read(bench.path().join("flat.nc")).unwrap();
    assert_eq!(without_set_up(&in_place), without_set_up(&wrapped));
    // What cannot be wrapped stays as it was: it has been wrapped already.
    let outcome = run_in(bench.path(), &words("wrap @ flat.nc -o flat.nc --in-place"), b"");
    assert_eq!(outcome.status, Some(2));
    assert_eq!(fs::read(bench.path().join("flat.nc")).unwrap(), in_place);
}

#[test]
fn all_results_come_or_none() {
    let bench = bench();
    fs::create_dir(bench.path().join("folder")).unwrap();
    fs::write(bench.path().join("old.nc"), "as it was\n").unwrap();
    let before = contents(bench.path());
    for line in [
        "wrap @ flat.nc -o new.nc --report no/where.json",
        "wrap @ flat.nc -o old.nc --report no/where.json",
        "wrap @ flat.nc -o old.nc --report folder",
        "wrap @ flat.nc -o old.nc --report /dev/full",
        "wrap @ flat.nc -o no/where.nc --report report.json",
        "swatch @ --powers 20,40 --speeds 50,100 --allow clearance -o old.nc --report no/where.json",
        "swatch @ --powers 20,40 --speeds 50,100 --allow clearance -o old.nc --report /dev/full",
    ] {
        let outcome = run_in(bench.path(), &words(line), b"");
        refused(bench.path(), &outcome, &before, line);
        // The user's file is named, not the one beside it.
        assert!(!outcome.err.contains(".part"), "{}", outcome.err);
        let name = ["where", "folder", "/dev/full"].iter().find(|name| line.contains(*name));
        assert!(outcome.err.contains(name.unwrap()), "{}", outcome.err);
    }
    run_in(bench.path(), &words("wrap @ flat.nc -o old.nc --report report.json"), b"").done();
    let names: Vec<String> = contents(bench.path()).into_iter().map(|(name, _)| name).collect();
    assert_eq!(names.len(), before.len() + 1, "{names:?}");
    assert!(fs::read_to_string(bench.path().join("report.json")).unwrap().starts_with('{'));
}

#[test]
fn nothing_need_listen_where_nothing_is_said() {
    let bench = bench();
    shell(bench.path(), "$STAVE wrap @ flat.nc -o out.nc >&- 2>&-").done();
    shell(bench.path(), "$STAVE check @ flat.nc 1<> /dev/null").done();
}

#[cfg(target_os = "linux")]
#[test]
fn what_would_go_to_a_closed_output_is_an_error() {
    let bench = bench();
    for line in [
        "wrap @ flat.nc",
        "wrap @ flat.nc -q",
        "walk @ flat.nc",
        "estimate @ flat.nc",
        "check @ flat.nc",
        "lays @ flat.nc",
        "read flat.nc",
        "--help",
        "wrap --help",
        "--version",
    ] {
        let outcome = shell(bench.path(), &format!("$STAVE {line} >&-"));
        assert_eq!(outcome.status, Some(2), "{line}: {}", outcome.err);
        assert!(outcome.err.contains("cannot write standard output"), "{line}: {}", outcome.err);
    }
}

#[test]
fn a_picture_that_the_drawing_shows_is_not_written_over() {
    let bench = bench();
    let png = fs::read(fixture("photos/boathouse.png")).unwrap();
    fs::write(bench.path().join("im.png"), &png).unwrap();
    let art = "<svg xmlns='http://www.w3.org/2000/svg' width='40mm' height='30mm' \
         viewBox='0 0 40 30'><path d='M1 1h9v9h-9z'/><image href='im.png' width='9' height='9' \
         x='20'/></svg>";
    fs::write(bench.path().join("art.svg"), art).unwrap();
    for line in [
        "wrap @ art.svg --to svg -o im.png",
        "wrap @ art.svg --allow left-out,clearance,defocus-far -o im.png",
        "wrap @ art.svg --allow left-out,clearance,defocus-far -o o.nc --report im.png",
        "walk @ art.svg --allow left-out -o im.png",
        "lays @ art.svg -o im.png",
        "proof @ art.svg --allow left-out,clearance,defocus-far -o im.png",
    ] {
        let outcome = run_in(bench.path(), &words(line), b"");
        assert_eq!(outcome.status, Some(2), "{line}: {}", outcome.err);
        assert!(outcome.err.contains("a picture of the drawing"), "{line}: {}", outcome.err);
        assert_eq!(fs::read(bench.path().join("im.png")).unwrap(), png, "{line}");
        assert!(!bench.path().join("o.nc").exists(), "{line}");
    }
}

#[cfg(unix)]
#[test]
fn a_full_file_size_limit_is_an_error_for_texts_too() {
    let bench = bench();
    for line in ["check @ flat.nc", "read flat.nc", "schema blank", "--help", "wrap --help"] {
        let outcome = shell(bench.path(), &format!("ulimit -f 0; $STAVE {line} > full"));
        assert_eq!(outcome.status, Some(2), "{line}: {}", outcome.err);
        assert!(outcome.err.contains("cannot write standard output"), "{line}: {}", outcome.err);
    }
}

#[test]
fn two_runs_on_one_output_do_not_mix() {
    let bench = bench();
    let other = "G21\nM4 S300\nG0 X9 Y-4\nG1 X30 F1200\nY9\nX9\nM5\nM2\n";
    fs::write(bench.path().join("other.nc"), other).unwrap();
    let alone = |name: &str, out: &str| {
        run_in(bench.path(), &words(&format!("wrap @ {name} -o {out}")), b"").done();
        fs::read(bench.path().join(out)).unwrap()
    };
    let each = [alone("flat.nc", "one.nc"), alone("other.nc", "two.nc")];
    for _ in 0..4 {
        let begin = |name: &str| {
            let line = format!("wrap @ {name} -o both.nc");
            let mut command = Command::new(stave());
            command.current_dir(bench.path()).args(words(&line)).stderr(Stdio::null());
            command.spawn().unwrap()
        };
        for mut run in [begin("flat.nc"), begin("other.nc")] {
            assert!(run.wait().unwrap().success());
        }
        let both = fs::read(bench.path().join("both.nc")).unwrap();
        assert!(each.contains(&both), "{}", String::from_utf8_lossy(&both));
    }
    assert!(!contents(bench.path()).iter().any(|(name, _)| name.contains("stave-")));
}

/// Text that steers a terminal.
const STEERING: &str = "a\u{1b}[2J\u{9b}1m\u{202e}b";

#[test]
fn names_steer_no_terminal() {
    let bench = bench();
    let named = |file: &str, from: &str| {
        // Control bytes are refused in these names; what turns the reading around is not.
        let text = fs::read_to_string(fixture(from)).unwrap();
        let (before, rest) = text.split_once("name = \"").unwrap();
        let named = format!("{before}name = \"a\\u202eb {rest}");
        fs::write(bench.path().join(file), named).unwrap();
    };
    named("blank.toml", "blanks/bottle.toml");
    named("machine.toml", "machines/degrees.toml");
    let flat = format!("{STEERING}.nc");
    fs::write(bench.path().join(&flat), format!("({STEERING})\n{SMALL}")).unwrap();
    fs::write(bench.path().join(format!("{STEERING}.toml")), "lay = 3\n").unwrap();
    fs::write(bench.path().join(format!("{STEERING}\nb.nc")), "G1 X1 Q\n").unwrap();
    let drawing = DRAWING.replace("<rect", &format!("<rect id=\"{}\"", &STEERING[5..]));
    fs::write(bench.path().join("art.svg"), drawing).unwrap();
    let file = format!("{STEERING}.toml");
    let line_end = format!("{STEERING}\nb.nc");
    let setup = ["-b", "blank.toml", "-m", "machine.toml"];
    let both = |first: &[&str], more: &[&str]| {
        let arguments = [first, &setup, more].concat();
        run_in(bench.path(), &arguments, b"")
    };
    let mut seen = 0;
    for outcome in [
        both(&["estimate", &flat], &[]),
        both(&["estimate", &flat, "flat.nc"], &[]),
        both(&["check", &flat], &["--place-at", "70"]),
        both(&["check", &flat], &["--place-at", "500"]),
        both(&["check", "art.svg"], &[]),
        both(&["lays", "art.svg"], &[]),
        both(&["level"], &[]),
        both(&["wrap", &flat], &["-j", &file]),
        both(&["wrap", &flat], &["-j", "no\u{1b}"]),
        both(&["wrap", &line_end], &["-o", "new.nc"]),
        both(&["wrap", &flat], &["-o", "no\u{1b}/where"]),
        both(&["wrap", &flat], &[STEERING]),
        both(&["walk", "wrapped.nc"], &["-o", "new.nc"]),
    ] {
        let text = String::from_utf8(outcome.out).unwrap() + &outcome.err;
        let steers = |letter: char| {
            letter.is_control() && letter != '\n' || "\u{202e}\u{9b}".contains(letter)
        };
        assert!(!text.contains(steers), "{text:?}");
        seen += usize::from([r"\u{1b}", r"\u{9b}", r"\u{202e}"].iter().any(|e| text.contains(e)));
        assert!(!text.contains("\nb.nc"), "no name makes a line of its own: {text}");
    }
    assert!(seen >= 7, "the names are shown, escaped: {seen}");
}

/// Runs a wrap whose input comes in pieces.
fn in_pieces(folder: &Path, pieces: &[&[u8]]) -> Outcome {
    let mut child = Command::new(stave())
        .current_dir(folder)
        .args(words("wrap @"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    for piece in pieces {
        // What the run has made of it is not waited for, only asked for in pieces.
        if stdin.write_all(piece).and_then(|()| stdin.flush()).is_err() {
            break;
        }
        std::thread::sleep(Duration::from_millis(60));
    }
    drop(stdin);
    let (mut out, mut err) = (Vec::new(), String::new());
    child.stdout.take().unwrap().read_to_end(&mut out).unwrap();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    Outcome { status: child.wait().unwrap().code(), out, err }
}

#[test]
fn a_drawing_is_known_however_it_arrives() {
    let bench = bench();
    let whole = run_in(bench.path(), &words("wrap @"), DRAWING.as_bytes()).done();
    let drawing = DRAWING.as_bytes();
    let blanks = [b' '; 64 * 1024];
    let cases: [&[&[u8]]; 5] = [
        &[b"\n", drawing],
        &[b"\xef", b"\xbb", b"\xbf", b"\n", drawing],
        &[b"<", &drawing[1..]],
        &[&blanks, drawing],
        &[&blanks[..5000], b"\r\n", &blanks[..5000], b"\t", drawing],
    ];
    for pieces in cases {
        let outcome = in_pieces(bench.path(), pieces).done();
        // The comments name the drawing's lines.
        let code = |outcome: &Outcome| -> Vec<String> {
            let lines = outcome.out_text().lines();
            lines.filter(|line| !line.starts_with('(')).map(str::to_owned).collect()
        };
        assert!(code(&outcome) == code(&whole), "{:?}: {}", pieces[0].first(), outcome.err);
    }
}

#[test]
fn a_packed_drawing_is_unpacked_under_any_name() {
    let bench = bench();
    let whole = run_in(bench.path(), &words("wrap @ art.svg"), b"").done();
    shell(bench.path(), "gzip -c art.svg > a.svgz; cp a.svgz b.svg; cp a.svgz c.bin").done();
    for name in ["a.svgz", "b.svg", "c.bin"] {
        let outcome = run_in(bench.path(), &words(&format!("wrap @ {name}")), b"").done();
        assert!(outcome.out == whole.out, "{name}");
    }
    let packed = fs::read(bench.path().join("a.svgz")).unwrap();
    assert!(run_in(bench.path(), &words("wrap @"), &packed).done().out == whole.out);
    for (script, told) in [
        ("gzip -c flat.nc > flat.gz; exec $STAVE wrap @ flat.gz", "holds no drawing"),
        ("gzip -c a.svgz > twice.gz; exec $STAVE wrap @ twice.gz", "more than once"),
        ("head -c 60 a.svgz > cut.svgz; exec $STAVE wrap @ cut.svgz", "cannot read cut.svgz"),
        (
            "(echo '<svg>'; yes ' ' | head -c 300000000) | gzip -1 | exec $STAVE wrap @",
            "at most 256 MiB",
        ),
        ("(echo '<svg>'; yes) | exec $STAVE wrap @", "at most 256 MiB"),
    ] {
        let outcome = shell(bench.path(), script);
        assert_eq!(outcome.status, Some(2), "{script}: {}", outcome.err);
        assert!(outcome.err.contains(told), "{script}: {}", outcome.err);
    }
}

#[test]
fn a_file_given_for_another_is_told_for_what_it_is() {
    let bench = bench();
    let put = |name: &str, bytes: &[u8]| fs::write(bench.path().join(name), bytes).unwrap();
    put("a.png", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR");
    put("a.jpg", b"\xff\xd8\xff\xe0\0\x10JFIF\0");
    put("a.gif", b"GIF89a\x01\0\x01\0");
    put("a.webp", b"RIFF\x1a\0\0\0WEBPVP8L");
    put("named.svg", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR");
    for (line, told) in [
        ("wrap @ a.png", "a.png: the picture breaks off"),
        ("check @ a.jpg", "a.jpg: the picture breaks off"),
        ("lays @ a.gif", "a.gif: this is a GIF picture"),
        ("proof @ a.webp -o p.svg", "a.webp: this is a WebP picture"),
        ("walk @ named.svg", "named.svg: this is a PNG picture"),
        ("read a.png", "a.png: this is a picture"),
        ("estimate a.jpg -m machine.toml", "a.jpg: this is a picture"),
        ("measure --outline a.png --known height=9", "a.png: this is a PNG picture"),
        ("wrap -b machine.toml -m blank.toml", "machine.toml: this is a machine file"),
        ("wrap -b blank.toml -m blank.toml", "blank.toml: this is a blank file"),
        ("level -b machine.toml -m blank.toml", "machine.toml: this is a machine file"),
        ("template -b machine.toml", "machine.toml: this is a machine file"),
        ("estimate flat.nc -m blank.toml", "blank.toml: this is a blank file"),
        ("wrap -b blank.toml -m machine.toml -j blank.toml", "blank.toml: this is a blank file"),
        ("wrap -b job.toml -m machine.toml", "job.toml: this is a job file"),
        ("wrap -b art.svg -m machine.toml", "art.svg: this is a drawing"),
        ("wrap -b blank.toml -m a.png", "a.png: this is a PNG picture"),
        ("check -b blank.toml -m flat.nc", "flat.nc: this is a G-code program"),
        ("check -b blank.toml -m machine.toml -j wrapped.nc", "wrapped.nc: this is a G-code"),
    ] {
        let outcome = run_in(bench.path(), &words(line), b"");
        assert_eq!(outcome.status, Some(2), "{line}: {}", outcome.err);
        assert!(outcome.err.contains(told), "{line}: {}", outcome.err);
        assert!(outcome.err.lines().count() == 1, "{line}: {}", outcome.err);
    }
}
