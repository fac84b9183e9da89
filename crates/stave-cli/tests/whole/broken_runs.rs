//! Runs that are broken off: by signals, full disks, limits; with input or output stalled.

use crate::command::{Outcome, ending, fixture, root, run, stave};
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::thread;
use std::time::Duration;

/// The signals that break a run off, and their numbers (POSIX.1-2017, `kill`).
const SIGNALS: [(&str, i32); 3] = [("HUP", 1), ("INT", 2), ("TERM", 15)];
/// Long enough for a run to come to where it waits; nothing is asserted of it.
const A_WHILE: Duration = Duration::from_millis(300);

const SETUP: [&str; 6] = [
    "-b",
    "fixtures/blanks/bottle.toml",
    "-m",
    "fixtures/machines/degrees.toml",
    "-j",
    "fixtures/jobs/bottle.toml",
];

/// Those that this process was not told to ignore: under `nohup`, HUP is, and what is ignored stays
/// so for its children.
fn heeded() -> impl Iterator<Item = (&'static str, i32)> {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let ignored = mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0);
    SIGNALS.into_iter().filter(move |(_, number)| ignored >> (number - 1) & 1 == 0)
}

/// The beginning of a burn, with no end in sight.
const BURNING: &str = "G21\nM4 S300\nG0 X1 Y1\nG1 X5 F600\nX6\nX7\n";

fn wrap() -> Command {
    let mut command = Command::new(stave());
    command.current_dir(root()).arg("wrap").args(SETUP).stderr(Stdio::null());
    command
}

fn signal(child: &Child, name: &str) {
    let id = child.id().to_string();
    assert!(Command::new("kill").args(["-s", name, &id]).status().unwrap().success());
}

