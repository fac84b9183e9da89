//! The README's commands and files, run as written.

use crate::command::{root, run_in, stave};
use std::fmt::Write;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;
use std::process::Command;

/// The README's blocks in one of `languages`.
fn blocks(languages: &[&str]) -> Vec<String> {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let mut blocks = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if let Some(language) = line.trim().strip_prefix("```") {
            let block: Vec<_> = lines.by_ref().take_while(|l| l.trim() != "```").collect();
            if languages.contains(&language) {
                blocks.push(block.join("\n"));
            }
        }
    }
    blocks
}

/// What stands for the checkout's root: its fixtures, nothing written beside them, and `stave` on
/// the path.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    symlink(root().join("fixtures"), at("fixtures")).unwrap();
    std::fs::create_dir(at("bin")).unwrap();
    symlink(stave(), at("bin/stave")).unwrap();
    if Command::new("jq").arg("--version").output().is_err() {
        script(&at("bin/jq"), "exec cat");
    }
    folder
}

fn script(path: &Path, body: &str) {
    std::fs::write(path, format!("#!/bin/sh\n{body}\n")).unwrap();
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o755)).unwrap();
}

/// The lines of a block that run `stave`, run in `folder`, and what they say to people. Building,
/// testing and making are what CI does; here the binary is at hand.
fn said(folder: &Path, block: &str) -> (usize, String) {
    let lines: Vec<_> = block
        .replace("\\\n", " ")
        .lines()
        .map(|l| l.strip_prefix("$ ").unwrap_or(l).replace("cargo run --release --", "stave"))
        .filter(|l| l.contains("stave "))
        .collect();
    let inherited = std::env::var_os("PATH").unwrap_or_default();
    let path = std::iter::once(folder.join("bin")).chain(std::env::split_paths(&inherited));
    let output = Command::new("bash")
        .args(["-euo", "pipefail", "-c", &lines.join("\n")])
        .env("PATH", std::env::join_paths(path).unwrap())
        .current_dir(folder)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{lines:#?}\n{said}");
    (lines.len(), said)
}

#[test]
fn the_commands_run_as_written() {
    let folder = folder();
    let ran: usize =
        blocks(&["sh", "bash", "console"]).iter().map(|block| said(folder.path(), block).0).sum();
    assert!(ran >= 20, "{ran} commands");
}

/// A newcomer's first command shows a job that is right: nothing is out of focus, nothing strikes,
/// nothing comes out changed; and `check` finds nothing either.
#[test]
fn the_first_command_greets_with_a_job_that_is_right() {
    let folder = folder();
    let first = blocks(&["sh"]).into_iter().find(|block| block.contains(" wrap ")).unwrap();
    let (_, told) = said(folder.path(), &first);
    assert!(!told.contains("warning") && !told.contains("error"), "{told}");
    let check = "stave check crest.wrapped.nc -b fixtures/blanks/bottle.toml -m \
                 fixtures/machines/degrees.toml --json > found.json";
    said(folder.path(), check);
    let found = std::fs::read(folder.path().join("found.json")).unwrap();
    let found: serde_json::Value = serde_json::from_slice(&found).unwrap();
    assert_eq!(found["findings"].as_array().unwrap().len(), 0, "{found:#}");
}

/// The table of findings is that of the code.
#[test]
fn every_code_is_in_the_table() {
    let mut table =
        String::from("| code | severity | what it is | what to do |\n| --- | --- | --- | --- |\n");
    for code in stave::Code::ALL {
        let meaning = code.meaning().trim_end_matches('.');
        writeln!(table, "| `{code}` | {} | {meaning} | {} |", code.severity(), code.remedy())
            .unwrap();
    }
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let shown = text.split("<!-- codes -->\n").nth(1).unwrap();
    let shown = shown.split("<!-- end of codes -->").next().unwrap();
    assert!(shown == table, "README's table of findings should be\n\n{table}");
}

#[test]
fn the_blank_it_shows_can_be_used() {
    let folder = folder();
    let blanks: Vec<_> =
        blocks(&["toml"]).into_iter().filter(|b| b.contains("[[station]]")).collect();
    assert!(!blanks.is_empty());
    for blank in blanks {
        std::fs::write(folder.path().join("shown.toml"), blank).unwrap();
        run_in(
            folder.path(),
            &["wrap", "-b", "shown.toml", "-m", "fixtures/machines/degrees.toml"],
            b"M4 S9\nG1 X20 F600\nM5\nM2\n",
        )
        .done();
    }
}
