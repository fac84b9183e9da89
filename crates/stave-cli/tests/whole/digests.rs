//! What a program was made from: the digests on its line 1, and what is said where the files have
//! changed since.

use crate::command::{fixture, run_in};
use std::path::Path;

const FLAT: &[u8] = b"M4 S300\nG0 X10 Y0\nG1 X20 Y10 F600\nM5\nM2\n";

/// A folder with can, bench and a wrapped program.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (from, to) in [("blanks/can.toml", "can.toml"), ("machines/degrees.toml", "bench.toml")] {
        std::fs::copy(fixture(from), folder.path().join(to)).unwrap();
    }
    wrap(folder.path(), &["-o", "wrapped.nc"], FLAT);
    folder
}

fn wrap(folder: &Path, more: &[&str], flat: &[u8]) -> String {
    let setup = ["wrap", "-b", "can.toml", "-m", "bench.toml", "--place-at", "30"];
    run_in(folder, &[&setup[..], more].concat(), flat).done().out_text().to_owned()
}

/// The `files=` of line 1, and the input that the end names.
fn files(program: &str) -> (Vec<String>, Option<String>) {
    let line = program.lines().next().unwrap();
    let (_, files) = line.split_once(" files=").unwrap();
    let files = files.split([' ', ')']).next().unwrap();
    let end = program.lines().find_map(|line| line.strip_prefix("(stave end input="));
    let end = end.map(|end| end.trim_end_matches(')').to_owned());
    (files.split(',').map(str::to_owned).collect(), end)
}

/// What `sha256sum` says, 8 digits of it.
fn sha256(bytes: &[u8]) -> String {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("bytes"), bytes).unwrap();
    let output =
        std::process::Command::new("sha256sum").arg(folder.path().join("bytes")).output().unwrap();
    String::from_utf8(output.stdout).unwrap()[..8].to_owned()
}

#[test]
fn a_program_says_what_it_was_made_from() {
    let folder = folder();
    let streamed = wrap(folder.path(), &[], FLAT);
    let (of_stream, end) = files(&streamed);
    assert_eq!(of_stream.len(), 4);
    // A stream's input is unknown at line 1.
    assert_eq!(of_stream[3], "-");
    assert_eq!(end, Some(sha256(FLAT)));
    // What comes behind the end of the program is input too.
    let longer = [FLAT, b"(behind)\n"].concat();
    assert_eq!(files(&wrap(folder.path(), &[], &longer)).1, Some(sha256(&longer)));
    let drawn = wrap(folder.path(), &["--path", "M0 0H20"], b"");
    let (of_drawing, end) = files(&drawn);
    assert_eq!((of_drawing[3].clone(), end), (sha256(b"M0 0H20"), None));
    assert_eq!(of_drawing[..3], of_stream[..3]);
}

#[test]
fn only_what_is_meant_changes_a_digest() {
    let folder = folder();
    let before = files(&wrap(folder.path(), &[], FLAT)).0;
    let can = std::fs::read_to_string(folder.path().join("can.toml")).unwrap();
    let write = |text: &str| std::fs::write(folder.path().join("can.toml"), text).unwrap();
    write(&format!("# seen again\nunits = 'mm'\n{}", can.replace("units = \"mm\"", "")));
    assert_eq!(files(&wrap(folder.path(), &[], FLAT)).0, before);
    write(&can.replacen("at = 0", "at = -1", 1));
    let after = files(&wrap(folder.path(), &[], FLAT)).0;
    assert_ne!(after[0], before[0]);
    assert_eq!(after[1..], before[1..]);
    let job = files(&wrap(folder.path(), &["--tilt", "1"], FLAT)).0;
    assert_ne!(job[2], before[2]);
}

#[test]
fn a_changed_machine_is_told_with_its_keys() {
    let folder = folder();
    let path = |name: &str| folder.path().join(name);
    let check = |more: &[&str]| {
        let setup = ["check", "wrapped.nc", "-b", "can.toml", "-m", "bench.toml"];
        run_in(folder.path(), &[&setup[..], more].concat(), b"")
    };
    check(&[]).done();
    let bench = std::fs::read_to_string(path("bench.toml")).unwrap();
    std::fs::write(path("old.toml"), &bench).unwrap();
    let changed = bench.replace("units_per_turn = 360.0", "units_per_turn = 359.2");
    assert_ne!(bench, changed);
    std::fs::write(path("bench.toml"), changed).unwrap();
    let told = check(&["--was", "old.toml"]);
    assert_eq!(told.status, Some(1), "{}", told.err);
    assert!(told.out_text().contains("the machine is not what the program was wrapped for"));
    assert!(told.err.contains("`rotary.units_per_turn` was 360 and is 359.2"), "{}", told.err);
    check(&["--allow", "wrong-rig"]).done();
    let said = |arguments: &[&str]| run_in(folder.path(), arguments, b"").done().err;
    let estimate = said(&["estimate", "wrapped.nc", "-m", "bench.toml", "-b", "can.toml"]);
    assert!(estimate.contains("the machine is not what"), "{estimate}");
    let proof = ["proof", "wrapped.nc", "-b", "can.toml", "-m", "bench.toml", "-o", "p.svg"];
    assert!(said(&proof).contains("the machine is not what"));
    // What writes a program for that machine refuses it as `check` does.
    let walk = ["walk", "wrapped.nc", "-b", "can.toml", "-m", "bench.toml", "-o", "made.nc"];
    let resume = ["resume", "wrapped.nc", "-m", "bench.toml", "--at", "0.5", "-o", "made.nc"];
    for arguments in [&walk, &resume] {
        let outcome = run_in(folder.path(), arguments, b"");
        assert_eq!(outcome.status, Some(1), "{arguments:?}: {}", outcome.err);
        assert!(outcome.err.contains("error wrong-rig: the machine is not"), "{}", outcome.err);
        assert!(!path("made.nc").exists());
        let told = said(&[&arguments[..], &["--allow", "wrong-rig"]].concat());
        assert!(told.contains("the machine is not what"), "{told}");
        std::fs::remove_file(path("made.nc")).unwrap();
    }
    // The file as it is now differs in nothing.
    let same = check(&["--was", "bench.toml"]);
    assert!(same.err.contains("says what the one given now says"), "{}", same.err);
}

#[test]
fn another_job_and_another_input_are_told() {
    let folder = folder();
    let setup = ["-b", "can.toml", "-m", "bench.toml"];
    let with = |before: &[&str], after: &[&str]| {
        run_in(folder.path(), &[before, &setup[..], after].concat(), b"").done().err
    };
    // A job that says nothing is not compared: line 1 has what matters.
    assert!(!with(&["check", "wrapped.nc"], &[]).contains("the job is not"));
    assert!(!with(&["check", "wrapped.nc"], &["--place-at", "30mm"]).contains("the job is not"));
    assert!(with(&["check", "wrapped.nc"], &["--place-at", "31"]).contains("the job is not"));
    std::fs::write(folder.path().join("flat.nc"), FLAT).unwrap();
    let other = [FLAT, b" "].concat();
    std::fs::write(folder.path().join("other.nc"), other).unwrap();
    let shown = ["--wrapped", "wrapped.nc", "--place-at", "30", "-o", "p.svg"];
    assert!(!with(&["proof", "flat.nc"], &shown).contains("another input"));
    assert!(with(&["proof", "other.nc"], &shown).contains("another input"));
}
