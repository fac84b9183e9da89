//! Coatings: from a swatch's patch by `stave note` into the machine file, and from there into what
//! a job burns.

use crate::command::{Outcome, fixture, run_in};
use crate::program::{self, Kind};
use std::path::Path;

const SPEEDS: [&str; 4] = ["--powers", "20,35,60", "--speeds", "100,150"];

fn note(folder: &Path, more: &[&str]) -> Outcome {
    run_in(folder, &[&["note", "swatch.nc", "-m", "bench.toml"], more].concat(), b"")
}

/// A bench, in `folder`, and a swatch burned on a can.
fn set_up(folder: &Path) -> String {
    let bench = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    std::fs::write(folder.join("bench.toml"), &bench).unwrap();
    let can = fixture("blanks/can.toml");
    let swatch = ["swatch", "-b", can.to_str().unwrap(), "-m", "bench.toml", "-o", "swatch.nc"];
    run_in(folder, &[&swatch[..], &SPEEDS].concat(), b"").done();
    bench
}

/// What areas burn with: S, speed on the wall along the axis (mm/s), and how far lines lie apart
/// (degrees).
fn burned(program: &str) -> Vec<(f64, f64, f64)> {
    let burns: Vec<_> =
        program::read(program).moves.into_iter().filter(|m| m.kind == Kind::Burn).collect();
    burns
        .windows(2)
        .map(|two| {
            let apart = (two[1].from[3] - two[0].from[3]).abs();
            (two[0].power.unwrap(), two[0].speed().unwrap(), (apart * 1e4).round() / 1e4)
        })
        .collect()
}

#[test]
fn what_a_patch_was_burned_with_burns_the_next_piece() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let bench = set_up(folder);
    // The comment of a patch is what it burns with.
    let swatch = std::fs::read_to_string(folder.join("swatch.nc")).unwrap();
    let comment = swatch.lines().find(|line| line.starts_with("(patch 2,2: ")).unwrap();
    assert!(comment.starts_with("(patch 2,2: power 35 speed 150 spacing 0."), "{comment}");
    let after = swatch.split_once(comment).unwrap().1.split("(patch ").next().unwrap();
    let of_patch = burned(&format!("G21 G90 G94 M4 S0\n{after}"));
    assert!(of_patch.len() > 50);
    assert!(of_patch.iter().all(|one| (one.0, one.1) == (350.0, 150.0)), "{of_patch:?}");
    let printed = note(folder, &["--chosen", "2,2", "--coating", "blue"]).done();
    let spacing = comment.rsplit(' ').next().unwrap().trim_end_matches(')');
    let section = format!(
        "[[coating]]\nname = \"blue\"\nspeed = 150.0\npower = 35.0\nline_spacing = {spacing}\n"
    );
    assert_eq!(printed.out_text(), section);
    assert_eq!(std::fs::read_to_string(folder.join("bench.toml")).unwrap(), bench);
    // Another first, then this in its place: every other byte of the file is as it was.
    note(folder, &["--chosen", "1,1", "--coating", "blue", "--in-place"]).done();
    let told = note(folder, &["--chosen", "2,2", "--coating", "blue", "--in-place"]).done();
    assert!(told.err.contains("[[coating]] \"blue\" replaced in bench.toml"), "{}", told.err);
    let now = std::fs::read_to_string(folder.join("bench.toml")).unwrap();
    assert_eq!(now, format!("{bench}\n{section}"));
    // A job that names it burns what the patch did.
    let wrap = |operation: &str| {
        let job = format!(
            "lay = \"even-angle\"\n[[operation]]\nname = \"a\"\npick = {{ fill = \"#000\" }}\n\
             work = \"area\"\n{operation}\n"
        );
        std::fs::write(folder.join("job.toml"), job).unwrap();
        let art = "<svg xmlns='http://www.w3.org/2000/svg' width='20mm' height='20mm' \
                   viewBox='0 0 20 20'><path d='M5 5h10v10h-10z'/></svg>";
        let can = fixture("blanks/can.toml");
        let wrap = ["wrap", "-b", can.to_str().unwrap(), "-m", "bench.toml", "-j", "job.toml"];
        run_in(folder, &[&wrap[..], &["--allow", "left-out,cut"]].concat(), art.as_bytes())
    };
    let coated = wrap("coating = \"blue\"").done();
    for (one, patch) in burned(coated.out_text()).iter().zip(&of_patch) {
        // An even dose answers to the wall's own spacing, which the comment rounds.
        assert!((one.0 / patch.0 - 1.0).abs() < 1e-3, "{one:?} {patch:?}");
        assert!(one.1 == patch.1 && (one.2 - patch.2).abs() < 2e-4, "{one:?} {patch:?}");
    }
    // What the operation says itself goes before it.
    let own = wrap("coating = \"blue\"\npower = 50\nlines_per_inch = 200").done();
    let own = burned(own.out_text());
    assert!((own[0].0 / 500.0 - 1.0).abs() < 0.1 && own[0].1 == 150.0, "{:?}", own[0]);
    assert!(
        (own[0].2 / of_patch[0].2 - 25.4 / 200.0 / spacing.parse::<f64>().unwrap()).abs() < 0.15
    );
    let unknown = wrap("coating = \"bleu\"");
    assert_eq!(unknown.status, Some(2));
    let told = "job.toml:6:11: `coating` is \"bleu\", but \"degrees on A\" has no such coating: \
                did you mean \"blue\"?";
    assert!(unknown.err.contains(told), "{}", unknown.err);
}

