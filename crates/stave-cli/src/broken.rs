//! Runs that are broken off: by SIGINT, SIGTERM or SIGHUP.
//!
//! A program on its way to a machine must not stop in the middle of a burn. One thread waits for
//! signals and does nothing else; so it gets to work also while the run waits for its input, or
//! reckons. What it needs is here: the program that is being written, and the temporary files.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// As much as is handed to the system in one call: after a signal, at most this much still goes
/// out.
const PIECE: usize = 32 * 1024;
/// How long to wait where the output takes nothing for the moment.
const MOMENT: Duration = Duration::from_millis(1);

/// Set when a signal has come: nobody but its thread writes any more.
static BROKEN_OFF: AtomicBool = AtomicBool::new(false);
static RUN: Mutex<Run> = Mutex::new(Run { parts: Vec::new(), programs: Vec::new() });

/// What a run that is broken off has to see to.
struct Run {
    /// Temporary files that have names.
    parts: Vec<PathBuf>,
    /// Programs on their way out.
    programs: Vec<Arc<Mutex<Stream>>>,
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Does not come back if a signal has come: its thread ends the process.
pub(crate) fn settle() {
    if BROKEN_OFF.load(Ordering::SeqCst) {
        wait_for_the_end();
    }
}

/// Until the thread of the signal ends the process.
fn wait_for_the_end() -> ! {
    loop {
        std::thread::park();
    }
}

/// Does `work` with the names of the temporary files; a signal waits until it is done.
pub(crate) fn with_parts<T>(work: impl FnOnce(&mut Vec<PathBuf>) -> T) -> T {
    let mut run = lock(&RUN);
    if BROKEN_OFF.load(Ordering::SeqCst) {
        drop(run);
        wait_for_the_end();
    }
    work(&mut run.parts)
}

/// Takes a temporary file off the list.
pub(crate) fn forget_part(path: &Path) {
    lock(&RUN).parts.retain(|part| part != path);
}

/// A program that goes straight to its reader: in whole lines, so that it can be ended after each.
pub(crate) struct ProgramOut {
    stream: Arc<Mutex<Stream>>,
    /// The beginning of a line whose end has not come yet.
    begun: Vec<u8>,
}

struct Stream {
    out: Box<dyn Write + Send>,
    /// Its end word has gone out.
    whole: bool,
}

impl ProgramOut {
    pub(crate) fn new(out: Box<dyn Write + Send>) -> Self {
        let stream = Arc::new(Mutex::new(Stream { out, whole: false }));
        lock(&RUN).programs.push(Arc::clone(&stream));
        Self { stream, begun: Vec::new() }
    }
}

impl ProgramOut {
    fn send(&self, lines: &[u8]) -> io::Result<()> {
        let gone_out = lock(&self.stream).lines(lines)?;
        if !gone_out {
            settle();
        }
        Ok(())
    }
}

impl Write for ProgramOut {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let Some(end) = memchr::memrchr(b'\n', bytes).map(|at| at + 1) else {
            self.begun.extend_from_slice(bytes);
            return Ok(bytes.len());
        };
        if self.begun.is_empty() {
            self.send(&bytes[..end])?;
        } else {
            self.begun.extend_from_slice(&bytes[..end]);
            let lines = std::mem::take(&mut self.begun);
            self.send(&lines)?;
        }
        self.begun.extend_from_slice(&bytes[end..]);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        lock(&self.stream).out.flush()
    }
}

impl Stream {
    /// Writes whole lines. After a signal it ends the line that has been begun, and says that the
    /// others have not gone out.
    fn lines(&mut self, lines: &[u8]) -> io::Result<bool> {
        let mut written = 0;
        while written < lines.len() {
            let mut end = lines.len().min(written + PIECE);
            if BROKEN_OFF.load(Ordering::SeqCst) {
                if written == 0 || lines[written - 1] == b'\n' {
                    return Ok(false);
                }
                end =
                    memchr::memchr(b'\n', &lines[written..end]).map_or(end, |at| written + at + 1);
            }
            written += self.piece(&lines[written..end])?;
        }
        self.whole = [&b"M2\n"[..], b"M30\n"].iter().any(|word| {
            let before = lines.strip_suffix(*word);
            before.is_some_and(|before| before.is_empty() || before.ends_with(b"\n"))
        });
        Ok(true)
    }

