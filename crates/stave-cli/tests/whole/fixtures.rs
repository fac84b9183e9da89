//! The fixtures themselves: the script that makes the programs, and the makefile that wraps a
//! folder.

use crate::command::{fixture, stave};
use crate::program::{self, Kind};
use std::process::Command;

#[test]
fn the_script_reproduces_the_programs() {
    let output = Command::new("python3")
        .arg(fixture("programs/generate.py"))
        .arg("--check")
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn programs_lie_where_the_readme_says() {
    let mut names = 0;
    for entry in std::fs::read_dir(fixture("programs")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "nc") {
            continue;
        }
        names += 1;
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.len() < 300_000, "{path:?}");
        let program = program::read(&text);
        assert!(program.ended && program.beam.is_none(), "{path:?}");
        for m in program.moves.iter().filter(|m| m.kind == Kind::Burn) {
            for k in 0..=8 {
                let [x, y] = m.point(f64::from(k) / 8.0);
                assert!(
                    (0.0..=60.0).contains(&x) && (-50.0..=50.0).contains(&y),
                    "{path:?} line {}",
                    m.line
                );
            }
        }
    }
    assert_eq!(names, 8);
}

/// A copy of the makefile's folder where wrapping leaves nothing behind in the work tree.
fn makefile_folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in ["makefile", "blanks", "machines", "jobs"] {
        std::fs::create_dir(folder.path().join(name)).unwrap();
        for entry in std::fs::read_dir(fixture(name)).unwrap() {
            let path = entry.unwrap().path();
            if !path.to_string_lossy().ends_with(".wrapped.nc") {
                std::fs::copy(&path, folder.path().join(name).join(path.file_name().unwrap()))
                    .unwrap();
            }
        }
    }
    folder
}

#[test]
fn make_wraps_what_is_new_and_only_that() {
    let folder = makefile_folder();
    let make = |arguments: &[&str]| {
        Command::new("make")
            .arg("-C")
            .arg(folder.path().join("makefile"))
            .arg(format!("STAVE={}", stave().display()))
            .args(arguments)
            .output()
            .unwrap()
    };
    let first = make(&[]);
    assert!(first.status.success(), "{}", String::from_utf8_lossy(&first.stderr));
    for name in ["tea", "cider", "sour"] {
        let wrapped =
            std::fs::read_to_string(folder.path().join(format!("makefile/{name}.wrapped.nc")))
                .unwrap();
        assert!(wrapped.starts_with("(stave wrapped 1 "), "{wrapped:.80}");
        assert!(program::read(&wrapped).ended);
    }
    assert!(make(&["--question"]).status.success(), "nothing is left to do");

    // A bad program stops make with an error and leaves no result.
    std::fs::write(folder.path().join("makefile/bad.nc"), "G1 X1 Q\n").unwrap();
    assert!(!make(&["--keep-going"]).status.success());
    assert!(!folder.path().join("makefile/bad.wrapped.nc").exists());

    assert!(make(&["clean"]).status.success());
    assert!(!folder.path().join("makefile/tea.wrapped.nc").exists());
}
