//! How far a long run is, told on a terminal.
//!
//! One bar for the whole run: how much of a file has been read, how many of many things are done,
//! or, where neither is known, that it goes on. It shows itself after a second, and is gone before
//! anything else is written.

use std::io::{self, IsTerminal, Read, Write};
use std::path::Path;
use std::sync::{Mutex, OnceLock, PoisonError};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::shown::{name, plain};

/// A run that takes less than this shows nothing.
const QUIET: Duration = Duration::from_secs(1);
/// How often it is drawn anew.
const BEAT: Duration = Duration::from_millis(120);

const GOING_ON: &str = "{msg} {spinner} {elapsed}";
const READ: &str = "{msg} {bar:30} {percent:>3} %";
const COUNTED: &str = "{msg} {bar:30} {pos} of {len}";
const TAKEN: &str = "{msg} {bytes}";

static SHOWN: OnceLock<Shown> = OnceLock::new();

struct Shown {
    bar: ProgressBar,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    over: bool,
    /// Many things are counted, so what each of them reads is not.
    counted: bool,
}

impl Shown {
    fn state(&self) -> std::sync::MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A bar for a run of this name, if somebody looks: standard error is a terminal, and results do
/// not go into a pipe.
pub(crate) fn begin(command: &str) {
    if !io::stderr().is_terminal() || !(io::stdout().is_terminal() || is_file(&io::stdout())) {
        return;
    }
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    bar.set_style(style(GOING_ON));
    bar.set_message(command.to_owned());
    if SHOWN.set(Shown { bar, state: Mutex::default() }).is_err() {
        return;
    }
    std::thread::spawn(|| {
        std::thread::sleep(QUIET);
        let Some(shown) = SHOWN.get() else { return };
        let state = shown.state();
        if !state.over {
            shown.bar.set_draw_target(ProgressDrawTarget::stderr());
            shown.bar.enable_steady_tick(BEAT);
        }
    });
}

/// The bar goes, for good.
pub(crate) fn end() {
    let Some(shown) = SHOWN.get() else { return };
    let mut state = shown.state();
    if !state.over {
        state.over = true;
        shown.bar.disable_steady_tick();
        shown.bar.finish_and_clear();
    }
}

/// Something else is written on standard error; the bar makes room for it.
pub(crate) fn aside<T>(write: impl FnOnce() -> T) -> T {
    match SHOWN.get() {
        Some(shown) => shown.bar.suspend(write),
        None => write(),
    }
}

/// What writes on standard output: where that is a terminal the bar goes before.
pub(crate) struct Cleared<W>(pub(crate) W);

impl<W: Write> Write for Cleared<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if io::stdout().is_terminal() {
            end();
        }
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

fn style(template: &str) -> ProgressStyle {
    // A template that is none would be seen in the tests below.
    ProgressStyle::with_template(template)
        .unwrap_or_else(|_| ProgressStyle::default_bar())
        .progress_chars("█░")
        .tick_chars("▁▂▃▄▅▆▇█▇▆▅▄▃▂ ")
}

#[cfg(unix)]
fn is_file(stream: &impl std::os::fd::AsFd) -> bool {
    let stat = rustix::fs::fstat(stream);
    stat.is_ok_and(|stat| rustix::fs::FileType::from_raw_mode(stat.st_mode).is_file())
}

#[cfg(not(unix))]
fn is_file<T>(_: &T) -> bool {
    false
}

/// A reader of an input that the bar follows.
pub(crate) struct Watched<R> {
    reader: R,
}

impl<R: Read> Watched<R> {
    /// `reader` reads the file at `path`.
    pub(crate) fn file(reader: R, path: &Path) -> Self {
        if let Some(shown) = SHOWN.get().filter(|shown| !shown.state().counted) {
            let file = path.file_name().map(|file| name(&file.to_string_lossy()));
            let whole = std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file);
            shown.bar.set_message(plain(&file.unwrap_or_default()));
            shown.bar.set_position(0);
            match whole.map(|data| data.len()) {
                Some(whole) => {
                    shown.bar.set_length(whole);
                    shown.bar.set_style(style(READ));
                }
                None => shown.bar.set_style(style(TAKEN)),
            }
        }
        Self { reader }
    }

    /// `reader` reads standard input. Nothing is shown over what a person types, or in a pipe.
    pub(crate) fn stdin(reader: R) -> Self {
        if !is_file(&io::stdin()) {
            end();
        }
        Self { reader }
    }
}

impl<R: Read> Read for Watched<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.reader.read(buffer)?;
        if let Some(shown) = SHOWN.get().filter(|shown| !shown.state().counted) {
            if got > 0 {
                shown.bar.inc(got as u64);
            } else if !buffer.is_empty() {
                // All of it is there, and is worked on.
                shown.bar.set_style(style(GOING_ON));
            }
        }
        Ok(got)
    }
}

/// From here on the bar counts to `whole`, under a name.
pub(crate) fn count(name: &str, whole: usize) {
    let Some(shown) = SHOWN.get() else { return };
    shown.state().counted = true;
    shown.bar.set_message(name.to_owned());
    shown.bar.set_position(0);
    shown.bar.set_length(whole as u64);
    shown.bar.set_style(style(COUNTED));
}

/// One more is done.
pub(crate) fn one_more() {
    if let Some(shown) = SHOWN.get() {
        shown.bar.inc(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_template_is_one() {
        for template in [GOING_ON, READ, COUNTED, TAKEN] {
            assert!(ProgressStyle::with_template(template).is_ok(), "{template}");
        }
    }
}
