//! Files that write themselves: `new`, `keys`, `schema`, `completions`, `man`, and a job that names
//! the other files.

use crate::command::{fixture, root, run, run_in};
use serde_json::Value;
use std::path::Path;

fn put(folder: &Path, name: &str, text: &str) {
    std::fs::write(folder.join(name), text).unwrap();
}

#[test]
fn new_files_make_a_program() {
    let folder = tempfile::tempdir().unwrap();
    for units in ["mm", "in"] {
        for file in ["blank", "machine", "job"] {
            let name = format!("{file}-{units}.toml");
            run_in(folder.path(), &["new", file, "--units", units, "-o", &name], b"").done();
        }
        let outcome = run_in(
            folder.path(),
            &[
                "wrap",
                "-b",
                &format!("blank-{units}.toml"),
                "-m",
                &format!("machine-{units}.toml"),
                "-j",
                &format!("job-{units}.toml"),
            ],
            b"M4 S300\nG0 X10 Y0\nG1 X20 Y10 F600\nM5\nM2\n",
        )
        .done();
        assert!(outcome.out_text().ends_with("M5\nM2\n"), "{}", outcome.err);
    }
    let again = run_in(folder.path(), &["new", "blank", "-o", "blank-mm.toml"], b"");
    assert_eq!(again.status, Some(2));
    assert!(again.err.contains("blank-mm.toml is there already"), "{}", again.err);
    // In a pipe nothing is asked: what comes in is not read.
    let piped = run(&["new", "blank"], b"jar\n").done();
    assert!(piped.err.is_empty() && !piped.out_text().contains("jar"), "{}", piped.err);
}

#[test]
fn keys_are_explained() {
    let one = run(&["keys", "rotary.reverse"], b"").done();
    assert!(one.out_text().contains("true or false; default: false"), "{}", one.out_text());
    let all = run(&["keys", "--json"], b"").done();
    let all: Vec<Value> = serde_json::from_str(all.out_text()).unwrap();
    assert!(all.len() > 100, "{}", all.len());
    let diameter = all.iter().find(|key| key["key"] == "station.diameter").unwrap();
    assert_eq!(diameter["file"], "blank");
    assert_eq!(diameter["type"], "number");
    assert_eq!(diameter["range"], "at least 0.0254 mm");
    assert_eq!(diameter["example"], "70.0");
    let unknown = run(&["keys", "rotary.revers"], b"");
    assert_eq!(unknown.status, Some(2));
    assert!(unknown.err.contains("did you mean `rotary.reverse`?"), "{}", unknown.err);
}

#[test]
fn a_schema_is_json_and_can_be_written() {
    for file in ["blank", "machine", "job"] {
        let shown = run(&["schema", file], b"").done();
        let schema: Value = serde_json::from_str(shown.out_text()).unwrap();
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
        assert_eq!(schema["additionalProperties"], false);
        let kept = std::fs::read_to_string(fixture(&format!("schemas/{file}.json"))).unwrap();
        assert!(
            kept == shown.out_text(),
            "fixtures/schemas/{file}.json is not `stave schema {file}`"
        );
    }
}

/// `bash -n` reads a script without running it.
#[test]
fn completions_are_scripts_that_know_the_commands() {
    let folder = tempfile::tempdir().unwrap();
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let script = run(&["completions", shell], b"").done();
        // The script for powershell completes commands and options, and no values.
        let value = if shell == "powershell" { "wrap" } else { "true-width" };
        for word in ["wrap", "reference-diameter", value, "schema"] {
            assert!(script.out_text().contains(word), "{shell}: {word}");
        }
        put(folder.path(), shell, script.out_text());
    }
    let read = std::process::Command::new("bash")
        .arg("-n")
        .arg(folder.path().join("bash"))
        .output()
        .unwrap();
    assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
}

