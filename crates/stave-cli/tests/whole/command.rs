//! Finds the `stave` binary and runs it.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// The root of the workspace.
pub fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}

/// A path under `fixtures/`.
pub fn fixture(path: &str) -> PathBuf {
    root().join("fixtures").join(path)
}

/// The binary.
pub fn stave() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_stave"))
}

/// For tests that look at geometry, speeds, files or manners: art placed over steps and shoulders,
/// which no one lens keeps sharp and no nozzle of the fixture machine clears, is written all the
/// same. Tests of fitness do without.
pub const LAID: [&str; 2] = ["--allow", "defocus-far,clearance,power"];

/// What a run of the command left behind.
#[derive(Debug)]
pub struct Outcome {
    pub status: Option<i32>,
    pub out: Vec<u8>,
    pub err: String,
}

impl Outcome {
    pub fn out_text(&self) -> &str {
        std::str::from_utf8(&self.out).unwrap()
    }

    /// Itself, if the command succeeded.
    #[track_caller]
    pub fn done(self) -> Self {
        assert_eq!(self.status, Some(0), "stave failed:\n{}", self.err);
        self
    }
}

/// A program without what only a file can say, for on a pipe line 1 is gone before it is known: the
/// time, and the set-up line with the focus.
pub fn without_set_up(program: &[u8]) -> String {
    let text = std::str::from_utf8(program).unwrap();
    let start = text.find(" time=").unwrap();
    let end = start + " time=".len() + "0000:00:00".len();
    let kept = format!("{}{}", &text[..start], &text[end..]);
    kept.split_inclusive('\n').filter(|line| !line.starts_with("(set: ")).collect()
}

/// The day that pictures of these tests bear, in seconds since 1970 (GNU date: `date -u -d
/// 2026-11-30 +%s`).
pub const DAY: (&str, &str) = ("1795996800", "2026-11-30");

/// Runs `stave` in `folder`, feeding `input` to its standard input.
pub fn run_in(folder: &Path, arguments: &[&str], input: &[u8]) -> Outcome {
    let mut child = Command::new(stave())
        .current_dir(folder)
        .env("SOURCE_DATE_EPOCH", DAY.0)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_vec();
    // Fed beside the reading, so that neither side waits for the other; a child that stops reading
    // early is no failure.
    let feeder = std::thread::spawn(move || drop(stdin.write_all(&input)));
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    outcome(output)
}

/// Runs `stave` in the root of the workspace.
pub fn run(arguments: &[&str], input: &[u8]) -> Outcome {
    run_in(root(), arguments, input)
}

fn outcome(output: Output) -> Outcome {
    Outcome {
        status: output.status.code(),
        out: output.stdout,
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// Runs `command`; `None` if it does not end.
pub fn ending(command: &mut Command) -> Option<Outcome> {
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let begun = Instant::now();
    let (mut out, mut err) = (child.stdout.take().unwrap(), child.stderr.take().unwrap());
    let read_out = std::thread::spawn(move || read_all(&mut out));
    let read_err = std::thread::spawn(move || read_all(&mut err));
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break Some(status);
        }
        if begun.elapsed() > stave_tests::ENDLESS {
            child.kill().unwrap();
            child.wait().unwrap();
            break None;
        }
        std::thread::sleep(Duration::from_millis(5));
    };
    let (stdout, stderr) = (read_out.join().unwrap(), read_err.join().unwrap());
    status.map(|status| outcome(Output { status, stdout, stderr }))
}

fn read_all(from: &mut dyn std::io::Read) -> Vec<u8> {
    let mut bytes = Vec::new();
    from.read_to_end(&mut bytes).unwrap();
    bytes
}
