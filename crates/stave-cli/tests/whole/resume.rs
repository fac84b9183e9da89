//! `stave resume` as its user meets it.

use crate::command::{fixture, run_in};
use std::path::Path;

/// The club's crest, a program of pieces, in `folder`.
fn whole(folder: &Path) -> String {
    let job = fixture("art/crest.toml");
    run_in(folder, &["wrap", "-j", job.to_str().unwrap(), "-o", "whole.nc"], b"").done();
    std::fs::read_to_string(folder.join("whole.nc")).unwrap()
}

fn machine() -> String {
    fixture("machines/degrees.toml").to_str().unwrap().to_owned()
}

/// The move of every seventh of a program's lines is gone on with: dark until the place, then the
/// lines that are left, word for word; and what comes of it is fit as the whole is.
#[test]
fn what_is_left_is_the_end_of_the_whole_and_fit() {
    let folder = tempfile::tempdir().unwrap();
    let text = whole(folder.path());
    let lines: Vec<&str> = text.lines().collect();
    let machine = machine();
    for seventh in 1..7 {
        let number = lines.len() * seventh / 7;
        let line = number.to_string();
        let resume = ["resume", "whole.nc", "-m", &machine, "--line", &line, "-o", "rest.nc"];
        let outcome = run_in(folder.path(), &resume, b"").done();
        assert!(outcome.err.contains("are left"), "{}", outcome.err);
        let rest = std::fs::read_to_string(folder.path().join("rest.nc")).unwrap();
        // The head stands where all of the program set it.
        let focused = lines[0].replace(')', " focus_at=60)");
        assert_eq!(rest.lines().next(), Some(&focused[..]));
        assert!(rest.ends_with(&(lines[number..].join("\n") + "\n")), "{number}");
        // On standard output it is the same.
        let piped = run_in(folder.path(), &resume[..6], b"").done();
        assert_eq!(piped.out_text(), rest);
        let blank = fixture("blanks/can.toml");
        let check = ["check", "rest.nc", "-b", blank.to_str().unwrap(), "-m", &machine];
        run_in(folder.path(), &check, b"").done();
    }
}

#[test]
fn refusals_are_status_two_and_leave_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let lines = whole(folder.path()).lines().count();
    let machine = machine();
    let past = (lines + 1).to_string();
    for (asked, told) in [
        (&["--line", "2"][..], "nothing moves or burns there; the next line that does is"),
        (&["--line", "0"], "the program has lines 1 to"),
        (&["--line", &past], "the program has lines 1 to"),
        (&["--piece", "rim"], "no comment names it; there are: crest, stars"),
        (&["--at", "9:00:00"], "the program takes"),
        (&["--at", "-3"], "this must be seconds"),
        (&["--at", "1:75:00"], "this must be seconds"),
        (&["--at", "1:30"], "this must be seconds"),
        (&["--at", "1", "--line", "20"], "cannot be used with"),
        (&[], "required"),
    ] {
        let resume = [&["resume", "whole.nc", "-m", &machine, "-o", "rest.nc"][..], asked].concat();
        let outcome = run_in(folder.path(), &resume, b"");
        assert_eq!(outcome.status, Some(2), "{asked:?}: {}", outcome.err);
        assert!(outcome.err.contains(told), "{asked:?}: {}", outcome.err);
        assert!(!folder.path().join("rest.nc").exists());
    }
    // Nothing is written over what is read.
    let over = ["resume", "whole.nc", "-m", &machine, "--at", "9", "-o", "whole.nc"];
    assert_eq!(run_in(folder.path(), &over, b"").status, Some(2));
    assert_eq!(
        std::fs::read_to_string(folder.path().join("whole.nc")).unwrap().lines().count(),
        lines
    );
    let other = fixture("machines/along-y.toml");
    let resume = ["resume", "whole.nc", "-m", other.to_str().unwrap(), "--line", "50"];
    let other = run_in(folder.path(), &resume, b"");
    assert_eq!(other.status, Some(2), "{}", other.err);
    assert!(other.err.contains("made for another machine"), "{}", other.err);
}

/// What is left burns a part of what the focus was set by: it is judged, and walked, where the head
/// stands.
#[test]
fn the_rest_is_focused_where_all_of_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let (blank, machine) = (fixture("blanks/cup.toml"), machine());
    let files = ["-b", blank.to_str().unwrap(), "-m", &machine];
    let flat = "G21\nM4 S300\nG0 X1\nG1 X5 F600\nG0 X70\nG1 X75\nM5\nM2\n";
    std::fs::write(folder.path().join("flat.nc"), flat).unwrap();
    let allow = ["--allow", "defocus-far,clearance"];
    let wrap = [&["wrap", "flat.nc", "--place-at", "10", "-o", "whole.nc"], &files[..], &allow];
    let whole = run_in(folder.path(), &wrap.concat(), b"").done();
    let focus = |told: &str| told.split("focus at ").nth(1).map(|at| at[..5].trim().to_owned());
    let text = std::fs::read_to_string(folder.path().join("whole.nc")).unwrap();
    let last = text.lines().count() - text.lines().rev().position(|l| l.starts_with("G1")).unwrap();
    let line = last.to_string();
    let resume = ["resume", "whole.nc", "-m", &machine, "--line", &line, "-o", "rest.nc"];
    run_in(folder.path(), &resume, b"").done();
    let walk = [&["walk", "rest.nc", "-o", "walk.nc"], &files[..], &allow].concat();
    let walked = run_in(folder.path(), &walk, b"").done();
    assert!(focus(&whole.err).is_some());
    assert_eq!(focus(&walked.err), focus(&whole.err), "{}", walked.err);
    let check = [&["check", "rest.nc"], &files[..]].concat();
    let checked = run_in(folder.path(), &check, b"");
    assert_eq!(checked.status, Some(1), "{}", checked.out_text());
    assert!(checked.out_text().contains("defocus-far"), "{}", checked.out_text());
}
