//! Programs of any length are not held: what a run takes of memory does not grow with them.

use crate::command::{ending, fixture, root, stave};
use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Duration;

#[test]
fn memory_does_not_grow_with_the_program() {
    // A hundred megabytes of burns under the same limit as above, and far below it.
    let line =
        "for(k=0;k<4000000;k++) printf \"X%.2f Y%.2f S%d\\n\", 5+k%50, (k%977)/100, 100+k%800";
    let input = format!("mawk 'BEGIN {{ print \"M4 S0\\nG1 F6000\"; {line}; print \"M5\\nM2\" }}'");
    let script = format!(
        "ulimit -v 200000; {input} | exec {} wrap -b fixtures/blanks/can.toml -m \
         fixtures/machines/degrees.toml > /dev/null",
        stave().display()
    );
    let mut command = Command::new("bash");
    let outcome = ending(command.args(["-c", &script]).current_dir(root()).stdin(Stdio::null()))
        .expect("it ends");
    assert_eq!(outcome.status, Some(0), "{}", outcome.err);
}

/// The most memory that a process has held so far, kB.
fn held_kb(process: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// It is shown as it is wrapped. This one of 40 MB, mostly comments, came to some 120 MB when
/// it was held to be wrapped, and what came of that to be read.
#[test]
fn a_flat_program_is_shown_and_not_held() {
    let folder = tempfile::tempdir().unwrap();
    let (input, shown) = (folder.path().join("long.nc"), folder.path().join("shown.svg"));
    let mut file = std::io::BufWriter::new(std::fs::File::create(&input).unwrap());
    let comment = "(nothing of the work, as long as a line may be)".repeat(2);
    writeln!(file, "G21 G90\nM4 S300\nG1 F6000").unwrap();
    for k in 0..400_000_u32 {
        let y = f64::from(k / 500 % 800) * 0.1 - 40.0;
        writeln!(file, "{comment}\nX{:.3} Y{y:.3}", 5.0 + f64::from(k % 500) * 0.1).unwrap();
    }
    writeln!(file, "M5\nM2").unwrap();
    file.into_inner().unwrap().sync_all().unwrap();
    let mut child = Command::new(stave())
        .args(["proof", "-q", "-b"])
        .arg(fixture("blanks/can.toml"))
        .arg("-m")
        .arg(fixture("machines/degrees.toml"))
        .arg(&input)
        .arg("-o")
        .arg(&shown)
        .stdin(Stdio::null())
        .spawn()
        .unwrap();
    let mut most_kb = 0;
    let status = loop {
        most_kb = held_kb(child.id()).unwrap_or(0).max(most_kb);
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        std::thread::sleep(Duration::from_millis(10));
    };
    assert!(status.success(), "{status}");
    assert!(shown.exists());
    // Some 40 MB of it are the picture's.
    assert!(most_kb < 80_000, "{most_kb} kB");
}