    fn piece(&mut self, piece: &[u8]) -> io::Result<usize> {
        match self.out.write(piece) {
            Ok(0) => Err(io::ErrorKind::WriteZero.into()),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => Ok(0),
            // A pipe that someone else has set so that it never lets wait.
            Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                std::thread::sleep(MOMENT);
                Ok(0)
            }
            other => other,
        }
    }

    /// Ends a program that is not whole: the beam off, a comment, no end word.
    #[cfg(unix)]
    fn break_off(&mut self, signal: &str) -> io::Result<()> {
        if self.whole {
            return Ok(());
        }
        let ending = format!("M5\n(broken off: {signal} came; this program is not whole)\n");
        let mut rest = ending.as_bytes();
        while !rest.is_empty() {
            let count = self.piece(rest)?;
            rest = &rest[count..];
        }
        self.out.flush()
    }
}

#[cfg(unix)]
pub(crate) use signals::{mind_limits, watch};

#[cfg(unix)]
mod signals {
    use std::sync::OnceLock;
    use std::thread;
    use std::time::Instant;

    use signal_hook::consts::{SIGABRT, SIGHUP, SIGINT, SIGTERM, SIGXFSZ};
    use signal_hook::iterator::Signals;
    use signal_hook::low_level::{emulate_default_handler, signal_name};

    use super::{Arc, AtomicBool, BROKEN_OFF, Duration, Ordering, RUN, fs, io, lock};
    use crate::failure::BAD;

    /// A signal this long after the first means: now. One that comes sooner is the same one again,
    /// which a shell, a terminal or `timeout` sends both to a process and to its group.
    const ONCE: Duration = Duration::from_secs(1);
    /// The signal threads need little; an address space may be short.
    const STACK_BYTES: usize = 128 * 1024;

    static WATCHED: OnceLock<Result<(), String>> = OnceLock::new();

    /// From here on a signal breaks the run off in order.
    pub(crate) fn watch() -> io::Result<()> {
        let watched = WATCHED.get_or_init(|| begin().map_err(|error| error.to_string()));
        let cannot = |why| io::Error::other(format!("signals cannot be watched for: {why}"));
        watched.clone().map_err(cannot)
    }

    /// From here on a write past a full file-size limit fails as on a full disk, and memory that a
    /// library asks for and cannot have ends the run with the status of what cannot be done: the
    /// standard library says how much was asked for, and then aborts.
    pub(crate) fn mind_limits() -> io::Result<()> {
        // Caught and not looked at, unless it is ignored already.
        if ignored() & (1 << (SIGXFSZ - 1)) == 0 {
            signal_hook::flag::register(SIGXFSZ, Arc::new(AtomicBool::new(false)))?;
        }
        let always = Arc::new(AtomicBool::new(true));
        signal_hook::flag::register_conditional_shutdown(SIGABRT, BAD.into(), always)?;
        Ok(())
    }

    fn begin() -> io::Result<()> {
        let ignored = ignored();
        let heeded = |signal: &i32| ignored & (1 << (signal - 1)) == 0;
        let mut signals = Signals::new([SIGINT, SIGTERM, SIGHUP].iter().filter(|s| heeded(s)))?;
        thread("signals", move || {
            let mut first: Option<Instant> = None;
            for signal in signals.forever() {
                match first {
                    None => {
                        first = Some(Instant::now());
                        BROKEN_OFF.store(true, Ordering::SeqCst);
                        // On a thread of its own: it may have to wait for whoever reads the output.
                        if thread("ending", move || break_off(signal)).is_err() {
                            break_off(signal);
                        }
                    }
                    Some(first) if first.elapsed() > ONCE => die(signal),
                    Some(_) => {}
                }
            }
        })
    }

    fn thread(name: &str, work: impl FnOnce() + Send + 'static) -> io::Result<()> {
        let builder = thread::Builder::new().name(name.to_owned()).stack_size(STACK_BYTES);
        builder.spawn(work).map(drop)
    }

    /// The signals that were ignored when the process began, a bit each from 1 on; none where the
    /// system does not tell.
    fn ignored() -> u64 {
        let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
        line.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0)
    }

    fn break_off(signal: i32) {
        let mut run = lock(&RUN);
        for part in run.parts.drain(..) {
            // What cannot be removed now cannot be helped.
            let _ = fs::remove_file(part);
        }
        for program in &run.programs {
            let name = signal_name(signal).unwrap_or("a signal");
            // Whoever read it may have gone.
            let _ = lock(program).break_off(name);
        }
        die(signal);
    }

    /// Ends the process as the signal would have.
    fn die(signal: i32) {
        let _ = emulate_default_handler(signal);
        std::process::exit(128 + signal);
    }
}

/// Where there are no such signals there is nothing to wait for.
#[cfg(not(unix))]
pub(crate) fn watch() -> io::Result<()> {
    Ok(())
}

#[cfg(not(unix))]
pub(crate) fn mind_limits() -> io::Result<()> {
    Ok(())
}
