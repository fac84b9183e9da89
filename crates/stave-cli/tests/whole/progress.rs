//! How far a run is shows on a terminal, and nowhere else.

use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use rustix::fs::{CWD, FileType, Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

use crate::command::{fixture, stave};

/// Longer than a run that shows nothing.
const LONG: Duration = Duration::from_millis(1800);

/// A terminal: its own end, and that of a program in it.
fn terminal() -> (File, OwnedFd) {
    let own = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&own).unwrap();
    unlockpt(&own).unwrap();
    let name = ptsname(&own, Vec::new()).unwrap();
    let inner = rustix::fs::open(&name, OFlags::RDWR | OFlags::NOCTTY, Mode::empty()).unwrap();
    let size = rustix::termios::Winsize { ws_row: 24, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 };
    rustix::termios::tcsetwinsize(&inner, size).unwrap();
    (File::from(own), inner)
}

/// Runs a command on a program that comes slowly, with standard error on a terminal: what that
/// shows before the program has come whole, and after. Waits for `wanted` to show itself, or a
/// while where nothing is wanted.
fn slowly(folder: &Path, words: &[&str], to_pipe: bool, wanted: Option<&str>) -> (String, String) {
    let path = folder.join("slow.nc");
    let _ = std::fs::remove_file(&path);
    rustix::fs::mknodat(CWD, &path, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).unwrap();
    let (mut own, inner) = terminal();
    let stdout = if to_pipe { Stdio::piped() } else { Stdio::from(inner.try_clone().unwrap()) };
    let mut child = Command::new(stave())
        .current_dir(folder)
        .args(words)
        .env("TERM", "xterm")
        .stdin(Stdio::null())
        .stdout(stdout)
        .stderr(Stdio::from(inner))
        .spawn()
        .unwrap();
    let (go_on, wait) = mpsc::channel::<()>();
    let feeder = std::thread::spawn(move || {
        let mut program = File::create(&path).unwrap();
        program.write_all(b"G21 G90\nM4 S0\nG0 X10 Y0\nG1 X40 S500 F1200\n").unwrap();
        wait.recv().unwrap();
        program.write_all(b"G1 X45\nM5\nM2\n").unwrap();
    });
    let (told, hear) = mpsc::channel();
    let reader = std::thread::spawn(move || {
        let mut bytes = [0; 4096];
        // A terminal whose program has gone ends with an error.
        while let Ok(count @ 1..) = own.read(&mut bytes) {
            let _ = told.send(String::from_utf8_lossy(&bytes[..count]).into_owned());
        }
    });
    let mut before = String::new();
    match wanted {
        Some(wanted) => {
            while !before.contains(wanted) {
                before += &hear.recv_timeout(stave_tests::ENDLESS).unwrap();
            }
        }
        None => {
            std::thread::sleep(LONG);
            before.extend(hear.try_iter());
        }
    }
    go_on.send(()).unwrap();
    feeder.join().unwrap();
    if let Some(mut out) = child.stdout.take() {
        std::io::copy(&mut out, &mut std::io::sink()).unwrap();
    }
    assert!(child.wait().unwrap().success(), "{before}");
    reader.join().unwrap();
    (before, hear.iter().collect())
}

#[test]
fn on_a_terminal_alone() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let (can, machine) = (fixture("blanks/can.toml"), fixture("machines/degrees.toml"));
    let files = ["-b", can.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let estimate = [&["estimate", "slow.nc"], &files[..]].concat();
    let (_, after) = slowly(folder, &estimate, false, Some("slow.nc "));
    // Its line is cleared before the figures come.
    let figures = after.find("burning").expect(&after);
    assert!(after[..figures].contains("\x1b[2K"), "{after:?}");
    // Into a file, with the program's own name; and not where that is asked for.
    let wrap = [&["wrap", "slow.nc", "-o", "out.nc"], &files[..]].concat();
    slowly(folder, &wrap, false, Some("slow.nc "));
    let (before, after) = slowly(folder, &[&wrap[..], &["-q"]].concat(), false, None);
    assert_eq!((before.as_str(), after.as_str()), ("", ""));
    // Nor where results go into a pipe.
    let to_pipe = [&["wrap", "slow.nc", "-q"], &files[..]].concat();
    let (before, _) = slowly(folder, &to_pipe, true, None);
    assert_eq!(before, "");
    let to_pipe = [&["wrap", "slow.nc"], &files[..]].concat();
    let (before, _) = slowly(folder, &to_pipe, true, None);
    assert!(!before.contains("slow.nc"), "{before:?}");
}