/// A run that burns and waits for more: its input is held open.
fn burning(mut command: Command) -> (Child, ChildStdin) {
    let mut child = command.stdin(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(BURNING.as_bytes()).unwrap();
    stdin.flush().unwrap();
    (child, stdin)
}

/// What has come out is whole lines of `whole`, and then the safe end.
#[track_caller]
fn safely_ended(out: &str, whole: &str, name: &str, status: ExitStatus) {
    let ending = format!("M5\n(broken off: SIG{name} came; this program is not whole)\n");
    let written = out.strip_suffix(&ending).unwrap_or_else(|| {
        panic!("ends otherwise: {:?}", out.lines().rev().take(3).collect::<Vec<_>>())
    });
    assert!(written.is_empty() || written.ends_with('\n'));
    assert!(whole.starts_with(written), "something else was written");
    assert!(!out.lines().any(|line| line == "M2" || line == "M30"));
    let number = SIGNALS.iter().find(|(known, _)| *known == name).unwrap().1;
    assert_eq!(status.signal(), Some(number), "{status:?}");
}

/// A long program, and what is made of it.
fn long() -> (String, String) {
    let mut text = String::from("M4 S300\nG1 F1200\n");
    for k in 0..60_000 {
        text += &format!("X{} Y{} S{}\n", 5 + k % 12, k % 7, 100 + k % 300);
    }
    text += "M5\nM2\n";
    let outcome = run(&[&["wrap"][..], &SETUP].concat(), text.as_bytes()).done();
    let wrapped = outcome.out_text().to_owned();
    assert!(wrapped.len() > 1 << 20, "more than a pipe and the buffers hold: {}", wrapped.len());
    (text, wrapped)
}

#[test]
fn a_signal_while_the_input_stalls_ends_the_program_safely() {
    let whole = run(&[&["wrap"][..], &SETUP].concat(), BURNING.as_bytes()).done();
    for (name, _) in heeded() {
        let mut command = wrap();
        command.stdout(Stdio::piped());
        let (mut child, stdin) = burning(command);
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut text = String::new();
        while !text.contains("\nG1 ") {
            assert!(out.read_line(&mut text).unwrap() > 0, "{text}");
        }
        signal(&child, name);
        out.read_to_string(&mut text).unwrap();
        safely_ended(&text, whole.out_text(), name, child.wait().unwrap());
        drop(stdin);
    }
}

#[test]
fn a_signal_before_anything_was_read_ends_the_program_safely() {
    let mut child = wrap().stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    // The input stays open and empty; a run that has not come to watch for signals yet dies of
    // them without a word, which is as safe.
    thread::sleep(A_WHILE);
    signal(&child, "TERM");
    let mut text = String::new();
    child.stdout.take().unwrap().read_to_string(&mut text).unwrap();
    assert_eq!(child.wait().unwrap().signal(), Some(15));
    assert!(text.is_empty() || text.contains("M5\n(broken off: SIGTERM"), "{text}");
    assert!(!text.contains("\nM2"));
}

/// A run whose output nobody takes.
fn stalled(text: String) -> (Child, thread::JoinHandle<()>) {
    let mut child = wrap().stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let feeder = thread::spawn(move || drop(stdin.write_all(text.as_bytes())));
    (child, feeder)
}

#[test]
fn a_signal_while_the_output_stalls_ends_the_program_safely() {
    let (text, whole) = long();
    for (name, _) in heeded() {
        let (mut child, feeder) = stalled(text.clone());
        thread::sleep(A_WHILE);
        // A process and its group both get it: that is one signal, not two.
        signal(&child, name);
        signal(&child, name);
        let mut out = String::new();
        child.stdout.take().unwrap().read_to_string(&mut out).unwrap();
        assert!(out.len() < whole.len(), "it was broken off");
        safely_ended(&out, &whole, name, child.wait().unwrap());
        feeder.join().unwrap();
    }
}

#[test]
fn a_reader_that_has_gone_ends_a_run_that_was_broken_off() {
    let (mut child, feeder) = stalled(long().0);
    thread::sleep(A_WHILE);
    signal(&child, "TERM");
    drop(child.stdout.take());
    // By the signal, or, where it was not yet seen, as `head` ends any filter.
    let status = child.wait().unwrap();
    assert!(status.signal() == Some(15) || status.success(), "{status}");
    feeder.join().unwrap();
}

#[test]
fn another_signal_later_means_now() {
    let (mut child, feeder) = stalled(long().0);
    let status = stave_tests::ends(move || {
        loop {
            thread::sleep(A_WHILE);
            if let Some(status) = child.try_wait().unwrap() {
                // Its output was held open all the while, and not read.
                drop(child.stdout.take());
                break status;
            }
            signal(&child, "TERM");
        }
    });
    assert_eq!(status.signal(), Some(15));
    feeder.join().unwrap();
}

#[test]
fn a_signal_that_was_ignored_stays_ignored() {
    for (name, _) in heeded() {
        let script = format!("trap '' {name}; exec \"$@\"");
        let mut command = Command::new("sh");
        command.current_dir(root()).args(["-c", &script, "sh"]).arg(stave()).arg("wrap");
        command.args(SETUP).stdout(Stdio::piped()).stderr(Stdio::null());
        let (mut child, mut stdin) = burning(command);
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut text = String::new();
        while !text.contains("\nG1 ") {
            assert!(out.read_line(&mut text).unwrap() > 0, "{text}");
        }
        signal(&child, name);
        stdin.write_all(b"X8\nM5\nM2\n").unwrap();
        drop(stdin);
        out.read_to_string(&mut text).unwrap();
        assert!(text.ends_with("\nM5\nM2\n"), "{text}");
        assert_eq!(child.wait().unwrap().code(), Some(0));
    }
}

#[test]
fn a_fifo_is_ended_like_a_pipe() {
    let folder = tempfile::tempdir().unwrap();
    let fifo = folder.path().join("to-machine");
    assert!(Command::new("mkfifo").arg(&fifo).status().unwrap().success());
    let mut command = wrap();
    command.arg("-o").arg(&fifo);
    let (mut child, stdin) = burning(command);
    let mut out = BufReader::new(File::open(&fifo).unwrap());
    let mut text = String::new();
    while !text.contains("\nG1 ") {
        assert!(out.read_line(&mut text).unwrap() > 0, "{text}");
    }
    signal(&child, "TERM");
    out.read_to_string(&mut text).unwrap();
    assert!(text.ends_with(" came; this program is not whole)\n"), "{text}");
    assert_eq!(child.wait().unwrap().signal(), Some(15));
    drop(stdin);
}

#[track_caller]
fn holds_only(folder: &Path, names: &[&str]) {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut found: Vec<_> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    found.sort();
    assert_eq!(found, names);
}

#[test]
fn a_signal_leaves_the_old_file_and_no_other() {
    for (name, number) in heeded() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.nc");
        std::fs::write(&path, "as it was\n").unwrap();
        let mut command = wrap();
        command.arg("-o").arg(&path).arg("--report").arg(folder.path().join("report.json"));
        let (mut child, stdin) = burning(command);
        thread::sleep(A_WHILE);
        signal(&child, name);
        assert_eq!(child.wait().unwrap().signal(), Some(number));
        holds_only(folder.path(), &["out.nc"]);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "as it was\n");
        drop(stdin);
    }
}

