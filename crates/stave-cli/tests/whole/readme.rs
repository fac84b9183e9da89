//! The README's commands and files, run as written.

use crate::command::{fixture, root, run_in, stave};
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

/// What the README's examples name: the fixtures, a user's own copies of some, and another program
/// whose output is piped.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    symlink(root().join("fixtures"), at("fixtures")).unwrap();
    for (name, from) in [
        ("crest.nc", "programs/crest.nc"),
        ("program.nc", "programs/medallion.nc"),
        ("bottle.toml", "blanks/bottle.toml"),
        ("bench.toml", "machines/degrees.toml"),
    ] {
        std::fs::copy(fixture(from), at(name)).unwrap();
    }
    std::fs::create_dir(at("bin")).unwrap();
    symlink(stave(), at("bin/stave")).unwrap();
    script(&at("bin/other-tool"), "exec cat fixtures/programs/crest.nc");
    if Command::new("jq").arg("--version").output().is_err() {
        script(&at("bin/jq"), "exec cat");
    }
    folder
}

fn script(path: &Path, body: &str) {
    std::fs::write(path, format!("#!/bin/sh\n{body}\n")).unwrap();
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn the_commands_run_as_written() {
    let folder = folder();
    let inherited = std::env::var_os("PATH").unwrap_or_default();
    let path = std::iter::once(folder.path().join("bin")).chain(std::env::split_paths(&inherited));
    let path = std::env::join_paths(path).unwrap();
    let mut ran = 0;
    for block in blocks(&["sh", "bash", "console"]) {
        // Building, testing and making are what CI does; here the binary is at hand.
        let lines: Vec<_> = block
            .replace("\\\n", " ")
            .lines()
            .map(|l| l.strip_prefix("$ ").unwrap_or(l).replace("cargo run --release --", "stave"))
            .filter(|l| l.contains("stave "))
            .collect();
        let output = Command::new("bash")
            .args(["-euo", "pipefail", "-c", &lines.join("\n")])
            .env("PATH", &path)
            .current_dir(folder.path())
            .output()
            .unwrap();
        assert!(output.status.success(), "{lines:#?}\n{}", String::from_utf8_lossy(&output.stderr));
        ran += lines.len();
    }
    assert!(ran >= 2, "the README has at least two commands");
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
            &["wrap", "-b", "shown.toml", "-m", "bench.toml"],
            b"M4 S9\nG1 X20 F600\nM5\nM2\n",
        )
        .done();
    }
}