#[test]
fn there_is_a_page_for_every_command() {
    let folder = tempfile::tempdir().unwrap();
    run_in(folder.path(), &["man", "-o", "."], b"").done();
    let help = run(&["--help"], b"").done();
    let (_, commands) = help.out_text().split_once("Commands:\n").unwrap();
    let commands = commands.lines().take_while(|line| !line.trim().is_empty());
    let names = commands.filter_map(|line| {
        let name = line.strip_prefix("  ")?.split(' ').next()?;
        (!name.is_empty() && name != "help").then_some(name)
    });
    let mut pages = 0;
    for name in names {
        let text = std::fs::read_to_string(folder.path().join(format!("stave-{name}.1")));
        let text = text.unwrap_or_else(|_| panic!("no page for {name}"));
        assert!(
            text.contains(".SH SYNOPSIS") && text.contains(&format!("stave\\-{name}")),
            "{text}"
        );
        pages += 1;
    }
    assert!(pages >= 15, "{pages}");
    assert!(folder.path().join("stave.1").is_file());
    let nowhere = run_in(folder.path(), &["man", "-o", "nowhere"], b"");
    assert_eq!(nowhere.status, Some(2));
}

#[test]
fn a_job_may_name_the_other_files() {
    let folder = tempfile::tempdir().unwrap();
    let copy = |from: &str, to: &str| {
        std::fs::copy(fixture(from), folder.path().join(to)).unwrap();
    };
    std::fs::create_dir(folder.path().join("shelf")).unwrap();
    copy("blanks/can.toml", "shelf/can.toml");
    copy("machines/degrees.toml", "shelf/bench.toml");
    copy("art/crest.svg", "shelf/crest.svg");
    let settings = std::fs::read_to_string(fixture("art/crest.toml")).unwrap();
    let named = ["blank =", "machine =", "input ="];
    let own = |line: &&str| !named.iter().any(|key| line.starts_with(key));
    let settings: Vec<&str> = settings.lines().filter(own).collect();
    let settings = settings.join("\n");
    let names = "blank = \"can.toml\"\nmachine = \"bench.toml\"\ninput = \"crest.svg\"\n";
    put(folder.path(), "shelf/job.toml", &format!("{names}{settings}"));
    put(folder.path(), "shelf/plain.toml", &settings);
    let run = |arguments: &[&str]| run_in(folder.path(), arguments, b"").done();
    let setup = ["-b", "shelf/can.toml", "-m", "shelf/bench.toml", "-j", "shelf/plain.toml"];
    let spelt = run(&[&["wrap", "shelf/crest.svg"][..], &setup[..]].concat());
    let named = run(&["wrap", "-j", "shelf/job.toml"]);
    assert!(spelt.out == named.out);
    for command in ["check", "lays", "walk", "estimate", "template"] {
        let named = run(&[command, "-j", "shelf/job.toml"]);
        assert!(!named.out.is_empty(), "{command}");
    }
    run(&["proof", "-j", "shelf/job.toml", "-o", "proof.svg"]);
    // What is typed beats what is named.
    copy("blanks/tumbler.toml", "other.toml");
    let other = run(&["wrap", "-j", "shelf/job.toml", "-b", "other.toml", "--place-at", "80"]);
    assert!(
        other.out_text().starts_with("(stave wrapped 1 blank=\"handled tumbler"),
        "{:.80}",
        other.out_text()
    );
}

#[test]
fn what_is_neither_given_nor_named_is_told() {
    let folder = tempfile::tempdir().unwrap();
    put(folder.path(), "job.toml", "machine = \"gone.toml\"\n");
    let none = run_in(folder.path(), &["wrap", "-j", "job.toml"], b"");
    assert_eq!(none.status, Some(2));
    assert!(
        none.err.contains("no blank is given: say -b FILE, or name it in the job"),
        "{}",
        none.err
    );
    let can = fixture("blanks/can.toml");
    let gone = run_in(folder.path(), &["wrap", "-j", "job.toml", "-b", can.to_str().unwrap()], b"");
    assert_eq!(gone.status, Some(2));
    assert!(gone.err.contains("cannot read ./gone.toml"), "{}", gone.err);
    // A job that is the output of its own run is refused as any file that is read.
    let bench = root().join("fixtures/machines/degrees.toml");
    let arguments =
        ["wrap", "-j", "job.toml", "-b", can.to_str().unwrap(), "-m", bench.to_str().unwrap()];
    let over = run_in(folder.path(), &[&arguments[..], &["-o", "job.toml"]].concat(), b"");
    assert_eq!(over.status, Some(2));
}