/// A machine file in inches gets inches, and only where the coating gives no spacing an area needs
/// its own.
#[test]
fn units_and_what_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    set_up(folder);
    let inches = "units = \"in\"\n[x]\nspeed = 20\nacceleration = 200\n[y]\nspeed = 20\n\
                  acceleration = 200\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\n\
                  acceleration = 2000\n[[coating]]\nname = \"bare\"\nspeed = 5\npower = 50\n";
    std::fs::write(folder.join("bench.toml"), inches).unwrap();
    let printed = note(folder, &["--chosen", "1,1", "--coating", "blue"]).done();
    assert!(printed.out_text().contains("speed = 3.937008\n"), "{}", printed.out_text());
    let can = fixture("blanks/can.toml");
    for (work, more, status) in
        [("area", "", 2), ("area", "line_spacing = 0.1", 0), ("line", "", 0)]
    {
        let job = format!(
            "[[operation]]\nname = \"a\"\npick = {{ fill = \"#000\" }}\nwork = \"{work}\"\n\
             coating = \"bare\"\n{more}\n"
        );
        std::fs::write(folder.join("job.toml"), job).unwrap();
        let check = ["wrap", "-b", can.to_str().unwrap(), "-m", "bench.toml", "-j", "job.toml"];
        let art = b"<svg xmlns='http://www.w3.org/2000/svg' width='20mm' height='20mm' \
                    viewBox='0 0 20 20'><path d='M5 5h10v10h-10z'/></svg>";
        let outcome = run_in(folder, &check, art);
        assert_eq!(outcome.status, Some(status), "{work} {more}: {}", outcome.err);
        let told = "operation \"a\" has no `lines_per_inch` (or `line_spacing`), and its coating \
                    gives none";
        assert_eq!(outcome.err.contains(told), status == 2, "{}", outcome.err);
    }
}

#[test]
fn what_is_refused_leaves_the_machine_file_alone() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let bench = set_up(folder);
    std::fs::write(folder.join("flat.nc"), "G21\nG0 X1\nM2\n").unwrap();
    for (asked, told) in [
        (
            &["--chosen", "4,1", "--coating", "b"][..],
            "--chosen: 4,1 is asked, but swatch.nc has rows 1 to 3 and columns 1 to 2",
        ),
        (&["--chosen", "0,1", "--coating", "b"], "this must be ROW,COLUMN"),
        (&["--chosen", "1", "--coating", "b"], "this must be ROW,COLUMN"),
        (&["--chosen", "1,1", "--coating", ""], "--coating: must be a text of 1 to 200"),
        (&["--chosen", "1,1", "--coating", "a\nb"], "--coating: must be a text of 1 to 200"),
        (&["--chosen", "1,1"], "--coating"),
    ] {
        let outcome = note(folder, &[asked, &["--in-place"]].concat());
        assert_eq!(outcome.status, Some(2), "{asked:?}: {}", outcome.err);
        assert!(outcome.err.contains(told), "{asked:?}: {}", outcome.err);
    }
    let flat = ["note", "flat.nc", "-m", "bench.toml", "--chosen", "1,1", "--coating", "b"];
    let outcome = run_in(folder, &flat, b"");
    assert_eq!(outcome.status, Some(2));
    assert!(
        outcome.err.contains("flat.nc: there is no comment `(patch ROW,COLUMN: …)`"),
        "{}",
        outcome.err
    );
    assert_eq!(std::fs::read_to_string(folder.join("bench.toml")).unwrap(), bench);
}

/// A swatch says on which machine it was burned: noted for another, or after the file was changed,
/// that is told, and no error; coatings noted since change nothing.
#[test]
fn a_swatch_of_another_machine_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let bench = set_up(folder);
    let told = |text: &str| {
        std::fs::write(folder.join("bench.toml"), text).unwrap();
        let outcome = note(folder, &["--chosen", "1,1", "--coating", "blue"]).done();
        assert!(outcome.out_text().starts_with("[[coating]]"));
        outcome.err.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let coating =
        |name: &str| format!("{bench}\n[[coating]]\nname = \"{name}\"\nspeed = 100\npower = 20\n");
    for same in [bench.clone(), coating("red"), coating("blue")] {
        assert_eq!(told(&same), "");
    }
    let other = told(&bench.replace("degrees on A", "fibre bench"));
    assert!(other.starts_with("stave: warning plausible: the program was wrapped for"), "{other}");
    assert!(other.contains("\"degrees on A\"") && other.contains("\"fibre bench\""), "{other}");
    let changed = told(&bench.replace("diameter_at_lens = 7.0", "diameter_at_lens = 12.0"));
    assert!(changed.contains("was changed since the swatch was made"), "{changed}");
}
