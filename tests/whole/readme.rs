//! The README's commands, run as written.

use crate::command::{root, stave};
use std::process::Command;

/// The shell blocks of the README that run the program from a source folder.
fn blocks() -> Vec<String> {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let mut blocks = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if matches!(line.trim(), "```sh" | "```bash" | "```console") {
            let block: Vec<_> = lines.by_ref().take_while(|l| l.trim() != "```").collect();
            blocks
                .push(block.iter().map(|l| l.strip_prefix("$ ").unwrap_or(l)).collect::<Vec<_>>().join("\n"));
        }
    }
    blocks
}

#[test]
fn the_commands_run_as_written() {
    let folder = tempfile::tempdir().unwrap();
    std::os::unix::fs::symlink(root().join("fixtures"), folder.path().join("fixtures")).unwrap();
    let bin = folder.path().join("bin");
    std::fs::create_dir(&bin).unwrap();
    std::os::unix::fs::symlink(stave(), bin.join("stave")).unwrap();
    let path = std::env::join_paths(
        std::iter::once(bin).chain(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default())),
    )
    .unwrap();
    let mut ran = 0;
    for block in blocks() {
        // Building, testing and installing are what CI does; here the binary is at hand.
        let script: Vec<_> = block
            .replace("\\\n", " ")
            .lines()
            .filter(|l| l.contains("stave ") || l.contains("cargo run"))
            .map(|l| {
                l.replace("cargo run --release --quiet --", "stave")
                    .replace("cargo run --release --", "stave")
            })
            .collect();
        if script.is_empty() {
            continue;
        }
        let output = Command::new("bash")
            .args(["-euo", "pipefail", "-c", &script.join("\n")])
            .env("PATH", &path)
            .current_dir(folder.path())
            .output()
            .unwrap();
        assert!(output.status.success(), "{script:#?}\n{}", String::from_utf8_lossy(&output.stderr));
        ran += script.len();
    }
    assert!(ran >= 2, "the README has at least two commands");
}