/// Runs a line of the shell in `folder`, `$STAVE` being the command and `$SETUP` its settings.
fn shell(folder: &Path, script: &str) -> Outcome {
    let place = |one: &&str| {
        if one.starts_with('-') {
            (*one).to_owned()
        } else {
            fixture(&one[9..]).display().to_string()
        }
    };
    let setup: Vec<String> = SETUP.iter().map(place).collect();
    let mut command = Command::new("bash");
    command.current_dir(folder).args(["-c", script]).stdin(Stdio::null());
    command.env("STAVE", stave()).env("SETUP", setup.join(" "));
    ending(&mut command).expect("it ends")
}

#[test]
fn a_full_file_size_limit_is_an_error_like_a_full_disk() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("flat.nc"), long().0).unwrap();
    let limited = "ulimit -f 64; exec $STAVE wrap $SETUP flat.nc";
    for (to, name) in [("-o out.nc", "out.nc"), ("> out.nc", "standard output")] {
        let outcome = shell(folder.path(), &format!("{limited} {to}"));
        assert_eq!(outcome.status, Some(2), "{}", outcome.err);
        assert!(outcome.err.contains(&format!("cannot write {name}: ")), "{}", outcome.err);
        assert!(!outcome.err.contains(".part"), "{}", outcome.err);
        if to.starts_with('-') {
            holds_only(folder.path(), &["flat.nc"]);
        }
    }
}

#[test]
fn a_full_disk_is_told_by_every_command_that_writes() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("flat.nc"), format!("{BURNING}M5\nM2\n")).unwrap();
    let files = "${SETUP% -j *}";
    for command in [
        "wrap $SETUP flat.nc".to_owned(),
        "check $SETUP flat.nc".to_owned(),
        "lays $SETUP flat.nc".to_owned(),
        "walk $SETUP flat.nc".to_owned(),
        "read flat.nc".to_owned(),
        "swatch $SETUP --powers 20,40 --speeds 50,100 --allow clearance".to_owned(),
        format!("template {files}"),
        format!("level {files}"),
        format!("estimate {files} flat.nc"),
        "measure --diameter 0=60 --diameter 90=70".to_owned(),
    ] {
        let outcome = shell(folder.path(), &format!("$STAVE {command} > /dev/full"));
        assert_eq!(outcome.status, Some(2), "{command}: {}", outcome.err);
        assert!(outcome.err.contains("cannot write standard output: "), "{}", outcome.err);
    }
}

#[test]
fn short_memory_is_told_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("flat.nc"), format!("{BURNING}M5\nM2\n")).unwrap();
    // What is resumed is looked at from both ends, and so held.
    let script = "$STAVE wrap $SETUP -q flat.nc -o whole.nc; set -- $SETUP; ulimit -v 200000; \
                  (cat whole.nc; yes '(a long program)') | $STAVE resume $3 $4 --line 14 - -o \
                  rest.nc";
    let outcome = shell(folder.path(), script);
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
    assert!(outcome.err.contains("not enough memory"), "{}", outcome.err);
    holds_only(folder.path(), &["flat.nc", "whole.nc"]);
}

/// Whether the program can be loaded at all within so much.
fn loads(folder: &Path, limit_kib: u32) -> bool {
    let script = format!("ulimit -v {limit_kib}; exec $STAVE --version");
    shell(folder, &script).status == Some(0)
}

#[test]
fn short_memory_is_an_error_wherever_it_ends() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("flat.nc"), format!("{BURNING}M5\nM2\n")).unwrap();
    let (mut told, mut done) = (0, 0);
    // Each thread asks for room that it hardly uses: a limit counts that too.
    for limit_kib in (20_000..=220_000).step_by(20_000).chain([400_000, 800_000]) {
        let script =
            format!("ulimit -v {limit_kib}; exec $STAVE proof $SETUP flat.nc -o proof.png");
        std::fs::remove_file(folder.path().join("proof.png")).ok();
        let outcome = shell(folder.path(), &script);
        match outcome.status {
            // So little that the program cannot even be loaded.
            Some(126 | 127 | 139) => {}
            None if !loads(folder.path(), limit_kib) => {}
            Some(2) => {
                told += 1;
                let says = ["memory", "thread"].iter().any(|word| outcome.err.contains(word));
                assert!(says, "{limit_kib}: {}", outcome.err);
                holds_only(folder.path(), &["flat.nc"]);
            }
            Some(0 | 1) => done += 1,
            other => panic!("{limit_kib}: {other:?}: {}", outcome.err),
        }
    }
    assert!(told > 1 && done > 0, "{told} {done}");
}
